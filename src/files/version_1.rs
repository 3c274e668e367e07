//! Version 1 of projects and catalogues, as it was saved until version 2: the types that differ from today's, and no
//! others, each with its way up. What they hold in common is read by the plan's own types.
//!
//! A type that changes is copied here as it was before, with all that lead to it from [`Project`] or [`Catalogue`].

use serde::Deserialize;

use crate::plan::routing::Routing;
use crate::plan::{self, Application, Bar, Entry, Limits, Liquid, Supply, TitleBlock};
use crate::quantities::UnitSystem;

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

impl From<Project> for plan::Project {
    fn from(old: Project) -> Self {
        Self {
            title: old.title,
            units: old.units,
            bar: old.bar,
            liquid: old.liquid,
            application: old.application,
            supply: old.supply,
            limits: old.limits,
            catalogue: old.catalogue.into(),
            routings: old.routings,
            dismissed: old.dismissed,
        }
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
