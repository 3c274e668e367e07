//! Version 1 of projects and catalogues, as it was saved until version 2: the types that differ from today's, and no
//! others, each with its way up. What they hold in common is read by the plan's own types.
//!
//! A type that changes is copied here as it was before, with all that lead to it from [`Project`] or [`Catalogue`].

use serde::Deserialize;

use super::version_1_findings;
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
            supply: old.supply,
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
