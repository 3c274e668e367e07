//! The form that a bar starts from, and that changes one that is there: rows, sections, ranks, hinges and heights, and
//! for a new one the liquid, what is asked, and the pump. The bar is drawn to scale as it is typed.
//!
//! What the numbers mean is [`plan::lay_out`](crate::plan::lay_out); what a change costs is
//! [`plan::refit`](crate::plan::refit).

use eframe::egui;
use eframe::egui::{Context, Event, Id, Layout as UiLayout, Modal, RichText, ScrollArea, vec2};

use super::dialogs::{DialogAnswer, given_up};
use super::recovery::FormWork;
use super::theme::{self, Theme};
use super::typing::{self, AfterTyping};
use crate::drawing::{self, Scene, SceneOptions};
use crate::files;
use crate::files::recovery::KeptBarForm;
use crate::plan::clash_search::frames_that_meet;
use crate::plan::frames_met::FramesMet;
use crate::plan::lay_out::{
    Layout, LayoutField, LayoutRefusal, LayoutRows, RowPlace, even_sections, hinges_for, lay_out, layout_of,
    usual_hinges,
};
use crate::plan::refit::refit;
use crate::plan::words::short_list;
use crate::plan::{Bar, Project, Routing, RoutingGeometry, RoutingId, RowWidths};
use crate::quantities::{Length, Measure, UnitSystem};

mod entries;
mod fold_advice;
mod preview;
mod typed_lists;

use fold_advice::WayOut;
use typed_lists::order_text;

/// Width of the column of entries, as wide as the widest of them, and of that what its scroll bar takes; points. The picture
/// has the rest.
const COLUMN: f32 = 440.0;
const SCROLL_BAR: f32 = 16.0;

/// What comes of the form.
#[derive(Debug, Clone, PartialEq)]
pub enum BarFormRequest {
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
    /// What to say of a form that a crash left.
    notes: Vec<String>,
    /// What was found to clear the wings of a pair of hinges, for this layout.
    ways_out: Option<(Layout, usize, Vec<WayOut>)>,
    /// What it said when it was opened.
    first: (Layout, Project),
    /// Esc was pressed, which does not drop what was entered.
    kept_from_esc: bool,
    after: AfterTyping<FormButton>,
}

/// What a button asks for, once what is typed is taken.
enum FormButton {
    Bar,
    Table,
}

/// What the numbers give.
enum Built {
    Bar {
        project: Box<Project>,
        scene: Box<Scene>,
        losses: Vec<String>,
        /// What does not keep it from being taken, said at its field.
        cautions: Vec<(LayoutField, String)>,
    },
    Refused(Vec<LayoutRefusal>),
}

impl BarForm {
    /// A form for a new project, in the units people read.
    pub fn new(units: UnitSystem) -> Self {
        let layout = Layout {
            sections: even_sections(40, Length::metres(0.3), 5),
            hinges: usual_hinges(2),
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
            LayoutRows::Even { ranks, .. } if ranks.len() > 1 => ranks[0] - ranks[1],
            _ => Length::metres(0.6),
        };
        let order = match &layout.rows {
            LayoutRows::Even { order, .. } => order_text(order),
            LayoutRows::Given(_) => String::new(),
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
            ways_out: None,
            opened: false,
            notes: Vec::new(),
            kept_from_esc: false,
        }
    }

    /// A form as a crash left it, over the project that it was open over; and what to say of that, in sentences.
    pub fn reopen(kept: &KeptBarForm, project: &Project, notes: Vec<String>) -> Self {
        let (first, base) = if kept.changes {
            ((layout_of(&project.bar), project.clone()), project.clone())
        } else {
            (Self::new(project.units).first, Project { bar: Bar::default(), ..project.clone() })
        };
        let layout = kept.layout.clone();
        let own_sections = kept.changes || layout.sections != layout.divided(layout.sections.len());
        let same_sides = mirrored(&layout.sections);
        Self { same_sides, own_sections, notes, first, ..Self::with(kept.changes, layout, base) }
    }

    /// What it holds that is nowhere else.
    pub fn work(&self) -> FormWork {
        FormWork::Open {
            form: Box::new(KeptBarForm { changes: self.changes, layout: self.layout.clone() }),
            base: Box::new(self.base.clone()),
            is_filled_in: self.is_filled_in(),
        }
    }

    /// The project that a new bar starts as.
    fn new_project(&self, built: &Project) -> Project {
        Project { bar: built.bar.clone(), ..self.base.clone() }
    }

    /// It changes a bar that is there, and does not start one.
    pub const fn changes_a_bar(&self) -> bool {
        self.changes
    }

    /// Something was entered that would be lost with it.
    pub fn is_filled_in(&self) -> bool {
        (&self.layout, &self.base) != (&self.first.0, &self.first.1)
    }

    /// Takes measured rows.
    pub fn take_rows(&mut self, places: Vec<RowPlace>, spacing: Option<Length>) {
        self.layout.spacing = spacing.unwrap_or(self.layout.spacing);
        self.layout.rows = LayoutRows::Given(places);
        self.layout.edges = None;
        // Measured rows are rarely even, and the nominal spacing would then give some of them too little.
        self.layout.widths = RowWidths::HalfWidths;
        // Widths that were typed into this form stay; where they don't go with the rows, that is said.
        if !self.own_sections || self.layout.sections == self.first.0.sections {
            self.divide(self.layout.sections.len());
        }
    }

    /// Sections so many, evenly wide.
    fn divide(&mut self, sections: usize) {
        self.layout.sections = self.layout.divided(sections.max(1));
        self.layout.hinges = hinges_for(&self.layout.hinges, sections / 2);
        self.own_sections = false;
        self.same_sides &= mirrored(&self.layout.sections);
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
                let mut cautions = frames_in_each_other(&bar, self.base.units);
                cautions.extend(outlets_above_the_frame(&self.layout, self.base.units));
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
                Built::Bar { project: Box::new(project), scene: Box::new(scene), losses, cautions }
            }
        };
        self.built = Some((self.layout.clone(), built));
    }

    fn refusals(&self) -> &[LayoutRefusal] {
        match &self.built {
            Some((_, Built::Refused(refusals))) => refusals,
            _ => &[],
        }
    }

    /// What is to be said at an entry that is taken all the same.
    fn cautions(&self, field: LayoutField) -> Vec<String> {
        match &self.built {
            Some((_, Built::Bar { cautions, .. })) => {
                cautions.iter().filter(|one| one.0 == field).map(|one| one.1.clone()).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Why an entry is refused, in one line.
    fn refused(&self, field: LayoutField) -> Option<String> {
        let found = self.refusals().iter().find(|one| one.field == field)?;
        Some(format!("{}; {}", found.what, found.advice))
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context) -> DialogAnswer<BarFormRequest> {
        self.build();
        let mut answer = DialogAnswer::Waiting;
        // What is said of Esc is read by then.
        let goes_on = |event: &Event| {
            matches!(event, Event::Text(_) | Event::Key { pressed: true, .. })
                || matches!(event, Event::PointerButton { pressed: true, .. })
        };
        if ctx.input(|input| input.events.iter().any(goes_on)) {
            self.kept_from_esc = false;
        }
        let room = ctx.content_rect().size();
        let size = vec2((room.x - 60.0).min(1240.0), (room.y - 70.0).min(820.0));
        let modal = Modal::new(Id::unique("bar form")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(size.x);
            let theme = Theme::of(ui.visuals());
            ui.heading(if self.changes { "Change the bar" } else { "Start a bar" });
            for note in &self.notes {
                ui.label(RichText::new(note).color(theme.warning));
            }
            ui.add_space(6.0);
            let body = size.y - 92.0 - 20.0 * self.notes.len() as f32;
            ui.horizontal_top(|ui| {
                let column = vec2(COLUMN, body);
                ui.allocate_ui_with_layout(column, UiLayout::top_down(egui::Align::Min), |ui| {
                    ui.set_min_size(column);
                    let mut area =
                        ScrollArea::vertical().id_salt("form").max_height(body).auto_shrink([false, false]);
                    // Not where the last one was left.
                    if !std::mem::replace(&mut self.opened, true) {
                        area = area.vertical_scroll_offset(0.0);
                    }
                    area.show(ui, |ui| {
                        ui.set_max_width(COLUMN - SCROLL_BAR);
                        if self.entries(ui) {
                            self.after.ask(FormButton::Table);
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
                let mut wrong = typing::wrong_fields(ctx);
                wrong.extend(self.refusals().iter().map(|one| place_of(one.field)));
                wrong.dedup();
                if ui.add_enabled(whole && wrong.is_empty(), egui::Button::new(action)).clicked() {
                    self.after.ask(FormButton::Bar);
                }
                if ui.button("Cancel").clicked() {
                    answer = DialogAnswer::Closed;
                }
                if self.kept_from_esc {
                    ui.label(
                        RichText::new("Esc keeps what was entered; Cancel drops it").color(theme.warning),
                    );
                }
                if !wrong.is_empty() {
                    // The reasons stand at the fields and beside the picture.
                    let words = format!("Can't be taken yet: {}", short_list(&wrong, 4));
                    ui.add(egui::Label::new(RichText::new(words).color(theme.warning)).truncate());
                }
            });
        });
        if given_up(&modal) && answer == DialogAnswer::Waiting {
            // Esc is pressed to leave a field too: what was entered goes by the button alone.
            if self.is_filled_in() || typing::is_held(ctx) {
                self.kept_from_esc = true;
            } else {
                answer = DialogAnswer::Closed;
            }
        }
        if answer == DialogAnswer::Closed {
            typing::forget(ctx);
            return answer;
        }
        match (self.after.step(ctx), &self.built) {
            (Some(FormButton::Table), _) => DialogAnswer::Is(BarFormRequest::Table),
            (Some(FormButton::Bar), Some((_, Built::Bar { project, .. }))) => {
                DialogAnswer::Is(if self.changes {
                    BarFormRequest::Reshape(Box::new(project.bar.clone()))
                } else {
                    BarFormRequest::Start(Box::new(self.new_project(project)))
                })
            }
            _ => answer,
        }
    }
}

/// Sections that fold into each other, each at the hinge that turns there.
fn frames_in_each_other(bar: &Bar, units: UnitSystem) -> Vec<(LayoutField, String)> {
    let met = FramesMet::of(bar, &frames_that_meet(bar));
    let told = met.iter().map(|one| (LayoutField::Hinge(one.pair(bar)), one.words(bar, units)));
    told.collect()
}

/// Outlets that stand above the frame that carries them: possible, and more often a slip.
fn outlets_above_the_frame(layout: &Layout, units: UnitSystem) -> Option<(LayoutField, String)> {
    let heights = if layout.rank_heights.is_empty() {
        std::slice::from_ref(&layout.outlet_height)
    } else {
        &layout.rank_heights[..]
    };
    let highest = heights.iter().copied().reduce(Length::max)?;
    let text = |height: Length| Measure::Distance.text(height.si(), units);
    (highest > layout.rail_height).then(|| {
        let words = format!(
            "Outlets {} high stand above the frame of {}: if that is a slip, lower them or raise the frame",
            text(highest),
            text(layout.rail_height)
        );
        (LayoutField::OutletHeight, words)
    })
}

fn place_of(field: LayoutField) -> String {
    match field {
        LayoutField::Rows => "Rows".to_owned(),
        LayoutField::Spacing => "Row spacing".to_owned(),
        LayoutField::Width => "Working width".to_owned(),
        LayoutField::Sections => "Sections".to_owned(),
        LayoutField::Section(index) => format!("Section {} from the left", index + 1),
        LayoutField::Ranks => "Ranks".to_owned(),
        LayoutField::Order => "Order of ranks".to_owned(),
        LayoutField::Hinge(index) => format!("Hinge {} from the centre", index + 1),
        LayoutField::RailHeight => "Frame height".to_owned(),
        LayoutField::RailWidth => "Frame profile".to_owned(),
        LayoutField::OutletHeight => "Outlet height".to_owned(),
        LayoutField::RankHeight(rank) => format!("Outlet height of rank {}", rank + 1),
        LayoutField::Bar => "Bar".to_owned(),
    }
}

fn mirrored(sections: &[Length]) -> bool {
    let pairs = sections.iter().zip(sections.iter().rev());
    pairs.into_iter().all(|(a, b)| (*a - *b).abs().si() < 1e-6)
}
