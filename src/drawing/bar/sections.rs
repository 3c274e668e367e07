//! The frame: sections with their names and values, hinges, the arrow of travel.

use super::scene_maker::SceneMaker;
use crate::drawing::deviation::{DeviationClass, signed_percent};
use crate::drawing::scene::{
    Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, SceneText, Shape, TextPlace, TextRole, Width,
};
use crate::drawing::scene_options::Colouring;
use crate::drawing::symbols;
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::outcome::RowState;
use crate::plan::words::counted;
use crate::plan::{Section, SectionId};
use crate::quantities::{Measure, Ratio};

/// How far a section's ground reaches beyond what stands on it, metres.
const PANEL_MARGIN: f64 = 0.18;

impl SceneMaker<'_> {
    /// The box of the bar and of the parts on it.
    pub(super) fn ground(&self) -> Bounds {
        let bar = &self.project.bar;
        let mut all = Bounds::EMPTY;
        let mut add = |section: SectionId, point: Point3| all.add(self.on(section, point));
        for section in &bar.sections {
            for member in &section.members {
                add(section.id, member.from);
                add(section.id, member.to);
            }
        }
        for row in &bar.rows {
            add(row.section, bar.outlet(row));
        }
        for part in self.routing.geometry.anchors.parts() {
            add(part.section, part.at);
        }
        if all.is_empty() { all } else { all.grown(PANEL_MARGIN) }
    }

    pub(super) fn sections(&mut self, ground: Bounds) {
        let bar = &self.project.bar;
        // Folded sections turn away from the upright panels, so only the frame itself is drawn then.
        let is_plan = self.is_plan();
        for section in &bar.sections {
            if is_plan && !ground.is_empty() {
                self.panel(section, ground);
            }
            for member in &section.members {
                let points = vec![self.on(section.id, member.from), self.on(section.id, member.to)];
                let width = Width { metres: member.width.si(), least: 2.0 };
                self.line(Layer::Frame, points, width, Dash::Solid, Ink::FrameRail);
            }
            if let Some(hinge) = section.hinge {
                let at = self.on(hinge.parent, hinge.point);
                let points = if is_plan && !ground.is_empty() {
                    vec![Point2::new(at.x, ground.min.y - 0.08), Point2::new(at.x, ground.max.y + 0.08)]
                } else {
                    let reach = hinge.axis * (0.5 / hinge.axis.distance(Point3::default()).max(1e-9));
                    vec![
                        self.on(hinge.parent, hinge.point - reach),
                        self.on(hinge.parent, hinge.point + reach),
                    ]
                };
                self.line(Layer::Hinge, points, Width::HAIRLINE, Dash::LongDashDot, Ink::HingeLine);
                // A pin that is seen from its end.
                let seen = self.options.seen.flat(self.folded.motion(hinge.parent).direction(hinge.axis));
                let length = hinge.axis.distance(Point3::default());
                if seen.x.hypot(seen.y) < length * std::f64::consts::FRAC_1_SQRT_2 {
                    let pin = Shape::Circle { centre: at, radius: 0.04 };
                    let grow = Grow::evenly(at, Reach::at_least(0.04, 3.0));
                    let pin =
                        DrawItem::new(Layer::Hinge, pin, Ink::HingeLine).filled(Fill::Paper).growing(grow);
                    self.items.push(pin);
                }
            }
        }
    }

    fn panel(&mut self, section: &Section, ground: Bounds) {
        let gap = 0.03;
        let (left, right) = (section.left.si() + gap, section.right.si() - gap);
        if right <= left {
            return;
        }
        let points = symbols::panel(left, right, ground.min.y, ground.max.y, 0.07);
        let panel =
            DrawItem::new(Layer::Frame, Shape::Polygon { points }, Ink::SectionPanel).filled(Fill::Ink);
        self.items.push(panel);
        let middle = f64::midpoint(left, right);
        let names = broken(&section.name);
        let front = Point2::new(middle, ground.max.y + 0.02);
        self.caption(
            Layer::Frame,
            TextRole::Section,
            front,
            TextPlace::Above,
            names,
            Some(section.width().si()),
        );
        let rows = self.project.bar.rows.iter().filter(|row| row.section == section.id).count();
        let rows = counted(rows, "row");
        let width = Measure::Distance.short_text(section.width().si(), self.options.units);
        let says = vec![format!("{rows} · {width}"), format!("{rows}\n{width}"), rows];
        let back = Point2::new(middle, ground.min.y - 0.02);
        self.caption(
            Layer::Frame,
            TextRole::Caption,
            back,
            TextPlace::Below,
            says,
            Some(section.width().si()),
        );
        self.section_values(section, back);
    }

    /// What the rows of a section get, from the least to the most: a useful number where single rows have no room.
    fn section_values(&mut self, section: &Section, at: Point2) {
        if self.is_dry(section.id) {
            self.section_words(section, at, vec!["not fed".to_owned()]);
            return;
        }
        let Some(outcome) = self.numbers else { return };
        let fed = outcome.rows().iter().filter(|row| row.section == section.id && row.state == RowState::Fed);
        let mut values: Vec<f64> = match self.options.colouring {
            Colouring::Deviation | Colouring::Caught => {
                fed.filter_map(|row| row.deviation).map(|one| one.si()).collect()
            }
            Colouring::Pressure => {
                fed.filter_map(|row| self.ahead.get(&row.row)).map(|one| one.si()).collect()
            }
        };
        values.retain(|value| value.is_finite());
        values.sort_by(f64::total_cmp);
        let (Some(low), Some(high)) = (values.first(), values.last()) else { return };
        let units = self.options.units;
        let (low, high, symbol) = match self.options.colouring {
            Colouring::Deviation | Colouring::Caught => {
                let percent = |value: f64| signed_percent(Ratio::from_si(value));
                (percent(*low), percent(*high), "%")
            }
            Colouring::Pressure => {
                let number = |value: f64| Measure::Pressure.number(value, units);
                (number(*low), number(*high), Measure::Pressure.unit(units).symbol)
            }
        };
        let wordings = if low == high {
            vec![format!("{low} {symbol}")]
        } else {
            vec![format!("{low} to {high} {symbol}"), format!("{low} to\n{high} {symbol}")]
        };
        self.section_words(section, at, wordings);
    }

    /// None of the rows of a section that are in use gets anything.
    pub(super) fn is_dry(&self, section: SectionId) -> bool {
        let rows = self.outcome.iter().flat_map(|outcome| outcome.each_row());
        let mut used = rows
            .filter(|(row, _)| row.section == section)
            .map(|(row, found)| DeviationClass::of_row(row, found, &self.project.limits))
            .filter(|class| *class != DeviationClass::LeftOut)
            .peekable();
        used.peek().is_some() && used.all(|class| class == DeviationClass::NotFed)
    }

    /// Words behind a section, below its rows and width.
    fn section_words(&mut self, section: &Section, at: Point2, wordings: Vec<String>) {
        let clear = Reach { half: 0.0, least: 15.0, most: 15.0 };
        let text = SceneText {
            at,
            places: vec![TextPlace::Below],
            clear_x: Reach::true_to_scale(0.0),
            clear_y: clear,
            wordings,
            room: Some(section.width().si()),
            role: TextRole::Caption,
        };
        self.items.push(DrawItem::new(Layer::Values, Shape::Text(text), Ink::Words));
    }

    /// An arrow forward, at the left front of the plan view.
    pub(super) fn travel(&mut self, ground: Bounds) {
        if ground.is_empty() || !self.is_plan() {
            return;
        }
        let (x, foot) = (ground.min.x - 0.3, ground.max.y - 0.42);
        let tip = foot + 0.36;
        let about = Point2::new(x, foot);
        let grow = Grow::evenly(about, Reach { half: 0.36, least: 22.0, most: 44.0 });
        let width = Width { metres: 0.0, least: 1.6 };
        for points in [
            vec![about, Point2::new(x, tip)],
            vec![Point2::new(x - 0.1, tip - 0.12), Point2::new(x, tip), Point2::new(x + 0.1, tip - 0.12)],
        ] {
            if let Some(item) = self.line(Layer::Frame, points, width, Dash::Solid, Ink::Travel) {
                item.grow = Some(grow);
            }
        }
        self.caption(
            Layer::Frame,
            TextRole::Caption,
            about,
            TextPlace::Below,
            vec!["travel".to_owned()],
            None,
        );
    }
}

/// A name in one line and, if it has several words, in two, then without the words between the first and the last, at last
/// these in two lines.
fn broken(name: &str) -> Vec<String> {
    let mut wordings = vec![name.to_owned()];
    if let Some((first, last)) = name.rsplit_once(' ') {
        wordings.push(format!("{first}\n{last}"));
        // `outer right` of `outer wing right`: the side and how far out tell sections apart, and a number where there is one.
        if let Some((place, between)) = first.split_once(' ') {
            let is_number = |word: &&str| word.chars().all(|letter| letter.is_ascii_digit());
            let numbers = between.split(' ').filter(is_number);
            let place = std::iter::once(place).chain(numbers).collect::<Vec<_>>().join(" ");
            wordings.push(format!("{place} {last}"));
            wordings.push(format!("{place}\n{last}"));
        }
    }
    wordings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shortest_names_of_sections_are_still_told_apart() {
        let shortest = |name: &str| broken(name).pop().unwrap();
        assert_eq!(shortest("outer wing right"), "outer\nright");
        assert_eq!(shortest("middle wing 1 left"), "middle 1\nleft");
        assert_eq!(shortest("middle wing 2 left"), "middle 2\nleft");
        assert_eq!(broken("centre"), ["centre"]);
    }
}
