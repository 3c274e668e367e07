//! The check valve nearest to each row, and what stands on it with the pump off, at work and folded.

use super::context::Context;
use crate::geometry::Point3;
use crate::hydraulics::losses::static_head;
use crate::hydraulics::slope::{every_way, height};
use crate::plan::{ElementItem, ElementKind, FeedElement, FoldPosition, FoldedBar, RowId};
use crate::quantities::{GRAVITY_M_S2, Pressure};

/// A check valve of a row.
pub(super) struct Valve {
    pub(super) row: RowId,
    pub(super) closing: Pressure,
    /// In working position.
    pub(super) at: Point3,
    /// In transport position.
    pub(super) folded: Point3,
    /// The highest point of its own row feed in transport position, metres.
    pub(super) highest_folded: f64,
}

/// Heads of liquid over the valves with the pump off, metres.
pub(super) struct Heads {
    surface: Point3,
    ways: [Point3; 4],
    pub(super) sloped: bool,
}

impl Heads {
    /// The bar turns round at the headland, so a slope counts both ways, and the steeper of what is asked for and what is
    /// looked at.
    pub(super) fn new(here: &Context) -> Self {
        let (duty, point) = (here.duty(), &here.outcome.point);
        let side = duty.side_slope.abs().max(point.side_slope.abs());
        let fore_aft = duty.fore_aft_slope.abs().max(point.fore_aft_slope.abs());
        let supply = &here.project.supply;
        Self {
            surface: Point3::new(supply.pump.x, supply.pump.y, supply.tank_surface.si()),
            ways: every_way(side, fore_aft),
            sloped: side.si() > 0.0 || fore_aft.si() > 0.0,
        }
    }

    /// Liquid finds the tank's surface whichever way the bar stands.
    pub(super) fn at_work(&self, valve: &Valve) -> f64 {
        let head = |up: &Point3| height(self.surface, *up) - height(valve.at, *up);
        self.ways.iter().map(head).fold(f64::NEG_INFINITY, f64::max)
    }

    /// What hangs over a valve in its own row feed on the road, where that stands above the tank: it pulls the feed's top under
    /// the pressure of the air, and stands on the valve once air gets in there. Nothing where the tank's surface is higher.
    pub(super) fn hanging(&self, valve: &Valve) -> f64 {
        if valve.highest_folded > self.surface.z { valve.highest_folded - valve.folded.z } else { 0.0 }
    }

    /// Folded, some valves hang lower. What stands on them is still the tank's liquid: in a wing that stands higher than the
    /// tank the shut valves keep the air out, and the liquid hangs there.
    pub(super) fn folded(&self, valve: &Valve) -> f64 {
        self.surface.z - valve.folded.z
    }
}

/// The most that stands on any check valve with the pump off, at work or folded.
pub(super) fn most_standing(here: &Context) -> Pressure {
    let heads = Heads::new(here);
    let (valves, _) = valves(here);
    let head = |valve: &Valve| heads.at_work(valve).max(heads.folded(valve));
    let density = here.outcome.liquid.map_or(0.0, |liquid| liquid.density.si());
    let highest = valves.iter().map(head).fold(0.0, f64::max);
    Pressure::from_si(static_head::pressure(density, GRAVITY_M_S2, highest))
}

/// The check valve nearest to each row that is connected, and the rows without one.
pub(super) fn valves(here: &Context) -> (Vec<Valve>, Vec<RowId>) {
    let catalogue = &here.project.catalogue;
    let transport = FoldedBar::at(&here.project.bar, FoldPosition::TRANSPORT);
    let (mut valves, mut without) = (Vec::new(), Vec::new());
    for path in here.row_paths() {
        // A row behind a shut section valve has no liquid standing on it from the tank.
        if path.row.connected.is_err() {
            continue;
        }
        let Some(geometry) = here.routing.geometry.feed(path.feed.id) else { continue };
        let branch = path.feed.branches.iter().position(|one| std::ptr::eq(one, path.branch));
        let Some(own) = branch.and_then(|index| geometry.branches.get(index)) else { continue };
        let ends = geometry.trunk.iter().chain(own);
        let found = path.elements.iter().zip(ends).filter_map(|((element, _), lies)| match element {
            FeedElement::Piece(ElementKind::CheckValve, entry) => {
                let ElementItem::CheckValve(valve) = catalogue.item(entry)? else { return None };
                Some((valve.closing, lies.from))
            }
            _ => None,
        });
        match found.max_by(|a, b| a.0.si().total_cmp(&b.0.si())) {
            Some((closing, at)) => {
                let folded = transport.place(at);
                let tubes = geometry.trunk.iter().chain(own).filter_map(|one| one.tube.as_ref());
                let points = tubes.flat_map(|tube| &tube.path).map(|point| transport.place(*point).z);
                let highest_folded = points.fold(folded.z, f64::max);
                valves.push(Valve { row: path.row.row, closing, at: at.place, folded, highest_folded });
            }
            None => without.push(path.row.row),
        }
    }
    (valves, without)
}
