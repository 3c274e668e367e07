//! When unsaved work is kept apart: soon after the last edit, and during long work now and then.
//!
//! Policy only. The time is passed in, as a span since any moment that stays the same; the writing is done by whoever
//! asks.

use std::sync::Arc;
use std::time::Duration;

use super::Session;
use crate::files::recovery::UnenteredText;
use crate::plan::Project;

/// Quiet after an edit before it is kept.
pub const SETTLE: Duration = Duration::from_millis(1500);
/// Longest an edit waits while others follow it.
pub const LONGEST: Duration = Duration::from_secs(4);

/// Wait after a failure before the next try.
pub const AGAIN: Duration = Duration::from_secs(10);

/// What is to be done now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Due {
    /// Nothing until the next edit.
    Nothing,
    /// Ask again after this long.
    In(Duration),
    /// Keep the work now.
    Keep,
    /// It is in its file again: what was kept is of no use any more.
    Clear,
}

/// What was kept when.
#[derive(Debug, Default)]
pub struct Autosave {
    seen: Option<u64>,
    /// First and last edit that are not kept yet.
    waiting: Option<(Duration, Duration)>,
    kept: Option<Arc<Project>>,
    /// What was typed and not entered, as it was seen and kept last.
    typed: Vec<UnenteredText>,
    kept_typed: Vec<UnenteredText>,
    /// Something is kept, if not the last of it.
    holds: bool,
    /// The last keeping failed: not before this is it tried again.
    again: Option<Duration>,
}

impl Autosave {
    /// Looks at the project, and at what is typed and not entered: that counts as unsaved work. Once for each frame is not
    /// too often.
    pub fn step(&mut self, now: Duration, session: &Session, typed: &[UnenteredText]) -> Due {
        let is_unsaved = session.is_changed() || !typed.is_empty();
        if self.seen != Some(session.revision()) || self.typed != typed {
            self.seen = Some(session.revision());
            typed.clone_into(&mut self.typed);
            let is_kept = self.kept.as_deref() == Some(session.project()) && self.kept_typed == typed;
            if is_unsaved && !is_kept {
                let first = self.waiting.map_or(now, |(first, _)| first);
                self.waiting = Some((first, now));
            }
        }
        if !is_unsaved {
            // What stands here may become unsaved without an edit: somebody else changes its file.
            self.seen = None;
            self.waiting = None;
            self.again = None;
            self.kept = None;
            return if std::mem::take(&mut self.holds) { Due::Clear } else { Due::Nothing };
        }
        let edited = self.waiting.map(|(first, last)| (last + SETTLE).min(first + LONGEST));
        let Some(due) = edited.max(self.again) else { return Due::Nothing };
        if now < due {
            return Due::In(due.saturating_sub(now));
        }
        self.waiting = None;
        self.again = None;
        self.kept = Some(session.snapshot());
        self.kept_typed.clone_from(&self.typed);
        self.holds = true;
        Due::Keep
    }

    /// This was kept without being asked for here.
    pub fn is_kept(&mut self, project: Arc<Project>) {
        *self = Self { kept: Some(project), holds: true, ..Self::default() };
    }

    /// Another project is in hand; what was kept of the last one is of no use any more.
    pub fn start_over(&mut self) {
        *self = Self { kept: self.kept.take(), holds: self.holds, ..Self::default() };
    }

    /// The last keeping failed: it is tried again after a while, whether or not there are more edits.
    pub fn failed(&mut self, now: Duration) {
        self.kept = None;
        self.again = Some(now + AGAIN);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;
    use crate::plan::{Edit, TitleBlock};

    fn rename(session: &mut Session, title: &str) {
        let title = TitleBlock { title: title.to_owned(), ..TitleBlock::default() };
        session.edit("Rename", [Edit::SetTitle(title)]).unwrap();
        // A title solves nothing anew by itself in every version of the session; a look at a speed always does.
        let speed = session.point().speed;
        session.look_at_speed(speed * 1.01);
    }

    fn at(seconds: f64) -> Duration {
        Duration::from_secs_f64(seconds)
    }

    #[test]
    fn an_edit_is_kept_within_five_seconds_of_quiet_and_of_work() {
        let mut session = Session::new(files::demo(), None);
        let mut autosave = Autosave::default();
        assert_eq!(autosave.step(at(0.0), &session, &[]), Due::Nothing);
        rename(&mut session, "one");
        assert!(matches!(autosave.step(at(10.0), &session, &[]), Due::In(_)));
        assert_eq!(autosave.step(at(11.5), &session, &[]), Due::Keep);
        assert_eq!(autosave.step(at(12.0), &session, &[]), Due::Nothing);
        // Edits every half second never give it quiet, and still none waits for five seconds.
        let mut waited_since = None;
        for step in 0..40u32 {
            let now = 20.0 + 0.5 * f64::from(step);
            rename(&mut session, &format!("title {step}"));
            let since = *waited_since.get_or_insert(now);
            if autosave.step(at(now), &session, &[]) == Due::Keep {
                waited_since = None;
            } else {
                assert!(now - since < 5.0);
            }
        }
    }

    #[test]
    fn what_failed_is_tried_again_without_another_edit() {
        let mut session = Session::new(files::demo(), None);
        let mut autosave = Autosave::default();
        rename(&mut session, "one");
        assert!(matches!(autosave.step(at(1.0), &session, &[]), Due::In(_)));
        assert_eq!(autosave.step(at(3.0), &session, &[]), Due::Keep);
        autosave.failed(at(3.1));
        assert!(matches!(autosave.step(at(3.2), &session, &[]), Due::In(_)));
        assert_eq!(autosave.step(at(13.2), &session, &[]), Due::Keep);
        assert_eq!(autosave.step(at(14.0), &session, &[]), Due::Nothing);
        // A failure leaves what was kept before it: that goes when nothing is unsaved any more.
        autosave.failed(at(14.1));
        session.undo();
        assert_eq!(autosave.step(at(14.2), &session, &[]), Due::Clear);
    }

    #[test]
    fn looking_is_no_edit_and_undo_clears() {
        let mut session = Session::new(files::demo(), None);
        let mut autosave = Autosave::default();
        let speed = session.point().speed;
        session.look_at_speed(speed * 1.1);
        assert_eq!(autosave.step(at(1.0), &session, &[]), Due::Nothing);
        rename(&mut session, "one");
        assert!(matches!(autosave.step(at(2.0), &session, &[]), Due::In(_)));
        assert_eq!(autosave.step(at(9.0), &session, &[]), Due::Keep);
        session.undo();
        assert_eq!(autosave.step(at(9.1), &session, &[]), Due::Clear);
        assert_eq!(autosave.step(at(9.2), &session, &[]), Due::Nothing);
    }

    #[test]
    fn what_is_typed_and_not_entered_is_kept_too() {
        let session = Session::new(files::demo(), None);
        let mut autosave = Autosave::default();
        let typed = |text: &str| [UnenteredText { field: "Title".to_owned(), text: text.to_owned() }];
        assert!(matches!(autosave.step(at(1.0), &session, &typed("a")), Due::In(_)));
        assert!(matches!(autosave.step(at(2.0), &session, &typed("ab")), Due::In(_)));
        assert_eq!(autosave.step(at(3.6), &session, &typed("ab")), Due::Keep);
        assert_eq!(autosave.step(at(9.0), &session, &typed("ab")), Due::Nothing);
        // Given up, or entered and undone: nothing is left to be kept.
        assert_eq!(autosave.step(at(9.1), &session, &[]), Due::Clear);
    }
}
