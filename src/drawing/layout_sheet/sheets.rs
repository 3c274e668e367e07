//! Which sheets the layout needs: an overview and the wings, at the scale asked for or the largest that fits.
//!
//! Neighbouring sections share a sheet, as many as it takes at the scale they are built from. A bar that fits whole on
//! such a sheet needs no overview beside it.

use crate::drawing::paper::USUAL;
use crate::drawing::sheet_frame::{SCALES, continued_area, drawing_area};
use crate::geometry::Bounds;
use crate::plan::{Project, Section, SectionId};

/// One sheet of the layout before it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutSheet {
    /// The sections it shows, from left to right.
    pub sections: Vec<SectionId>,
    /// Large enough to build from, with sizes, places and figures of rows; an overview otherwise.
    pub to_build_from: bool,
    /// What it shows, in words.
    pub name: String,
    /// From left to right, metres.
    pub span: (f64, f64),
    /// 20 for 1:20.
    pub denominator: f64,
    /// Cut at the left and at the right, with more of the same on another sheet.
    pub cut: (bool, bool),
    /// Seen from behind alone: what an overview has no room for.
    pub from_behind: bool,
    /// Not the first: a small sheet has a line in place of the title block then.
    pub continues: bool,
    /// Parts that stand far in front are left out, and hoses lead off to them: they would make all else smaller.
    pub cuts_front: bool,
}

impl LayoutSheet {
    /// What is left for the drawing on a sheet of a size.
    pub(super) fn area(&self, size: (f64, f64)) -> Bounds {
        if self.continues { continued_area(size.0, size.1) } else { drawing_area(size.0, size.1) }
    }
}

/// An overview smaller than this is split rather than shrunk further, unless it is too deep.
const SMALLEST_OVERVIEW: f64 = 100.0;

/// Sections are drawn at this scale, or larger where they fit.
const SECTION_SCALE: f64 = 20.0;

/// Shown beyond the ends of what a sheet shows, metres.
pub(super) const BEYOND: f64 = 0.12;

/// Room at the left for the names of the lines of figures, millimetres.
pub(super) const NAMES: f64 = 24.0;

/// Room at the right.
pub(super) const RIGHT_ROOM: f64 = 9.0;

/// Height of the legend.
pub(super) const LEGEND: f64 = 18.0;

/// From the top of the area to a wing: heading and balloons.
pub(super) const ABOVE_DRAWING: f64 = 33.0;

/// From a wing down to the figures of its rows.
pub(super) const STRIP_GAP: f64 = 11.0;

/// Distance of two lines of figures that are read level.
pub(super) const STRIP_FEED: f64 = USUAL * 1.8;

/// What the figures of the rows take where they are read level: row, outlet, length and flow, and a line for what all
/// rows have alike.
const LEVEL_STRIP: f64 = 5.0 * STRIP_FEED + 2.0;

/// From the top of the area to an overview: heading, and names of sections.
pub(super) const ABOVE_OVERVIEW: f64 = 36.0;

/// From an overview down to the legend: widths of sections and of the bar.
pub(super) const BELOW_OVERVIEW: f64 = 30.0;

/// Of the width of a sheet, what a wing takes that is drawn smaller than [`SECTION_SCALE`]: names that have no room by the drawing
/// stand at its sides.
const SMALL_WING: f64 = 0.6;

/// Of the width of a sheet that shows the bar from behind, what is left beside the words of its heights.
const WITHOUT_WORDS: f64 = 0.7;

/// In front of and behind the frame, for hoses and parts that stand off it, metres.
const AROUND: f64 = 0.3;

/// The same on a small sheet: a scale at which a bar can be built from goes before white paper about it.
const TIGHT: f64 = 0.2;

/// Parts within so much of the frame are shown whole, metres.
pub(super) const FAR: f64 = 2.0;

/// From the middle of a part to the edge of its symbol, metres.
const SYMBOL: f64 = 0.15;

/// The sheet that shows from behind what an overview has no room for, at its scale or the largest that leaves room for words
/// beside.
pub(super) fn from_behind(overview: &LayoutSheet, size: (f64, f64)) -> LayoutSheet {
    let room = (drawing_area(size.0, size.1).width() - NAMES - RIGHT_ROOM) * WITHOUT_WORDS;
    let wide = |scale: &f64| (overview.span.1 - overview.span.0) * 1000.0 / scale <= room;
    let denominator = SCALES.into_iter().filter(|scale| *scale < overview.denominator).find(wide);
    LayoutSheet {
        name: overview.name.replacen("overview", "seen from behind", 1),
        denominator: denominator.unwrap_or(overview.denominator),
        cut: (false, false),
        from_behind: true,
        continues: true,
        ..overview.clone()
    }
}

/// Which sheets show the bar: first the overview, then the wings from left to right. `scale` is the denominator asked
/// for: it holds for the overview, and for wings if it is no smaller than 1:20.
pub fn layout_sheets(project: &Project, size: (f64, f64), scale: Option<f64>) -> Vec<LayoutSheet> {
    let sheets = sheets_within(project, size, scale, drawing_area(size.0, size.1));
    if sheets.len() == 1 {
        return sheets;
    }
    let mut sheets = sheets_within(project, size, scale, continued_area(size.0, size.1));
    for sheet in sheets.iter_mut().skip(1) {
        sheet.continues = true;
    }
    sheets
}

/// The same with so much left for the drawing of a wing.
fn sheets_within(
    project: &Project,
    size: (f64, f64),
    scale: Option<f64>,
    of_wing: Bounds,
) -> Vec<LayoutSheet> {
    let area = drawing_area(size.0, size.1);
    let room = area.width() - NAMES - RIGHT_ROOM;
    let bounds = project.bar.bounds();
    if bounds.is_empty() {
        return vec![LayoutSheet {
            sections: Vec::new(),
            to_build_from: false,
            name: "overview".to_owned(),
            span: (-1.0, 1.0),
            denominator: scale.unwrap_or(SMALLEST_OVERVIEW),
            cut: (false, false),
            from_behind: false,
            continues: false,
            cuts_front: false,
        }];
    }
    let mut sections: Vec<&Section> = project.bar.sections.iter().collect();
    sections.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    let depth = bounds.depth() + 2.0 * AROUND;
    let deep = |scale: f64, around: f64| {
        (bounds.depth() + around) * 1000.0 / scale
            <= of_wing.depth() - ABOVE_DRAWING - STRIP_GAP - LEVEL_STRIP - LEGEND
    };
    let asked = scale.filter(|scale| *scale <= SECTION_SCALE);
    // Too wide is split over sheets; too deep can't be, and takes a smaller scale.
    let smallest = SCALES[SCALES.len() - 1];
    let from = SCALES.into_iter().filter(|scale| *scale >= SECTION_SCALE);
    let base =
        asked.unwrap_or_else(|| from.into_iter().find(|scale| deep(*scale, 2.0 * TIGHT)).unwrap_or(smallest));
    let mut wings = Vec::new();
    let taken = if base > SECTION_SCALE && asked.is_none() { SMALL_WING } else { 1.0 };
    for group in groups(&sections, room * taken * base / 1000.0 - 2.0 * BEYOND) {
        let span = (
            group.iter().map(|one| one.left.si()).fold(f64::INFINITY, f64::min) - BEYOND,
            group.iter().map(|one| one.right.si()).fold(f64::NEG_INFINITY, f64::max) + BEYOND,
        );
        let wide = |scale: &f64| (span.1 - span.0) * 1000.0 / scale <= room;
        let larger = SCALES.into_iter().filter(|scale| (10.0..base).contains(scale));
        let ids: Vec<SectionId> = group.iter().map(|one| one.id).collect();
        let beyond = parts_beyond(project, &bounds, &ids);
        let whole = beyond.front + beyond.rear;
        let larger = larger.into_iter().find(|scale| wide(scale) && deep(*scale, 2.0 * AROUND + whole));
        // Parts that stand off the frame are shown whole, on a smaller scale where it takes that; those in front of it are left
        // out where that saves the scale.
        let fitting = SCALES.into_iter().find(|scale| *scale >= base && deep(*scale, 2.0 * TIGHT + whole));
        let own = larger.or(fitting).filter(|_| asked.is_none());
        let cuts_front = own.is_some_and(|own| own > base) && deep(base, 2.0 * TIGHT + beyond.rear);
        let own = own.filter(|_| !cuts_front);
        let template = LayoutSheet {
            sections: ids,
            to_build_from: true,
            name: group_name(&group),
            span,
            denominator: own.unwrap_or(base),
            cut: (false, false),
            from_behind: false,
            continues: false,
            cuts_front,
        };
        wings.extend(pieces(&template, room, &[]));
    }
    // An overview that was asked for at another scale is wanted.
    if let [whole] = &mut wings[..]
        && of_wing == area
        && scale.is_none_or(|scale| scale == whole.denominator)
        && sections.len() == project.bar.sections.len()
    {
        "whole bar".clone_into(&mut whole.name);
        return wings;
    }
    let span = (bounds.min.x - BEYOND, bounds.max.x + BEYOND);
    let low = |scale: &f64| depth * 1000.0 / scale <= area.depth() - ABOVE_OVERVIEW - BELOW_OVERVIEW - LEGEND;
    let denominator = scale.unwrap_or_else(|| {
        let wide = |scale: &f64| (span.1 - span.0) * 1000.0 / scale <= room;
        let mut fitting = SCALES.into_iter().filter(|scale| *scale <= SMALLEST_OVERVIEW && low(scale));
        let smaller = || SCALES.into_iter().filter(|scale| *scale >= SMALLEST_OVERVIEW).find(low);
        fitting.find(wide).or_else(smaller).unwrap_or(smallest)
    });
    let hinges: Vec<f64> = sections.iter().flat_map(|one| [one.left.si(), one.right.si()]).collect();
    let overview = LayoutSheet {
        sections: sections.iter().map(|one| one.id).collect(),
        to_build_from: false,
        name: "overview".to_owned(),
        span,
        denominator,
        cut: (false, false),
        from_behind: false,
        continues: false,
        cuts_front: false,
    };
    let mut sheets = pieces(&overview, room, &hinges);
    sheets.extend(wings);
    sheets
}

/// How much farther than what is drawn around the frame parts reach, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beyond {
    front: f64,
    rear: f64,
}

impl Beyond {
    /// What of it a sheet shows.
    pub(super) fn shown_on(&self, sheet: &LayoutSheet) -> f64 {
        self.rear + if sheet.cuts_front { 0.0 } else { self.front }
    }
}

/// A part so far forward stands in front of what is drawn around a frame with this front.
pub(super) fn stands_in_front(y: f64, front: f64) -> bool {
    y + SYMBOL > front + AROUND + 1e-9
}

/// How far the front edge of a drawing may go so that a part with its middle so far forward is off it.
pub(super) fn short_of(y: f64) -> f64 {
    y - SYMBOL
}

/// How far the parts reach that any routing has on these sections; what stands far off is cut.
pub(super) fn parts_beyond(project: &Project, bounds: &Bounds, sections: &[SectionId]) -> Beyond {
    let parts = project.routings.iter().flat_map(|routing| &routing.parts);
    let parts = parts.filter(|part| sections.contains(&part.section));
    let (mut front, mut rear) = (bounds.max.y + AROUND, bounds.min.y - AROUND);
    for y in
        parts.map(|part| part.position.y).filter(|y| (bounds.min.y - FAR..=bounds.max.y + FAR).contains(y))
    {
        (front, rear) = (front.max(y + SYMBOL), rear.min(y - SYMBOL));
    }
    Beyond { front: front - bounds.max.y - AROUND, rear: bounds.min.y - AROUND - rear }
}

/// Neighbouring sections in the fewest groups that are no wider than the room, and of these in groups much alike. A
/// section that is wider by itself is a group.
fn groups<'a>(sections: &[&'a Section], room: f64) -> Vec<Vec<&'a Section>> {
    let width = |from: usize, to: usize| {
        let group = &sections[from..to];
        let left = group.iter().map(|one| one.left.si()).fold(f64::INFINITY, f64::min);
        group.iter().map(|one| one.right.si()).fold(f64::NEG_INFINITY, f64::max) - left
    };
    // The best way to part the sections from each one on: how many groups, the sum of their squared widths, and where
    // the first of them ends.
    let many = sections.len();
    let mut best: Vec<(usize, f64, usize)> = vec![(0, 0.0, many); many + 1];
    for from in (0..many).rev() {
        let choices = (from + 1..=many).filter(|to| *to == from + 1 || width(from, *to) <= room + 1e-9);
        let choices = choices.map(|to| {
            let (groups, squares, _) = best[to];
            (groups + 1, squares + width(from, to).powi(2), to)
        });
        if let Some(choice) = choices.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))) {
            best[from] = choice;
        }
    }
    let mut all = Vec::new();
    let mut from = 0;
    while from < many {
        let to = best[from].2;
        all.push(sections[from..to].to_vec());
        from = to;
    }
    all
}

/// `outer wing left and inner wing left`, `centre`.
fn group_name(group: &[&Section]) -> String {
    match group {
        [] => String::new(),
        [one] => one.name.clone(),
        [one, other] => format!("{} and {}", one.name, other.name),
        [first, .., last] => format!("{} to {}", first.name, last.name),
    }
}

/// A sheet in pieces that fit the room and are much alike, cut at hinges where that takes no more sheets.
fn pieces(whole: &LayoutSheet, room: f64, hinges: &[f64]) -> Vec<LayoutSheet> {
    let span = whole.span;
    let fits = (room * whole.denominator / 1000.0).max(0.05);
    let mut from = span.0;
    let mut all = Vec::new();
    while from < span.1 - 1e-9 && all.len() < 500 {
        let left = ((span.1 - from) / fits - 1e-9).ceil().max(1.0);
        let to = if left <= 1.0 {
            span.1
        } else {
            // As far as must be shown here for the rest to fit, and as far as fits.
            let (nearest, farthest) = (span.1 - (left - 1.0) * fits, from + fits);
            let alike = (from + (span.1 - from) / left).clamp(nearest.min(farthest), farthest);
            let hinge = hinges
                .iter()
                .copied()
                .filter(|x| (nearest - 1e-9..=farthest).contains(x) && *x > from + 0.05);
            hinge.min_by(|a, b| (a - alike).abs().total_cmp(&(b - alike).abs())).unwrap_or(alike)
        };
        let cut = (!all.is_empty(), to < span.1 - 1e-9);
        all.push(LayoutSheet { span: (from, to), cut, ..whole.clone() });
        from = to;
    }
    let many = all.len();
    if many > 1 {
        for (index, sheet) in all.iter_mut().enumerate() {
            sheet.name = format!("{}, part {} of {many}", whole.name, index + 1);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantities::Length;

    fn sheet(span: (f64, f64), denominator: f64) -> LayoutSheet {
        let name = "overview".to_owned();
        LayoutSheet {
            sections: Vec::new(),
            to_build_from: false,
            name,
            span,
            denominator,
            cut: (false, false),
            from_behind: false,
            continues: false,
            cuts_front: false,
        }
    }

    #[test]
    fn a_wide_bar_is_split_and_never_shrunk() {
        let all = pieces(&sheet((-30.0, 30.0), 50.0), 260.0, &[-19.0, 15.0]);
        assert_eq!(all.len(), 5, "{all:?}");
        assert_eq!(all[0].span.0, -30.0);
        assert_eq!(all[all.len() - 1].span.1, 30.0);
        for pair in all.windows(2) {
            assert_eq!(pair[0].span.1, pair[1].span.0);
        }
        for sheet in &all {
            assert_eq!(sheet.denominator, 50.0);
            assert!((sheet.span.1 - sheet.span.0) * 1000.0 / 50.0 <= 260.0 + 1e-9);
        }
        // A cut falls on a hinge where that is no loss.
        assert!(all.iter().any(|sheet| sheet.span.1 == -19.0));
        // Two sheets show half each, not all but a rest.
        let halves = pieces(&sheet((-12.0, 12.0), 100.0), 220.0, &[-9.0, -2.0, 2.0, 9.0]);
        assert_eq!(halves.len(), 2);
        assert_eq!(halves[0].span.1.abs(), 2.0);
    }

    /// Five sections of 1.8, 2.4, 3.6, 2.4 and 1.8 m, and room for 7 m: three sheets are the fewest, and wing, centre, wing are
    /// most alike (worked by hand: 4.2, 3.6 and 4.2 m).
    #[test]
    fn sections_share_sheets_that_are_much_alike() {
        let mut left = -6.0;
        let mut sections = Vec::new();
        for (id, width) in [1.8, 2.4, 3.6, 2.4, 1.8].into_iter().enumerate() {
            sections.push(Section {
                id: SectionId(id as u32 + 1),
                name: format!("section {id}"),
                hinge: None,
                left: Length::metres(left),
                right: Length::metres(left + width),
                members: Vec::new(),
            });
            left += width;
        }
        let all: Vec<&Section> = sections.iter().collect();
        let sizes = |room| groups(&all, room).iter().map(Vec::len).collect::<Vec<_>>();
        assert_eq!(sizes(7.0), [2, 1, 2]);
        assert_eq!(sizes(12.0), [5]);
        // Wider than the room by itself: alone, and split later.
        assert_eq!(sizes(2.0), [1, 1, 1, 1, 1]);
    }
}
