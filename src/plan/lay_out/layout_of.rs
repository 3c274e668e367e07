//! The layout of a bar that is there.

use super::bar_from::{foremost, usual_line};
use super::layout::{FITS, Fold, HingePair, Layout, LayoutRows, MOST_GAPS, RowPlace, to_millimetre};
use crate::plan::bar::{Bar, Section};
use crate::plan::row::Row;
use crate::quantities::{Angle, Length};

/// The layout of a bar that is there, as far as the form can say it: rows and heights are kept as they are, uneven
/// ones as given places.
pub fn layout_of(bar: &Bar) -> Layout {
    let spacing = bar.row_spacing;
    let mut by_x: Vec<&Section> = bar.sections.iter().collect();
    by_x.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    let middle = by_x.len() / 2;
    let member = bar.sections.iter().flat_map(|section| &section.members).next();
    let rail_width = member.map_or(Length::metres(0.1), |member| member.width);
    let hinges = (1..=middle).map(|out| {
        let left = by_x.get(middle - out).and_then(|section| section.hinge).map(|hinge| hinge.step);
        by_x.get(middle + out).and_then(|section| section.hinge).map_or_else(HingePair::default, |hinge| {
            let fold = match (hinge.axis.z == 0.0, hinge.folded.si() > 0.0) {
                (false, _) => Fold::Forward,
                (true, false) => Fold::Up,
                (true, true) => Fold::UpReversed,
            };
            let angle = hinge.folded.si().abs();
            let usual = usual_line(fold, foremost(bar.ranks.iter().copied()), rail_width);
            let forward = Length::metres(hinge.point.y);
            HingePair {
                height: Length::from_si(hinge.point.z),
                forward: Some(forward).filter(|forward| (*forward - usual).abs().si() > 1e-6),
                fold,
                angle: Angle::from_si(angle),
                step: hinge.step,
                step_left: left.filter(|left| *left != hinge.step),
            }
        })
    });
    let common = bar.rows.first().map_or(Length::metres(0.05), |row| row.outlet_height);
    let mut rows: Vec<&Row> = bar.rows.iter().collect();
    rows.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
    let count = rows.len() as u32;
    let ranks_so: Vec<usize> = rows.iter().map(|row| row.rank).collect();
    let period = (1..=bar.ranks.len().max(1) * 2)
        .find(|period| ranks_so.iter().enumerate().all(|(index, rank)| ranks_so[index % period] == *rank));
    let across: Vec<f64> = rows.iter().map(|row| row.x.si()).collect();
    let rank_heights = heights_of_ranks(bar, common);
    let gaps = rank_heights.as_ref().and_then(|_| gaps_of(bar, &across));
    let even = gaps.is_some();
    let rows = match (period, gaps) {
        (Some(period), Some(pattern)) if !bar.ranks.is_empty() => LayoutRows::Even {
            count,
            pattern,
            ranks: bar.ranks.clone(),
            order: ranks_so.iter().take(period).copied().collect(),
        },
        _ => LayoutRows::Given(
            rows.iter()
                .map(|row| {
                    let at = bar.outlet(row);
                    RowPlace {
                        x: row.x,
                        forward: Length::metres(at.y),
                        height: Some(row.outlet_height).filter(|height| *height != common),
                    }
                })
                .collect(),
        ),
    };
    let mut layout = Layout {
        spacing,
        widths: bar.row_widths,
        rows,
        edges: None,
        sections: by_x.iter().map(|section| section.width()).collect(),
        hinges: hinges.collect(),
        rail_height: member.map_or(Length::metres(0.9), |member| Length::from_si(member.from.z)),
        rail_width,
        outlet_height: common,
        rank_heights: rank_heights.filter(|_| even).unwrap_or_default(),
    };
    if matches!(layout.rows, LayoutRows::Given(_))
        && let Some((left, right)) = bar.edges()
    {
        let reckoned = layout.strip();
        layout.edges = ((left - reckoned.0).abs() > FITS || (right - reckoned.1).abs() > FITS)
            .then(|| (Length::metres(left), Length::metres(right)));
    }
    layout
}

/// The gaps of regularly spaced rows as [`LayoutRows::Even`] has them: none of their own for the nominal spacing, or the shortest
/// list that comes again and again at least twice, up to the edges of the bar; none for rows that are not regular.
fn gaps_of(bar: &Bar, across: &[f64]) -> Option<Vec<Length>> {
    let lie_so = |pattern: &[Length]| {
        let rows = LayoutRows::Even {
            count: across.len() as u32,
            pattern: pattern.to_vec(),
            ranks: Vec::new(),
            order: Vec::new(),
        };
        let layout = Layout { spacing: bar.row_spacing, rows, ..Layout::even(1, bar.row_spacing) };
        let edges_fit = pattern.is_empty()
            || bar.edges().is_some_and(|edges| {
                let strip = layout.strip();
                (strip.0 - edges.0).abs() < FITS && (strip.1 - edges.1).abs() < FITS
            });
        edges_fit && layout.across().iter().zip(across).all(|(ours, x)| (ours - x).abs() < FITS)
    };
    if lie_so(&[]) {
        return Some(Vec::new());
    }
    (2..=MOST_GAPS.min(across.len() / 2))
        .map(|period| {
            let gaps = across.windows(2).take(period);
            gaps.map(|pair| Length::metres(to_millimetre(pair[1] - pair[0]))).collect::<Vec<_>>()
        })
        .find(|pattern| lie_so(pattern))
}

/// The outlet height of each rank: nothing if all rows have the common one; none if rows of one rank differ.
fn heights_of_ranks(bar: &Bar, common: Length) -> Option<Vec<Length>> {
    if bar.rows.iter().all(|row| row.outlet_height == common) {
        return Some(Vec::new());
    }
    (0..bar.ranks.len())
        .map(|rank| {
            let mut heights = bar.rows.iter().filter(|row| row.rank == rank).map(|row| row.outlet_height);
            let Some(first) = heights.next() else { return Some(common) };
            heights.all(|height| height == first).then_some(first)
        })
        .collect()
}
