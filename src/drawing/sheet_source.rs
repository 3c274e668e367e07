//! What drawings on paper are made from, and have in common.

use std::collections::BTreeMap;

use crate::drawing::paper::{LARGE, Letters, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL};
use crate::geometry::Point2;
use crate::hydraulics::Outcome;
use crate::plan::{EntryKey, Item, LaidRouting, Project, StockItem, StockKey};
use crate::quantities::{Length, Measure, UnitSystem};

/// What the drawings are made from.
#[derive(Clone, Copy)]
pub struct SheetSource<'a> {
    /// The project.
    pub project: &'a Project,
    /// One of its routings.
    pub routing: LaidRouting<'a>,
    /// What flows in it, where flows and pressures are to be noted; without numbers nothing is noted.
    pub outcome: Option<&'a Outcome>,
    /// Units of numbers.
    pub units: UnitSystem,
    /// PartItem numbers of the parts list.
    pub items: &'a BTreeMap<EntryKey, usize>,
    /// Item numbers of the parts list that have no place of their own on the layout and no entry in the catalogue, by where they
    /// are found: `at hinges, see the list of joints`.
    pub beside: &'a BTreeMap<&'static str, Vec<u32>>,
    /// Width and height of a sheet, millimetres.
    pub size: (f64, f64),
    /// Widths of letters.
    pub letters: &'a dyn Letters,
}

/// Radius of a balloon: item numbers stand out from dimensions by the next height of the series, in a circle (ISO 6433).
pub(super) const BALLOON: f64 = 3.6;

/// An item number in its circle.
pub(super) fn balloon(draft: &mut PageDraft, centre: Point2, number: usize) {
    draft.circle(PaperLayer::Notes, centre, BALLOON, NARROW, Some(Shade::PAPER));
    let height = if number < 100 { LARGE } else { USUAL };
    let style = Style::plain(PaperLayer::Notes, height).centred();
    draft.words(Point2::new(centre.x, centre.y - height / 2.0), &number.to_string(), style);
}

impl SheetSource<'_> {
    /// `8 × 6` for a tube, which push-ins take by its outside: both diameters, without their unit. `Ø25` for a hose.
    pub(super) fn diameters(&self, stock: &StockKey) -> String {
        let bore = |length: Length| Measure::Bore.short_number(length.si(), self.units);
        match self.project.catalogue.any_item(stock) {
            Some(Item::Stock(StockItem::Tube(tube))) => {
                format!("{} × {}", bore(tube.outside), bore(tube.bore))
            }
            Some(Item::Stock(other)) => format!("Ø{}", bore(other.dimensions().bore)),
            _ => String::new(),
        }
    }

    /// The same with its unit.
    pub(super) fn diameters_text(&self, stock: &StockKey) -> String {
        let words = self.diameters(stock);
        if words.is_empty() { words } else { format!("{words} {}", Measure::Bore.unit(self.units).symbol) }
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_begin_with_a_capital() {
        assert_eq!(capital("inner wing"), "Inner wing");
    }
}
