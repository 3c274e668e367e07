//! The lines added to the parts list as a table. Every change is one step that undo takes back.

use eframe::egui::{self, Button, Context, Id, RichText, ScrollArea, Ui, vec2};

use super::front::OverDrawing;
use super::number_field::NumberField;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing::{self, AfterTyping};
use crate::plan::added_line::MOST_OF_A_LINE;
use crate::plan::{AddedLine, Edit};
use crate::quantities::{Measure, UnitSystem};
use crate::session::Session;

/// The window of the added lines.
#[derive(Debug, Default)]
pub(super) struct AddedLinesTable {
    /// It is shown.
    pub(super) is_open: bool,
    /// The lines as they were shown last, each with a number of its own: a line keeps it while it is edited, so that nothing
    /// typed moves to another line, and the focus stays.
    shown: Vec<(u64, AddedLine)>,
    next: u64,
    /// The line that was added last, whose next cell takes the focus.
    new: Option<u64>,
    after: AfterTyping<AddedLinesRequest>,
}

/// What is asked for, once what is typed is taken.
#[derive(Debug)]
enum AddedLinesRequest {
    Close,
    Remove(usize),
}

const DESCRIPTION: f32 = 250.0;
const PART_NUMBER: f32 = 110.0;
const QUANTITY: f32 = 74.0;
const UNIT: f32 = 58.0;
const NOTE: f32 = 230.0;
const WETTED: f32 = 44.0;

impl AddedLinesTable {
    /// Shows it, if it is open.
    pub(super) fn show(&mut self, ctx: &Context, session: &mut Session) {
        let mut is_open = self.is_open;
        let room = ctx.content_rect().size() - vec2(30.0, 70.0);
        egui::Window::new("Lines added to the parts list")
            .id(OverDrawing::AddedLines.id())
            .constrain_to(OverDrawing::room(ctx))
            .open(&mut is_open)
            .collapsible(false)
            .default_size(vec2(900.0, 360.0).min(room))
            .max_size(room)
            .show(ctx, |ui| self.table(ui, session));
        if self.is_open && !is_open {
            self.after.ask(AddedLinesRequest::Close);
        }
        match self.after.step(ctx) {
            Some(AddedLinesRequest::Close) => self.is_open = false,
            Some(AddedLinesRequest::Remove(at)) => {
                let mut lines = session.project().added_lines.clone();
                if at < lines.len() {
                    lines.remove(at);
                    set(ctx, session, "Remove an added line", lines);
                }
            }
            None => {}
        }
    }

    /// Takes over what the project holds now: of two lists of the same length the lines are the same, changed; otherwise those
    /// before and behind what came or went.
    fn follow(&mut self, lines: &[AddedLine]) {
        let old = std::mem::take(&mut self.shown);
        let same = |(a, b): &(&(u64, AddedLine), &AddedLine)| a.1 == **b;
        let (front, back) = if old.len() == lines.len() {
            (old.len(), 0)
        } else {
            let front = old.iter().zip(lines).take_while(same).count();
            let most = old.len().min(lines.len()) - front;
            (front, old.iter().rev().zip(lines.iter().rev()).take(most).take_while(same).count())
        };
        let kept = |at: usize| match (at < front, lines.len() - at <= back) {
            (true, _) => old.get(at),
            (_, true) => old.get(old.len() - (lines.len() - at)),
            _ => None,
        };
        for (at, line) in lines.iter().enumerate() {
            let number = kept(at).map_or_else(
                || {
                    self.next += 1;
                    self.next
                },
                |(number, _)| *number,
            );
            self.shown.push((number, line.clone()));
        }
    }

    fn table(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        let hint = "What no part of the plan stands for: brackets, a tank valve, ties. Parts lists show it after all else";
        ui.add(egui::Label::new(RichText::new(hint).color(theme.soft)).wrap());
        let before = session.project().added_lines.clone();
        let mut lines = before.clone();
        self.follow(&before);
        let height = (ui.available_height() - 8.0).max(120.0);
        ScrollArea::both().max_height(height).auto_shrink([false, false]).show(ui, |ui| {
            ui.horizontal(|ui| {
                for (text, width) in [
                    ("Description", DESCRIPTION),
                    ("Part number", PART_NUMBER),
                    ("Quantity", QUANTITY),
                    ("Unit", UNIT),
                    ("Note", NOTE),
                    ("Wetted", WETTED),
                ] {
                    let heading = RichText::new(text).strong().color(theme.soft);
                    ui.add_sized(vec2(width, 18.0), egui::Label::new(heading).truncate());
                }
            });
            for (at, line) in lines.iter_mut().enumerate() {
                let number = self.shown.get(at).map_or(0, |(number, _)| *number);
                ui.push_id(("added line", number), |ui| {
                    ui.horizontal(|ui| {
                        let is_new = self.new == Some(number);
                        if is_new {
                            self.new = None;
                        }
                        if entries(ui, at + 1, line, is_new) {
                            self.after.ask(AddedLinesRequest::Remove(at));
                        }
                    });
                });
            }
            ui.horizontal(|ui| {
                let field = TextField {
                    hint: "Type here to add a line",
                    ..TextField::new("Description of a new line", "")
                };
                let id = Id::unique(("new added line", lines.len()));
                if let Some(typed) = field.show_in_cell(ui, id, DESCRIPTION)
                    && !typed.is_empty()
                {
                    lines.push(AddedLine::new(typed));
                    // Whoever goes on by Tab goes on in the line that was just made.
                    self.new = Some(self.next + 1);
                }
            });
        });
        if lines != before {
            set(ui.ctx(), session, "Change the added lines", lines);
        }
    }
}

fn set(ctx: &Context, session: &mut Session, step: &str, lines: Vec<AddedLine>) {
    if let Err(refusal) = session.edit(step, [Edit::SetAddedLines(lines)]) {
        typing::refuse_or_say(ctx, refusal);
    }
}

/// The cells of a line, changed in place, the second one with the focus where the line is new; whether it is to be removed.
fn entries(ui: &mut Ui, number: usize, line: &mut AddedLine, is_new: bool) -> bool {
    let text = |ui: &mut Ui, heading: &str, value: &mut String, width: f32| {
        let name = format!("{heading} of added line {number}");
        let id = ui.make_persistent_id(("cell", heading));
        if is_new && heading == "Part number" {
            ui.memory_mut(|memory| memory.request_focus(id));
        }
        if let Some(typed) = TextField::new(&name, value).show_in_cell(ui, id, width) {
            *value = typed;
        }
    };
    text(ui, "Description", &mut line.description, DESCRIPTION);
    text(ui, "Part number", &mut line.part_number, PART_NUMBER);
    let name = format!("Quantity of added line {number}");
    let (value, range) = (Some(f64::from(line.quantity)), 1.0..=f64::from(MOST_OF_A_LINE));
    let field = NumberField {
        width: QUANTITY - 8.0,
        whole: Some(1.0),
        unit: false,
        ..NumberField::new(&name, Measure::Plain, UnitSystem::Metric, value, range)
    };
    if let Some(new) = field.show(ui, None) {
        line.quantity = new.round() as u32;
    }
    text(ui, "Unit", &mut line.unit, UNIT);
    text(ui, "Note", &mut line.note, NOTE);
    let tick =
        ui.add_sized(vec2(WETTED, 20.0), egui::Checkbox::without_text(&mut line.is_wetted)).on_hover_text(
            "The liquid stands in it: the parts list asks for its material and its highest pressure",
        );
    let name = format!("Added line {number} is wetted");
    ui.ctx().accesskit_node_builder(tick.id, |node| node.set_label(name));
    let remove = ui.add(Button::new("Remove")).on_hover_text("Takes the line off the parts list");
    let name = format!("Remove added line {number}");
    ui.ctx().accesskit_node_builder(remove.id, |node| node.set_label(name));
    remove.clicked()
}
