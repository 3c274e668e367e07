//! What every candidate is tried on: the routing, the points, and what its parts ask of the metering.

use super::super::asked::Studied;
use super::choice::MeteringOptions;
use crate::hydraulics::first_choice::most_standing;
use crate::plan::pressure_bound::PressureBound;
use crate::plan::{InletFilter, OperatingPoint, PartItem, Project, Routing};
use crate::quantities::{Length, Pressure};

/// What every candidate is tried on.
pub(super) struct Ground<'a> {
    pub(super) of: &'a Studied<'a>,
    pub(super) points: &'a [[OperatingPoint; 3]],
    /// The most that stands on a check valve with the pump off.
    pub(super) standing: Pressure,
    pub(super) mesh: Option<Length>,
    /// What bounds the pressure at the pump.
    pub(super) bound: Option<PressureBound>,
    pub(super) options: MeteringOptions,
}

impl<'a> Ground<'a> {
    pub(super) fn new(
        of: &'a Studied<'a>,
        points: &'a [[OperatingPoint; 3]],
        options: &MeteringOptions,
    ) -> Self {
        let project = of.project;
        let standing = most_standing(project);
        Self {
            of,
            points,
            standing,
            mesh: coarsest_mesh(project, of.routing.routing),
            bound: PressureBound::of(project, of.routing),
            options: *options,
        }
    }

    pub(super) fn project(&self) -> &Project {
        self.of.project
    }
}

/// The mesh that lets the largest grains through.
fn coarsest_mesh(project: &Project, routing: &Routing) -> Option<Length> {
    let openings = routing.parts.iter().filter_map(|part| match project.catalogue.item(&part.entry) {
        Some(PartItem::InletFilter(InletFilter { opening, .. })) => Some(*opening),
        _ => None,
    });
    openings.reduce(Length::max)
}
