//! A candidate in all rows, solved at every speed of every duty, with the check valve that goes with it.

use super::super::trial::{Judge, Requirement, prepared, speed_window, without_what_is_said};
use super::candidates::{self, Candidate};
use super::choice::{AtTemperature, CUT_ERROR, ChoiceAtDuty, MeteringChoice, TEMPERATURE_STEP, ValveChoice};
use super::fitted::{fit, metering_elements, uniform_valve};
use super::ground::Ground;
use super::tube_length;
use crate::hydraulics::PreparedRouting;
use crate::hydraulics::outcome::RowState;
use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::Parameter;
use crate::plan::{
    CheckValve, ElementItem, ElementKey, ElementKind, EntryKey, Metering, OperatingPoint, Routing, RowId,
};
use crate::quantities::{Flow, Length, Pressure, Ratio, Speed, Temperature};

impl Ground<'_> {
    /// A candidate with the check valve that goes with it.
    pub(super) fn choice(&self, candidate: Candidate) -> Option<MeteringChoice> {
        let mut routing = self.of.routing.routing.clone();
        let mut choice = self.with_valves(&mut routing, candidate.clone())?;
        let wanted = self.valve(&choice);
        let Some(valve) = wanted else { return Some(choice) };
        if !valve.is_fitted {
            routing.feeds.iter_mut().for_each(|feed| feed.put_piece(ElementKind::CheckValve, &valve.entry));
            choice = self.with_valves(&mut routing, candidate)?;
        }
        if self.is_attacked(valve.entry.any()) {
            choice.broken.push(Requirement::Material);
            choice.broken.sort_unstable();
            choice.broken.dedup();
        }
        choice.valve = Some(valve);
        Some(choice)
    }

    /// A candidate on a routing with the check valves that it has.
    fn with_valves(&self, routing: &mut Routing, candidate: Candidate) -> Option<MeteringChoice> {
        let (by_row, lengths) = match candidate {
            Candidate::Rows(by_row) => (by_row, None),
            Candidate::Tube(tube) => tube_length::cut(self, routing, &tube),
        };
        fit(routing, &by_row);
        self.tried(routing, by_row, lengths)
    }

    /// What is fitted now.
    pub(super) fn as_fitted(&self, by_row: Vec<(RowId, Metering)>) -> Option<MeteringChoice> {
        let mut choice = self.tried(self.of.routing.routing, by_row, None)?;
        choice.in_use = true;
        choice.valve = uniform_valve(self.of.routing.routing).and_then(|entry| self.valve_of(entry));
        Some(choice)
    }

    /// Solves a routing at all points.
    fn tried(
        &self,
        routing: &Routing,
        by_row: Vec<(RowId, Metering)>,
        lengths: Option<(Length, Length)>,
    ) -> Option<MeteringChoice> {
        let project = self.project();
        let metering = candidates::most_common(&by_row)?;
        let judge = Judge::new(project, routing, self.bound.as_ref());
        prepared(project, routing, |network| {
            let duties: Vec<ChoiceAtDuty> = self
                .points
                .iter()
                .map(|points| {
                    let at = points.map(|point| judge.of(&network.solve(&point)));
                    let known: Vec<(Speed, bool)> =
                        at.iter().map(|one| (one.point.speed, one.broken.is_empty())).collect();
                    // Only where the flow stays the same as the speed changes.
                    let likely: Vec<Speed> = if project.supply.follows_speed() {
                        Vec::new()
                    } else {
                        at.iter()
                            .filter_map(|one| one.balanced)
                            .filter(|speed| *speed > Speed::ZERO)
                            .collect()
                    };
                    let window = speed_window(&known, &likely, |speed| {
                        judge.of(&network.solve(&OperatingPoint { speed, ..points[1] })).broken.is_empty()
                    });
                    let limit = project.limits.pump_reserve;
                    let reserve_to = window.and_then(|(_, to)| {
                        reserve_ends(to, |speed| {
                            let outcome = network.solve(&OperatingPoint { speed, ..points[1] });
                            outcome.pump_reserve(&project.supply).is_none_or(|reserve| reserve >= limit)
                        })
                    });
                    ChoiceAtDuty { duty: points[1].duty, at, window, reserve_to }
                })
                .collect();
            let bores = by_row.iter().filter_map(|(_, one)| one.bore(&project.catalogue));
            let passage = bores.reduce(Length::min);
            let mut broken: Vec<Requirement> =
                duties.iter().flat_map(|duty| &duty.at).flat_map(|one| one.broken.iter().copied()).collect();
            if let (Some(passage), Some(mesh)) = (passage, self.mesh)
                && mesh > passage * project.limits.mesh_share.si()
            {
                broken.push(Requirement::Passage);
            }
            if by_row.iter().any(|(_, one)| self.is_attacked(one.entry())) {
                broken.push(Requirement::Material);
            }
            let highest =
                duties.iter().flat_map(|duty| &duty.at).filter_map(|one| one.pump).reduce(Pressure::max);
            let margin = self.bound.as_ref().zip(highest).map(|(bound, highest)| bound.margin(highest));
            broken.sort_unstable();
            broken.dedup();
            let broken = without_what_is_said(broken);
            Some(MeteringChoice {
                margin,
                metering,
                valve: None,
                duties,
                passage,
                mesh: self.mesh,
                lengths,
                cut_tolerance: self.cut_tolerance(network, routing, &by_row),
                temperatures: self.temperatures(network, &judge),
                broken,
                in_use: false,
                by_row,
            })
        })
    }

    /// The same at the usual speed with colder and with warmer liquid.
    fn temperatures(&self, network: &mut PreparedRouting, judge: &Judge) -> Vec<AtTemperature> {
        let at_work = self.points[0][1];
        let liquid = &self.project().duty(at_work.duty).liquid;
        let (Some(first), Some(last)) = (liquid.points.first(), liquid.points.last()) else {
            return Vec::new();
        };
        let base = judge.of(&network.solve(&at_work));
        let Some(pump) = base.pump.filter(|pump| *pump > Pressure::ZERO) else { return Vec::new() };
        let mut found = Vec::new();
        for by in [-TEMPERATURE_STEP, TEMPERATURE_STEP] {
            let wanted = Temperature::from_si(at_work.temperature.si() + by);
            let temperature = wanted.max(first.temperature).min(last.temperature);
            // The table may end on this side of the temperature at work.
            if (temperature - at_work.temperature).si() * by <= 0.0 {
                continue;
            }
            let there = judge.of(&network.solve(&OperatingPoint { temperature, ..at_work }));
            let Some(other) = there.pump else { continue };
            found.push(AtTemperature {
                temperature,
                pump: Ratio::from_si(other / pump - 1.0),
                flow: Ratio::from_si(if base.total > Flow::ZERO {
                    there.total / base.total - 1.0
                } else {
                    0.0
                }),
                cv: there.cv,
            });
        }
        found
    }

    /// How far off a metering tube may be cut: the change of length that changes its row's flow by [`CUT_ERROR`], at the
    /// speed at which that is least, of the first row of each length. The other rows keep theirs, and a controller its total.
    fn cut_tolerance(
        &self,
        network: &mut PreparedRouting,
        routing: &Routing,
        by_row: &[(RowId, Metering)],
    ) -> Option<Length> {
        let outcome = network.solve(&self.points[0][1]);
        let tubes = metering_elements(routing, &outcome);
        let mut seen: Vec<&Metering> = Vec::new();
        let mut first_of_each: Vec<(RowId, Parameter)> = Vec::new();
        for (row, element) in &tubes {
            let Some(metering) = by_row.iter().find(|one| one.0 == *row).map(|one| &one.1) else { continue };
            let fed = outcome.row(*row).is_some_and(|row| row.state == RowState::Fed);
            if metering.length().is_some() && fed && !seen.contains(&metering) {
                seen.push(metering);
                first_of_each.push((*row, Parameter::Element(*element, VariedQuantity::Length)));
            }
        }
        if first_of_each.is_empty() {
            return None;
        }
        let mut least: Option<Length> = None;
        for point in self.points.iter().flatten() {
            let outcome = network.solve(point);
            let parameters: Vec<Parameter> = first_of_each.iter().map(|one| one.1).collect();
            let Ok(all) = network.derivatives(point, &parameters) else { continue };
            for (row, parameter) in &first_of_each {
                let by = all.iter().find(|one| one.parameter == *parameter).and_then(|one| one.row(*row));
                let flow = outcome.row(*row).map_or(0.0, |row| row.flow.si());
                let steepest = by.map_or(0.0, |by| by.falling().abs().max(by.rising().abs()));
                if steepest > 0.0 && flow > 0.0 {
                    let off = Length::from_si(CUT_ERROR.si() * flow / steepest);
                    least = Some(least.map_or(off, |least| least.min(off)));
                }
            }
        }
        least
    }

    fn is_attacked(&self, entry: &EntryKey) -> bool {
        !self.project().attacked(entry).is_empty()
    }

    fn valve_of(&self, entry: ElementKey) -> Option<ValveChoice> {
        let Some(ElementItem::CheckValve(CheckValve { cracking, closing, .. })) =
            self.project().catalogue.item(&entry)
        else {
            return None;
        };
        let is_fitted = uniform_valve(self.of.routing.routing).as_ref() == Some(&entry);
        Some(ValveChoice {
            entry,
            cracking: *cracking,
            closing: *closing,
            holds: *closing > self.standing,
            is_fitted,
        })
    }

    /// The check valve of the catalogue for a metering by what that takes: those that are fitted where they let it meter and
    /// hold; else one that does, the first to open; else one that lets it meter, the highest to shut; else those that are
    /// fitted, or the first to open.
    fn valve(&self, choice: &MeteringChoice) -> Option<ValveChoice> {
        let taken =
            choice.judged().filter_map(|one| one.metering).map(|(least, _)| least).reduce(Pressure::min)?;
        let most = taken.si() / self.project().limits.metering_over_cracking.si().max(f64::MIN_POSITIVE);
        let all = self.project().catalogue.of::<ElementKey>();
        let mut all: Vec<ValveChoice> = all.filter_map(|(key, _)| self.valve_of(key)).collect();
        if all.iter().any(|one| !self.is_attacked(one.entry.any())) {
            all.retain(|one| !self.is_attacked(one.entry.any()));
        }
        let meters = |valve: &&ValveChoice| valve.cracking.si() <= most;
        let opens = |a: &&ValveChoice, b: &&ValveChoice| a.cracking.si().total_cmp(&b.cracking.si());
        let shuts = |a: &&ValveChoice, b: &&ValveChoice| a.closing.si().total_cmp(&b.closing.si());
        let fitted = || all.iter().filter(|one| one.is_fitted);
        let both = |valve: &&ValveChoice| meters(valve) && valve.holds;
        fitted()
            .find(both)
            .or_else(|| all.iter().filter(both).min_by(opens))
            .or_else(|| fitted().filter(meters).max_by(shuts))
            .or_else(|| all.iter().filter(meters).max_by(shuts))
            .or_else(|| fitted().next())
            .or_else(|| all.iter().filter(|one| one.holds).min_by(opens))
            .or_else(|| all.iter().min_by(opens))
            .cloned()
    }
}

/// Up to which speed something holds that ends as the speed rises, where it ends below a speed, within a third of a per cent.
fn reserve_ends(to: Speed, mut holds: impl FnMut(Speed) -> bool) -> Option<Speed> {
    if holds(to) {
        return None;
    }
    let (mut good, mut bad) = (Speed::ZERO, to);
    while (bad - good).si() > 0.003 * bad.si() {
        let middle = (good + bad) * 0.5;
        if holds(middle) {
            good = middle;
        } else {
            bad = middle;
        }
        if bad.si() < 1e-3 {
            break;
        }
    }
    Some(good)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_speed_at_which_a_reserve_ends_is_found_or_none_where_it_does_not() {
        let at = |ends: f64| reserve_ends(Speed::from_si(4.0), |speed| speed.si() <= ends);
        assert_eq!(at(4.0), None);
        let found = at(2.5).unwrap().si();
        assert!(found <= 2.5 && found > 2.49, "{found}");
        assert_eq!(at(-1.0), Some(Speed::ZERO), "it holds nowhere");
    }
}
