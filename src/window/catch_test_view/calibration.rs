//! Calibrating by a test: what is left out, what the readings tell and what they can't, and taking it over.

use std::collections::BTreeSet;

use eframe::egui::{Button, Context, Label, ProgressBar, RichText, Ui};

use super::explained::heading;
use super::verdict::no_answer;
use crate::plan::words::{capital, counted};
use crate::plan::{CatchTest, Project, RowId};
use crate::session::Session;
use crate::session::catch_answers::JudgedTest;
use crate::session::catch_calibration::{CalibratedTest, CatchCalibration, Doubted};
use crate::session::papers::today;
use crate::session::rows::{numbers_text, parse_rows};
use crate::studies::catch_test::calibrate::ToldNumber;
use crate::studies::catch_test::nothing_judged::NothingJudged;
use crate::window::form::soft;
use crate::window::text_field::TextField;
use crate::window::theme::Theme;
use crate::window::{status_line, typing};

/// What is chosen for a calibration.
#[derive(Default)]
pub(super) struct Choice {
    /// Rows left out by hand; the outliers where nobody has chosen.
    rows: Option<Vec<RowId>>,
    gauges: Vec<crate::plan::PartId>,
    /// Numbers that are told and not to be taken over, by their place.
    left: BTreeSet<usize>,
}

impl Choice {
    /// What is left out of the fit.
    pub(super) fn doubted(&self, judged: Option<&JudgedTest>) -> Doubted {
        let outliers = || judged.map(|one| one.judged.outliers()).unwrap_or_default();
        Doubted { rows: self.rows.clone().unwrap_or_else(outliers), gauges: self.gauges.clone() }
    }
}

/// Shows it; `wake` is for the work.
pub(super) fn show(
    ui: &mut Ui,
    session: &mut Session,
    judged: &JudgedTest,
    calibration: &mut CatchCalibration,
    choice: &mut Choice,
    theme: &Theme,
) {
    heading(ui, "Calibrate the model", theme);
    let (Some(test), Some(bar)) = (
        session.catch_test().cloned(),
        session.catch_test().and_then(|test| session.tested_bar(test)).cloned(),
    ) else {
        return;
    };
    if let Some(why) = NothingJudged::of(&test) {
        calibration.forget();
        return no_answer(ui, &why.into(), theme);
    }
    let about = "Fits what was assumed (viscosity, discharge of each orifice, loss of the filter) to the readings that nobody \
                 doubts; what they can't tell stays as it is";
    ui.add(Label::new(RichText::new(about).color(theme.soft)).wrap());
    let doubted = choice.doubted(Some(judged));
    left_out(ui, &test, &bar, &doubted, choice);
    let doubted = choice.doubted(Some(judged));
    calibration.follow(session, &doubted);
    if let Some(part) = calibration.so_far() {
        ui.horizontal(|ui| {
            ui.add(ProgressBar::new(part).desired_width(120.0).show_percentage());
            if ui.button("Stop calibrating").clicked() {
                calibration.forget();
            }
        });
        return;
    }
    match calibration.answer() {
        None => {
            if ui.button("Calibrate").on_hover_text("Nothing is changed before you take it over").clicked() {
                choice.left.clear();
                let ctx = ui.ctx().clone();
                calibration.begin(session, doubted, move || ctx.request_repaint());
            }
        }
        Some(Err(why)) => no_answer(ui, why, theme),
        Some(Ok(found)) => {
            if let Some(told) = found_numbers(ui, found, choice, theme) {
                let done = session.take_calibration(test.id, &told, today());
                status_line::say(ui.ctx(), done);
            }
        }
    }
}

/// Which readings are left out of the fit.
fn left_out(ui: &mut Ui, test: &CatchTest, bar: &Project, doubted: &Doubted, choice: &mut Choice) {
    let numbers: Vec<u32> =
        doubted.rows.iter().filter_map(|id| bar.bar.row(*id)).map(|row| row.number).collect();
    let shown = numbers_text(&numbers);
    ui.horizontal(|ui| {
        let label = ui.label(soft(ui, "Rows left out")).id;
        let id = ui.make_persistent_id(("rows left out of a calibration", test.id));
        let field = TextField { hint: "none", ..TextField::new("Rows left out", &shown) };
        if let Some(typed) = field.show(ui, id, Some(label)) {
            match parse_rows(bar, &typed) {
                Ok(rows) => choice.rows = Some(rows),
                Err(why) => refuse(ui.ctx(), &why),
            }
        }
    });
    for reading in &test.gauges {
        let tag = bar.routings.first().and_then(|routing| routing.part(reading.part));
        let tag = tag.map_or_else(|| format!("part {}", reading.part.0), |part| part.tag.clone());
        let mut counts = !choice.gauges.contains(&reading.part);
        if ui.checkbox(&mut counts, format!("{tag} counts")).changed() {
            choice.gauges.retain(|part| *part != reading.part);
            if !counts {
                choice.gauges.push(reading.part);
            }
        }
    }
}

fn refuse(ctx: &Context, why: &impl ToString) {
    typing::refuse(ctx, why.to_string());
}

/// What the readings tell and what they can't; what is to be taken over, when that is asked for.
fn found_numbers(
    ui: &mut Ui,
    found: &CalibratedTest,
    choice: &mut Choice,
    theme: &Theme,
) -> Option<Vec<ToldNumber>> {
    let studied = found.prepared.studied();
    let units = studied.project.units;
    let calibration = &found.calibration;
    for (at, told) in calibration.told.iter().enumerate() {
        let mut take = !choice.left.contains(&at);
        if ui.checkbox(&mut take, capital(&told.number.name(&studied))).changed() {
            if take {
                choice.left.remove(&at);
            } else {
                choice.left.insert(at);
            }
        }
        ui.indent(("told", at), |ui| ui.add(Label::new(told.words(units)).wrap()));
    }
    for refused in &calibration.refused {
        let name = capital(&refused.number.name(&studied));
        ui.add(Label::new(format!("{name} stays assumed: {}", refused.words(&studied))).wrap());
        let tells = RichText::new(format!("What would tell it: {}", refused.would_tell)).color(theme.soft);
        ui.indent(("refused", &name), |ui| ui.add(Label::new(tells).wrap()));
    }
    for remark in &calibration.remarks {
        let words = RichText::new(format!("Note: {}", capital(remark))).small().color(theme.warning);
        ui.add(Label::new(words).wrap());
    }
    if calibration.told.is_empty() {
        ui.label(RichText::new("These readings tell nothing to take over").color(theme.soft));
        return None;
    }
    let taken: Vec<ToldNumber> = calibration
        .told
        .iter()
        .enumerate()
        .filter(|(at, _)| !choice.left.contains(at))
        .map(|(_, told)| told.clone())
        .collect();
    let button = Button::new(format!("Take over {}", counted(taken.len(), "number")));
    let about = "One step, which undo takes back; from then on they are shown as calibrated by this test";
    ui.add_enabled(!taken.is_empty(), button).on_hover_text(about).clicked().then_some(taken)
}
