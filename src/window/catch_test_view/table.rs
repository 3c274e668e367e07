//! The table of a test by row: what was caught, how it was spoiled, and what it is beside target, expectation and mean.
//!
//! A row has a line for each of its catches, and one to type into. What is typed in a line stays there while it scrolls out of
//! sight; Enter goes on to the next row, Tab down the column and then to the top of the next one.

use eframe::egui::{self, Align, Context, Id, Label, Layout, RichText, ScrollArea, Ui};
use egui_extras::{Column, TableBuilder, TableRow};

use crate::drawing::deviation::signed_percent;
use crate::plan::{Catch, CatchSpan, CatchTest, CatchTestId, CatchUnit, CaughtAmount, Project, RowId};
use crate::quantities::{Measure, Ratio, UnitSystem};
use crate::session::catch_amounts::{cell, span_text};
use crate::session::catch_tests::CatchPlace;
use crate::studies::catch_test::judged::{Judged, JudgedRow};
use crate::studies::catch_test::verdict_words::{marks, row_may_give};
use crate::window::text_field::TextField;
use crate::window::theme::Theme;
use crate::window::typing::{self, TabWay, TypedText};

const LINE_HEIGHT: f32 = 23.0;

/// A line of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    place: CatchPlace,
    /// As painted on the bar.
    number: u32,
    /// It is the first of its row, and shows what the row comes to.
    first: bool,
    left_out: bool,
}

/// What the table is of.
pub(super) struct TableOf<'a> {
    pub(super) test: &'a CatchTest,
    pub(super) bar: &'a Project,
    /// What it says, if that is of the test as it is.
    pub(super) judged: Option<&'a Judged>,
    pub(super) unit: CatchUnit,
    pub(super) units: UnitSystem,
    /// The row that a paste begins at.
    pub(super) in_hand: Option<RowId>,
    /// Rows with a line for one more catch.
    pub(super) more: &'a [RowId],
    /// To be scrolled to.
    pub(super) scroll_to: Option<RowId>,
}

/// What was done in the table.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum TableRequest {
    /// An amount was entered, or taken out.
    Amount(CatchPlace, Option<CaughtAmount>),
    /// A catch takes another time or distance than the test; none: the test's.
    Span(CatchPlace, Option<CatchSpan>),
    /// A catch does not count, and why; none: it does.
    Spoiled(CatchPlace, Option<String>),
    /// A row was caught once more.
    OneMore(RowId),
    /// A row was pressed or typed in.
    InHand(RowId),
    /// The cell of a row that has the focus from now on: once all cells were shown, or the same Enter would leave it at once.
    GoOn(Id, RowId),
}

/// Widths of the columns that are typed in, and what of them their edges take, points.
const AMOUNT: f32 = 76.0;
const TIME: f32 = 50.0;
const SPOILED: f32 = 92.0;
const EDGES: f32 = 4.0;

/// Heads and widths of the columns: all of them fit into the smallest usual window.
const COLUMNS: [(&str, f32); 11] = [
    ("Row", 34.0),
    ("Amount", AMOUNT),
    ("Time", TIME),
    ("Spoiled because", SPOILED),
    ("", 22.0),
    ("Caught", 54.0),
    ("Asked", 50.0),
    ("Expected", 54.0),
    ("from asked", 54.0),
    ("expected", 54.0),
    ("mean", 52.0),
];

impl TableOf<'_> {
    fn lines(&self) -> Vec<Line> {
        let mut lines = Vec::new();
        for row in &self.bar.bar.rows {
            let caught = self.test.catches.iter().filter(|catch| catch.row == row.id).count();
            let wanted = (caught + usize::from(self.more.contains(&row.id))).max(1);
            for nth in 0..wanted {
                let place = CatchPlace { row: row.id, nth };
                lines.push(Line { place, number: row.number, first: nth == 0, left_out: row.left_out });
            }
        }
        lines
    }

    /// Shows it in the room there is; what was done in it.
    pub(super) fn show(&self, ui: &mut Ui) -> Vec<TableRequest> {
        let theme = Theme::of(ui.visuals());
        let area = ui.interact(
            ui.available_rect_before_wrap(),
            Id::unique("catches of the rows"),
            egui::Sense::hover(),
        );
        area.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Table, true, "Catches of the rows")
        });
        ScrollArea::horizontal().id_salt("catches across").show(ui, |ui| self.table(ui, &theme)).inner
    }

    /// The cell that amounts are typed into first.
    pub(super) fn first_cell(&self) -> Option<(Id, RowId)> {
        self.stops(&self.lines()).first().copied()
    }

    /// The cells in the order in which Tab goes through them: down a column, then down the next one.
    fn stops(&self, lines: &[Line]) -> Vec<(Id, RowId)> {
        let cell = |what| move |line: &Line| (id_of(self.test.id, line.place, what), line.place.row);
        let caught = || lines.iter().filter(|line| line.place.catch(self.test).is_some());
        let amounts = lines.iter().map(cell(Typed::Amount));
        amounts.chain(caught().map(cell(Typed::Time))).chain(caught().map(cell(Typed::Spoiled))).collect()
    }

    fn table(&self, ui: &mut Ui, theme: &Theme) -> Vec<TableRequest> {
        let lines = self.lines();
        let stops = self.stops(&lines);
        let mut requests = Vec::new();
        ui.spacing_mut().item_spacing = egui::vec2(6.0, 1.0);
        let mut builder = TableBuilder::new(ui)
            .id_salt(("catches", self.test.id))
            .striped(true)
            .sense(egui::Sense::click())
            .auto_shrink([false, false])
            .min_scrolled_height(0.0)
            .cell_layout(Layout::left_to_right(Align::Center));
        for (_, width) in COLUMNS {
            builder = builder.column(Column::exact(width).clip(true));
        }
        builder = builder.column(Column::remainder().at_least(96.0));
        let to = self.scroll_to.and_then(|row| lines.iter().position(|line| line.place.row == row));
        if let Some(to) = to {
            builder = builder.scroll_to_row(to, None);
        }
        let flow = Measure::RowFlow.unit(self.units).symbol;
        builder
            .header(30.0, |mut header| {
                for (at, (name, _)) in COLUMNS.into_iter().enumerate() {
                    let words = match at {
                        1 => format!("{name}\n{}", self.unit.symbol()),
                        2 => format!("{name}\nif another"),
                        5..=7 => format!("{name}\n{flow}"),
                        8 => "from\nasked, %".to_owned(),
                        9 => "from ex-\npected, %".to_owned(),
                        10 => "from\nmean, %".to_owned(),
                        _ => name.to_owned(),
                    };
                    header.col(|ui| {
                        let words = RichText::new(words).small().color(theme.soft);
                        ui.add(Label::new(words).extend().selectable(false));
                    });
                }
                header.col(|ui| {
                    let words = RichText::new("Stands out").small().color(theme.soft);
                    ui.add(Label::new(words).extend().selectable(false));
                });
            })
            .body(|mut body| {
                // Each line is asked for, so that one that is typed in can be kept out of sight: only those in sight are
                // laid out.
                for (at, line) in lines.iter().enumerate() {
                    let next = lines[at + 1..].iter().find(|next| next.place.row != line.place.row);
                    body.row(LINE_HEIGHT, |mut row| {
                        row.set_selected(self.in_hand == Some(line.place.row));
                        let next = next.map(|next| next.place);
                        self.line(&mut row, *line, (next, &stops), theme, &mut requests);
                        let response = row.response();
                        response.widget_info(|| {
                            egui::WidgetInfo::labeled(
                                egui::accesskit::Role::Row,
                                true,
                                format!("Catch {} of row {}", line.place.nth + 1, line.number),
                            )
                        });
                        if response.clicked() {
                            requests.push(TableRequest::InHand(line.place.row));
                        }
                    });
                }
            });
        // What takes a catch out comes last: places count the catches of a row.
        requests.sort_by_key(|one| matches!(one, TableRequest::Amount(_, None)));
        requests
    }

    fn line(
        &self,
        row: &mut TableRow<'_, '_>,
        line: Line,
        (next, stops): (Option<CatchPlace>, &[(Id, RowId)]),
        theme: &Theme,
        requests: &mut Vec<TableRequest>,
    ) {
        let of_cell = |what, name| Cell { test: self.test.id, place: line.place, what, name, next, stops };
        let catch = line.place.catch(self.test);
        let suffix =
            if line.place.nth > 0 { format!(", catch {}", line.place.nth + 1) } else { String::new() };
        let of = format!("row {}{suffix}", line.number);
        row.col(|ui| {
            let words = if line.first { line.number.to_string() } else { format!("{}.", line.place.nth + 1) };
            let ink = if line.first { theme.ink } else { theme.soft };
            ui.add(Label::new(RichText::new(words).color(ink)).selectable(false));
        });
        row.col(|ui| {
            let shown = catch.map(|catch| cell(catch.amount, self.unit, self.units)).unwrap_or_default();
            let field = of_cell(Typed::Amount, format!("Amount of {of}"));
            let read = |typed: &str| CaughtAmount::parse(typed, self.unit);
            let done = field.show(ui, &shown, AMOUNT - 2.0 * EDGES, read);
            requests.extend(done.asked);
            requests.extend(done.entered.map(|amount| TableRequest::Amount(line.place, amount.value())));
        });
        row.col(|ui| {
            let Some(Catch { span, .. }) = catch else { return };
            let shown = span.map(|span| span_text(span, self.units)).unwrap_or_default();
            let field = of_cell(Typed::Time, format!("Time of {of}"));
            let read = |typed: &str| CatchSpan::parse(typed, self.test.span, self.units);
            let done = field.show(ui, &shown, TIME - EDGES, read);
            requests.extend(done.asked);
            requests.extend(done.entered.map(|span| TableRequest::Span(line.place, span.value())));
        });
        row.col(|ui| {
            let Some(Catch { spoiled, .. }) = catch else { return };
            let field = of_cell(Typed::Spoiled, format!("Why the catch of {of} is spoiled"));
            let shown = spoiled.as_deref().unwrap_or_default();
            let done = field.show(ui, shown, SPOILED - EDGES, |typed| Ok(typed.to_owned()));
            requests.extend(done.asked);
            requests.extend(done.entered.map(|why| TableRequest::Spoiled(line.place, why.value())));
        });
        row.col(|ui| {
            if !line.first || catch.is_none() || !is_in_sight(ui) {
                return;
            }
            let button = ui.small_button("+").on_hover_text("This row was caught once more");
            let name = format!("One more catch of row {}", line.number);
            button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &name));
            if button.clicked() {
                requests.push(TableRequest::OneMore(line.place.row));
            }
        });
        let judged = self.judged.filter(|_| line.first).and_then(|judged| judged.row(line.place.row));
        self.judged(row, line, judged, theme);
    }

    /// What the row comes to: flows, deviations, and its mark in words.
    fn judged(&self, row: &mut TableRow<'_, '_>, line: Line, judged: Option<&JudgedRow>, theme: &Theme) {
        let flow = |flow| Measure::RowFlow.number(flow, self.units);
        let flows = judged.map_or_else(Default::default, |one| {
            [Some(one.caught.si()), one.asked.map(|asked| asked.si()), Some(one.expected.si())]
        });
        for value in flows {
            row.col(|ui| number(ui, value.map(flow), theme.ink));
        }
        let limit = self.judged.map_or(Ratio::ZERO, |judged| judged.limit);
        let is_far = |value: Option<Ratio>| value.is_some_and(|value| value.abs() > limit);
        let from: [(Option<Ratio>, bool); 3] = judged.map_or_else(Default::default, |one| {
            [
                (one.from_asked, !one.within_limit),
                (one.from_expected, !one.as_drawn),
                (one.from_mean, is_far(one.from_mean)),
            ]
        });
        for (place, (value, far)) in from.into_iter().enumerate() {
            row.col(|ui| {
                // What stands out has a mark too.
                let words = value.map(|value| {
                    let mark = if far { "! " } else { "" };
                    format!("{mark}{}", signed_percent(value))
                });
                number(ui, words, if far { theme.warning } else { theme.ink });
                if let Some(range) =
                    judged.filter(|_| place == 1).and_then(|one| row_may_give(one, self.units))
                {
                    let area = ui.interact(
                        ui.max_rect(),
                        ui.scope_id().with(("may give", line.place.row)),
                        egui::Sense::hover(),
                    );
                    area.on_hover_text(range);
                }
            });
        }
        row.col(|ui| {
            if !is_in_sight(ui) || !line.first {
                return;
            }
            let mut says: Vec<&str> = Vec::new();
            if line.left_out {
                says.push("left out");
            }
            let of_judged = judged.map(marks).filter(|marks| !marks.is_empty());
            let in_short = judged.map(marks_in_short);
            says.extend(of_judged.as_deref());
            if judged.is_none() && self.judged.is_some() && !line.left_out {
                let mut of_row = self.test.catches.iter().filter(|catch| catch.row == line.place.row);
                says.push(match of_row.next() {
                    None => "not caught",
                    Some(first) if first.spoiled.is_some() && of_row.all(|one| one.spoiled.is_some()) => {
                        "spoiled"
                    }
                    Some(_) => "not counted",
                });
            }
            let ink = if judged.is_some() { theme.warning } else { theme.soft };
            let words = says.join(", ");
            let font = egui::TextStyle::Small.resolve(ui.style());
            let width = ui.painter().layout_no_wrap(words.clone(), font, ink).size().x;
            let shown = match in_short {
                Some(short) if width > ui.available_width() => short,
                _ => &words,
            };
            ui.add(Label::new(RichText::new(shown).small().color(ink)).truncate().selectable(false))
                .on_hover_text(&words);
        });
    }
}

/// All that stands out of a row, where there is no room for the sentence of it.
const fn marks_in_short(row: &JudgedRow) -> &'static str {
    match (row.is_outlier, row.within_limit, row.as_drawn) {
        (false, true, true) if row.apart.is_some() => "catches apart",
        (false, true, true) => "",
        (true, true, true) => "outlier",
        (false, false, true) => "not as asked",
        (true, false, true) => "outlier, not as asked",
        (false, true, false) => "not as drawn",
        (true, true, false) => "outlier, not as drawn",
        (false, false, false) => "not as asked/drawn",
        (true, false, false) => "outlier, not as asked/drawn",
    }
}

fn is_in_sight(ui: &Ui) -> bool {
    ui.is_rect_visible(ui.max_rect())
}

fn number(ui: &mut Ui, words: Option<String>, ink: egui::Color32) {
    let Some(words) = words.filter(|_| is_in_sight(ui)) else { return };
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        ui.add_space(4.0);
        ui.add(Label::new(RichText::new(words).color(ink)).selectable(false));
    });
}

/// What is typed in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Typed {
    Amount,
    Time,
    Spoiled,
}

fn id_of(test: CatchTestId, place: CatchPlace, what: Typed) -> Id {
    Id::unique(("catch", test, place, what))
}

/// A cell that is typed in.
struct Cell<'a> {
    test: CatchTestId,
    place: CatchPlace,
    what: Typed,
    name: String,
    /// Where Enter goes on.
    next: Option<CatchPlace>,
    /// All cells, in the order of Tab.
    stops: &'a [(Id, RowId)],
}

/// What was entered in a cell.
enum Entered<T> {
    /// It was emptied.
    Nothing,
    /// What was typed, read.
    Value(T),
}

impl<T> Entered<T> {
    fn value(self) -> Option<T> {
        match self {
            Self::Nothing => None,
            Self::Value(value) => Some(value),
        }
    }
}

/// What was done in a cell.
struct Done<T> {
    entered: Option<Entered<T>>,
    asked: Vec<TableRequest>,
}

impl Cell<'_> {
    /// Shows it; what can't be read stays in it with the reason, and has Enter stay too. A cell out of sight is left away
    /// unless something is typed in it.
    fn show<T>(
        &self,
        ui: &mut Ui,
        shown: &str,
        width: f32,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Done<T> {
        let id = id_of(self.test, self.place, self.what);
        let mut done = Done { entered: None, asked: Vec::new() };
        if !is_in_sight(ui) && !is_wanted(ui.ctx(), id) {
            return done;
        }
        let by_tab = self.by_tab(ui.ctx(), id);
        let field = TextField { width, in_cell: true, ..TextField::new(&self.name, shown) };
        let (mut goes_on, mut took_focus) = (false, false);
        let typed = field.show_with(ui, id, None, |response| {
            took_focus = response.gained_focus();
            goes_on =
                response.lost_focus() && response.ctx.input(|input| input.key_pressed(egui::Key::Enter));
            if took_focus {
                response.scroll_to_me(None);
            }
        });
        if took_focus {
            done.asked.push(TableRequest::InHand(self.place.row));
        }
        match typed {
            None => {}
            Some(typed) if typed.is_empty() => done.entered = Some(Entered::Nothing),
            Some(typed) => match read(&typed) {
                Ok(value) => done.entered = Some(Entered::Value(value)),
                Err(why) => {
                    typing::refuse(ui.ctx(), why);
                    goes_on = false;
                }
            },
        }
        let next = self.next.filter(|_| goes_on).map(|next| (id_of(self.test, next, self.what), next.row));
        done.asked.extend(by_tab.or(next).map(|(cell, row)| TableRequest::GoOn(cell, row)));
        done
    }

    /// The cell that Tab goes on to, or back to with Shift, if it was pressed in this one; at the ends it leaves the table
    /// as usual.
    fn by_tab(&self, ctx: &Context, id: Id) -> Option<(Id, RowId)> {
        let way = typing::tab_pressed(ctx, id)?;
        let at = self.stops.iter().position(|(cell, _)| *cell == id)?;
        let to = match way {
            TabWay::On => at.checked_add(1),
            TabWay::Back => at.checked_sub(1),
        };
        let to = self.stops.get(to?)?;
        typing::take_tab(ctx);
        Some(*to)
    }
}

/// Something is typed in a cell, or it is to have the focus.
fn is_wanted(ctx: &Context, id: Id) -> bool {
    TypedText::of(ctx, id).text.is_some() || ctx.memory(|memory| memory.has_focus(id))
}
