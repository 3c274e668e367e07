//! The study of the metering in sentences.

use super::super::asked::Studied;
use super::super::reliance;
use super::super::report::Lines;
use super::super::status::rows_words;
use super::super::trial::Requirement;
use super::choice::{BoreChoice, MeteringChoice, MeteringStudy, TwoSets};
use super::words::{self, give_up, misses, pressures, short, text};
use crate::plan::pressure_bound::{NO_MARGIN, PressureBound};
use crate::plan::words::{capital, counted, list};
use crate::plan::{Duty, DutyId, Metering, Project};
use crate::quantities::{Length, Measure, Pressure, Ratio};

/// Words a study.
pub(super) struct Says<'a> {
    pub(super) found: &'a MeteringStudy,
    pub(super) of: &'a Studied<'a>,
    pub(super) project: &'a Project,
}

impl Says<'_> {
    pub(super) fn duties(&self) -> usize {
        self.found.choices.first().map_or(0, |choice| choice.duties.len())
    }

    pub(super) fn name(&self, choice: &MeteringChoice) -> String {
        let words = choice.metering.words(&self.project.catalogue, self.project.units);
        match (choice.in_use, choice.is_uniform()) {
            (true, false) => "what is fitted, row by row".to_owned(),
            (_, true) => words,
            (false, false) => {
                format!("{}, by the target of each row", self.sizes(choice).unwrap_or(words))
            }
        }
    }

    /// `0.6, 0.7 and 0.8 mm orifices`, the narrowest first; none of tubes, which are of one bore.
    fn sizes(&self, choice: &MeteringChoice) -> Option<String> {
        let bores = choice.by_row.iter().map(|(_, one)| match one {
            Metering::Orifice(_) => one.bore(&self.project.catalogue),
            Metering::Tube { .. } => None,
        });
        let mut bores: Vec<Length> = bores.collect::<Option<_>>()?;
        bores.sort_by(|a, b| a.si().total_cmp(&b.si()));
        bores.dedup();
        let last = bores.pop().filter(|_| !bores.is_empty())?;
        let units = self.project.units;
        let mut words: Vec<String> =
            bores.iter().map(|one| Measure::Bore.short_number(one.si(), units)).collect();
        words.push(Measure::Bore.short_text(last.si(), units));
        Some(format!("{} orifices", list(&words)))
    }

    pub(super) fn duty_name(&self, duty: DutyId) -> &str {
        &self.project.duty(duty).name
    }

    pub(super) fn under(&self, duty: DutyId) -> String {
        if self.project.duties.are_several() {
            format!(" under {}", self.duty_name(duty))
        } else {
            String::new()
        }
    }

    /// `7 to 11 km/h`, of every duty where there are several.
    pub(super) fn ranges(&self, choice: &MeteringChoice) -> String {
        let all = choice.duties.iter();
        let all: Vec<String> = all
            .map(|duty| format!("{}{}", words::range(self.project, duty), self.under(duty.duty)))
            .collect();
        list(&all)
    }

    pub(super) fn answer(&self) -> Vec<String> {
        let mut out = match (self.found.best(), &self.found.two_sets, self.found.nearest) {
            (Some(best), _, _) => self.take(best),
            (None, Some(sets), _) => self.sets(sets),
            (None, None, Some(nearest)) => self.none_does(nearest),
            (None, None, None) => Vec::new(),
        };
        out.extend(self.bore_sentences());
        let first: Vec<String> = self.one_speed().into_iter().chain(self.rows_missing()).collect();
        out.splice(0..0, first);
        out
    }

    /// Only a metered flow follows the ground speed.
    fn one_speed(&self) -> Option<String> {
        let range = self.project.duties.iter().any(|duty| duty.slowest < duty.fastest);
        (range && !self.project.supply.follows_speed()).then(|| {
            "The pump's flow does not follow the ground speed here, so that no metering gives the rows their target at every \
             speed: choose a metered flow for a range of speeds"
                .to_owned()
        })
    }

    /// What is said of some rows does not hold for the bar.
    fn rows_missing(&self) -> Option<String> {
        let wanted = self.project.bar.rows.iter().filter(|row| !row.left_out).count();
        let rows = self.found.rows.rows;
        (rows < wanted).then(|| {
            format!("Connect all rows first: {rows} of {wanted} are fed, and what follows is of these alone")
        })
    }

    fn take(&self, best: &MeteringChoice) -> Vec<String> {
        let project = self.project;
        let mut out = Vec::new();
        let rows = counted(best.by_row.len(), "row");
        let lead = if best.in_use && !best.is_uniform() {
            format!("Keep the metering that is fitted, row by row, in {rows}")
        } else if best.in_use {
            format!(
                "Keep what is fitted, the {} in {rows} {}",
                self.name(best),
                words::valve(project, best.valve.as_ref())
            )
        } else {
            format!("Fit the {} in {rows} {}", self.name(best), words::valve(project, best.valve.as_ref()))
        };
        out.push(format!("{lead}: {}", self.gives(best)));
        out.push(format!("Why: {}", self.why(best)));
        out.extend(self.keeps(best));
        out.extend(self.temperature(best));
        if let Some(tolerance) = best.cut_tolerance {
            out.push(format!(
                "Cut within ±{} a row stays within 1 %{}",
                Measure::CutLength.short_text(tolerance.si(), project.units),
                best.lengths.map_or_else(String::new, |(from, to)| format!(
                    "; any length from {} to {} does",
                    Measure::CutLength.short_number(from.si(), project.units),
                    short(project, Measure::CutLength, to)
                ))
            ));
        }
        if let Some(now) = self.found.in_use().filter(|now| !now.in_use || !best.in_use) {
            out.push(match now.broken.first() {
                None => format!("What is fitted now, the {}, keeps all limits too", self.name(now)),
                Some(_) if now.fits() => format!(
                    "What is fitted now, the {}, keeps all limits too, but {}",
                    self.name(now),
                    self.all_misses(now)
                ),
                Some(_) => format!("What is fitted now does not: {}", self.all_misses(now)),
            });
        }
        let other = self.found.choices.iter().filter(|one| one.fits() && !one.in_use);
        let has_wider =
            |one: &&MeteringChoice| one.passage.zip(best.passage).is_some_and(|(one, best)| one > best * 1.1);
        let mut tube = other
            .filter(|one| one.metering.length().is_some() && best.metering.length().is_none())
            .filter(|one| one.holds() >= best.holds())
            .filter(has_wider);
        if let Some(tube) = tube.next_back() {
            let times = tube.passage.zip(best.passage).map_or(1.0, |(tube, best)| tube / best);
            out.push(format!(
                "The {} does as well, with an opening {times:.1} times as wide; its flow changes with the temperature",
                self.name(tube)
            ));
        }
        out
    }

    /// From which to which speed all limits are kept, the pump's reserve too.
    fn keeps(&self, choice: &MeteringChoice) -> Vec<String> {
        let project = self.project;
        let mut out = Vec::new();
        let windows: Vec<String> = choice
            .duties
            .iter()
            .filter_map(|duty| {
                let (window, under) = (duty.with_reserve()?, self.under(duty.duty));
                let ends = if duty.reserve_to.is_some() { ", where the pump's reserve ends" } else { "" };
                Some(format!("{}{under}{ends}", words::window(project, window)))
            })
            .collect();
        let bound = PressureBound::of(project, self.of.routing);
        let wanted = short(project, Measure::Percent, NO_MARGIN);
        if !windows.is_empty() {
            let margin = if bound.is_some() {
                format!(", and a margin of {wanted} at the pump,")
            } else {
                String::new()
            };
            out.push(format!("It keeps all limits{margin} {}", list(&windows)));
        }
        if let Some((bound, margin)) = bound.zip(choice.margin) {
            let words = capital(&words::margin_words(project, choice, margin));
            out.push(format!("{words} {}; {wanted} are wanted", bound.words(project)));
        }
        let reserve = short(project, Measure::Percent, project.limits.pump_reserve);
        for duty in &choice.duties {
            let fastest = &duty.at[2];
            let Some(spare) = fastest.reserve.filter(|spare| *spare < project.limits.pump_reserve) else {
                continue;
            };
            let under = self.under(duty.duty);
            let at = short(project, Measure::GroundSpeed, fastest.point.speed);
            let (amount, than) = if spare < Ratio::ZERO { ("less", "than") } else { ("more", "than") };
            out.push(format!(
                "The pump is too small for the range{under}: at {at} it delivers {} {amount} {than} the rows ask, and \
                 {reserve} more is wanted",
                Measure::Percent.text(spare.si().abs(), project.units)
            ));
        }
        out
    }

    /// What a choice gives from the slowest to the fastest speed.
    fn gives(&self, choice: &MeteringChoice) -> String {
        let project = self.project;
        let pumps: Vec<Pressure> = choice.judged().filter_map(|one| one.pump).collect();
        let low = pumps.iter().copied().reduce(Pressure::min).unwrap_or_default();
        let high = pumps.iter().copied().reduce(Pressure::max).unwrap_or_default();
        let percent = |value: Option<Ratio>| {
            value.map_or_else(|| "?".to_owned(), |one| text(project, Measure::Percent, one))
        };
        format!(
            "at {} the pump gives {} of at most {}, the farthest row is {} from its target, and CV is {} at most",
            self.ranges(choice),
            pressures(project, low, high),
            short(project, Measure::Pressure, project.supply.highest_pressure()),
            percent(choice.farthest()),
            percent(choice.worst_cv())
        )
    }

    /// Why it is this one: what the next wider one misses.
    fn why(&self, best: &MeteringChoice) -> String {
        let Some(place) = self.found.recommended else { return String::new() };
        if !best.is_uniform() && best.in_use {
            return "it keeps all limits, and nothing has to be changed".to_owned();
        }
        let is_wider = |choice: &&MeteringChoice| {
            choice.metering.length().is_some() == best.metering.length().is_some() && !choice.in_use
        };
        let wider = self.found.choices.get(place + 1..).unwrap_or_default().iter().find(is_wider);
        let lead = match (&best.metering, best.holds() && best.valve.is_some()) {
            (Metering::Orifice(_), true) => {
                "of the orifices that keep all limits beside a check valve that holds with the pump off it is the widest, \
                 which plugs least and needs the least pressure"
            }
            (Metering::Orifice(_), false) => {
                "of the orifices that keep all limits it is the widest, which plugs least and needs the least pressure"
            }
            (Metering::Tube { .. }, _) => {
                "no orifice keeps all limits so well; of the tubes that do it is the widest"
            }
        };
        let lacks = wider.and_then(|wider| match (wider.fits(), wider.holds()) {
            (false, _) => Some(self.all_misses(wider)),
            (true, false) if best.holds() => Some(
                "it needs a check valve that does not hold what stands on it with the pump off".to_owned(),
            ),
            (true, _) if best.has_margin() && !wider.has_margin() => Some(self.all_misses(wider)),
            (true, _) => None,
        });
        match wider.zip(lacks) {
            Some((wider, lacks)) => {
                format!("{lead}; the {}, the next wider, does not: {lacks}", self.name(wider))
            }
            None => lead.to_owned(),
        }
    }

    fn all_misses(&self, choice: &MeteringChoice) -> String {
        let all: Vec<String> = choice
            .broken
            .iter()
            .rev()
            .map(|requirement| misses(self.project, choice, *requirement))
            .collect();
        all.join("; ")
    }

    fn temperature(&self, choice: &MeteringChoice) -> Option<String> {
        let project = self.project;
        let colder = choice.temperatures.first()?;
        let at_work = self.of.point.temperature;
        let (word, by) = if colder.temperature < at_work { ("colder", "At") } else { ("warmer", "At") };
        let pressure = Measure::Percent.text(colder.pump.si().abs(), project.units);
        let more = if colder.pump.si() >= 0.0 { "more" } else { "less" };
        let flow = if colder.flow.si().abs() >= 5e-4 {
            format!(
                " and passes {} {}",
                Measure::Percent.text(colder.flow.si().abs(), project.units),
                if colder.flow.si() > 0.0 { "more" } else { "less" }
            )
        } else {
            String::new()
        };
        Some(format!(
            "{by} {}, {word} than at work, the bar needs {pressure} {more} pressure{flow}",
            short(project, Measure::Temperature, colder.temperature)
        ))
    }

    fn sets(&self, sets: &TwoSets) -> Vec<String> {
        let project = self.project;
        let named = |place: usize| {
            let choice = self.found.choices.get(place);
            choice.map_or_else(String::new, |one| {
                format!("{} {}", self.name(one), words::valve(project, one.valve.as_ref()))
            })
        };
        match sets {
            TwoSets::ByDuty(each) => {
                let all: Vec<String> = each
                    .iter()
                    .map(|(duty, place)| format!("for {} the {}", self.duty_name(*duty), named(*place)))
                    .collect();
                vec![
                    format!("No single metering serves all duties; two sets do: {}", list(&all)),
                    self.first_wish(),
                ]
            }
            TwoSets::BySpeed { slow, fast, both } => {
                let ranges =
                    self.found.choices.first().map_or_else(String::new, |choice| self.ranges(choice));
                let over: Vec<String> = both
                    .iter()
                    .map(|(duty, from, to)| {
                        format!("{}{}", words::window(project, (*from, *to)), self.under(*duty))
                    })
                    .collect();
                vec![
                    format!(
                        "No single metering serves {ranges}; two sets do: the {} for slow work, the {} for fast work; \
                         change {}",
                        named(*slow),
                        named(*fast),
                        list(&over)
                    ),
                    self.first_wish(),
                ]
            }
        }
    }

    fn first_wish(&self) -> String {
        let nearest = self.found.nearest.and_then(|place| self.found.choices.get(place));
        nearest.map_or_else(String::new, |choice| {
            let requirement = choice.broken.last().copied().unwrap_or(Requirement::Rows);
            format!(
                "With one set the {} comes nearest: {}; {}",
                self.name(choice),
                self.all_misses(choice),
                give_up(self.project, choice, requirement)
            )
        })
    }

    fn none_does(&self, nearest: usize) -> Vec<String> {
        let Some(choice) = self.found.choices.get(nearest) else { return Vec::new() };
        let project = self.project;
        if let Some(then) = &self.found.with_wider {
            return vec![
                format!(
                    "Fit wider hoses first; then the {} {} serves: {}",
                    self.name(then),
                    words::valve(project, then.valve.as_ref()),
                    self.gives(then)
                ),
                format!(
                    "With the hoses that are there none of the catalogue does; the {} comes nearest: {}",
                    self.name(choice),
                    self.all_misses(choice)
                ),
            ]
            .into_iter()
            .chain(self.keeps(then))
            .collect();
        }
        let first = choice.broken.first().copied().unwrap_or(Requirement::Rows);
        let mut out = vec![format!(
            "No metering of the catalogue serves {} within all limits, nor do two sets; the {} {} comes nearest: {}",
            self.ranges(choice),
            self.name(choice),
            words::valve(project, choice.valve.as_ref()),
            self.all_misses(choice)
        )];
        out.push(format!(
            "Give up first: {}; {}",
            misses(project, choice, first),
            give_up(project, choice, first)
        ));
        for requirement in choice.broken.iter().skip(1) {
            out.push(format!("And then: {}", give_up(project, choice, *requirement)));
        }
        out
    }

    pub(super) fn warnings(&self) -> Vec<String> {
        let mut out = Vec::new();
        let project = self.project;
        if let Some(rows) = rows_words(self.found.rows) {
            out.push(format!(
                "these figures are over {rows}: the others are not connected, shut off or left out"
            ));
        }
        if self.found.choices.iter().any(|one| one.metering.length().is_some()) {
            let of = |duty: &Duty| reliance::viscosity(&duty.liquid, project.units);
            let rests = |words| format!("{words}: what metering tubes are cut to rests on it");
            out.extend(project.duties.iter().filter_map(of).map(rests));
        }
        let points = self.found.choices.iter().flat_map(MeteringChoice::judged).map(|one| one.point);
        out.extend(reliance::outside_table(self.of, points));
        let best = self.advised();
        if best.is_some_and(|best| best.judged().any(|one| one.reserve.is_none())) {
            out.push("the pump's capacity is not entered: its reserve is not looked at".to_owned());
        }
        if let Some(valve) = best.and_then(|best| best.valve.as_ref()).filter(|valve| !valve.holds) {
            out.push(format!(
                "a check valve that shuts at {} does not hold what stands on it with the pump off: keep a valve shut \
                 between tank and bar then",
                text(project, Measure::Pressure, valve.closing)
            ));
        }
        if best.is_some_and(|best| best.mesh.is_none()) {
            out.push("no filter strains the liquid before the metering".to_owned());
        }
        if best.is_some_and(|best| best.metering.length().is_some()) {
            out.push("metering tubes are taken as straight".to_owned());
        }
        out
    }

    /// Lines of which the smallest bore that does is wider, or narrower, than what is there.
    fn other_bores(&self, wider: bool) -> Vec<String> {
        let project = self.project;
        let other =
            self.found.bores.iter().filter(|one| {
                if wider { one.least.bore > one.now.bore } else { one.least.bore < one.now.bore }
            });
        other
            .map(|one| {
                format!(
                    "{} in place of {} for {}",
                    short(project, Measure::Bore, one.least.bore),
                    short(project, Measure::Bore, one.now.bore),
                    lines_words(one)
                )
            })
            .collect()
    }

    fn bores_keep(&self) -> bool {
        !self.found.bores.is_empty() && self.found.bores.iter().all(|one| one.least.keeps)
    }

    /// What is to be taken, with the hoses there are or with wider ones; else what comes nearest.
    fn advised(&self) -> Option<&MeteringChoice> {
        let nearest = || self.found.choices.get(self.found.nearest?);
        self.found.best().or(self.found.with_wider.as_ref()).or_else(nearest)
    }

    fn bore_sentences(&self) -> Vec<String> {
        let project = self.project;
        let Some(first) = self.found.bores.first() else { return Vec::new() };
        if !self.bores_keep() {
            return vec![if project.supply.follows_speed() {
                "No bores of the catalogue keep velocity, evenness and pressure at every speed".to_owned()
            } else {
                "No bores of the catalogue bring the rows to their targets at every speed: the pump's flow does not \
                     follow the speed"
                        .to_owned()
            }];
        }
        let comes = format!(
            "CV is then {} at most and the pump gives {} at most",
            first.least.cv.map_or_else(|| "?".to_owned(), |one| text(project, Measure::Percent, one)),
            first.least.pump.map_or_else(|| "?".to_owned(), |one| text(project, Measure::Pressure, one))
        );
        let is_for_margin = self.found.bores.iter().filter(|one| one.recommended).all(|one| one.now.keeps);
        let for_what = if is_for_margin && self.found.bores.iter().any(|one| one.recommended) {
            "Wider bores leave the pump a margin"
        } else {
            "Wider bores are needed"
        };
        let (wider, narrower) = (self.other_bores(true), self.other_bores(false));
        match (wider.is_empty(), narrower.is_empty()) {
            (true, true) => vec!["Hoses and tubes are of the smallest bores that do".to_owned()],
            (true, false) => vec![format!("Narrower bores would do: {}; {comes}", list(&narrower))],
            (false, true) => vec![format!("{for_what}: {}; {comes}", list(&wider))],
            (false, false) => vec![format!(
                "{for_what}: {}; narrower ones would do: {}; {comes}",
                list(&wider),
                list(&narrower)
            )],
        }
    }
}

/// `H1 and H2`, `delivery tubes of 40 row feeds`.
pub(super) fn lines_words(choice: &BoreChoice) -> String {
    match &choice.lines {
        Lines::Hoses(_) => list(&choice.tags),
        Lines::Tubes(feeds) => format!("delivery tubes of {}", counted(feeds.len(), "row feed")),
    }
}
