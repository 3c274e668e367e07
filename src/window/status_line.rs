//! The one place for what comes of an action that no field stands for: a refusal, or a remark.
//!
//! Whoever asks the session for something hands what it returns to [`say`]; the line takes it in before it is shown and at
//! the end of the pass. What is said holds until the next action, or until the project has changed.

use eframe::egui::{Context, Id};

use crate::session::{Remark, Reply, Session};

/// What was said last, as long as it holds.
#[derive(Debug, Default)]
pub struct StatusLine {
    words: Option<String>,
    /// All of it is news of what was done, and nothing to beware of.
    is_news: bool,
    /// The state of the project it was said about.
    edits: u64,
}

/// What was said in this pass and is not taken in yet.
#[derive(Debug, Clone, Default)]
struct Said {
    /// What stands there already no longer holds.
    is_over: bool,
    words: Vec<String>,
    /// Something of it is to be seen to.
    is_caution: bool,
}

fn with<R>(ctx: &Context, work: impl FnOnce(&mut Said) -> R) -> R {
    ctx.data_mut(|data| work(data.get_temp_mut_or_default(Id::unique("said"))))
}

/// Says what came of an action, in place of what was said before it.
pub fn say(ctx: &Context, reply: Reply) {
    with(ctx, |said| said.is_over = true);
    say_besides(ctx, reply);
}

/// Says what came of a move or the end of a gesture; where that is nothing, what was said during it still holds until the
/// project changes.
pub fn say_besides(ctx: &Context, reply: Reply) {
    match reply {
        Ok(None) => {}
        Ok(Some(remark)) => say_remark(ctx, &remark),
        Err(refusal) => say_words(ctx, refusal.to_string()),
    }
}

/// What was said no longer holds.
pub fn end(ctx: &Context) {
    with(ctx, |said| said.is_over = true);
}

/// Says something that no action of the session returned.
pub fn say_words(ctx: &Context, words: impl Into<String>) {
    add(ctx, words.into(), true);
}

fn say_remark(ctx: &Context, remark: &Remark) {
    add(ctx, remark.to_string(), remark.is_caution());
}

fn add(ctx: &Context, words: String, is_caution: bool) {
    with(ctx, |said| {
        said.is_over = true;
        said.is_caution |= is_caution;
        if !said.words.contains(&words) {
            said.words.push(words);
        }
    });
}

impl StatusLine {
    /// For a project just taken in hand: says what could not be taken over from its file.
    pub fn on(session: &Session) -> Self {
        let notes = session.notes_on_opening();
        let words = (!notes.is_empty()).then(|| notes.join("; "));
        Self { words, edits: session.edits(), is_news: false }
    }

    /// What it says now.
    pub fn words(&self) -> Option<&str> {
        self.words.as_deref()
    }

    /// What it says is news of what was done, and nothing to beware of.
    pub const fn is_news(&self) -> bool {
        self.is_news
    }

    /// Takes in what was said since it was last asked to; true if it says something else now.
    pub fn take_in(&mut self, ctx: &Context, session: &mut Session) -> bool {
        if let Some(remark) = session.take_remark() {
            say_remark(ctx, &remark);
        }
        let said = with(ctx, std::mem::take);
        let before = self.words.take();
        if !said.words.is_empty() {
            self.words = Some(said.words.join("; "));
            self.is_news = !said.is_caution;
            self.edits = session.edits();
        } else if !said.is_over && self.edits == session.edits() {
            self.words.clone_from(&before);
        }
        self.words != before
    }

    /// What it says no longer holds.
    pub fn clear(&mut self) {
        self.words = None;
    }

    /// Says something about a project at once.
    pub fn put(&mut self, words: String, session: &Session) {
        self.words = Some(words);
        self.is_news = false;
        self.edits = session.edits();
    }
}
