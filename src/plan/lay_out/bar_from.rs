//! The bar that a layout describes.

use super::layout::{
    Fold, HingePair, Layout, LayoutField, LayoutRefusal, LayoutRows, refusal, section_name, to_millimetre,
};
use crate::geometry::Point3;
use crate::plan::bar::{Bar, FrameMember, Hinge, Section};
use crate::plan::row::Row;
use crate::plan::{RowId, SectionId, rounding, validate};
use crate::quantities::{Angle, Length};

/// Rows that stand as far forward as this to each other share a rank.
const SAME_RANK: f64 = 0.01;
/// Rails stop this short of the end of their section.
const RAIL_GAP: f64 = 0.04;
/// Cross members stand this far in from the end of their section.
const CROSS_IN: f64 = 0.12;
/// Wings that fold up follow the ground by so much downwards, degrees; right-handed about a line that points forward this is
/// above 0 on the right and below 0 on the left.
const FOLLOWS_GROUND: f64 = 5.0;

/// How far forward the line of a hinge is unless somebody says otherwise: a wing that folds forward closes on the front face
/// of the foremost rail, where its pin is, as on a door (common practice, no source); along a lying line it makes no difference.
pub(super) fn usual_line(fold: Fold, foremost: Option<Length>, profile: Length) -> Length {
    match (fold, foremost) {
        (Fold::Forward, Some(rail)) => Length::metres(to_millimetre((rail + profile / 2.0).si())),
        _ => Length::ZERO,
    }
}

/// The foremost of these.
pub(super) fn foremost(ranks: impl IntoIterator<Item = Length>) -> Option<Length> {
    ranks.into_iter().reduce(|most, one| if one > most { one } else { most })
}

impl Layout {
    /// How far forward the line of a pair of hinges is.
    pub fn line_of(&self, pair: &HingePair) -> Length {
        let rail = match &self.rows {
            LayoutRows::Even { ranks, .. } => foremost(ranks.iter().copied()),
            LayoutRows::Given(places) => foremost(places.iter().map(|place| place.forward)),
        };
        pair.forward.unwrap_or_else(|| usual_line(pair.fold, rail, self.rail_width))
    }
}

/// Lays out the bar: sections with the centre first, rails over the ranks, rows numbered from left to right.
pub fn lay_out(layout: &Layout) -> Result<Bar, Vec<LayoutRefusal>> {
    let refusals = layout.refusals();
    if !refusals.is_empty() {
        return Err(refusals);
    }
    let (ranks, places) = rows(layout);
    let edges = layout.edges_of_sections();
    let middle = layout.sections.len() / 2;
    // The centre first, then outwards in pairs, so that a parent stands before its children.
    let mut order = vec![middle];
    for out in 1..=middle {
        order.extend([middle - out, middle + out]);
    }
    let id_of =
        |index: usize| SectionId(order.iter().position(|one| *one == index).map_or(0, |at| at as u32 + 1));
    let sections: Vec<Section> = order
        .iter()
        .map(|&index| {
            let (left, right) = (edges[index], edges[index + 1]);
            let is_right = index > middle;
            let pair = index.abs_diff(middle).checked_sub(1).and_then(|out| layout.hinges.get(out));
            let hinge = pair.map(|pair| {
                let turn = pair.angle.si() * pair.fold.sign();
                let down = if is_right { FOLLOWS_GROUND } else { -FOLLOWS_GROUND };
                let across = if is_right { left } else { right };
                let forward = layout.line_of(pair);
                Hinge {
                    parent: id_of(if is_right { index - 1 } else { index + 1 }),
                    point: Point3::new(across, forward.si(), pair.height.si()),
                    axis: pair.fold.axis(),
                    lowest: Angle::degrees(if pair.fold == Fold::Forward { 0.0 } else { down }),
                    folded: Angle::from_si(if is_right { turn } else { -turn }),
                    step: pair.step_left.filter(|_| !is_right).unwrap_or(pair.step),
                }
            });
            Section {
                id: id_of(index),
                name: section_name(index, layout.sections.len()),
                hinge,
                left: Length::metres(left),
                right: Length::metres(right),
                members: members(layout, &ranks, left, right),
            }
        })
        .collect();
    let section_of = |x: f64| {
        // A row on a hinge rides on the section nearer to the centre.
        sections.iter().find(|section| section.spans(x)).or(sections.first()).map(|section| section.id)
    };
    let rows = places.iter().zip(1..).map(|((x, rank, height), number)| Row {
        id: RowId(number),
        number,
        section: section_of(*x).unwrap_or(SectionId(1)),
        x: Length::metres(*x),
        rank: *rank,
        outlet_height: *height,
        share: 1.0,
        left_out: false,
    });
    let mut bar =
        Bar { row_spacing: layout.spacing, row_widths: layout.widths, rows: rows.collect(), ranks, sections };
    rounding::bar(&mut bar);
    let broken = validate::bar(&bar);
    if broken.is_empty() {
        Ok(bar)
    } else {
        Err(broken.shown().iter().map(|one| refusal(LayoutField::Bar, &*one.what, &*one.advice)).collect())
    }
}

/// Rails over the ranks and three cross members.
fn members(layout: &Layout, ranks: &[Length], left: f64, right: f64) -> Vec<FrameMember> {
    let height = layout.rail_height.si();
    let mut members: Vec<FrameMember> = ranks
        .iter()
        .map(|y| FrameMember {
            from: Point3::new(to_millimetre(left + RAIL_GAP), y.si(), height),
            to: Point3::new(to_millimetre(right - RAIL_GAP), y.si(), height),
            width: layout.rail_width,
        })
        .collect();
    if let [front, .., back] = ranks {
        let width = Length::metres(to_millimetre(layout.rail_width.si() * 0.8));
        let whole_millimetre = (f64::midpoint(left, right) * 1000.0).trunc() / 1000.0;
        for x in [left + CROSS_IN, whole_millimetre, right - CROSS_IN] {
            let at = |y: Length| Point3::new(to_millimetre(x), y.si(), height);
            members.push(FrameMember { from: at(*front), to: at(*back), width });
        }
    }
    members
}

/// The ranks, and each row from left to right as x, rank and outlet height.
fn rows(layout: &Layout) -> (Vec<Length>, Vec<(f64, usize, Length)>) {
    match &layout.rows {
        LayoutRows::Even { ranks, order, .. } => {
            let place = |(index, x): (usize, f64)| {
                let rank = order[index % order.len()];
                (x, rank, layout.rank_heights.get(rank).copied().unwrap_or(layout.outlet_height))
            };
            (ranks.clone(), layout.across().into_iter().enumerate().map(place).collect())
        }
        LayoutRows::Given(places) => {
            let mut sorted = places.clone();
            sorted.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
            let mut forward: Vec<f64> = sorted.iter().map(|place| place.forward.si()).collect();
            forward.sort_by(|a, b| b.total_cmp(a));
            forward.dedup_by(|a, b| (*b - *a).abs() <= SAME_RANK);
            let rank = |y: f64| {
                let nearest =
                    |a: &(usize, &f64), b: &(usize, &f64)| (a.1 - y).abs().total_cmp(&(b.1 - y).abs());
                forward.iter().enumerate().min_by(nearest).map_or(0, |(index, _)| index)
            };
            let rows = sorted
                .iter()
                .map(|place| {
                    (place.x.si(), rank(place.forward.si()), place.height.unwrap_or(layout.outlet_height))
                })
                .collect();
            (forward.iter().map(|y| Length::metres(*y)).collect(), rows)
        }
    }
}
