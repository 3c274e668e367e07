//! Lays out a bar from the few numbers that describe it: rows and their spacing, widths of sections, ranks, hinges
//! and heights.
//!
//! [`lay_out`] gives a whole [`Bar`], or every [`Refusal`] with the entry that causes it. Frame rails lie over the
//! ranks, with three cross members in each section: enough to draw the bar and to lay hoses along.

use super::bar::{Bar, FrameMember, Hinge, RowWidths, Section};
use super::bounds::Bound;
use super::row::Row;
use super::{RowId, SectionId, validate};
use crate::geometry::Point3;
use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// How a wing folds on what carries it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fold {
    /// About a fore-and-aft line, upward.
    Up,
    /// About a fore-and-aft line, back the other way over its parent's fold.
    UpReversed,
    /// About an upright line, forward.
    Forward,
}

impl Fold {
    /// All, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::Up, Self::UpReversed, Self::Forward];

    /// As people say it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Up => "folds up",
            Self::UpReversed => "folds up, reversed",
            Self::Forward => "folds forward",
        }
    }

    /// Direction of the hinge line of either side.
    const fn axis(self) -> Point3 {
        match self {
            Self::Up | Self::UpReversed => Point3::new(0.0, 1.0, 0.0),
            Self::Forward => Point3::new(0.0, 0.0, 1.0),
        }
    }

    /// Sign of the right wing's angle in transport position.
    const fn sign(self) -> f64 {
        match self {
            Self::Up => -1.0,
            Self::UpReversed | Self::Forward => 1.0,
        }
    }
}

/// A pair of hinges, the same left and right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HingePair {
    /// Height of the hinge line above the ground, metres.
    pub height: Length,
    /// Which way the wing folds.
    pub fold: Fold,
    /// How far it turns into transport position; above 0, at most 180°.
    pub angle: Angle,
}

/// Where the rows are.
#[derive(Debug, Clone, PartialEq)]
pub enum Rows {
    /// Evenly spaced about the middle.
    Even {
        /// How many.
        count: u32,
        /// The ranks, from front to back: how far forward each is.
        ranks: Vec<Length>,
        /// The ranks of neighbouring rows (0 the front one), from left to right, again and again.
        order: Vec<usize>,
    },
    /// Each where it was measured; those that stand equally far forward share a rank.
    Given(Vec<RowPlace>),
}

/// Where one row's outlet is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowPlace {
    /// How far right of the bar's centre.
    pub x: Length,
    /// How far forward.
    pub forward: Length,
    /// Height of its outlet; the bar's common one when none.
    pub height: Option<Length>,
}

/// What a bar is laid out from.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Nominal spacing of rows.
    pub spacing: Length,
    /// Which width a row stands for.
    pub widths: RowWidths,
    /// The rows.
    pub rows: Rows,
    /// Widths of the sections from left to right; an odd number, the middle one the centre section.
    pub sections: Vec<Length>,
    /// Hinges from the centre outwards; one pair for each pair of wings.
    pub hinges: Vec<HingePair>,
    /// Height of the frame's rails.
    pub rail_height: Length,
    /// Width of the rails' profile; cross members take four fifths of it.
    pub rail_width: Length,
    /// Height of outlets at work.
    pub outlet_height: Length,
    /// Heights of the outlets of each rank, from front to back, where they differ; empty where all have the same one.
    pub rank_heights: Vec<Length>,
}

/// The entry that a refusal belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// Number of rows, or their list.
    Rows,
    /// Row spacing.
    Spacing,
    /// Number of sections, or their widths together.
    Sections,
    /// Width of one section, from the left.
    Section(usize),
    /// Number and distance of ranks.
    Ranks,
    /// Order of ranks.
    Order,
    /// One pair of hinges, from the centre.
    Hinge(usize),
    /// Height of the rails.
    RailHeight,
    /// Width of the rails.
    RailWidth,
    /// Height of outlets.
    OutletHeight,
    /// Height of the outlets of one rank, from the front.
    RankHeight(usize),
    /// The bar as a whole.
    Bar,
}

/// Why no bar comes of it: which entry, what is wrong, what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The entry.
    pub field: Field,
    /// What is wrong with it.
    pub what: String,
    /// What to try.
    pub advice: String,
}

/// Most rows a bar may have.
pub const MOST_ROWS: u32 = Bound::Rows.most() as u32;
/// Most sections a bar may have.
pub const MOST_SECTIONS: usize = 9;
/// Sections whose ends differ from the rows' strip by less than this are taken to fit.
const FITS: f64 = 0.002;
/// Rows that stand as far forward as this to each other share a rank.
const SAME_RANK: f64 = 0.01;
/// Rails stop this short of the end of their section.
const RAIL_GAP: f64 = 0.04;
/// Cross members stand this far in from the end of their section.
const CROSS_IN: f64 = 0.12;

/// Names of the sections of one side, from the centre outwards, without `left` or `right`.
fn wing_name(out: usize, pairs: usize) -> String {
    match (pairs, out) {
        (1, _) => "wing".to_owned(),
        (_, 1) => "inner wing".to_owned(),
        (pairs, out) if out == pairs => "outer wing".to_owned(),
        (3, _) => "middle wing".to_owned(),
        (_, out) => format!("middle wing {}", out - 1),
    }
}

/// The name of a section, counted from the left, of so many.
pub fn section_name(index: usize, sections: usize) -> String {
    let middle = sections / 2;
    match index.cmp(&middle) {
        std::cmp::Ordering::Equal => "centre".to_owned(),
        std::cmp::Ordering::Less => format!("{} left", wing_name(middle - index, middle)),
        std::cmp::Ordering::Greater => format!("{} right", wing_name(index - middle, middle)),
    }
}

/// Shares of rows for so many sections: the same left and right, whole rows each, about evenly wide.
pub fn even_sections(rows: u32, spacing: Length, sections: usize) -> Vec<Length> {
    let pairs = (sections / 2) as u32;
    if pairs == 0 {
        return vec![spacing * f64::from(rows)];
    }
    let wing = rows / (2 * pairs + 1);
    // What does not divide goes to the centre, one or two rows to each inner pair first.
    let mut wings = vec![wing; pairs as usize];
    let mut centre = rows - 2 * pairs * wing;
    for one in &mut wings {
        if centre >= wing + 3 {
            *one += 1;
            centre -= 2;
        }
    }
    let width = |rows: u32| spacing * f64::from(rows);
    let mut all: Vec<Length> = wings.iter().rev().map(|rows| width(*rows)).collect();
    all.push(width(centre));
    all.extend(wings.iter().map(|rows| width(*rows)));
    all
}

/// Ranks so many, so far apart, about the middle of the frame; from front to back.
pub fn even_ranks(count: usize, distance: Length) -> Vec<Length> {
    let front = distance.si() * (count.saturating_sub(1)) as f64 / 2.0;
    (0..count).map(|index| Length::metres(to_millimetre(front - distance.si() * index as f64))).collect()
}

/// An order in which neighbours stand far apart, so that residue passes between them: every other rank first.
pub fn usual_order(ranks: usize) -> Vec<usize> {
    (0..ranks).step_by(2).chain((1..ranks).step_by(2)).collect()
}

fn to_millimetre(metres: f64) -> f64 {
    (metres * 1000.0).round() / 1000.0
}

fn refusal(field: Field, what: impl Into<String>, advice: impl Into<String>) -> Refusal {
    Refusal { field, what: what.into(), advice: advice.into() }
}

impl Layout {
    /// A bar of so many rows in three sections on two ranks, to start from.
    pub fn even(count: u32, spacing: Length) -> Self {
        Self {
            spacing,
            widths: RowWidths::Nominal,
            rows: Rows::Even { count, ranks: even_ranks(2, Length::metres(0.6)), order: vec![0, 1] },
            sections: even_sections(count, spacing, 3),
            hinges: vec![HingePair::default(); 1],
            rail_height: Length::metres(0.9),
            rail_width: Length::metres(0.1),
            outlet_height: Length::metres(0.05),
            rank_heights: Vec::new(),
        }
    }

    /// How many rows.
    pub fn count(&self) -> u32 {
        match &self.rows {
            Rows::Even { count, .. } => *count,
            Rows::Given(places) => places.len() as u32,
        }
    }

    /// The strip that the rows stand for, metres: rows times spacing, or from half a spacing left of the first to
    /// half a spacing right of the last.
    pub fn strip(&self) -> (f64, f64) {
        match &self.rows {
            Rows::Even { count, .. } => {
                let half = f64::from(*count) * self.spacing.si() / 2.0;
                (-half, half)
            }
            Rows::Given(places) => {
                let half = self.spacing.si() / 2.0;
                let x = || places.iter().map(|place| place.x.si());
                (x().fold(f64::INFINITY, f64::min) - half, x().fold(f64::NEG_INFINITY, f64::max) + half)
            }
        }
    }

    /// Ends of the sections, from left to right; one more than sections.
    fn edges(&self) -> Vec<f64> {
        let total: f64 = self.sections.iter().map(|width| width.si()).sum();
        let (left, right) = self.strip();
        let mut at = f64::midpoint(left, right) - total / 2.0;
        let mut edges = vec![to_millimetre(at)];
        for width in &self.sections {
            at += width.si();
            edges.push(to_millimetre(at));
        }
        edges
    }

    /// Everything wrong with it; nothing for a layout that gives a bar.
    pub fn refusals(&self) -> Vec<Refusal> {
        let mut found = Vec::new();
        let metric = UnitSystem::Metric;
        let metres = |value: f64| Measure::Distance.short_text(value, metric);
        let within = |value: Length, least: f64, most: f64| {
            value.is_finite() && value.si() >= least && value.si() <= most
        };
        let spacing_fits = within(self.spacing, 0.05, 2.0);
        if !spacing_fits {
            found.push(refusal(Field::Spacing, "no row spacing in the field", "give 5 cm to 2 m"));
        }
        let count = self.count();
        if !(1..=MOST_ROWS).contains(&count) {
            found.push(refusal(Field::Rows, format!("{count} rows"), format!("give 1 to {MOST_ROWS}")));
        }
        match &self.rows {
            Rows::Even { ranks, order, .. } => {
                if ranks.is_empty() || ranks.len() > 12 {
                    found.push(refusal(Field::Ranks, format!("{} ranks", ranks.len()), "give 1 to 12"));
                } else if ranks.windows(2).any(|pair| pair[0] <= pair[1]) || ranks[0].si() > 10.0 {
                    found.push(refusal(Field::Ranks, "no distance between ranks", "give 0.1 to 2 m"));
                }
                if order.is_empty() {
                    found.push(refusal(Field::Order, "no order of ranks", "write each rank once: 1, 2"));
                }
                if let Some(rank) = order.iter().find(|rank| **rank >= ranks.len()) {
                    found.push(refusal(
                        Field::Order,
                        format!("rank {} is not there", rank + 1),
                        format!("the bar has {}", ranks.len()),
                    ));
                }
            }
            Rows::Given(places) => {
                let bad = places.iter().position(|place| {
                    let far = |value: Length| !within(value, -100.0, 100.0);
                    far(place.x) || far(place.forward) || place.height.is_some_and(far)
                });
                if let Some(index) = bad {
                    let what = format!("row {} of the list lies far outside", index + 1);
                    found.push(refusal(Field::Rows, what, "check the units of the list"));
                }
            }
        }
        if self.sections.len().is_multiple_of(2) || self.sections.len() > MOST_SECTIONS {
            found.push(refusal(
                Field::Sections,
                format!("{} sections", self.sections.len()),
                "give an odd number, 1 to 9: a centre section and wings in pairs",
            ));
        }
        for (index, width) in self.sections.iter().enumerate() {
            if !within(*width, 0.3, 100.0) {
                found.push(refusal(Field::Section(index), "no width for a section", "give 0.3 m or more"));
            }
        }
        let (left, right) = self.strip();
        let (strip, total) = (right - left, self.sections.iter().map(|width| width.si()).sum::<f64>());
        if spacing_fits && count > 0 && (strip - total).abs() > FITS {
            let (word, by) = if total < strip { ("more", strip - total) } else { ("less", total - strip) };
            found.push(refusal(
                Field::Sections,
                format!("together {} wide, but the rows take {}", metres(total), metres(strip)),
                format!("give them {} {word}, or divide evenly", metres(by)),
            ));
        }
        let pairs = self.sections.len() / 2;
        if self.hinges.len() < pairs {
            found.push(refusal(
                Field::Hinge(self.hinges.len()),
                "a pair of wings without hinges",
                "give their height and fold",
            ));
        }
        for (index, hinge) in self.hinges.iter().take(pairs).enumerate() {
            if !within(hinge.height, 0.05, 6.0) {
                found.push(refusal(Field::Hinge(index), "no height for a hinge", "give 0.05 to 6 m"));
            }
            let degrees = hinge.angle.si().to_degrees();
            if !(1.0..=180.0 + 1e-9).contains(&degrees) {
                found.push(refusal(Field::Hinge(index), "no angle to fold by", "give 1° to 180°"));
            }
        }
        for (field, value, least, most) in [
            (Field::RailHeight, self.rail_height, 0.1, 5.0),
            (Field::RailWidth, self.rail_width, 0.02, 0.5),
            (Field::OutletHeight, self.outlet_height, -0.3, 2.0),
        ] {
            if !within(value, least, most) {
                let advice = format!("give {} to {}", metres(least), metres(most));
                found.push(refusal(field, metres(value.si()), advice));
            }
        }
        for (rank, height) in self.rank_heights.iter().enumerate() {
            if !within(*height, -0.3, 2.0) {
                let advice = format!("give {} to {}", metres(-0.3), metres(2.0));
                found.push(refusal(Field::RankHeight(rank), metres(height.si()), advice));
            }
        }
        found
    }
}

impl Default for HingePair {
    fn default() -> Self {
        Self { height: Length::metres(0.95), fold: Fold::Up, angle: Angle::degrees(90.0) }
    }
}

/// Lays out the bar: sections with the centre first, rails over the ranks, rows numbered from left to right.
pub fn lay_out(layout: &Layout) -> Result<Bar, Vec<Refusal>> {
    let refusals = layout.refusals();
    if !refusals.is_empty() {
        return Err(refusals);
    }
    let (ranks, places) = rows(layout);
    let edges = layout.edges();
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
                Hinge {
                    parent: id_of(if is_right { index - 1 } else { index + 1 }),
                    point: Point3::new(if is_right { left } else { right }, 0.0, pair.height.si()),
                    axis: pair.fold.axis(),
                    lowest: Angle::degrees(if pair.fold == Fold::Forward { 0.0 } else { -5.0 }),
                    folded: Angle::from_si(if is_right { turn } else { -turn }),
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
    let bar =
        Bar { row_spacing: layout.spacing, row_widths: layout.widths, rows: rows.collect(), ranks, sections };
    let broken = validate::bar(&bar);
    if broken.is_empty() {
        Ok(bar)
    } else {
        Err(broken.shown().iter().map(|one| refusal(Field::Bar, &*one.what, &*one.advice)).collect())
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
        Rows::Even { count, ranks, order } => {
            let spacing = layout.spacing.si();
            let half = f64::from(*count) * spacing / 2.0;
            let place = |index: u32| {
                let x = to_millimetre(-half + (f64::from(index) + 0.5) * spacing);
                let rank = order[index as usize % order.len()];
                (x, rank, layout.rank_heights.get(rank).copied().unwrap_or(layout.outlet_height))
            };
            (ranks.clone(), (0..*count).map(place).collect())
        }
        Rows::Given(places) => {
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

/// The layout of a bar that is there, as far as the form can say it: rows and heights are kept as they are, uneven
/// ones as given places.
pub fn layout_of(bar: &Bar) -> Layout {
    let spacing = bar.row_spacing;
    let mut by_x: Vec<&Section> = bar.sections.iter().collect();
    by_x.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    let middle = by_x.len() / 2;
    let hinges = (1..=middle).map(|out| {
        by_x.get(middle + out).and_then(|section| section.hinge).map_or_else(HingePair::default, |hinge| {
            let fold = match (hinge.axis.z == 0.0, hinge.folded.si() > 0.0) {
                (false, _) => Fold::Forward,
                (true, false) => Fold::Up,
                (true, true) => Fold::UpReversed,
            };
            let angle = hinge.folded.si().abs();
            HingePair { height: Length::from_si(hinge.point.z), fold, angle: Angle::from_si(angle) }
        })
    });
    let member = bar.sections.iter().flat_map(|section| &section.members).next();
    let common = bar.rows.first().map_or(Length::metres(0.05), |row| row.outlet_height);
    let mut rows: Vec<&Row> = bar.rows.iter().collect();
    rows.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
    let count = rows.len() as u32;
    let ranks_so: Vec<usize> = rows.iter().map(|row| row.rank).collect();
    let period = (1..=bar.ranks.len().max(1) * 2)
        .find(|period| ranks_so.iter().enumerate().all(|(index, rank)| ranks_so[index % period] == *rank));
    let half = f64::from(count) * spacing.si() / 2.0;
    let rank_heights = heights_of_ranks(bar, common);
    let even = rank_heights.is_some()
        && rows.iter().enumerate().all(|(index, row)| {
            let x = -half + (index as f64 + 0.5) * spacing.si();
            (row.x.si() - x).abs() < FITS
        });
    let rows = match period {
        Some(period) if even && !bar.ranks.is_empty() => Rows::Even {
            count,
            ranks: bar.ranks.clone(),
            order: ranks_so.iter().take(period).copied().collect(),
        },
        _ => Rows::Given(
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
    Layout {
        spacing,
        widths: bar.row_widths,
        rows,
        sections: by_x.iter().map(|section| section.width()).collect(),
        hinges: hinges.collect(),
        rail_height: member.map_or(Length::metres(0.9), |member| Length::from_si(member.from.z)),
        rail_width: member.map_or(Length::metres(0.1), |member| member.width),
        outlet_height: common,
        rank_heights: rank_heights.filter(|_| even).unwrap_or_default(),
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn sevens() -> Layout {
        let spacing = Length::metres(0.3);
        Layout {
            sections: even_sections(80, spacing, 7),
            hinges: vec![HingePair::default(); 3],
            ..Layout::even(80, spacing)
        }
    }

    #[test]
    fn a_bar_is_as_wide_as_its_rows_and_stands_about_the_middle() {
        let bar = lay_out(&sevens()).unwrap();
        assert_eq!(bar.rows.len(), 80);
        assert_eq!(bar.sections.len(), 7);
        assert_eq!(bar.sections[0].name, "centre");
        let width: f64 = bar.sections.iter().map(|section| section.width().si()).sum();
        assert!((width - 24.0).abs() < 1e-9, "{width}");
        assert!((bar.rows[0].x.si() + 11.85).abs() < 1e-9);
        assert!((bar.rows[79].x.si() - 11.85).abs() < 1e-9);
        for row in &bar.rows {
            assert!(bar.section(row.section).unwrap().spans(row.x.si()), "row {}", row.number);
        }
        for pair in bar.sections[1..].chunks(2) {
            assert_eq!(pair[0].left.si(), -pair[1].right.si(), "{} and {}", pair[0].name, pair[1].name);
            assert_eq!(pair[0].hinge.unwrap().folded.si(), -pair[1].hinge.unwrap().folded.si());
        }
    }

    #[test]
    fn even_sections_hold_whole_rows_the_same_on_both_sides() {
        for rows in 1..=120 {
            for sections in [1usize, 3, 5, 7, 9] {
                let spacing = Length::metres(0.25);
                let widths = even_sections(rows, spacing, sections);
                assert_eq!(widths.len(), sections);
                let total: f64 = widths.iter().map(|width| width.si()).sum();
                assert!((total - f64::from(rows) * 0.25).abs() < 1e-9, "{rows} rows, {sections} sections");
                for index in 0..sections {
                    assert_eq!(widths[index], widths[sections - 1 - index]);
                    let share = widths[index].si() / 0.25;
                    assert!((share - share.round()).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn each_refusal_names_its_entry() {
        let spacing = Length::metres(0.3);
        let good = Layout::even(36, spacing);
        assert_eq!(good.refusals(), []);
        let cases: Vec<(Field, Layout)> = vec![
            (Field::Spacing, Layout { spacing: Length::ZERO, ..good.clone() }),
            (Field::Rows, Layout::even(0, spacing)),
            (Field::Sections, Layout { sections: vec![Length::metres(5.4); 2], ..good.clone() }),
            (Field::Sections, Layout { sections: vec![Length::metres(3.0); 3], ..good.clone() }),
            (Field::Section(1), Layout { sections: vec![Length::metres(0.1); 3], ..good.clone() }),
            (Field::Hinge(0), Layout { hinges: Vec::new(), ..good.clone() }),
            (Field::OutletHeight, Layout { outlet_height: Length::metres(50.0), ..good.clone() }),
            (Field::RailWidth, Layout { rail_width: Length::ZERO, ..good.clone() }),
            (
                Field::Order,
                Layout {
                    rows: Rows::Even { count: 36, ranks: even_ranks(2, spacing), order: vec![0, 2] },
                    ..good.clone()
                },
            ),
        ];
        for (field, layout) in cases {
            let found = lay_out(&layout).unwrap_err();
            assert!(found.iter().any(|one| one.field == field), "{field:?}: {found:?}");
        }
    }

    #[test]
    fn given_rows_share_ranks_where_they_stand_equally_far_forward() {
        let place =
            |x: f64, y: f64| RowPlace { x: Length::metres(x), forward: Length::metres(y), height: None };
        let layout = Layout {
            rows: Rows::Given(vec![place(0.2, -0.5), place(-0.3, 0.5), place(0.45, 0.504), place(0.0, 0.0)]),
            sections: vec![Length::metres(0.75 + 0.3)],
            hinges: Vec::new(),
            ..Layout::even(4, Length::metres(0.3))
        };
        let bar = lay_out(&layout).unwrap();
        assert_eq!(bar.ranks.len(), 3);
        let so: Vec<(f64, usize)> = bar.rows.iter().map(|row| (row.x.si(), row.rank)).collect();
        assert_eq!(so, [(-0.3, 0), (0.0, 1), (0.2, 2), (0.45, 0)]);
    }

    #[test]
    fn a_layout_read_back_from_a_bar_gives_the_same_bar() {
        let ranks = vec![Length::metres(0.05), Length::metres(0.08)];
        let by_rank = Layout { rank_heights: ranks, ..Layout::even(40, Length::metres(0.3)) };
        for layout in [Layout::even(40, Length::metres(0.3)), sevens(), by_rank] {
            let bar = lay_out(&layout).unwrap();
            assert_eq!(lay_out(&layout_of(&bar)).unwrap(), bar);
        }
    }
}
