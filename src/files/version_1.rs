//! Version 1 of projects and catalogues, as it was saved until version 2: the types that differ from today's, and no
//! others, each with its way up. What they hold in common is read by the plan's own types.
//!
//! A type that changes is copied here as it was before, with all that lead to it from [`Project`] or [`Catalogue`].

use serde::Deserialize;

use super::version_1_findings;
use crate::geometry::Point3;
use crate::plan::routing::Routing;
use crate::plan::{self, Application, Bar, Control, Entry, Limits, Liquid, TitleBlock};
use crate::quantities::{Flow, Length, Pressure, UnitSystem};

/// A project of version 1.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Project {
    title: TitleBlock,
    units: UnitSystem,
    bar: Bar,
    liquid: Liquid,
    application: Application,
    supply: Supply,
    limits: Limits,
    catalogue: Catalogue,
    routings: Vec<Routing>,
    dismissed: Vec<String>,
}

impl Project {
    /// What it means today, and what of it could not be kept, in words.
    pub(super) fn bring_up(self) -> (plan::Project, Vec<String>) {
        let old = self;
        let mut project = plan::Project {
            title: old.title,
            units: old.units,
            bar: old.bar,
            liquid: old.liquid,
            application: old.application,
            supply: old.supply.into(),
            limits: old.limits,
            catalogue: old.catalogue.into(),
            routings: old.routings,
            dismissed: Vec::new(),
        };
        let lost = version_1_findings::bring_up(&mut project, old.dismissed);
        let note =
            |one| format!("the finding \"{one}\" was hidden and is shown again: what it names can't be told");
        (project, lost.into_iter().map(note).collect())
    }
}

/// A catalogue of version 1.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Catalogue {
    entries: Vec<Entry>,
}

impl From<Catalogue> for plan::Catalogue {
    fn from(old: Catalogue) -> Self {
        Self { entries: old.entries }
    }
}

/// A supply of version 1, which knew no pump curves.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Supply {
    control: Control,
    pump: Point3,
    tank_surface: Length,
    pump_rated: Pressure,
    pump_capacity: Option<Flow>,
    weakest_rated: Pressure,
}

impl From<Supply> for plan::Supply {
    fn from(old: Supply) -> Self {
        Self {
            control: old.control,
            pump: old.pump,
            tank_surface: old.tank_surface,
            pump_rated: old.pump_rated,
            pump_capacity: old.pump_capacity,
            pump_curve: Vec::new(),
            weakest_rated: old.weakest_rated,
        }
    }
}
