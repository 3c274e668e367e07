//! Parts with their tags and readings, and the outlets of rows.

use std::collections::BTreeMap;

use super::scene_maker::SceneMaker;
use crate::drawing::deviation::{BACKWARD_ARROW, DeviationClass, UNKNOWN_DOT, signed_percent};
use crate::drawing::pressure::PressureClass;
use crate::drawing::scene::{
    Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, SceneText, Shape, TextPlace, TextRole, Width,
};
use crate::drawing::scene_options::{Colouring, Detail, OVERVIEW_BELOW};
use crate::drawing::{Subject, pressure, symbols};
use crate::geometry::{Point2, Point3};
use crate::plan::kinds::Reading;
use crate::plan::kinds::symbol::{Beside, TagFrom};
use crate::plan::part::place_offset;
use crate::plan::{Manifold, Part, PartId, PartItem, PlacedPart, Port, Row};
use crate::quantities::{Angle, Measure, Ratio};

/// Radius of an outlet, metres.
pub(super) const OUTLET_RADIUS: f64 = 0.055;

/// Radius of an outlet's mark from afar, metres: it grows into its normal size as the picture does.
const OUTLET_MARK: f64 = 0.095;

impl SceneMaker<'_> {
    pub(super) fn parts(&mut self) {
        for part in &self.routing.routing.parts {
            self.part(part);
        }
    }

    pub(super) fn part(&mut self, part: &Part) {
        let catalogue = &self.project.catalogue;
        let subject = Subject::Part(part.id);
        let anchors = &self.routing.geometry.anchors;
        let Some(&PlacedPart { at: position, turn, .. }) = anchors.part(part.id) else { return };
        let (middle, turn) = (self.on(part.section, position), self.turned(part.section, turn));
        let at = Point3::new(middle.x, middle.y, 0.0);
        let Some(item) = catalogue.item(&part.entry) else {
            let shape = Shape::Circle { centre: middle, radius: 0.05 };
            let grow = Grow::evenly(middle, Reach::at_least(0.05, 6.0));
            self.items.push(DrawItem::new(Layer::Parts, shape, Ink::NotFed).of(subject).growing(grow));
            return;
        };
        if let Some(stem) = part.mount.and_then(|mount| anchors.port(mount)) {
            let points = vec![self.riding(stem), middle];
            let width = Width { metres: 0.012, least: 1.6 };
            if let Some(item) = self.line(Layer::Parts, points, width, Dash::Solid, Ink::Part) {
                item.subject = Some(subject);
            }
        }
        let mut symbol = symbols::part(item, at, turn, part.shut, subject, self.options.detail);
        let pressure = self.numbers.and_then(|outcome| outcome.part(part.id)?.pressure);
        let shade = self.scale.zip(pressure).map(|(scale, pressure)| scale.class(pressure));
        let shade = shade.filter(|_| pressure::is_filled(item));
        if let Some(class) = shade {
            for one in symbol.iter_mut().filter(|one| one.fill == Fill::Paper) {
                one.fill = Fill::Pressure(class);
            }
        }
        self.items.extend(symbol);
        if let PartItem::Manifold(Manifold { outlets, .. }) = item {
            self.outlet_numbers(part, item, *outlets, (at, turn), shade);
        }
        let (along, across) = symbols::reach(item, self.options.detail);
        // A part turned by a quarter is as deep as it was long.
        let upright = turn.si().cos().abs() < std::f64::consts::FRAC_1_SQRT_2;
        let (clear_x, clear_y) = if upright { (across, along) } else { (along, across) };
        let facts = item.facts();
        let mut wordings = vec![part.tag.clone()];
        let mut places: Vec<TextPlace> = facts.tag.sides.iter().map(|side| place_beside(*side)).collect();
        let numbered = self.options.detail == Detail::Close || self.options.marked.contains(&subject);
        if item.is_for_rows() && !upright {
            // Where the body is not for the numbers of its outlets, the tag stands in it.
            places = vec![TextPlace::Left, TextPlace::Right, TextPlace::Above];
            if numbered {
                places.push(TextPlace::Below);
            } else {
                places.insert(0, TextPlace::Inside);
            }
        }
        let flow = self.numbers.and_then(|outcome| outcome.part(part.id)?.flow);
        let reads = match facts.reading {
            Some(Reading::Pressure) => {
                pressure.map(|one| Measure::Pressure.text(one.si(), self.options.units))
            }
            Some(Reading::Flow) => flow.map(|one| Measure::TotalFlow.text(one.si(), self.options.units)),
            None => None,
        };
        if let Some(reads) = reads {
            wordings.insert(0, format!("{} · {reads}", part.tag));
        }
        if part.shut && facts.can_be_shut {
            wordings.insert(0, format!("{} shut", part.tag));
        }
        if let Some(pressure) = pressure.filter(|_| shade.is_some()) {
            let reads = Measure::Pressure.text(pressure.si(), self.options.units);
            wordings.insert(0, format!("{} · {reads}", part.tag));
        }
        let text =
            SceneText { at: at.flat(), places, clear_x, clear_y, wordings, room: None, role: TextRole::Tag };
        let ink = shade.map_or(Ink::Words, Ink::OnPressure);
        let from_scale = match facts.tag.from {
            TagFrom::Near => 120.0,
            TagFrom::Nearer => OVERVIEW_BELOW,
            TagFrom::Afar => 0.0,
        };
        let tag = DrawItem::new(Layer::Tags, Shape::Text(text), ink).of(subject).from_scale(from_scale);
        self.items.push(tag);
    }

    /// The numbers of a manifold's row outlets, in its body beside their taps, where they have room.
    fn outlet_numbers(
        &mut self,
        part: &Part,
        item: &PartItem,
        outlets: u16,
        (middle, turn): (Point3, Angle),
        shade: Option<PressureClass>,
    ) {
        let marked = self.options.marked.contains(&Subject::Part(part.id));
        if self.options.detail != Detail::Close && !marked {
            return;
        }
        let ink = shade.map_or(Ink::SoftWords, Ink::OnPressure);
        for number in 1..=outlets {
            let tap = item.port_offset(Port::Outlet(number));
            // Two digits stand in two lines by turns, or neighbours would touch long before single digits do.
            let deep = if number > 9 && number % 2 == 1 { -0.2 } else { 0.42 };
            let inside = Point2::new(tap.x, tap.y * deep);
            let at = place_offset(middle, turn, inside);
            // Wider than a tap's share of the body: two digits may reach over, as long as they touch no others.
            let clear = Reach::true_to_scale(0.04);
            let text = SceneText {
                at: at.flat(),
                places: vec![TextPlace::Inside],
                clear_x: clear,
                clear_y: clear,
                wordings: vec![number.to_string()],
                room: None,
                role: TextRole::OutletNumber,
            };
            let number = DrawItem::new(Layer::Tags, Shape::Text(text), ink).of(Subject::Part(part.id));
            self.items.push(number);
        }
    }

    pub(super) fn outlets(&mut self) {
        let bar = &self.project.bar;
        let nearest =
            nearest_neighbour(&bar.rows.iter().map(|row| bar.outlet(row).flat()).collect::<Vec<_>>());
        let limits = &self.project.limits;
        let rows = self.outcome.iter().flat_map(|outcome| outcome.each_row());
        let found: BTreeMap<_, _> = rows.map(|(row, found)| (row.row, (row, found))).collect();
        for row in &bar.rows {
            match found.get(&row.id) {
                Some((connection, found)) => {
                    let class = DeviationClass::of_row(connection, *found, limits);
                    let deviation = found.and_then(|found| found.deviation);
                    self.outlet(row, class, deviation, connection.outlet, nearest);
                }
                None if row.left_out => self.outlet(row, DeviationClass::LeftOut, None, None, nearest),
                None => self.outlet(row, DeviationClass::Unknown, None, None, nearest),
            }
        }
    }

    pub(super) fn outlet(
        &mut self,
        row: &Row,
        class: DeviationClass,
        deviation: Option<Ratio>,
        outlet: Option<(PartId, u16)>,
        nearest: f64,
    ) {
        let subject = Subject::Row(row.id);
        let at = self.on(row.section, self.project.bar.outlet(row));
        let radius = OUTLET_MARK.min(0.45 * nearest);
        let reach = Reach { half: radius, least: 4.2, most: 13.0 };
        let grow = Grow::evenly(at, reach);
        let mut push = |shape: Shape, ink: Ink, fill: Fill| {
            self.items.push(DrawItem::new(Layer::Outlets, shape, ink).filled(fill).of(subject).growing(grow));
        };
        let piece = |from: (f64, f64), to: (f64, f64), least: f64| Shape::Line {
            points: [from, to].map(|(x, y)| Point2::new(at.x + x * radius, at.y + y * radius)).to_vec(),
            width: Width { metres: 0.0, least },
            dash: Dash::Solid,
        };
        let ring = Shape::Circle { centre: at, radius };
        // Without a number: told from a ring that is right by its form, not by its colour.
        let dot = Shape::Circle { centre: at, radius: radius * UNKNOWN_DOT };
        let by_pressure = self.options.colouring == Colouring::Pressure;
        let ahead = self.ahead.get(&row.id).filter(|_| by_pressure);
        let pressure = self.scale.zip(ahead).map(|(scale, pressure)| scale.class(*pressure));
        let has_no_number = class == DeviationClass::Unknown || (by_pressure && pressure.is_none());
        match class {
            DeviationClass::LeftOut => {
                push(piece((-0.5, -0.5), (0.5, 0.5), 1.3), Ink::LeftOut, Fill::None);
                push(piece((-0.5, 0.5), (0.5, -0.5), 1.3), Ink::LeftOut, Fill::None);
            }
            DeviationClass::NotFed => {
                push(ring, Ink::NotFed, Fill::Paper);
                push(piece((-0.71, -0.71), (0.71, 0.71), 1.6), Ink::NotFed, Fill::None);
            }
            DeviationClass::FlowsBackward => {
                push(ring, Ink::NotFed, Fill::Paper);
                // An arrow into the tube.
                for (from, to) in BACKWARD_ARROW {
                    push(piece(from, to, 1.6), Ink::NotFed, Fill::None);
                }
            }
            _ if has_no_number => {
                push(ring, Ink::LeftOut, Fill::Paper);
                push(dot, Ink::LeftOut, Fill::Ink);
            }
            _ if let Some(pressure) = pressure => push(ring, Ink::Outlet, Fill::Pressure(pressure)),
            fed => {
                push(ring, Ink::Outlet, Fill::Deviation(fed));
                // The sign is said without colour too, and heavier beyond the limit.
                let weight = if fed.is_far() { 2.4 } else { 1.3 };
                if fed.sign() != 0 {
                    push(piece((-0.5, 0.0), (0.5, 0.0), weight), Ink::OnDeviation(fed), Fill::None);
                }
                if fed.sign() > 0 {
                    push(piece((0.0, -0.5), (0.0, 0.5), weight), Ink::OnDeviation(fed), Fill::None);
                }
            }
        }
        let units = self.options.units;
        let no_value = !class.is_fed() && class != DeviationClass::Unknown;
        let value = match self.options.colouring {
            Colouring::Deviation | Colouring::Caught => {
                deviation.map(|value| vec![format!("{} %", signed_percent(value)), signed_percent(value)])
            }
            Colouring::Pressure => self.ahead.get(&row.id).map(|value| {
                let (value, measure) = (value.si(), Measure::Pressure);
                vec![measure.text(value, units), measure.number(value, units)]
            }),
        };
        let words = match (value.filter(|_| !no_value), class) {
            (Some(words), _) => words,
            // Where the whole section is dry it says so once; the sign at the row stands for itself.
            (None, DeviationClass::NotFed)
                if self.is_dry(row.section) && !self.options.marked.contains(&subject) =>
            {
                return;
            }
            (None, DeviationClass::NotFed) => vec!["not fed".to_owned()],
            (None, DeviationClass::FlowsBackward) => {
                vec!["flows backwards".to_owned(), "backwards".to_owned()]
            }
            _ => return,
        };
        // Further in, the number of the row stands beside its value.
        let mut wordings = vec![format!("row {}\n{}", row.number, words[0])];
        // Of a manifold that is selected or pointed at, each row says which outlet it hangs on.
        let outlet = outlet.filter(|(part, _)| self.options.marked.contains(&Subject::Part(*part)));
        if let Some((_, outlet)) = outlet {
            wordings.insert(0, format!("row {}, outlet {outlet}\n{}", row.number, words[0]));
            wordings.push(format!("outlet {outlet}"));
        }
        wordings.extend(words);
        let places = vec![TextPlace::Below, TextPlace::Right, TextPlace::Left];
        let text = SceneText {
            at,
            places,
            clear_x: reach,
            clear_y: reach,
            wordings,
            room: (!matches!(class, DeviationClass::NotFed | DeviationClass::FlowsBackward))
                .then(|| self.project.bar.row_spacing.si() * 1.7),
            role: TextRole::Value,
        };
        self.items.push(DrawItem::new(Layer::Values, Shape::Text(text), Ink::Words).of(subject));
    }
}

/// The middle of the longest straight piece and on which sides of it words stand well.
pub(super) fn label_place(points: &[Point2]) -> Option<(Point2, Vec<TextPlace>)> {
    let length = |pair: &&[Point2]| pair[0].distance(pair[1]);
    let pair = points.windows(2).max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let at = Point2::new(f64::midpoint(pair[0].x, pair[1].x), f64::midpoint(pair[0].y, pair[1].y));
    let level = (pair[1].x - pair[0].x).abs() >= (pair[1].y - pair[0].y).abs();
    Some((
        at,
        if level {
            vec![TextPlace::Above, TextPlace::Below]
        } else {
            vec![TextPlace::Right, TextPlace::Left]
        },
    ))
}

/// The smallest distance between any two of some points, metres; 1 m for fewer than two.
fn nearest_neighbour(points: &[Point2]) -> f64 {
    let pairs =
        points.iter().enumerate().flat_map(|(index, a)| points[index + 1..].iter().map(|b| a.distance(*b)));
    pairs.filter(|away| *away > 1e-6).min_by(f64::total_cmp).unwrap_or(1.0)
}

const fn place_beside(side: Beside) -> TextPlace {
    match side {
        Beside::Right => TextPlace::Right,
        Beside::Left => TextPlace::Left,
        Beside::Above => TextPlace::Above,
        Beside::Below => TextPlace::Below,
    }
}
