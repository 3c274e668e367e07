//! What bounds the pressure at the pump's outlet, and what is left below it: the one place that studies and findings take the
//! margin from.

use super::ratings::{Rating, ratings};
use super::{Control, LaidRouting, Project};
use crate::quantities::{Pressure, Ratio};

/// Below this share of what bounds it a pressure has no margin left: a filter that loads or colder liquid takes that much
/// (common practice, no source).
pub const NO_MARGIN: Ratio = Ratio::percent(5.0);

/// What bounds a pressure.
#[derive(Debug, Clone, PartialEq)]
pub enum BoundBy {
    /// The most there is at the pump's outlet: the controller's limit, or where the relief valve opens.
    Supply,
    /// What something on the bar bears.
    Rating(Rating),
}

/// The lowest of all that bounds the pressure at the pump's outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureBound {
    /// The pressure.
    pub pressure: Pressure,
    /// What it is of.
    pub by: BoundBy,
}

impl PressureBound {
    /// Of a routing at the warmest temperature that was entered, by the ratings that are known; none where nothing bounds it:
    /// a pressure that is held, or a pump that is not controlled, leaves none of its own by its nature.
    pub fn of(project: &Project, routing: LaidRouting) -> Option<Self> {
        let supply = &project.supply;
        let own = match supply.control {
            Control::Metered { .. } => Some(supply.highest_pressure()),
            Control::Held { .. } | Control::Uncontrolled => supply.relief_valve.opens_at(),
        };
        let supply = own.map(|pressure| Self { pressure, by: BoundBy::Supply });
        let rated = ratings(project, routing, project.warmest())
            .into_iter()
            .map(|rating| Self { pressure: rating.pressure, by: BoundBy::Rating(rating) });
        supply.into_iter().chain(rated).reduce(|a, b| if b.pressure < a.pressure { b } else { a })
    }

    /// What a pressure leaves, as a share of the bound; below 0 beyond it.
    pub fn margin(&self, pressure: Pressure) -> Ratio {
        if self.pressure > Pressure::ZERO {
            Ratio::from_si(1.0 - pressure / self.pressure)
        } else {
            Ratio::ZERO
        }
    }

    /// `the 4 bar that the supply gives at most`, `the 6 bar that the tube of 6 mm bears`.
    pub fn words(&self, project: &Project) -> String {
        let pressure = crate::quantities::Measure::Pressure.short_text(self.pressure.si(), project.units);
        match &self.by {
            BoundBy::Supply => format!("the {pressure} that the supply gives at most"),
            BoundBy::Rating(rating) => {
                format!("the {pressure} that is borne at most ({})", project.rating_words(rating))
            }
        }
    }
}

/// A margin that is none.
pub fn is_no_margin(margin: Ratio) -> bool {
    margin < NO_MARGIN
}
