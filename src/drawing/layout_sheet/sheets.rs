//! Which sheets the layout needs: an overview and the sections, at the scale asked for or the largest that fits.

use crate::drawing::sheet_frame::{SCALES, drawing_area};
use crate::plan::{Project, SectionId};

/// One sheet of the layout before it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutSheet {
    /// Whole bar, or one section.
    pub section: Option<SectionId>,
    /// What it shows, in words.
    pub name: String,
    /// From left to right, metres.
    pub span: (f64, f64),
    /// 20 for 1:20.
    pub denominator: f64,
    /// Cut at the left and at the right, with more of the same on another sheet.
    pub cut: (bool, bool),
}

/// An overview smaller than this is split rather than shrunk further.
const SMALLEST_OVERVIEW: f64 = 100.0;

/// Sections are drawn at this scale, or larger where they fit.
const SECTION_SCALE: f64 = 20.0;

/// Shown beyond the ends of what a sheet shows, metres.
pub(super) const BEYOND: f64 = 0.12;

/// Room at the left for the names of the lines of figures, millimetres.
pub(super) const NAMES: f64 = 24.0;

/// Room at the right.
pub(super) const RIGHT_ROOM: f64 = 8.0;

/// Height of the legend.
pub(super) const LEGEND: f64 = 14.0;

/// From the top of the area to a section: heading and balloons.
pub(super) const ABOVE_DRAWING: f64 = 27.0;

/// From a section down to the figures of its rows.
pub(super) const STRIP_GAP: f64 = 13.0;

/// Figures of the rows that would be smaller go to the sheet of tables.
pub(super) const SMALLEST_FIGURES: f64 = 1.4;

/// Which sheets show the bar: first the overview, then each section from left to right. `scale` is the denominator
/// asked for: it holds for the overview, and for sections if it is no smaller than 1:20.
pub fn layout_sheets(project: &Project, size: (f64, f64), scale: Option<f64>) -> Vec<LayoutSheet> {
    let area = drawing_area(size.0, size.1);
    let room = area.width() - NAMES - RIGHT_ROOM;
    let bounds = project.bar.bounds();
    if bounds.is_empty() {
        let name = "overview".to_owned();
        let denominator = scale.unwrap_or(SMALLEST_OVERVIEW);
        return vec![LayoutSheet {
            section: None,
            name,
            span: (-1.0, 1.0),
            denominator,
            cut: (false, false),
        }];
    }
    let span = (bounds.min.x - BEYOND, bounds.max.x + BEYOND);
    let depth = bounds.depth() + 2.0;
    let fits = |width: f64, depth: f64, denominator: &f64| {
        width * 1000.0 / denominator <= room && depth * 1000.0 / denominator <= area.depth() - 40.0
    };
    let overview = scale.unwrap_or_else(|| {
        let mut larger = SCALES.into_iter().filter(|scale| *scale < SMALLEST_OVERVIEW);
        larger.find(|scale| fits(span.1 - span.0, depth, scale)).unwrap_or(SMALLEST_OVERVIEW)
    });
    let hinges: Vec<f64> =
        project.bar.sections.iter().flat_map(|one| [one.left.si(), one.right.si()]).collect();
    let mut sheets = pieces(None, "overview", span, overview, room, &hinges);
    let mut sections: Vec<_> = project.bar.sections.iter().collect();
    sections.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    for section in sections {
        let span = (section.left.si() - BEYOND, section.right.si() + BEYOND);
        let asked = scale.filter(|scale| *scale <= SECTION_SCALE);
        let denominator = asked.unwrap_or_else(|| {
            // Balloons, figures of the rows and the legend take their share of the height.
            let deep = |scale: &f64| (bounds.depth() + 0.9) * 1000.0 / scale <= area.depth() - 87.0;
            let wide = |scale: &f64| (span.1 - span.0) * 1000.0 / scale <= room;
            let larger = [10.0, SECTION_SCALE].into_iter().find(|scale| wide(scale) && deep(scale));
            // Too wide is split over sheets; too deep can't be, and takes the next scale.
            let smaller = || [SECTION_SCALE, 50.0, 100.0].into_iter().find(deep);
            larger.or_else(smaller).unwrap_or(SECTION_SCALE)
        });
        sheets.extend(pieces(Some(section.id), &section.name, span, denominator, room, &[]));
    }
    sheets
}

/// A span in pieces that fit the room and are much alike, cut at hinges where that takes no more sheets.
fn pieces(
    section: Option<SectionId>,
    name: &str,
    span: (f64, f64),
    denominator: f64,
    room: f64,
    hinges: &[f64],
) -> Vec<LayoutSheet> {
    let fits = (room * denominator / 1000.0).max(0.05);
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
        all.push(LayoutSheet { section, name: name.to_owned(), span: (from, to), denominator, cut });
        from = to;
    }
    let many = all.len();
    if many > 1 {
        for (index, sheet) in all.iter_mut().enumerate() {
            sheet.name = format!("{name}, part {} of {many}", index + 1);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wide_bar_is_split_and_never_shrunk() {
        let all = pieces(None, "overview", (-30.0, 30.0), 50.0, 260.0, &[-19.0, 15.0]);
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
        let halves = pieces(None, "overview", (-12.0, 12.0), 100.0, 220.0, &[-9.0, -2.0, 2.0, 9.0]);
        assert_eq!(halves.len(), 2);
        assert_eq!(halves[0].span.1.abs(), 2.0);
    }
}
