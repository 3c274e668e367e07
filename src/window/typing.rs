//! What is typed in fields and not taken yet.
//!
//! A field keeps its text until Enter, or until it is left; what can't be read or is refused stays in it, marked, with
//! the reason. Whatever reads the project, or shows another part of it, goes through [`AfterTyping`]: every field hands
//! over what is typed in it first, and where one can't, nothing is done, the reason is said and the field has the
//! focus. A text whose field is gone before it was taken is said too: nothing that was typed goes in silence.

use std::collections::VecDeque;
use std::fmt::Display;

use eframe::egui::text::{CCursor, CCursorRange};
use eframe::egui::text_edit::TextEditState;
use eframe::egui::{Context, Event, FocusDirection, Id, Key, LayerId, Response};

use super::status_line;
use crate::files::recovery::UnenteredText;
use crate::plan::words::short;
use crate::session::Refusal;

/// The text of one field, as long as it differs from what the project says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TypedText {
    /// What was typed; none if nothing was, or it was taken.
    pub text: Option<String>,
    /// Why it was not taken.
    pub why_not: Option<String>,
}

/// A text that waits in a field.
#[derive(Debug, Clone, PartialEq, Eq)]
struct UntakenText {
    field: Id,
    name: String,
    typed: TypedText,
}

impl UntakenText {
    fn sentence(&self) -> String {
        let text = self.typed.text.as_deref().unwrap_or_default();
        let why = self.typed.why_not.as_deref().unwrap_or("its field was closed before Enter; type it again");
        format!("{}, \"{}\": {why}", self.name, short(text))
    }
}

/// All fields of the window, by what they hold in this pass and held in the last.
#[derive(Debug, Clone, Default)]
struct Register {
    pass: u64,
    shown: Vec<Id>,
    held: Vec<UntakenText>,
    held_before: Vec<UntakenText>,
    /// The pass in which the fields were last asked to hand over.
    asked: Option<u64>,
    /// Handed over last in this pass; whoever takes it may refuse it.
    handed: Option<UntakenText>,
    /// The field that was left by Enter in this pass.
    entered: Option<Id>,
    gone: Vec<UntakenText>,
    message: Option<String>,
    /// Typed behind the key that leaves a field, in one pass with it.
    behind: Vec<Event>,
    /// The field that is typed in, as the last pass left it.
    in_hand: Option<FieldInHand>,
    /// The field that the last message was about, as long as it holds what could not be taken.
    told_of: Option<Id>,
}

/// The field that has the focus.
#[derive(Debug, Clone, PartialEq, Eq)]
struct FieldInHand {
    field: Id,
    /// What is typed in it is an entry of the project; else it is a search, or the name of a file.
    is_entry: bool,
    /// Something was typed that was not entered, even if it was undone since.
    is_typed: bool,
}

impl Register {
    fn turn_to(&mut self, pass: u64) {
        if pass == self.pass {
            return;
        }
        let shown = std::mem::take(&mut self.shown);
        let gone = self.held_before.drain(..).filter(|one| !shown.contains(&one.field));
        self.gone.extend(gone);
        self.held_before = std::mem::take(&mut self.held);
        self.handed = None;
        self.entered = None;
        self.pass = pass;
    }
}

fn with<R>(ctx: &Context, work: impl FnOnce(&mut Register) -> R) -> R {
    let pass = ctx.cumulative_pass_nr();
    ctx.data_mut(|data| {
        let register: &mut Register = data.get_temp_mut_or_default(Id::NULL);
        register.turn_to(pass);
        work(register)
    })
}

impl TypedText {
    /// What stands in a field.
    pub fn of(ctx: &Context, field: Id) -> Self {
        ctx.data(|data| data.get_temp(field)).unwrap_or_default()
    }

    /// What stands in a field that is about to be shown. A field in which nothing is typed has nothing to undo: the texts of
    /// earlier entries are the project's steps, and the edit's own undo must not bring them back.
    pub fn begin(ctx: &Context, field: Id) -> Self {
        let typed = Self::of(ctx, field);
        if typed.text.is_none()
            && let Some(mut state) = TextEditState::load(ctx, field)
        {
            state.clear_undoer();
            state.store(ctx, field);
        }
        typed
    }

    /// Takes in what the field's edit did in this pass; the text, when it is to be handed over: on
    /// Enter, when the field was left, or when something waits for it. Esc goes back to what the project says.
    pub fn follow(&mut self, response: &Response, text: &str) -> Option<String> {
        if response.changed() {
            *self = Self { text: Some(text.to_owned()), why_not: None };
        }
        let left = response.lost_focus();
        if left && response.ctx.input(|input| input.key_pressed(Key::Escape)) {
            *self = Self::default();
        }
        let by_enter = left && response.ctx.input(|input| input.key_pressed(Key::Enter));
        let has_focus = response.has_focus();
        let asked = with(&response.ctx, |register| {
            if by_enter {
                register.entered = Some(response.id);
            }
            if has_focus {
                let is_typed = self.text.is_some();
                register.in_hand = Some(FieldInHand { field: response.id, is_entry: true, is_typed });
            }
            register.asked.is_some_and(|asked| register.pass <= asked + 1)
        });
        self.text.clone().filter(|_| left || asked)
    }

    /// Keeps it until the next pass. A text that was handed over in this one is named, in case it is refused.
    pub fn keep(self, ctx: &Context, field: Id, name: &str, handed: Option<String>) {
        with(ctx, |register| {
            register.shown.push(field);
            let held = |typed| UntakenText { field, name: name.to_owned(), typed };
            if self.text.is_some() {
                register.held.push(held(self.clone()));
            } else if let Some(text) = handed {
                register.handed = Some(held(Self { text: Some(text), why_not: None }));
            }
        });
        if self.why_not.is_some() {
            stay_in(ctx, field);
        }
        ctx.data_mut(|data| {
            if self.text.is_some() {
                data.insert_temp(field, self);
            } else {
                data.remove::<Self>(field);
            }
        });
    }
}

/// What was handed over last in this pass is refused: it stays in its field, with the reason. Where no field had handed
/// over anything, the line at the bottom says it.
pub fn refuse_or_say(ctx: &Context, why: Refusal) {
    if !refuse(ctx, &why) {
        status_line::say(ctx, Err(why));
    }
}

/// The same for whoever has a place of its own to say it; false where no field had handed over anything.
pub fn refuse(ctx: &Context, why: impl Display) -> bool {
    let Some(mut held) = with(ctx, |register| register.handed.take()) else { return false };
    held.typed.why_not = Some(why.to_string());
    ctx.data_mut(|data| data.insert_temp(held.field, held.typed.clone()));
    stay_in(ctx, held.field);
    with(ctx, |register| register.held.push(held));
    ctx.request_repaint();
    true
}

/// Something is typed in a field and not taken yet.
pub fn is_held(ctx: &Context) -> bool {
    with(ctx, |register| !register.held.is_empty() || !register.held_before.is_empty())
}

/// What stands in the fields of this pass and is no part of the project yet.
pub fn unentered(ctx: &Context) -> Vec<UnenteredText> {
    with(ctx, |register| {
        let held = register.held.iter();
        let text = |one: &UntakenText| Some((one.name.clone(), one.typed.text.clone()?));
        held.filter_map(text).map(|(field, text)| UnenteredText { field, text }).collect()
    })
}

/// The names of the fields whose text can't be taken as it stands, in the order in which they are shown.
pub fn wrong_fields(ctx: &Context) -> Vec<String> {
    wrong_entries(ctx).into_iter().map(|(name, _)| name).collect()
}

/// The same, each with why.
pub fn wrong_entries(ctx: &Context) -> Vec<(String, String)> {
    with(ctx, |register| {
        let wrong = |one: &UntakenText| Some((one.name.clone(), one.typed.why_not.clone()?));
        register.held_before.iter().filter_map(wrong).collect()
    })
}

/// Whether a field is the first of those whose text can't be taken as it stands.
pub(super) fn is_first_wrong(ctx: &Context, field: Id) -> bool {
    with(ctx, |register| {
        let first = register.held_before.iter().find(|one| one.typed.why_not.is_some());
        first.is_some_and(|one| one.field == field)
    })
}

/// True once when what the last message was about is corrected or given up: it no longer holds.
pub fn is_settled(ctx: &Context) -> bool {
    with(ctx, |register| {
        let Some(field) = register.told_of else { return false };
        let is_held = register.held.iter().chain(&register.held_before);
        let settled = !is_held.filter(|one| one.typed.why_not.is_some()).any(|one| one.field == field);
        if settled {
            register.told_of = None;
        }
        settled
    })
}

/// Drops whatever stands in fields and was not taken: another project is in hand, or a form was given up.
pub fn forget(ctx: &Context) {
    let all: Vec<UntakenText> =
        with(ctx, |register| register.held.drain(..).chain(register.held_before.drain(..)).collect());
    ctx.data_mut(|data| {
        for one in all {
            data.remove::<TypedText>(one.field);
        }
    });
}

/// What is to be said: why something was not done, or that a text is gone with its field. Once in each pass.
pub fn message(ctx: &Context) -> Option<String> {
    let (gone, message) = with(ctx, |register| (std::mem::take(&mut register.gone), register.message.take()));
    ctx.data_mut(|data| {
        for one in &gone {
            data.remove::<TypedText>(one.field);
        }
    });
    message.or_else(|| gone.first().map(|one| format!("Not taken: {}", one.sentence())))
}

/// The field that is typed in, and where it lies.
#[derive(Debug, Clone, Copy)]
pub struct FocusedField {
    id: Id,
    /// Its layer.
    pub layer: LayerId,
}

impl FocusedField {
    /// The one that has the focus, if any.
    pub fn of(ctx: &Context) -> Option<Self> {
        let id = ctx.memory(|memory| memory.focused()).filter(|_| ctx.text_edit_focused())?;
        Some(Self { id, layer: ctx.read_response(id)?.layer_id })
    }

    /// A key that would have taken the focus from it was meant for something else: it goes on as if that had not been pressed.
    pub fn keeps_focus(self, ctx: &Context, key: &Event) {
        ctx.input_mut(|input| input.events.retain(|one| one != key));
        ctx.memory_mut(|memory| memory.request_focus(self.id));
    }
}

/// Where the Enter that leaves a field is refused, the field is not left: what is typed next goes there, in place of what was
/// refused, and is no key of a command.
fn stay_in(ctx: &Context, field: Id) {
    if with(ctx, |register| register.entered.take_if(|entered| *entered == field)).is_some() {
        go_on_to(ctx, field);
    }
}

/// More letters than any field holds.
const MOST_LETTERS: usize = 1 << 20;

/// Another field is typed in from now on.
pub fn go_on_to(ctx: &Context, field: Id) {
    // All of it is selected before anything is typed there, which may be in the pass that gives it the focus.
    let mut state = TextEditState::load(ctx, field).unwrap_or_default();
    let end = CCursor::new(MOST_LETTERS);
    state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(0), end)));
    state.store(ctx, field);
    ctx.memory_mut(|memory| memory.request_focus(field));
    let is_typed = TypedText::of(ctx, field).text.is_some();
    with(ctx, |register| {
        register.in_hand = Some(FieldInHand { field, is_entry: true, is_typed });
    });
    ctx.request_repaint();
}

/// Undo and redo are no business of the field that has the focus: nothing was typed in it since it was entered, or since what
/// was typed was taken.
pub fn leaves_to_project(ctx: &Context) -> bool {
    let focused = ctx.memory(|memory| memory.focused());
    with(ctx, |register| {
        let in_hand = register.in_hand.as_ref().filter(|one| Some(one.field) == focused);
        in_hand.is_some_and(|one| !one.is_typed)
    })
}

/// Follows the focus into fields that are no entries of the project, at the end of each pass: what was once typed in one is no
/// more to be brought back there than in others.
pub fn follow_focus(ctx: &Context) {
    let focused = ctx.memory(|memory| memory.focused());
    let is_text = ctx.text_edit_focused();
    let typed_now = ctx.input(|input| input.events.iter().any(changes_text));
    let begins = with(ctx, |register| match (focused, &mut register.in_hand) {
        (None, in_hand) => {
            *in_hand = None;
            None
        }
        (Some(field), Some(one)) if one.field == field => {
            one.is_typed |= typed_now && !one.is_entry;
            None
        }
        (Some(field), in_hand) if is_text => {
            *in_hand = Some(FieldInHand { field, is_entry: false, is_typed: typed_now });
            (!typed_now).then_some(field)
        }
        _ => None,
    });
    if let Some(field) = begins
        && let Some(mut state) = TextEditState::load(ctx, field)
    {
        state.clear_undoer();
        state.store(ctx, field);
    }
}

/// Which way Tab goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TabWay {
    /// To what comes next.
    On,
    /// With Shift: to what came before.
    Back,
}

/// Tab was pressed in a field that has the focus.
pub fn tab_pressed(ctx: &Context, field: Id) -> Option<TabWay> {
    if !ctx.memory(|memory| memory.has_focus(field)) {
        return None;
    }
    ctx.input(|input| input.events.iter().find_map(tab))
}

fn tab(event: &Event) -> Option<TabWay> {
    match event {
        Event::Key { key: Key::Tab, pressed: true, modifiers, .. } => {
            Some(if modifiers.shift { TabWay::Back } else { TabWay::On })
        }
        _ => None,
    }
}

/// Takes a Tab that was pressed away from egui, before the field is shown that it leaves; whoever takes it goes on to another
/// one by [`go_on_to`].
pub fn take_tab(ctx: &Context) {
    ctx.memory_mut(|memory| memory.move_focus(FocusDirection::None));
    ctx.input_mut(|input| input.events.retain(|event| tab(event).is_none()));
}

/// Something that a field would take in, or a command be asked for with.
pub const fn is_by_hand(event: &Event) -> bool {
    matches!(
        event,
        Event::Text(_)
            | Event::Ime(_)
            | Event::Paste(_)
            | Event::Copy
            | Event::Cut
            | Event::Key { pressed: true, .. }
    )
}

/// A field's text is another after it.
pub const fn changes_text(event: &Event) -> bool {
    match event {
        Event::Text(_) | Event::Ime(_) | Event::Paste(_) | Event::Cut => true,
        Event::Key { key, pressed, .. } => *pressed && matches!(key, Key::Backspace | Key::Delete),
        _ => false,
    }
}

/// How many of the events of a pass come before a field is left, or with the key that leaves it.
fn before_leaving(events: &[Event]) -> usize {
    let is_enter = |event: &Event| matches!(event, Event::Key { key: Key::Enter, pressed: true, .. });
    let leaves = |event: &Event| tab(event).is_some() || is_enter(event);
    match events.iter().position(leaves) {
        None => events.len(),
        // Tab takes the focus before anything else of its pass is read: it has one of its own.
        Some(at) if tab(&events[at]).is_some() && events[..at].iter().any(is_by_hand) => at,
        Some(at) => at + 1,
    }
}

/// Has whoever is faster than the window typed as slowly as it is: what stands behind an Enter or a Tab in one pass with it
/// waits for the next pass, when the field that the key leads to has the focus. Before anything of the pass reads its input.
pub fn one_field_at_a_time(ctx: &Context) {
    let behind = with(ctx, |register| std::mem::take(&mut register.behind));
    if behind.is_empty() && !ctx.text_edit_focused() {
        return;
    }
    let (tab_now, tab_later, behind) = ctx.input_mut(|input| {
        input.events.splice(0..0, behind);
        let later = input.events.split_off(before_leaving(&input.events));
        let (behind, others) = if later.iter().any(is_by_hand) {
            later.into_iter().partition(|event| is_by_hand(event) || matches!(event, Event::Key { .. }))
        } else {
            (Vec::new(), later)
        };
        input.events.extend(others);
        (input.events.iter().find_map(tab), behind.iter().any(|event| tab(event).is_some()), behind)
    });
    // egui looks for Tab when a pass begins, and in the new events only.
    match tab_now {
        Some(TabWay::On) => ctx.memory_mut(|memory| memory.move_focus(FocusDirection::Next)),
        Some(TabWay::Back) => ctx.memory_mut(|memory| memory.move_focus(FocusDirection::Previous)),
        None if tab_later => ctx.memory_mut(|memory| memory.move_focus(FocusDirection::None)),
        None => {}
    }
    if !behind.is_empty() {
        with(ctx, |register| register.behind = behind);
        ctx.request_repaint();
    }
}

/// Things asked for that wait until what is typed is taken.
#[derive(Debug)]
pub struct AfterTyping<T> {
    waiting: VecDeque<T>,
    asked: Option<u64>,
}

impl<T> Default for AfterTyping<T> {
    fn default() -> Self {
        Self { waiting: VecDeque::new(), asked: None }
    }
}

impl<T> AfterTyping<T> {
    /// Asks for something, after whatever waits already.
    pub fn ask(&mut self, wanted: T) {
        self.waiting.push_back(wanted);
    }

    /// In each pass: what may be done now. Where nothing is typed, that is at once; else two passes later, so that
    /// every field was shown meanwhile, wherever it stands. Where a field can't hand over, everything that waits is
    /// dropped, and the reason said.
    pub fn step(&mut self, ctx: &Context) -> Option<T> {
        if self.waiting.is_empty() {
            return None;
        }
        let pass = ctx.cumulative_pass_nr();
        let Some(since) = self.asked else {
            // What was typed in this very pass may not be in its field yet.
            let typing = ctx.text_edit_focused() || is_held(ctx);
            if !typing {
                return self.waiting.pop_front();
            }
            self.asked = Some(pass);
            with(ctx, |register| register.asked = Some(pass));
            ctx.request_repaint();
            return None;
        };
        if pass < since + 2 {
            ctx.request_repaint();
            return None;
        }
        self.asked = None;
        let refused = with(ctx, |register| {
            let first = register.held_before.first().cloned();
            if let Some(first) = &first {
                // The reason stands at the field, which has the focus from now on.
                let text = first.typed.text.as_deref().unwrap_or_default();
                register.message = Some(format!(
                    "Not done: {}, \"{}\", can't be taken as it stands",
                    first.name,
                    short(text)
                ));
                register.told_of = Some(first.field);
            }
            first
        });
        let Some(refused) = refused else { return self.waiting.pop_front() };
        self.waiting.clear();
        ctx.memory_mut(|memory| memory.request_focus(refused.field));
        ctx.request_repaint();
        None
    }
}
