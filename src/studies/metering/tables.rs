//! The study of the metering in tables and a plot.

use super::super::report::{
    OnPaper, SeriesForm, StudyAction, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyRow, StudySeries,
    StudyTable,
};
use super::super::trial::Requirement;
use super::answer::{Says, lines_words};
use super::choice::{BoreChoice, BoreTrial, ChoiceAtDuty, MeteringChoice};
use super::words::{self, inward, short, text};
use crate::hydraulics::losses::reynolds::LAMINAR_END;
use crate::plan::Metering;
use crate::plan::pressure_bound::NO_MARGIN;
use crate::plan::words::{capital, count};
use crate::quantities::{Measure, Pressure};

/// What carries a choice out.
pub fn action(choice: &MeteringChoice) -> StudyAction {
    let valve = choice.valve.as_ref().filter(|valve| !valve.is_fitted).map(|valve| valve.entry.clone());
    if choice.is_uniform() {
        StudyAction::UseMetering { metering: choice.metering.clone(), valve }
    } else {
        StudyAction::UseRowMetering { rows: choice.by_row.clone(), valve }
    }
}

impl Says<'_> {
    pub(super) fn choices(&self, duty: usize) -> StudyTable {
        let project = self.project;
        let first = self.found.choices.first().and_then(|choice| choice.duties.get(duty));
        let title = first.map_or_else(
            || "Metering of the catalogue".to_owned(),
            |one| {
                format!("Metering of the catalogue at {}{}", words::range(project, one), self.under(one.duty))
            },
        );
        let colder = self.found.choices.iter().flat_map(|choice| &choice.temperatures);
        let mut colder = colder.map(|one| one.temperature);
        let colder = colder.find(|one| *one < self.of.point.temperature).filter(|_| duty == 0);
        let colder = colder.map_or_else(
            || "pump, colder".to_owned(),
            |one| format!("pump, at {}", short(project, Measure::Temperature, one)),
        );
        let columns = vec![
            StudyColumn::words("metering"),
            StudyColumn::words("check valve").off_paper(),
            StudyColumn::number("pump, slowest", Measure::Pressure),
            StudyColumn::number("pump, usual", Measure::Pressure),
            StudyColumn::number("pump, fastest", Measure::Pressure),
            StudyColumn::number("metering, slowest", Measure::Pressure).off_paper(),
            StudyColumn::number("metering, usual", Measure::Pressure).off_paper(),
            StudyColumn::number("metering, fastest", Measure::Pressure).off_paper(),
            StudyColumn::number("CV at most", Measure::Percent),
            StudyColumn::number("farthest row", Measure::Percent),
            StudyColumn::number("does from", Measure::GroundSpeed),
            StudyColumn::number("does to", Measure::GroundSpeed),
            StudyColumn::words("flow").off_paper(),
            StudyColumn::number(colder, Measure::Percent).off_paper(),
            StudyColumn::number("cut within ±", Measure::CutLength).off_paper(),
            StudyColumn::words("misses, or why not"),
        ];
        let rows = self.found.choices.iter().enumerate().filter_map(|(place, choice)| {
            let at = choice.duties.get(duty)?;
            let is_chosen = self.found.recommended == Some(place);
            let near =
                self.found.recommended.or(self.found.nearest).is_some_and(|one| one.abs_diff(place) <= 1);
            let line = self.line(choice, at, is_chosen);
            Some(StudyRow { on_paper: near || choice.in_use, ..line })
        });
        let then = self.found.with_wider.as_ref().and_then(|choice| {
            let mut line = self.line(choice, choice.duties.get(duty)?, true);
            // The hoses come with it; this table's other lines are of those that are there.
            line.action = Some(self.with_wider_hoses(choice));
            line.cells[0] = StudyCell::Words(format!("With wider hoses: {}", self.name(choice)));
            Some(line)
        });
        let rows = rows.chain(then);
        let limits = &project.limits;
        let mesh = self.found.choices.iter().find_map(|choice| choice.mesh);
        let mut notes = vec![format!(
            "limits: rows within {} of their target, {} times the cracking pressure over the metering, Reynolds numbers \
             of tubes outside {} to {}, {}",
            short(project, Measure::Percent, limits.row_deviation),
            Measure::Plain.short_number(limits.metering_over_cracking.si(), project.units),
            count(limits.reynolds_from.si() as usize),
            count(limits.reynolds_to.si() as usize),
            mesh.map_or_else(
                || "no mesh".to_owned(),
                |mesh| format!(
                    "a mesh of {} at most {} of the opening",
                    short(project, Measure::Opening, mesh),
                    short(project, Measure::Percent, limits.mesh_share)
                )
            )
        )];
        notes.push(format!(
            "does from and to: all limits are kept there, and the pump keeps a margin of {} to what bounds its pressure",
            short(project, Measure::Percent, NO_MARGIN)
        ));
        notes.push(match self.found.options.pressure {
            Some(pressure) => format!(
                "tubes are cut to take {} at the usual speed",
                text(project, Measure::Pressure, pressure)
            ),
            None => "tubes are cut half-way between the shortest that keeps rows even beside the check valves and the \
                     longest that the supply can push"
                .to_owned(),
        });
        StudyTable::new(title, columns, rows.collect()).with_notes(notes).printed(OnPaper::Whole)
    }

    /// What fits wider hoses and tubes and the metering that goes with them.
    fn with_wider_hoses(&self, then: &MeteringChoice) -> StudyAction {
        let wider = self.found.bores.iter().filter(|one| one.least.bore > one.now.bore);
        let hoses = wider
            .map(|one| StudyAction::UseStock { lines: one.lines.clone(), stock: one.least.stock.clone() });
        StudyAction::Together(hoses.chain([action(then)]).collect())
    }

    fn line(&self, choice: &MeteringChoice, at: &ChoiceAtDuty, is_chosen: bool) -> StudyRow {
        let project = self.project;
        let number = |value: Option<f64>| value.map_or(StudyCell::Empty, StudyCell::Number);
        let valve = choice.valve.as_ref().map_or_else(String::new, |valve| {
            let item = project.catalogue.item(&valve.entry);
            item.map_or_else(|| valve.entry.to_string(), |item| item.choice(project.units))
        });
        let mut cells = vec![StudyCell::Words(capital(&self.name(choice))), StudyCell::Words(valve)];
        cells.extend(at.at.iter().map(|one| number(one.pump.map(Pressure::si))));
        cells.extend(at.at.iter().map(|one| number(one.metering.map(|(least, _)| least.si()))));
        let cv = at.at.iter().filter_map(|one| one.cv).map(|one| one.si()).reduce(f64::max);
        let far = at.at.iter().filter_map(|one| one.farthest).map(|one| one.1);
        let far = far.max_by(|a, b| a.si().abs().total_cmp(&b.si().abs()));
        cells.push(number(cv));
        cells.push(far.map_or(StudyCell::Empty, |far| StudyCell::Signed(far.si())));
        let window = at
            .with_reserve()
            .map(|(from, to)| (inward(from, true, project.units), inward(to, false, project.units)));
        // So narrow that no speed as it is shown is within.
        let window = window.filter(|(from, to)| from <= to);
        cells.push(number(window.map(|(from, _)| from.si())));
        cells.push(number(window.map(|(_, to)| to.si())));
        cells.push(StudyCell::Words(regime(choice, at)));
        let colder = choice.temperatures.iter().find(|one| one.temperature < self.of.point.temperature);
        let is_first = choice.duties.first().is_some_and(|first| first.duty == at.duty);
        let colder = colder.filter(|_| is_first);
        cells.push(colder.map_or(StudyCell::Empty, |one| StudyCell::Signed(one.pump.si())));
        cells.push(number(choice.cut_tolerance.map(|one| one.si())));
        cells.push(StudyCell::Words(self.why_not(choice, at, is_chosen)));
        let is_outside =
            Self::missed(choice, at).iter().any(|requirement| *requirement != Requirement::Margin);
        let mark = match () {
            () if is_chosen => StudyMark::Recommended,
            () if choice.in_use => StudyMark::InUse,
            () if is_outside => StudyMark::OutsideLimits,
            () => StudyMark::None,
        };
        StudyRow { action: (!choice.in_use).then(|| action(choice)), mark, ..StudyRow::new(cells) }
    }

    /// Pressure at the pump over the speed, of what is recommended (or nearest), what is in use, and the next sizes.
    pub(super) fn plot(&self) -> Option<StudyPlot> {
        let around = self.found.recommended.or(self.found.nearest)?;
        let shown = self.found.choices.iter().enumerate().filter(|(place, choice)| {
            let near = place.abs_diff(around) <= 1;
            near || choice.in_use
        });
        let mut series: Vec<StudySeries> = shown
            .filter_map(|(_, choice)| {
                let points = choice.duties.first()?.at.iter();
                let points = points.filter_map(|one| Some([one.point.speed.si(), one.pump?.si()]));
                Some(StudySeries::new(self.name(choice), SeriesForm::Line, points))
            })
            .collect();
        let ends = self.found.choices.get(around)?.duties.first()?;
        let most = self.project.supply.highest_pressure().si();
        let limit = [&ends.at[0], &ends.at[2]].map(|one| [one.point.speed.si(), most]);
        series.push(StudySeries::new("the most the supply gives", SeriesForm::Line, limit));
        let axes = [
            StudyColumn::number("ground speed", Measure::GroundSpeed),
            StudyColumn::number("pressure at the pump", Measure::Pressure),
        ];
        let title = format!("Pressure at the pump over the speed{}", self.under(ends.duty));
        Some(StudyPlot::new(title, axes, series))
    }

    pub(super) fn bores(&self) -> StudyTable {
        let mut rows = Vec::new();
        for choice in &self.found.bores {
            let name = capital(&lines_words(choice));
            let tries = [
                ("a size down", choice.down.as_ref()),
                ("smallest that does", Some(&choice.least)),
                ("a size up", choice.up.as_ref()),
            ];
            for (which, trial) in tries {
                let Some(trial) = trial else { continue };
                rows.push(self.bore_line(&name, which, choice, trial));
            }
            let shown = [choice.down.as_ref(), Some(&choice.least), choice.up.as_ref()];
            if !shown.iter().flatten().any(|trial| trial.stock == choice.now.stock) {
                rows.push(self.bore_line(&name, "as it is", choice, &choice.now));
            }
        }
        let limits = &self.project.limits;
        let columns = vec![
            StudyColumn::words("lines"),
            StudyColumn::words("size"),
            StudyColumn::number("bore", Measure::Bore),
            StudyColumn::number("velocity at most", Measure::Velocity),
            StudyColumn::number("CV at most", Measure::Percent),
            StudyColumn::number("pump at most", Measure::Pressure),
            StudyColumn::words("misses"),
        ];
        StudyTable::new("Bores of hoses and tubes", columns, rows).with_notes([format!(
                "with the metering {}, all other lines of the smallest size that does; limits: {} in lines, rows within {} \
                 of their mean, CV {}; bores that differ from their ports need reducers",
                match (self.found.best(), &self.found.with_wider) {
                    (Some(_), _) => "that is recommended",
                    (None, Some(_)) => "that serves with wider hoses",
                    (None, None) => "that comes nearest",
                },
                short(self.project, Measure::Velocity, limits.hose_velocity),
                short(self.project, Measure::Percent, limits.design_deviation),
                short(self.project, Measure::Percent, limits.cv_good)
            )])
    }

    fn bore_line(&self, name: &str, which: &str, choice: &BoreChoice, trial: &BoreTrial) -> StudyRow {
        let limits = &self.project.limits;
        let number = |value: Option<f64>| value.map_or(StudyCell::Empty, StudyCell::Number);
        let mut missed = Vec::new();
        if trial.velocity > limits.hose_velocity {
            missed.push("velocity");
        }
        if !trial.crosses {
            missed.push("bends too tight at a hinge");
        }
        if !trial.keeps && missed.is_empty() {
            missed.push("evenness or pressure");
        }
        if trial.keeps && !trial.has_margin {
            missed.push("no margin left");
        }
        let is_outside = !trial.keeps || !trial.ends_fit;
        if !trial.ends_fit {
            missed.push("does not fit what it is joined to");
        }
        let in_use = trial.stock == choice.now.stock;
        let mark = match () {
            () if in_use => StudyMark::InUse,
            // Narrower ones would do too, but nobody need change what does.
            () if trial.stock == choice.least.stock && choice.recommended => StudyMark::Recommended,
            () if is_outside => StudyMark::OutsideLimits,
            () => StudyMark::None,
        };
        let cells = vec![
            StudyCell::Words(name.to_owned()),
            StudyCell::Words(which.to_owned()),
            StudyCell::Number(trial.bore.si()),
            StudyCell::Number(trial.velocity.si()),
            number(trial.cv.map(|one| one.si())),
            number(trial.pump.map(Pressure::si)),
            StudyCell::Words(missed.join("; ")),
        ];
        let action = StudyAction::UseStock { lines: choice.lines.clone(), stock: trial.stock.clone() };
        StudyRow { action: (!in_use).then_some(action), mark, ..StudyRow::new(cells) }
    }
}

/// Laminar or turbulent, with its Reynolds numbers, for tubes; Reynolds numbers alone for orifices.
fn regime(choice: &MeteringChoice, at: &ChoiceAtDuty) -> String {
    let numbers = at.at.iter().filter_map(|one| one.reynolds);
    let Some((low, high)) = numbers.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))) else {
        return String::new();
    };
    let text = |value: f64| count(value.round() as usize);
    let numbers = format!("Re {} to {}", text(low), text(high));
    let is_tube = matches!(choice.metering, Metering::Tube { .. });
    let zone = at.at.iter().any(|one| one.broken.contains(&Requirement::Predictable));
    let words = match (is_tube, zone) {
        (_, true) => "not predictable",
        (false, false) => return numbers,
        (true, false) if high < LAMINAR_END => "laminar",
        (true, false) if low > LAMINAR_END => "turbulent",
        (true, false) => "laminar to turbulent",
    };
    format!("{words}, {numbers}")
}
