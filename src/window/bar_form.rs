//! The form that a bar starts from, and that changes one that is there: rows, sections, ranks, hinges and heights, and
//! for a new one the liquid, what is asked, and the pump. The bar is drawn to scale as it is typed.
//!
//! What the numbers mean is [`plan::lay_out`](crate::plan::lay_out); what a change costs is
//! [`plan::refit`](crate::plan::refit).

use eframe::egui;
use eframe::egui::{
    Context, Grid, Id, Layout as UiLayout, Modal, Rect, RichText, ScrollArea, Sense, TextEdit, Ui, vec2,
};

use super::canvas::{paint, ruler};
use super::dialogs::{Answer, given_up};
use super::number_field::NumberField;
use super::settings;
use super::text_field::TextField;
use super::theme::{self, Theme};
use super::typing::{self, AfterTyping};
use crate::drawing::{self, Scene, SceneOptions};
use crate::files;
use crate::geometry::{Bounds, View};
use crate::plan::lay_out::{
    Field, Fold, HingePair, Layout, MOST_SECTIONS, Refusal, RowPlace, Rows, even_ranks, even_sections,
    lay_out, layout_of, section_name, usual_order,
};
use crate::plan::refit::refit;
use crate::plan::words::capital;
use crate::plan::{Bar, Project, Routing, RoutingGeometry, RoutingId};
use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// What comes of the form.
#[derive(Debug, Clone, PartialEq)]
pub enum Wish {
    /// A new project.
    Start(Box<Project>),
    /// Another bar for the project in hand.
    Reshape(Box<Bar>),
    /// Row positions from a table, into this form.
    Table,
}

/// The form as far as it is filled in.
pub struct BarForm {
    /// A bar that is there is changed.
    changes: bool,
    layout: Layout,
    distance: Length,
    order: String,
    same_sides: bool,
    own_sections: bool,
    base: Project,
    built: Option<(Layout, Built)>,
    /// It was shown before.
    opened: bool,
    /// What it said when it was opened.
    first: (Layout, Project),
    after: AfterTyping<Done>,
}

/// What a button asks for, once what is typed is taken.
enum Done {
    Bar,
    Table,
}

/// What the numbers give.
enum Built {
    Bar { project: Box<Project>, scene: Box<Scene>, losses: Vec<String> },
    Refused(Vec<Refusal>),
}

impl BarForm {
    /// A form for a new project, in the units people read.
    pub fn new(units: UnitSystem) -> Self {
        let layout = Layout {
            sections: even_sections(40, Length::metres(0.3), 5),
            hinges: vec![HingePair::default(); 2],
            ..Layout::even(40, Length::metres(0.3))
        };
        let mut base = Project::new(Bar::default(), files::generic_catalogue());
        base.units = units;
        Self::with(false, layout, base)
    }

    /// A form that changes the bar of a project.
    pub fn change(project: &Project) -> Self {
        let mut form = Self::with(true, layout_of(&project.bar), project.clone());
        form.own_sections = true;
        form.same_sides = mirrored(&form.layout.sections);
        form
    }

    fn with(changes: bool, layout: Layout, base: Project) -> Self {
        let distance = match &layout.rows {
            Rows::Even { ranks, .. } if ranks.len() > 1 => ranks[0] - ranks[1],
            _ => Length::metres(0.6),
        };
        let order = match &layout.rows {
            Rows::Even { order, .. } => order_text(order),
            Rows::Given(_) => String::new(),
        };
        Self {
            first: (layout.clone(), base.clone()),
            after: AfterTyping::default(),
            changes,
            layout,
            distance,
            order,
            same_sides: true,
            own_sections: false,
            base,
            built: None,
            opened: false,
        }
    }

    /// Something was entered that would be lost with it.
    pub fn is_filled_in(&self) -> bool {
        (&self.layout, &self.base) != (&self.first.0, &self.first.1)
    }

    /// Takes measured rows.
    pub fn take_rows(&mut self, places: Vec<RowPlace>, spacing: Option<Length>) {
        self.layout.spacing = spacing.unwrap_or(self.layout.spacing);
        self.layout.rows = Rows::Given(places);
        self.divide(self.layout.sections.len());
    }

    /// Sections so many, evenly wide.
    fn divide(&mut self, sections: usize) {
        let (left, right) = self.layout.strip();
        let count = self.layout.count().max(1);
        self.layout.sections =
            even_sections(count, Length::metres((right - left) / f64::from(count)), sections.max(1));
        self.layout.hinges.resize(sections / 2, HingePair::default());
        self.own_sections = false;
    }

    fn follow(&mut self) {
        if !self.own_sections {
            self.divide(self.layout.sections.len());
        }
    }

    fn build(&mut self) {
        if self.built.as_ref().is_some_and(|(layout, _)| *layout == self.layout) {
            return;
        }
        let built = match lay_out(&self.layout) {
            Err(refusals) => Built::Refused(refusals),
            Ok(bar) => {
                let (project, losses) = if self.changes {
                    let fitted = refit(&self.base, bar);
                    (fitted.project, fitted.losses)
                } else {
                    (Project { bar, ..self.base.clone() }, Vec::new())
                };
                let bare = Routing::empty(RoutingId(0), "");
                let options = SceneOptions { units: self.base.units, ..SceneOptions::default() };
                let geometry = RoutingGeometry::working(&project, &bare);
                let scene = drawing::bar_scene(&project, geometry.with(&bare), None, &options);
                Built::Bar { project: Box::new(project), scene: Box::new(scene), losses }
            }
        };
        self.built = Some((self.layout.clone(), built));
    }

    fn refusals(&self) -> &[Refusal] {
        match &self.built {
            Some((_, Built::Refused(refusals))) => refusals,
            _ => &[],
        }
    }

    /// Why an entry is refused, in one line.
    fn refused(&self, field: Field) -> Option<String> {
        let found = self.refusals().iter().find(|one| one.field == field)?;
        Some(format!("{}; {}", found.what, found.advice))
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context) -> Answer<Wish> {
        self.build();
        let mut answer = Answer::Waiting;
        let room = ctx.content_rect().size();
        let size = vec2((room.x - 60.0).min(1240.0), (room.y - 70.0).min(820.0));
        let modal = Modal::new(Id::unique("bar form")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(size.x);
            let theme = Theme::of(ui.visuals());
            ui.heading(if self.changes { "Change the bar" } else { "Start a bar" });
            ui.add_space(6.0);
            let body = size.y - 92.0;
            ui.horizontal_top(|ui| {
                ui.allocate_ui_with_layout(vec2(400.0, body), UiLayout::top_down(egui::Align::Min), |ui| {
                    ui.set_min_size(vec2(400.0, body));
                    let mut area =
                        ScrollArea::vertical().id_salt("form").max_height(body).auto_shrink([false, false]);
                    // Not where the last one was left.
                    if !std::mem::replace(&mut self.opened, true) {
                        area = area.vertical_scroll_offset(0.0);
                    }
                    area.show(ui, |ui| {
                        ui.set_max_width(384.0);
                        if self.entries(ui) {
                            self.after.ask(Done::Table);
                        }
                    });
                });
                ui.add_space(6.0);
                let width = ui.available_width();
                ui.allocate_ui_with_layout(vec2(width, body), UiLayout::top_down(egui::Align::Min), |ui| {
                    self.preview(ui, vec2(width, body), &theme);
                });
            });
            ui.add_space(8.0);
            ui.horizontal(|ui| {
                let action = if self.changes { "Change the bar" } else { "Start with this bar" };
                let whole = matches!(&self.built, Some((_, Built::Bar { .. })));
                if ui.add_enabled(whole, egui::Button::new(action)).clicked() {
                    self.after.ask(Done::Bar);
                }
                if ui.button("Cancel").clicked() {
                    answer = Answer::Closed;
                }
                if let Some(first) = self.refusals().first() {
                    let more = self.refusals().len() - 1;
                    let more = if more > 0 { format!(" (and {more} more)") } else { String::new() };
                    ui.label(
                        RichText::new(format!("{}: {}{more}", place_of(first.field), first.what))
                            .color(theme.warning),
                    );
                }
            });
        });
        if given_up(&modal) && answer == Answer::Waiting {
            answer = Answer::Closed;
        }
        if answer == Answer::Closed {
            typing::forget(ctx);
            return answer;
        }
        match (self.after.step(ctx), &self.built) {
            (Some(Done::Table), _) => Answer::Is(Wish::Table),
            (Some(Done::Bar), Some((_, Built::Bar { project, .. }))) => Answer::Is(if self.changes {
                Wish::Reshape(Box::new(project.bar.clone()))
            } else {
                Wish::Start(Box::new(Project { bar: project.bar.clone(), ..self.base.clone() }))
            }),
            _ => answer,
        }
    }

    /// All entries; true if a table was asked for.
    fn entries(&mut self, ui: &mut Ui) -> bool {
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
            heading(ui, "Hinges, the same left and right");
            self.hinges(ui, units);
        }
        heading(ui, "Heights and frame");
        let own = match &self.layout.rows {
            Rows::Given(places) => places.iter().filter(|place| place.height.is_some()).count(),
            Rows::Even { .. } => 0,
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
                entry(ui, outlets, Measure::Distance, &mut outlet, Field::OutletHeight, -0.3..=2.0);
            }
            for (rank, height) in own_heights.iter_mut().enumerate() {
                let name = format!("Outlet height of rank {}", rank + 1);
                entry(ui, &name, Measure::Distance, height, Field::RankHeight(rank), -0.3..=2.0);
            }
            entry(ui, "Frame height", Measure::Distance, &mut height, Field::RailHeight, 0.1..=5.0);
            entry(ui, "Frame profile", Measure::Bore, &mut width, Field::RailWidth, 0.02..=0.5);
            (self.layout.outlet_height, self.layout.rail_height, self.layout.rail_width) =
                (outlet, height, width);
            self.layout.rank_heights = own_heights;
        });
        self.heights_by_rank(ui);
        if !self.changes {
            heading(ui, "Liquid");
            settings::liquid_choice(ui, &mut self.base.duties.first_mut().liquid, units);
            heading(ui, "What is asked");
            settings::application(ui, self.base.duties.first_mut(), units);
            heading(ui, "Pump and supply");
            settings::supply(ui, &mut self.base.supply, units);
        }
        table
    }

    fn rows(&mut self, ui: &mut Ui, units: UnitSystem) -> bool {
        let mut table = false;
        if let Rows::Given(places) = &self.layout.rows {
            let count = places.len();
            ui.label(format!("{count} rows where they were measured"));
            grid(ui, "given rows", |ui| {
                let spacing = self.layout.spacing.si();
                let refused = self.refused(Field::Spacing).or(self.refused(Field::Rows));
                if let Some(new) =
                    number(ui, units, "Row spacing", Measure::Distance, spacing, 0.05..=2.0, refused)
                {
                    self.layout.spacing = Length::from_si(new);
                    self.follow();
                }
            });
            ui.horizontal(|ui| {
                if ui.button("Space evenly").clicked() {
                    let order = usual_order(2);
                    self.order = order_text(&order);
                    self.layout.rows =
                        Rows::Even { count: count as u32, ranks: even_ranks(2, self.distance), order };
                    self.follow();
                }
                table = ui.button("Another table…").clicked();
            });
            return table;
        }
        let count = self.layout.count();
        let spacing = self.layout.spacing.si();
        grid(ui, "rows", |ui| {
            let width = f64::from(count) * spacing;
            let wide = self.refused(Field::Bar);
            if let Some(new) = number(ui, units, "Working width", Measure::Distance, width, 0.3..=100.0, wide)
            {
                self.set_count((new / spacing).round().clamp(1.0, 400.0) as u32);
            }
            let refused = self.refused(Field::Rows);
            let plain = Measure::Plain;
            if let Some(new) = number(ui, units, "Rows", plain, f64::from(count), 1.0..=400.0, refused) {
                self.set_count(new.round() as u32);
            }
            let refused = self.refused(Field::Spacing);
            if let Some(new) =
                number(ui, units, "Row spacing", Measure::Distance, spacing, 0.05..=2.0, refused)
            {
                self.layout.spacing = Length::from_si(new);
                self.follow();
            }
        });
        let width = f64::from(self.layout.count()) * self.layout.spacing.si();
        let text = format!(
            "{} rows × {} = {}",
            self.layout.count(),
            Measure::Distance.text(self.layout.spacing.si(), units),
            Measure::Distance.text(width, units)
        );
        ui.label(soft(ui, &text));
        grid(ui, "ranks", |ui| {
            let Rows::Even { ranks, order, count } = &self.layout.rows else { return };
            let (mut ranks, mut order, count) = (ranks.clone(), order.clone(), *count);
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
                let refused = self.refused(Field::Ranks);
                let distance = self.distance.si();
                if let Some(new) =
                    number(ui, units, "Rank distance", Measure::Distance, distance, 0.05..=3.0, refused)
                {
                    self.distance = Length::from_si(new);
                    ranks = even_ranks(ranks.len(), self.distance);
                }
                let refused = self.refused(Field::Order);
                ui.label(soft(ui, "Order of ranks"));
                ui.vertical(|ui| {
                    let response = ui.add(TextEdit::singleline(&mut self.order).desired_width(84.0));
                    name_button(&response, "Order of ranks");
                    let hover =
                        "Ranks of neighbouring rows from left to right, 1 the front one, again and again";
                    if response.on_hover_text(hover).changed() {
                        // What can't be read is refused as no order at all.
                        order = read_order(&self.order).unwrap_or_default();
                    }
                    if let Some(refused) = refused {
                        warn(ui, &format!("Order of ranks: {refused}"));
                    }
                });
                ui.end_row();
            }
            self.layout.rows = Rows::Even { count, ranks, order };
        });
        ui.horizontal(|ui| {
            table = ui
                .button("From a table…")
                .on_hover_text("Take measured row positions from a CSV file")
                .clicked();
        });
        table
    }

    /// Whether ranks have outlet heights of their own.
    fn heights_by_rank(&mut self, ui: &mut Ui) {
        let ranks = match &self.layout.rows {
            Rows::Even { ranks, .. } if ranks.len() > 1 => ranks.len(),
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
        if let Rows::Even { count, .. } = &mut self.layout.rows {
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
                let refused = self.refused(Field::Section(index));
                if let Some(new) = number(ui, units, &name, Measure::Distance, width, 0.01..=100.0, refused) {
                    self.own_sections = true;
                    self.layout.sections[index] = Length::from_si(new);
                    if self.same_sides {
                        self.layout.sections[now - 1 - index] = Length::from_si(new);
                    }
                }
            }
        });
        if let Some(refused) = self.refused(Field::Sections) {
            ui.horizontal_wrapped(|ui| {
                warn(ui, &capital(&refused));
            });
        }
        if self.own_sections && ui.button("Divide evenly").clicked() {
            self.divide(now);
        }
    }

    /// The sections by the rows they carry, from left to right; taken when the field is left.
    fn sections_in_rows(&mut self, ui: &mut Ui) {
        if matches!(self.layout.rows, Rows::Given(_)) {
            return;
        }
        let spacing = self.layout.spacing.si();
        let rows: Option<Vec<String>> = self
            .layout
            .sections
            .iter()
            .map(|width| width.si() / spacing)
            .map(|rows| ((rows - rows.round()).abs() < 0.01).then(|| rows.round().to_string()))
            .collect();
        let shown = rows.map(|rows| rows.join(", ")).unwrap_or_default();
        grid(ui, "sections in rows", |ui| {
            let label = ui.label(soft(ui, "Rows of each section")).id;
            ui.vertical(|ui| {
                let field = TextField {
                    width: 150.0,
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
        let spacing = self.layout.spacing;
        self.layout.sections = rows.iter().map(|rows| spacing * f64::from(*rows)).collect();
        self.layout.hinges.resize(rows.len() / 2, HingePair::default());
        self.own_sections = true;
        self.same_sides = mirrored(&self.layout.sections);
        // The bar has as many rows as its sections carry.
        if let Rows::Even { count, .. } = &mut self.layout.rows {
            *count = rows.iter().sum();
        }
    }

    fn hinges(&mut self, ui: &mut Ui, units: UnitSystem) {
        let pairs = self.layout.hinges.len();
        for index in 0..pairs {
            let section = section_name(pairs + 1 + index, 2 * pairs + 1);
            let wing = section.trim_end_matches(" right").to_owned();
            let mut pair = self.layout.hinges[index];
            ui.push_id(("hinge", index), |ui| {
                grid(ui, "hinge", |ui| {
                    let refused = self.refused(Field::Hinge(index));
                    let name = format!("Hinge height of {wing}");
                    if let Some(new) =
                        number(ui, units, &name, Measure::Distance, pair.height.si(), 0.05..=6.0, refused)
                    {
                        pair.height = Length::from_si(new);
                    }
                    ui.label(soft(ui, "Fold"));
                    settings::combo(
                        ui,
                        &format!("Fold of {wing}"),
                        pair.fold.label(),
                        Fold::ALL.map(|fold| (fold, fold.label().to_owned())),
                        &mut pair.fold,
                    );
                    ui.end_row();
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
                });
            });
            self.layout.hinges[index] = pair;
        }
    }

    /// The bar to scale, or why there is none.
    fn preview(&self, ui: &mut Ui, size: egui::Vec2, theme: &Theme) {
        let (rect, response) = ui.allocate_exact_size(vec2(size.x, size.y * 0.72), Sense::hover());
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, "The bar as it is laid out")
        });
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 4.0, theme.canvas);
        let units = self.base.units;
        match &self.built {
            Some((_, Built::Bar { project, scene, losses })) => {
                let ruler_rect = Rect::from_min_max(egui::pos2(rect.left(), rect.bottom() - 26.0), rect.max);
                let picture = Rect::from_min_max(rect.min, egui::pos2(rect.right(), ruler_rect.top()));
                let bounds = scene.extent.unwrap_or(Bounds::EMPTY);
                let view = View::fit(bounds, f64::from(picture.width()), f64::from(picture.height()), 36.0);
                paint::scene(&painter, picture, &view, scene, &paint::Highlight::default(), theme, &[]);
                ruler::ruler(&painter, ruler_rect, &view, units, theme);
                ui.add_space(8.0);
                ui.label(facts(&project.bar, units));
                if self.changes {
                    ui.add_space(4.0);
                    if losses.is_empty() {
                        ui.label(RichText::new("All plumbing fits the changed bar").color(theme.soft));
                    } else {
                        ui.label(RichText::new("What no longer fits").strong().color(theme.warning));
                        ScrollArea::vertical().id_salt("losses").show(ui, |ui| {
                            for loss in losses {
                                ui.label(RichText::new(loss).color(theme.warning));
                            }
                        });
                    }
                }
            }
            Some((_, Built::Refused(refusals))) => {
                painter.text(
                    rect.center(),
                    egui::Align2::CENTER_CENTER,
                    "No bar yet: see what is marked on the left",
                    egui::FontId::proportional(14.0),
                    theme.soft,
                );
                ui.add_space(8.0);
                for one in refusals {
                    let text = format!("{}: {}; {}", place_of(one.field), one.what, one.advice);
                    ui.label(RichText::new(text).color(theme.warning));
                }
            }
            None => {}
        }
    }
}

fn facts(bar: &Bar, units: UnitSystem) -> String {
    let width: f64 = bar.sections.iter().map(|section| section.width().si()).sum();
    format!(
        "{} rows, {} wide, {} sections, {} ranks",
        bar.rows.len(),
        Measure::Distance.text(width, units),
        bar.sections.len(),
        bar.ranks.len()
    )
}

fn place_of(field: Field) -> String {
    match field {
        Field::Rows => "Rows".to_owned(),
        Field::Spacing => "Row spacing".to_owned(),
        Field::Sections => "Sections".to_owned(),
        Field::Section(index) => format!("Section {} from the left", index + 1),
        Field::Ranks => "Ranks".to_owned(),
        Field::Order => "Order of ranks".to_owned(),
        Field::Hinge(index) => format!("Hinge {} from the centre", index + 1),
        Field::RailHeight => "Frame height".to_owned(),
        Field::RailWidth => "Frame profile".to_owned(),
        Field::OutletHeight => "Outlet height".to_owned(),
        Field::RankHeight(rank) => format!("Outlet height of rank {}", rank + 1),
        Field::Bar => "Bar".to_owned(),
    }
}

fn mirrored(sections: &[Length]) -> bool {
    let pairs = sections.iter().zip(sections.iter().rev());
    pairs.into_iter().all(|(a, b)| (*a - *b).abs().si() < 1e-6)
}

fn order_text(order: &[usize]) -> String {
    let numbers: Vec<String> = order.iter().map(|rank| (rank + 1).to_string()).collect();
    numbers.join(", ")
}

fn read_order(text: &str) -> Option<Vec<usize>> {
    let pieces = text.split([',', ';', ' ', '-']).map(str::trim).filter(|piece| !piece.is_empty());
    pieces.map(|piece| piece.parse::<usize>().ok()?.checked_sub(1)).collect()
}

/// Reads `6, 8, 12, 8, 6 rows`.
fn read_section_rows(text: &str) -> Result<Vec<u32>, String> {
    let text = text.trim().trim_end_matches("rows").trim_end_matches("row");
    let pieces = text.split([',', ';', ' ', '-', '–', '+', '/']).map(str::trim).filter(|one| !one.is_empty());
    let rows: Option<Vec<u32>> =
        pieces.map(|piece| piece.parse::<u32>().ok().filter(|rows| (1..=400).contains(rows))).collect();
    let Some(rows) = rows.filter(|rows| !rows.is_empty()) else {
        return Err("not a list of rows; type numbers from left to right like 6, 8, 12, 8, 6".to_owned());
    };
    if rows.len().is_multiple_of(2) || rows.len() > MOST_SECTIONS {
        return Err(format!(
            "{} sections; give an odd number, 1 to {MOST_SECTIONS}: a centre section and wings in pairs",
            rows.len()
        ));
    }
    Ok(rows)
}

pub(super) fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(text).strong().color(Theme::of(ui.visuals()).accent));
}

fn soft(ui: &Ui, text: &str) -> RichText {
    RichText::new(text).color(Theme::of(ui.visuals()).soft)
}

pub(super) fn warn(ui: &mut Ui, text: &str) {
    let colour = Theme::of(ui.visuals()).warning;
    ui.add(egui::Label::new(RichText::new(text).color(colour).small()).wrap());
}

fn name_button(response: &egui::Response, name: &str) {
    let name = name.to_owned();
    response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name));
}

fn grid(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui)) {
    Grid::new(name).num_columns(2).min_col_width(150.0).spacing([12.0, 4.0]).show(ui, contents);
}

fn text(ui: &mut Ui, name: &str, value: &mut String) {
    let label = ui.label(soft(ui, name)).id;
    let response = ui.add(TextEdit::singleline(value).desired_width(200.0)).labelled_by(label);
    super::number_field::select_all_when_entered(&response, value.chars().count());
    ui.end_row();
}

/// A number that counts as it is typed.
fn number(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    refused: Option<String>,
) -> Option<f64> {
    let label = ui.label(soft(ui, name)).id;
    let refused = refused.as_deref();
    let field =
        NumberField { live: true, refused, ..NumberField::new(name, measure, units, Some(value), range) };
    let new = field.show(ui, Some(label));
    ui.end_row();
    new
}
