//! Fonts for letters that the window's own lack: the papers' font, and after it fonts of the system. Those are looked
//! for when the first such letter is laid out, on a thread, so that no frame waits for it and a start without such
//! letters costs nothing.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::thread::JoinHandle;

use eframe::egui::epaint::text::{FallbackRequest, FontInsert, FontProvider};
use eframe::egui::{Context, FontData};

use crate::files::system_fonts::{FontUse, SystemFonts};
use crate::sheets::font;

/// Where the fonts come from: a function, since nothing is listed before it is needed.
pub type FontSource = fn() -> &'static SystemFonts;

/// A font that was found: its name, and the letters it is for.
type Found = (String, FontData, BTreeSet<char>);

/// Letters that one window asked for, and what it is to be told of them.
#[derive(Default)]
struct FontState {
    /// Waiting to be looked for.
    asked: BTreeSet<char>,
    /// Were looked for, or are.
    known: BTreeSet<char>,
    /// On its way.
    thread: Option<JoinHandle<()>>,
    /// It came back since the last frame.
    is_news: bool,
    /// Letters that no font has and that nobody was told of yet.
    untold: Vec<char>,
}

/// The way of one window to the fonts of the system.
#[derive(Clone)]
pub struct FallbackFonts {
    state: Arc<Mutex<FontState>>,
    /// In the order found.
    found: Arc<Mutex<Vec<Found>>>,
    source: FontSource,
}

impl FallbackFonts {
    /// Fonts from somewhere.
    pub fn from(source: FontSource) -> Self {
        Self { state: Arc::default(), found: Arc::default(), source }
    }

    /// Those installed on this machine. What was found is the same for every window; what is asked and told is its own, so
    /// that none speaks of letters that stand in another.
    pub fn installed() -> Self {
        static FOUND: OnceLock<Arc<Mutex<Vec<Found>>>> = OnceLock::new();
        Self { found: Arc::clone(FOUND.get_or_init(Arc::default)), ..Self::from(SystemFonts::installed) }
    }

    /// Has a context ask here for what its own fonts lack.
    pub fn install(&self, ctx: &Context) {
        ctx.set_font_providers(vec![Arc::new(self.clone())]);
    }

    /// At the end of each frame: sends for what was asked in it, hands over what came, and tells letters that no font
    /// here has, each once.
    pub fn follow(&self, ctx: &Context) -> Vec<char> {
        let is_news = std::mem::take(&mut self.lock().is_news);
        if is_news {
            // egui remembers what was not found; new providers make it ask again.
            self.install(ctx);
        }
        let mut state = self.lock();
        let is_looking = state.thread.as_ref().is_some_and(|thread| !thread.is_finished());
        if !state.asked.is_empty() && !is_looking {
            let (this, ctx) = (self.clone(), ctx.clone());
            state.thread = Some(std::thread::spawn(move || {
                this.look();
                ctx.request_repaint();
            }));
        }
        std::mem::take(&mut state.untold)
    }

    fn lock(&self) -> MutexGuard<'_, FontState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn found(&self) -> MutexGuard<'_, Vec<Found>> {
        self.found.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// On the thread: finds fonts for all that was asked.
    fn look(&self) {
        let mut missing = std::mem::take(&mut self.lock().asked);
        // Another window may have found some meanwhile.
        let is_found = |letter: &char| self.found().iter().any(|(_, _, has)| has.contains(letter));
        missing.retain(|letter| !is_found(letter));
        let fonts = (self.source)().covering(&missing, FontUse::Screen);
        for font in fonts {
            let data = FontData::from_blob(font.data, font.index);
            missing.retain(|letter| !font.letters.contains(letter));
            let mut found = self.found();
            let name = format!("{} {}", font.family, found.len() + 1);
            found.push((name, data, font.letters));
        }
        let mut state = self.lock();
        state.untold.extend(missing);
        state.is_news = true;
    }

    /// Stands still until nothing is being looked for; for whoever has no frames to wait in.
    pub fn wait(&self) {
        let thread = self.lock().thread.take();
        // A thread that broke off has found nothing.
        drop(thread.map(JoinHandle::join));
    }
}

impl FontProvider for FallbackFonts {
    fn font_for(&self, request: &FallbackRequest<'_>) -> Option<FontInsert> {
        let letter = request.cluster.chars().next()?;
        let ours = font::font(false);
        if ours.has(letter) {
            return Some(FontInsert::new(font::FAMILY, FontData::from_static(ours.data), Vec::new()));
        }
        let insert = {
            let all = self.found();
            let found = all.iter().find(|(_, _, has)| has.contains(&letter));
            found.map(|(name, data, _)| FontInsert::new(name, data.clone(), Vec::new()))
        };
        if insert.is_none() {
            let mut state = self.lock();
            if state.known.insert(letter) {
                state.asked.insert(letter);
            }
        }
        insert
    }
}

/// What to say of letters that no font here has; nothing where there are none.
pub fn lacking_words(letters: &[char]) -> Option<String> {
    let named = |letter: &char| format!("\u{201c}{letter}\u{201d} (U+{:04X})", u32::from(*letter));
    let shown: Vec<String> = letters.iter().take(4).map(named).collect();
    let more = letters.len().saturating_sub(shown.len());
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    (!letters.is_empty()).then(|| {
        format!(
            "No font on this machine has {}{more}: neither the window nor papers can show it; install a font that \
             does (as those of Noto), or write it in other letters",
            shown.join(", ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// U+10FFFD is for private use, and no font here has it.
    #[test]
    fn a_letter_that_no_font_has_is_told_to_the_window_it_stands_in_alone() {
        let [first, second] = [(); 2].map(|()| {
            let fonts = FallbackFonts::installed();
            let ctx = Context::default();
            fonts.install(&ctx);
            (fonts, ctx)
        });
        first.0.lock().asked.insert('\u{10FFFD}');
        assert_eq!(first.0.follow(&first.1), Vec::<char>::new(), "it is looked for on a thread");
        first.0.wait();
        assert_eq!(second.0.follow(&second.1), Vec::<char>::new());
        assert_eq!(first.0.follow(&first.1), ['\u{10FFFD}']);
        assert_eq!(first.0.follow(&first.1), Vec::<char>::new(), "once");
    }
}
