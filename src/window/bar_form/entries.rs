//! The entries of the form: rows and ranks, sections, hinges, heights; for a new bar also project, liquid and supply.

use std::ops::RangeInclusive;

use eframe::egui;
use eframe::egui::{RichText, TextEdit, Ui};

use super::fold_advice::ways_out;
use super::typed_lists::{gaps_text, order_text, read_gaps, read_order, read_section_rows};
use super::{BarForm, mirrored};
use crate::plan::lay_out::{
    Fold, HingePair, LayoutField, LayoutRows, MOST_ROWS, MOST_SECTIONS, even_ranks, hinges_for, section_name,
    usual_order,
};
use crate::plan::words::capital;
use crate::plan::words::counted;
use crate::plan::{Hinge, RowWidths};
use crate::quantities::{Angle, Length, Measure, UnitSystem};
use crate::window::form::{combo, grid, heading, soft};
use crate::window::number_field::{NumberField, select_all_when_entered};
use crate::window::text_field::TextField;
use crate::window::theme::Theme;
use crate::window::{settings, typing, wrong_entry};

impl BarForm {
    /// All entries; true if a table was asked for.
    pub(super) fn entries(&mut self, ui: &mut Ui) -> bool {
        let units = self.base.units;
        let mut table = false;
        if !self.changes {
            heading(ui, "Project");
            grid(ui, "project entries", |ui| {
                text(ui, "Title", &mut self.base.title.title);
                ui.label(soft(ui, "Units"));
                ui.horizontal(|ui| {
                    for system in UnitSystem::ALL {
                        if ui.selectable_label(self.base.units == system, system.label()).clicked() {
                            self.base.units = system;
                            self.built = None;
                        }
                    }
                });
                ui.end_row();
            });
        }
        heading(ui, "Rows");
        table |= self.rows(ui, units);
        grid(ui, "row widths", |ui| settings::row_widths(ui, &mut self.layout.widths));
        heading(ui, "Sections");
        self.sections(ui, units);
        if !self.layout.hinges.is_empty() {
            let steps_differ = self.layout.hinges.iter().any(|pair| pair.step_left.is_some());
            let same = if steps_differ { "but for their steps, the same" } else { "the same" };
            heading(ui, &format!("Hinges, {same} left and right"));
            self.hinges(ui, units);
        }
        heading(ui, "Heights and frame");
        let own = match &self.layout.rows {
            LayoutRows::Given(places) => places.iter().filter(|place| place.height.is_some()).count(),
            LayoutRows::Even { .. } => 0,
        };
        let outlets = if own > 0 { "Outlet height of the other rows" } else { "Outlet height" };
        if own > 0 {
            let rows = if own == 1 { "1 row keeps".to_owned() } else { format!("{own} rows keep") };
            ui.label(soft(ui, &format!("{rows} an outlet height of its own")));
        }
        grid(ui, "heights", |ui| {
            let entry = |ui: &mut Ui, name: &str, measure, value: &mut Length, field, range| {
                if let Some(new) = number(ui, units, name, measure, value.si(), range, self.refused(field)) {
                    *value = Length::from_si(new);
                }
            };
            let mut own_heights = self.layout.rank_heights.clone();
            let (mut outlet, mut height, mut width) =
                (self.layout.outlet_height, self.layout.rail_height, self.layout.rail_width);
            if own_heights.is_empty() {
                entry(ui, outlets, Measure::Distance, &mut outlet, LayoutField::OutletHeight, -0.3..=2.0);
            }
            for (rank, height) in own_heights.iter_mut().enumerate() {
                let name = format!("Outlet height of rank {}", rank + 1);
                entry(ui, &name, Measure::Distance, height, LayoutField::RankHeight(rank), -0.3..=2.0);
            }
            entry(ui, "Frame height", Measure::Distance, &mut height, LayoutField::RailHeight, 0.1..=5.0);
            entry(ui, "Frame profile", Measure::Bore, &mut width, LayoutField::RailWidth, 0.02..=0.5);
            (self.layout.outlet_height, self.layout.rail_height, self.layout.rail_width) =
                (outlet, height, width);
            self.layout.rank_heights = own_heights;
        });
        for words in self.cautions(LayoutField::OutletHeight) {
            ui.label(RichText::new(words).color(Theme::of(ui.visuals()).warning));
        }
        self.heights_by_rank(ui);
        if !self.changes {
            heading(ui, "Liquid");
            settings::liquid_choice(ui, &mut self.base.duties.first_mut().liquid, units);
            heading(ui, "Rate and speeds");
            settings::application(ui, self.base.duties.first_mut(), units);
            heading(ui, "Pump");
            settings::supply(ui, &mut self.base.supply, units);
        }
        table
    }

    fn rows(&mut self, ui: &mut Ui, units: UnitSystem) -> bool {
        let mut table = false;
        if let LayoutRows::Given(places) = &self.layout.rows {
            let count = places.len();
            ui.label(format!("{} where measured", counted(count, "row")));
            grid(ui, "given rows", |ui| {
                let spacing = self.layout.spacing.si();
                let refused = self.refused(LayoutField::Spacing).or(self.refused(LayoutField::Rows));
                if let Some(new) =
                    number(ui, units, "Row spacing", Measure::Distance, spacing, 0.05..=2.0, refused)
                {
                    self.layout.spacing = Length::from_si(new);
                    self.follow();
                }
                let (left, right) = self.layout.strip();
                let refused = self.refused(LayoutField::Width);
                let (name, measure) = ("Working width", Measure::Distance);
                if let Some(new) = number(ui, units, name, measure, right - left, 0.3..=100.0, refused) {
                    let at = |side: f64| Length::metres(f64::midpoint(left, right) + side * new / 2.0);
                    self.layout.edges = Some((at(-1.0), at(1.0)));
                    self.follow();
                }
            });
            ui.horizontal(|ui| {
                if ui.button("Space evenly").clicked() {
                    let order = usual_order(2);
                    self.order = order_text(&order);
                    let ranks = even_ranks(2, self.distance);
                    self.layout.rows =
                        LayoutRows::Even { count: count as u32, pattern: Vec::new(), ranks, order };
                    self.layout.edges = None;
                    self.layout.widths = RowWidths::Nominal;
                    self.follow();
                }
                table = ui.button("Another table…").clicked();
            });
            return table;
        }
        let count = self.layout.count();
        let spacing = self.layout.mean_gap().si();
        grid(ui, "rows", |ui| {
            let (left, right) = self.layout.strip();
            let width = right - left;
            let wide = self.refused(LayoutField::Bar);
            if let Some(new) = whole(
                ui,
                units,
                "Working width",
                Measure::Distance,
                width,
                spacing..=(spacing * f64::from(MOST_ROWS)).min(100.0),
                spacing,
                wide,
            ) {
                self.set_count((new / spacing).round() as u32);
            }
            let refused = self.refused(LayoutField::Rows);
            let plain = Measure::Plain;
            if let Some(new) =
                whole(ui, units, "Rows", plain, f64::from(count), 1.0..=f64::from(MOST_ROWS), 1.0, refused)
            {
                self.set_count(new as u32);
            }
            self.spacing(ui, units);
        });
        let (left, right) = self.layout.strip();
        let gap = Measure::Distance.entered_number(self.layout.mean_gap().si(), units, true);
        let text = format!(
            "{} rows × {gap} {}{} = {}",
            self.layout.count(),
            Measure::Distance.unit(units).symbol,
            if self.pattern().is_empty() { "" } else { " on average" },
            Measure::Distance.text(right - left, units)
        );
        ui.label(soft(ui, &text));
        ui.label(soft(ui, "Another width changes the rows; other rows or spacing change the width"));
        grid(ui, "ranks", |ui| {
            let LayoutRows::Even { ranks, order, count, pattern } = &self.layout.rows else { return };
            let (mut ranks, mut order, count, pattern) =
                (ranks.clone(), order.clone(), *count, pattern.clone());
            ui.label(soft(ui, "Ranks"));
            ui.horizontal(|ui| {
                for choice in 1..=6 {
                    let button = ui.selectable_label(ranks.len() == choice, choice.to_string());
                    name_button(&button, &format!("{choice} ranks"));
                    if button.clicked() && ranks.len() != choice {
                        ranks = even_ranks(choice, self.distance);
                        order = usual_order(choice);
                        self.order = order_text(&order);
                    }
                }
            });
            ui.end_row();
            if ranks.len() > 1 {
                let refused = self.refused(LayoutField::Ranks);
                let distance = self.distance.si();
                if let Some(new) =
                    number(ui, units, "Rank distance", Measure::Distance, distance, 0.05..=3.0, refused)
                {
                    self.distance = Length::from_si(new);
                    ranks = even_ranks(ranks.len(), self.distance);
                }
                let refused = self.refused(LayoutField::Order);
                ui.label(soft(ui, "Order of ranks"));
                ui.vertical(|ui| {
                    let response = ui.add(TextEdit::singleline(&mut self.order).desired_width(84.0));
                    name_button(&response, "Order of ranks");
                    let hover =
                        "Rank of each row from left to right, repeated over the bar; 1 is the front rank";
                    if let Some(refused) = refused {
                        wrong_entry::mark(ui, &response, "Order of ranks", &refused);
                    }
                    if response.on_hover_text(hover).changed() {
                        // What can't be read is refused as no order at all.
                        order = read_order(&self.order).unwrap_or_default();
                    }
                });
                ui.end_row();
            }
            self.layout.rows = LayoutRows::Even { count, pattern, ranks, order };
        });
        ui.horizontal(|ui| {
            table = ui
                .button("From a table…")
                .on_hover_text("Take measured row positions from a CSV file")
                .clicked();
        });
        table
    }

    fn pattern(&self) -> &[Length] {
        match &self.layout.rows {
            LayoutRows::Even { pattern, .. } => pattern,
            LayoutRows::Given(_) => &[],
        }
    }

    /// The spacing of regularly spaced rows: one number, or the gaps where neighbours stand differently far apart.
    fn spacing(&mut self, ui: &mut Ui, units: UnitSystem) {
        if self.pattern().is_empty() {
            let refused = self.refused(LayoutField::Spacing);
            let spacing = self.layout.spacing.si();
            if let Some(new) =
                number(ui, units, "Row spacing", Measure::Distance, spacing, 0.05..=2.0, refused)
            {
                self.layout.spacing = Length::from_si(new);
                self.follow();
            }
        } else {
            // Its line stays, so that nothing below it moves away from the pointer.
            ui.label(soft(ui, "Row spacing"));
            ui.horizontal(|ui| {
                ui.set_min_height(ui.spacing().interact_size.y);
                ui.label(soft(ui, "as the pattern says"));
            });
            ui.end_row();
        }
        let shown = gaps_text(self.pattern(), units);
        let label = ui.label(soft(ui, "Spacing pattern")).id;
        ui.vertical(|ui| {
            let field =
                TextField { width: 150.0, hint: "0.25, 0.35", ..TextField::new("Spacing pattern", &shown) };
            let id = ui.make_persistent_id("spacing pattern");
            let entered = field.show_with(ui, id, Some(label), |response| {
                let hover = "Only for unevenly spaced rows: the gaps from left to right, again and again";
                response.clone().on_hover_text(hover);
            });
            match entered.map(|entered| read_gaps(&entered, units)) {
                Some(Ok(gaps)) => {
                    let mean = [Length::metres((self.layout.mean_gap().si() * 1e3).round() / 1e3)];
                    self.layout.set_gaps(if gaps.is_empty() { &mean } else { &gaps });
                    self.follow();
                }
                Some(Err(why)) => drop(typing::refuse(ui.ctx(), why)),
                None => {}
            }
        });
        ui.end_row();
    }

    /// Whether ranks have outlet heights of their own.
    fn heights_by_rank(&mut self, ui: &mut Ui) {
        let ranks = match &self.layout.rows {
            LayoutRows::Even { ranks, .. } if ranks.len() > 1 => ranks.len(),
            _ => {
                self.layout.rank_heights.clear();
                return;
            }
        };
        let mut own = !self.layout.rank_heights.is_empty();
        if ui.checkbox(&mut own, "Own outlet height for each rank").changed() {
            self.layout.rank_heights.clear();
        }
        if own {
            self.layout.rank_heights.resize(ranks, self.layout.outlet_height);
        }
    }

    fn set_count(&mut self, new: u32) {
        if let LayoutRows::Even { count, .. } = &mut self.layout.rows {
            *count = new;
        }
        self.follow();
    }

    fn sections(&mut self, ui: &mut Ui, units: UnitSystem) {
        let now = self.layout.sections.len();
        ui.horizontal(|ui| {
            ui.label(soft(ui, "Sections"));
            for choice in (1..=MOST_SECTIONS).step_by(2) {
                let button = ui.selectable_label(now == choice, choice.to_string());
                name_button(&button, &format!("{choice} sections"));
                if button.clicked() && now != choice {
                    self.divide(choice);
                }
            }
        });
        ui.label(soft(ui, "An odd number: a centre section, and wings in pairs"));
        self.sections_in_rows(ui);
        let now = self.layout.sections.len();
        let middle = now / 2;
        if now > 1 {
            ui.checkbox(&mut self.same_sides, "The same left and right");
        }
        grid(ui, "sections", |ui| {
            let from = if self.same_sides { middle } else { 0 };
            for index in from..now {
                let whole = section_name(index, now);
                let name = if self.same_sides && index > middle {
                    whole.trim_end_matches(" right").to_owned()
                } else {
                    whole
                };
                let name = capital(&name);
                let width = self.layout.sections[index].si();
                let refused = self.refused(LayoutField::Section(index));
                if let Some(new) = number(ui, units, &name, Measure::Distance, width, 0.01..=100.0, refused) {
                    self.own_sections = true;
                    self.layout.sections[index] = Length::from_si(new);
                    if self.same_sides {
                        self.layout.sections[now - 1 - index] = Length::from_si(new);
                    }
                }
            }
        });
        if self.own_sections && ui.button("Divide evenly").clicked() {
            self.divide(now);
        }
    }

    /// The sections by the rows they carry, from left to right; taken when the field is left.
    fn sections_in_rows(&mut self, ui: &mut Ui) {
        if matches!(self.layout.rows, LayoutRows::Given(_)) {
            return;
        }
        let rows = self.layout.rows_in_sections();
        let wide = self.layout.sections_of(&rows);
        // A part of a row belongs to no section.
        let whole =
            wide.iter().zip(&self.layout.sections).all(|(rows, own)| (*rows - *own).abs().si() < 0.003);
        let rows: Vec<String> = rows.iter().map(u32::to_string).collect();
        let shown = if whole { rows.join(", ") } else { String::new() };
        grid(ui, "sections in rows", |ui| {
            let label = ui.label(soft(ui, "Rows of each section")).id;
            ui.vertical(|ui| {
                let field = TextField {
                    width: 210.0,
                    hint: "6, 8, 12, 8, 6",
                    ..TextField::new("Rows of each section", &shown)
                };
                let id = ui.make_persistent_id("rows of each section");
                let entered = field.show_with(ui, id, Some(label), |response| {
                    response.clone().on_hover_text("From left to right; widths below follow");
                });
                if let Some(entered) = entered {
                    match read_section_rows(&entered) {
                        Ok(rows) => self.divide_in_rows(&rows),
                        Err(why) => drop(typing::refuse(ui.ctx(), why)),
                    }
                }
            });
            ui.end_row();
        });
    }

    fn divide_in_rows(&mut self, rows: &[u32]) {
        // The bar has as many rows as its sections carry.
        if let LayoutRows::Even { count, .. } = &mut self.layout.rows {
            *count = rows.iter().sum();
        }
        self.layout.sections = self.layout.sections_of(rows);
        self.layout.hinges = hinges_for(&self.layout.hinges, rows.len() / 2);
        self.own_sections = true;
        self.same_sides = mirrored(&self.layout.sections);
    }

    fn hinges(&mut self, ui: &mut Ui, units: UnitSystem) {
        let pairs = self.layout.hinges.len();
        for index in 0..pairs {
            let section = section_name(pairs + 1 + index, 2 * pairs + 1);
            let wing = section.trim_end_matches(" right").to_owned();
            let mut pair = self.layout.hinges[index];
            ui.push_id(("hinge", index), |ui| {
                grid(ui, "hinge", |ui| {
                    let refused = self.refused(LayoutField::Hinge(index));
                    let name = format!("Hinge height of {wing}");
                    if let Some(new) =
                        number(ui, units, &name, Measure::Distance, pair.height.si(), 0.05..=6.0, refused)
                    {
                        pair.height = Length::from_si(new);
                    }
                    let fold = pair.fold;
                    ui.label(soft(ui, "Fold"));
                    combo(
                        ui,
                        &format!("Fold of {wing}"),
                        pair.fold.label(),
                        Fold::ALL.map(|fold| (fold, fold.label().to_owned())),
                        &mut pair.fold,
                    );
                    ui.end_row();
                    if pair.fold != fold {
                        // Where a line was put for one way of folding says nothing for another.
                        pair.forward = None;
                    }
                    if pair.fold == Fold::Forward {
                        let name = format!("Hinge line of {wing}, forward");
                        let line = self.layout.line_of(&pair).si();
                        let new = number(ui, units, &name, Measure::Distance, line, -10.0..=10.0, None);
                        if let Some(new) = new {
                            pair.forward = Some(Length::from_si(new));
                        }
                    }
                    let name = format!("Angle of {wing}");
                    if let Some(new) = number(
                        ui,
                        units,
                        &name,
                        Measure::Angle,
                        pair.angle.si(),
                        1f64.to_radians()..=180f64.to_radians() + 1e-9,
                        None,
                    ) {
                        pair.angle = Angle::from_si(new);
                    }
                    ui.label(soft(ui, &format!("Fold step of {wing}"))).on_hover_text(
                        "Wings of one step fold together; those of step 2 begin when step 1 is done",
                    );
                    let most = (2 * pairs).min(usize::from(Hinge::MOST_STEPS)) as u8;
                    let most = most.max(pair.step);
                    combo(
                        ui,
                        &format!("Fold step of {wing}"),
                        &format!("step {}", pair.step),
                        (Hinge::FIRST_STEP..=most).map(|step| (step, format!("step {step}"))),
                        &mut pair.step,
                    );
                    ui.end_row();
                    ui.label(soft(ui, "The same, left wing")).on_hover_text(
                        "A left wing that folds in another step, so that it does not meet the right one",
                    );
                    let same = (None, "the same step".to_owned());
                    let most =
                        most.max(pair.step_left.unwrap_or(most)).saturating_add(1).min(Hinge::MOST_STEPS);
                    let others = (Hinge::FIRST_STEP..=most).filter(|step| *step != pair.step);
                    let others = others.map(|step| (Some(step), format!("step {step}")));
                    let shown = pair.step_left.map_or_else(|| same.1.clone(), |step| format!("step {step}"));
                    let name = format!("Fold step of {wing} left");
                    combo(ui, &name, &shown, std::iter::once(same).chain(others), &mut pair.step_left);
                    ui.end_row();
                    pair.step_left = pair.step_left.filter(|left| *left != pair.step);
                });
                let warning = Theme::of(ui.visuals()).warning;
                let cautions = self.cautions(LayoutField::Hinge(index));
                for words in &cautions {
                    ui.label(RichText::new(words).color(warning));
                }
                if !cautions.is_empty() {
                    self.ways_out(ui, units, index, &mut pair);
                }
            });
            self.layout.hinges[index] = pair;
        }
    }
}

impl BarForm {
    /// What lets the wings of a pair fold clear: looked for when it is asked for, entered when it is chosen.
    fn ways_out(&mut self, ui: &mut Ui, units: UnitSystem, index: usize, pair: &mut HingePair) {
        let found = self.ways_out.as_ref().filter(|(layout, of, _)| *of == index && *layout == self.layout);
        let Some((_, _, ways)) = found else {
            let asks = ui.button("What clears it?");
            let hover = "Tries other heights, lines, angles and steps of this hinge, and offers those that let its wings fold";
            if asks.on_hover_text(hover).clicked() {
                self.ways_out = Some((self.layout.clone(), index, ways_out(&self.layout, index)));
            }
            return;
        };
        if ways.is_empty() {
            let words = "No single entry of this hinge clears it: make the wing shorter or the centre wider, or change \
                         two entries together";
            ui.label(RichText::new(words).color(Theme::of(ui.visuals()).warning));
            return;
        }
        ui.horizontal_wrapped(|ui| {
            ui.label(soft(ui, "Clear with"));
            for way in ways {
                if ui.button(way.words(units)).on_hover_text("Enters it").clicked() {
                    *pair = way.of(*pair);
                }
            }
        });
    }
}

fn name_button(response: &egui::Response, name: &str) {
    let name = name.to_owned();
    response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name));
}

fn text(ui: &mut Ui, name: &str, value: &mut String) {
    let label = ui.label(soft(ui, name)).id;
    let response = ui.add(TextEdit::singleline(value).desired_width(200.0)).labelled_by(label);
    select_all_when_entered(&response, value.chars().count());
    ui.end_row();
}

/// A number that counts as it is typed.
fn number(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: RangeInclusive<f64>,
    refused: Option<String>,
) -> Option<f64> {
    labelled(ui, name, refused, NumberField::new(name, measure, units, Some(value), range))
}

/// The same where only whole multiples of a step are taken.
#[allow(clippy::too_many_arguments, reason = "what a field needs to know")]
fn whole(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: RangeInclusive<f64>,
    step: f64,
    refused: Option<String>,
) -> Option<f64> {
    let field =
        NumberField { whole: Some(step), ..NumberField::new(name, measure, units, Some(value), range) };
    labelled(ui, name, refused, field)
}

/// A line of the grid: a name and its field, taken while it is typed.
fn labelled(ui: &mut Ui, name: &str, refused: Option<String>, field: NumberField) -> Option<f64> {
    let label = ui.label(soft(ui, name)).id;
    let new =
        NumberField { live: true, fine: true, refused: refused.as_deref(), ..field }.show(ui, Some(label));
    ui.end_row();
    new
}
