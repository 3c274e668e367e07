//! The numbers that a bar is laid out from, and what is wrong with them.

use crate::geometry::Point3;
use crate::plan::bar::{Hinge, RowWidths};
use crate::plan::bounds::Bound;
use crate::plan::words::counted;
use serde::{Deserialize, Serialize};
use strum::EnumCount;

use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// How a wing folds on what carries it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, EnumCount)]
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
    pub const ALL: [Self; Self::COUNT] = [Self::Up, Self::UpReversed, Self::Forward];

    /// As people say it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Up => "folds up",
            Self::UpReversed => "folds up, reversed",
            Self::Forward => "folds forward",
        }
    }

    /// Direction of the hinge line of either side.
    pub(super) const fn axis(self) -> Point3 {
        match self {
            Self::Up | Self::UpReversed => Point3::new(0.0, 1.0, 0.0),
            Self::Forward => Point3::new(0.0, 0.0, 1.0),
        }
    }

    /// Sign of the right wing's angle in transport position.
    pub(super) const fn sign(self) -> f64 {
        match self {
            Self::Up => -1.0,
            Self::UpReversed | Self::Forward => 1.0,
        }
    }
}

/// A pair of hinges, the same left and right but for the step in which they turn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HingePair {
    /// Height of the hinge line above the ground, metres.
    pub height: Length,
    /// How far forward the hinge line is, where that is not as usual.
    #[serde(default)]
    pub forward: Option<Length>,
    /// Which way the wing folds.
    pub fold: Fold,
    /// How far it turns into transport position; above 0, at most 180°.
    pub angle: Angle,
    /// In which step of folding it turns, 1 to [`Hinge::MOST_STEPS`]; hinges of one step turn together.
    #[serde(default = "first_step")]
    pub step: u8,
    /// The step of the left one, where that is another.
    #[serde(default)]
    pub step_left: Option<u8>,
}

const fn first_step() -> u8 {
    Hinge::FIRST_STEP
}

/// Where the rows are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum LayoutRows {
    /// Regularly spaced about the middle.
    Even {
        /// How many.
        count: u32,
        /// Gaps from row to row where they differ, from left to right, again and again; empty where all are the nominal
        /// spacing.
        pattern: Vec<Length>,
        /// The ranks, from front to back: how far forward each is.
        ranks: Vec<Length>,
        /// The ranks of neighbouring rows (0 the front one), from left to right, again and again.
        order: Vec<usize>,
    },
    /// Each where it was measured; those that stand equally far forward share a rank.
    Given(Vec<RowPlace>),
}

/// Where one row's outlet is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RowPlace {
    /// How far right of the bar's centre.
    pub x: Length,
    /// How far forward.
    pub forward: Length,
    /// Height of its outlet; the bar's common one when none.
    pub height: Option<Length>,
}

/// What a bar is laid out from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// Nominal spacing of rows.
    pub spacing: Length,
    /// Which width a row stands for.
    pub widths: RowWidths,
    /// The rows.
    pub rows: LayoutRows,
    /// Left and right edge of the working width, where rows are given and it was measured; half a spacing beyond the
    /// outer rows when none.
    pub edges: Option<(Length, Length)>,
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
pub enum LayoutField {
    /// Number of rows, or their list.
    Rows,
    /// Row spacing.
    Spacing,
    /// Working width of given rows.
    Width,
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
pub struct LayoutRefusal {
    /// The entry.
    pub field: LayoutField,
    /// What is wrong with it.
    pub what: String,
    /// What to try.
    pub advice: String,
}

/// Most rows a bar may have.
pub const MOST_ROWS: u32 = Bound::Rows.most() as u32;
/// Least distance between two neighbours, metres.
pub const LEAST_GAP: f64 = 0.05;
/// Most distance between two neighbours, metres.
pub const MOST_GAP: f64 = 2.0;
/// Most gaps that are repeated.
pub const MOST_GAPS: usize = 12;
/// Most sections a bar may have.
pub const MOST_SECTIONS: usize = 9;
/// Sections whose ends differ from the rows' strip by less than this are taken to fit.
pub(super) const FITS: f64 = 0.002;

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

/// Widths of so many sections of evenly spaced rows: the same left and right, whole rows each, about evenly wide.
pub fn even_sections(rows: u32, spacing: Length, sections: usize) -> Vec<Length> {
    rows_of_sections(rows, sections).into_iter().map(|rows| spacing * f64::from(rows)).collect()
}

/// Rows of so many sections: the same left and right, about as many each.
fn rows_of_sections(rows: u32, sections: usize) -> Vec<u32> {
    let pairs = (sections / 2) as u32;
    if pairs == 0 {
        return vec![rows];
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
    let mut all: Vec<u32> = wings.iter().rev().copied().collect();
    all.push(centre);
    all.extend(wings);
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

pub(super) fn to_millimetre(metres: f64) -> f64 {
    (metres * 1000.0).round() / 1000.0
}

pub(super) fn refusal(
    field: LayoutField,
    what: impl Into<String>,
    advice: impl Into<String>,
) -> LayoutRefusal {
    LayoutRefusal { field, what: what.into(), advice: advice.into() }
}

impl Layout {
    /// A bar of so many rows in three sections on two ranks, to start from.
    pub fn even(count: u32, spacing: Length) -> Self {
        Self {
            spacing,
            widths: RowWidths::Nominal,
            rows: LayoutRows::Even {
                count,
                pattern: Vec::new(),
                ranks: even_ranks(2, Length::metres(0.6)),
                order: vec![0, 1],
            },
            edges: None,
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
            LayoutRows::Even { count, .. } => *count,
            LayoutRows::Given(places) => places.len() as u32,
        }
    }

    /// Takes the gaps from row to row, from left to right, again and again. Rows that differ in them stand for their own
    /// strips, others for the spacing, until someone chooses otherwise.
    pub fn set_gaps(&mut self, gaps: &[Length]) {
        let LayoutRows::Even { pattern, .. } = &mut self.rows else { return };
        let Some(first) = gaps.first() else { return };
        let differ = gaps.iter().any(|gap| (*gap - *first).abs().si() > 1e-6);
        if differ {
            self.spacing = gaps.iter().copied().sum::<Length>() / gaps.len() as f64;
            self.widths = RowWidths::HalfWidths;
        } else {
            self.spacing = *first;
            if !pattern.is_empty() {
                self.widths = RowWidths::Nominal;
            }
        }
        *pattern = if differ { gaps.to_vec() } else { Vec::new() };
    }

    /// The gap from row to row on average: the spacing, unless a pattern says otherwise.
    pub fn mean_gap(&self) -> Length {
        match &self.rows {
            LayoutRows::Even { pattern, .. } if !pattern.is_empty() => {
                pattern.iter().copied().sum::<Length>() / pattern.len() as f64
            }
            _ => self.spacing,
        }
    }

    /// The gap right of a regularly spaced row, from 0 at the left, as it goes on beyond the last one too; metres.
    fn gap(&self, index: usize) -> f64 {
        match &self.rows {
            LayoutRows::Even { pattern, .. } if !pattern.is_empty() => pattern[index % pattern.len()].si(),
            _ => self.spacing.si(),
        }
    }

    /// Where the rows stand across, from left to right, metres; regularly spaced ones on whole millimetres.
    pub(super) fn across(&self) -> Vec<f64> {
        let (left, _) = self.strip();
        match &self.rows {
            LayoutRows::Even { count, pattern, .. } if pattern.is_empty() => (0..*count)
                .map(|index| to_millimetre(left + (f64::from(index) + 0.5) * self.spacing.si()))
                .collect(),
            LayoutRows::Even { count, pattern, .. } => {
                let mut at = left + self.gap(pattern.len() - 1) / 2.0;
                let mut places = Vec::with_capacity(*count as usize);
                for index in 0..*count as usize {
                    places.push(to_millimetre(at));
                    at += self.gap(index);
                }
                places
            }
            LayoutRows::Given(places) => {
                let mut across: Vec<f64> = places.iter().map(|place| place.x.si()).collect();
                across.sort_by(f64::total_cmp);
                across
            }
        }
    }

    /// Widths of sections that carry so many rows each, from the left: they meet half-way between two rows.
    pub fn sections_of(&self, rows: &[u32]) -> Vec<Length> {
        if matches!(&self.rows, LayoutRows::Even { pattern, .. } if pattern.is_empty()) {
            return rows.iter().map(|rows| self.spacing * f64::from(*rows)).collect();
        }
        let (across, (left, right)) = (self.across(), self.strip());
        let (mut from, mut carried, last) = (left, 0, rows.len().saturating_sub(1));
        rows.iter()
            .enumerate()
            .map(|(index, rows)| {
                carried += *rows as usize;
                let between = across.get(carried.wrapping_sub(1)).zip(across.get(carried));
                let to = between.filter(|_| index < last).map_or(right, |(a, b)| f64::midpoint(*a, *b));
                let width = Length::metres(to - from);
                from = to;
                width
            })
            .collect()
    }

    /// Widths of so many sections: the same left and right, about as many rows each.
    pub fn divided(&self, sections: usize) -> Vec<Length> {
        self.sections_of(&rows_of_sections(self.count(), sections))
    }

    /// The strip that the rows stand for, metres: from half a gap left of the first to half a gap right of the last, as the
    /// pattern goes on; for given rows half a spacing, or to the edges that were measured.
    pub fn strip(&self) -> (f64, f64) {
        match &self.rows {
            LayoutRows::Even { count, pattern, .. } => {
                let half = if pattern.is_empty() {
                    f64::from(*count) * self.spacing.si() / 2.0
                } else {
                    let before = self.gap(pattern.len() - 1) / 2.0;
                    let between: f64 = (1..*count as usize).map(|index| self.gap(index - 1)).sum();
                    let behind = self.gap((*count as usize).saturating_sub(1)) / 2.0;
                    (before + between + behind) / 2.0
                };
                (-half, half)
            }
            LayoutRows::Given(places) => {
                if let Some((left, right)) = self.edges {
                    return (left.si(), right.si());
                }
                let half = self.spacing.si() / 2.0;
                let x = || places.iter().map(|place| place.x.si());
                (x().fold(f64::INFINITY, f64::min) - half, x().fold(f64::NEG_INFINITY, f64::max) + half)
            }
        }
    }

    /// Rows that each section carries, from the left.
    pub fn rows_in_sections(&self) -> Vec<u32> {
        let (edges, across) = (self.edges_of_sections(), self.across());
        edges
            .windows(2)
            .map(|ends| across.iter().filter(|x| (ends[0]..ends[1]).contains(*x)).count() as u32)
            .collect()
    }

    /// Ends of the sections, from left to right; one more than sections.
    pub(super) fn edges_of_sections(&self) -> Vec<f64> {
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
    pub fn refusals(&self) -> Vec<LayoutRefusal> {
        let mut found = Vec::new();
        let metric = UnitSystem::Metric;
        let metres = |value: f64| Measure::Distance.short_text(value, metric);
        let within = |value: Length, least: f64, most: f64| {
            value.is_finite() && value.si() >= least && value.si() <= most
        };
        let own_gaps: &[Length] = match &self.rows {
            LayoutRows::Even { pattern, .. } => pattern,
            LayoutRows::Given(_) => &[],
        };
        let spacing_fits =
            own_gaps.iter().chain([&self.spacing]).all(|gap| within(*gap, LEAST_GAP, MOST_GAP));
        if !spacing_fits {
            found.push(refusal(LayoutField::Spacing, "no row spacing in the field", "give 5 cm to 2 m"));
        }
        let count = self.count();
        if !(1..=MOST_ROWS).contains(&count) {
            found.push(refusal(
                LayoutField::Rows,
                counted(count as usize, "row"),
                format!("give 1 to {MOST_ROWS}"),
            ));
        }
        match &self.rows {
            LayoutRows::Even { ranks, order, pattern, .. } => {
                if pattern.len() > MOST_GAPS {
                    let what = format!("{} gaps", pattern.len());
                    found.push(refusal(
                        LayoutField::Spacing,
                        what,
                        format!("give {MOST_GAPS} at most, or measured rows"),
                    ));
                }
                if ranks.is_empty() || ranks.len() > 12 {
                    found.push(refusal(LayoutField::Ranks, format!("{} ranks", ranks.len()), "give 1 to 12"));
                } else if ranks.windows(2).any(|pair| pair[0] <= pair[1]) || ranks[0].si() > 10.0 {
                    found.push(refusal(LayoutField::Ranks, "no distance between ranks", "give 0.1 to 2 m"));
                }
                if order.is_empty() {
                    found.push(refusal(
                        LayoutField::Order,
                        "no order of ranks",
                        "write each rank once: 1, 2",
                    ));
                }
                if let Some(rank) = order.iter().find(|rank| **rank >= ranks.len()) {
                    found.push(refusal(
                        LayoutField::Order,
                        format!("rank {} is not there", rank + 1),
                        format!("the bar has {}", ranks.len()),
                    ));
                }
            }
            LayoutRows::Given(places) => {
                let bad = places.iter().position(|place| {
                    let far = |value: Length| !within(value, -100.0, 100.0);
                    far(place.x) || far(place.forward) || place.height.is_some_and(far)
                });
                if let Some(index) = bad {
                    let what = format!("row {} of the list lies far outside", index + 1);
                    found.push(refusal(LayoutField::Rows, what, "check the units of the list"));
                }
                let ((left, right), across) = (self.strip(), self.across());
                if let Some((first, last)) = across.first().zip(across.last())
                    && (*first < left || *last > right)
                {
                    let what = format!(
                        "{} wide, but the rows stand {} apart",
                        metres(right - left),
                        metres(last - first)
                    );
                    found.push(refusal(LayoutField::Width, what, "give the width that the bar works"));
                }
            }
        }
        if self.sections.len().is_multiple_of(2) || self.sections.len() > MOST_SECTIONS {
            found.push(refusal(
                LayoutField::Sections,
                counted(self.sections.len(), "section"),
                "give an odd number, 1 to 9: a centre section and wings in pairs",
            ));
        }
        for (index, width) in self.sections.iter().enumerate() {
            if !within(*width, 0.3, 100.0) {
                found.push(refusal(
                    LayoutField::Section(index),
                    "no width for a section",
                    "give 0.3 m or more",
                ));
            }
        }
        let (left, right) = self.strip();
        let (strip, total) = (right - left, self.sections.iter().map(|width| width.si()).sum::<f64>());
        if spacing_fits && count > 0 && (strip - total).abs() > FITS {
            let (word, by) = if total < strip { ("more", strip - total) } else { ("less", total - strip) };
            found.push(refusal(
                LayoutField::Sections,
                format!("together {} wide, but the rows take {}", metres(total), metres(strip)),
                format!("give them {} {word}, or divide evenly", metres(by)),
            ));
        }
        let pairs = self.sections.len() / 2;
        if self.hinges.len() < pairs {
            found.push(refusal(
                LayoutField::Hinge(self.hinges.len()),
                "a pair of wings without hinges",
                "give their height and fold",
            ));
        }
        for (index, hinge) in self.hinges.iter().take(pairs).enumerate() {
            if !within(hinge.height, 0.05, 6.0) {
                found.push(refusal(LayoutField::Hinge(index), "no height for a hinge", "give 0.05 to 6 m"));
            }
            if hinge.forward.is_some_and(|forward| !within(forward, -10.0, 10.0)) {
                let advice = "give 10 m at most, forward of the middle or behind it";
                found.push(refusal(LayoutField::Hinge(index), "no place for a hinge line", advice));
            }
            let degrees = hinge.angle.si().to_degrees();
            if !(1.0..=180.0 + 1e-9).contains(&degrees) {
                found.push(refusal(LayoutField::Hinge(index), "no angle to fold by", "give 1° to 180°"));
            }
            let steps = [Some(hinge.step), hinge.step_left].into_iter().flatten();
            for step in steps.filter(|step| !(Hinge::FIRST_STEP..=Hinge::MOST_STEPS).contains(step)) {
                let what = format!("folds in step {step}");
                found.push(refusal(LayoutField::Hinge(index), what, "give a step from 1 to 9"));
            }
        }
        for (field, value, least, most) in [
            (LayoutField::RailHeight, self.rail_height, 0.1, 5.0),
            (LayoutField::RailWidth, self.rail_width, 0.02, 0.5),
            (LayoutField::OutletHeight, self.outlet_height, -0.3, 2.0),
        ] {
            if !within(value, least, most) {
                let advice = format!("give {} to {}", metres(least), metres(most));
                found.push(refusal(field, metres(value.si()), advice));
            }
        }
        for (rank, height) in self.rank_heights.iter().enumerate() {
            if !within(*height, -0.3, 2.0) {
                let advice = format!("give {} to {}", metres(-0.3), metres(2.0));
                found.push(refusal(LayoutField::RankHeight(rank), metres(height.si()), advice));
            }
        }
        found
    }
}

impl Default for HingePair {
    fn default() -> Self {
        Self {
            height: Length::metres(0.95),
            forward: None,
            fold: Fold::Up,
            angle: Angle::degrees(90.0),
            step: Hinge::FIRST_STEP,
            step_left: None,
        }
    }
}
