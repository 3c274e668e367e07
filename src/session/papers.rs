//! The papers of the routing in hand as they will print: what is chosen, what is drawn, and whether it still holds.
//!
//! [`Papers::follow`] looks at the session once for each frame, starts drawing on a thread when something has changed
//! and editing pauses, and takes what comes of it. The pages are those of the PDF's bytes: what is seen is what is
//! written. Time is handed in; what to do with pixels is the window's.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use super::Session;
use super::fonts::fonts_for;
use super::task::{Task, Teller};
use crate::drawing::layout_sheet::layout_sheets;
use crate::drawing::paper::scale_text;
use crate::drawing::sheet_frame::{Paper, SCALES};
use crate::plan::{DutyId, Project, RoutingGeometry, RoutingId};
use crate::quantities::UnitSystem;
use crate::sheets::font::Fonts;
use crate::sheets::picture::{Picture, picture};
use crate::sheets::{Date, SheetError, SheetKind, SheetOptions, SheetSet, pdf, sheet_set};

/// Quiet after a change before pages are drawn anew.
pub const SETTLE: Duration = Duration::from_millis(600);
/// Longest side of a page in the list, pixels.
const SMALL_SIDE: f32 = 300.0;
/// More sheets of layout than this are refused: nobody meant it.
pub const MOST_LAYOUT_SHEETS: usize = 60;

/// The date of today, universal time.
pub fn today() -> Date {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
    Date::from_days(seconds / 86_400)
}

/// What is chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperChoice {
    /// Which kinds of sheets.
    pub kinds: BTreeSet<SheetKind>,
    /// Paper of drawings; what is usual for the units where none was chosen.
    pub paper: Option<Paper>,
    /// 50 for 1:50; the largest that fits where none was chosen.
    pub scale: Option<f64>,
    /// Flows and pressures at the usual speed are noted.
    pub flows: bool,
}

impl Default for PaperChoice {
    fn default() -> Self {
        Self { kinds: SheetKind::TO_BUILD_FROM.into(), paper: None, scale: None, flows: false }
    }
}

impl PaperChoice {
    /// The paper of drawings.
    pub fn paper(&self, units: UnitSystem) -> Paper {
        self.paper.unwrap_or(Paper::usual(units))
    }

    fn options(&self, project: &Project, duty: DutyId, date: Date) -> SheetOptions {
        SheetOptions {
            kinds: self.kinds.iter().copied().collect(),
            paper: self.paper(project.units),
            scale: self.scale,
            flows: self.flows,
            date,
            duty,
            fonts: Fonts::default(),
        }
    }

    /// Why no sheet can come of this, in words; none if one can.
    pub fn obstacle(&self, project: &Project) -> Option<String> {
        if self.kinds.is_empty() {
            return Some("No sheet is chosen: tick at least one".to_owned());
        }
        if project.bar.bounds().is_empty() {
            return Some(
                "There is nothing to draw: the bar has no sections and no rows; lay it out first \
                 (Project, Change the bar…)"
                    .to_owned(),
            );
        }
        let scale = self.scale.filter(|_| self.kinds.contains(&SheetKind::Layout))?;
        let paper = self.paper(project.units);
        let count = |scale: f64| layout_sheets(project, paper.lying(), Some(scale)).len();
        let many = count(scale);
        if many <= MOST_LAYOUT_SHEETS {
            return None;
        }
        let fits =
            SCALES.into_iter().filter(|one| *one > scale).find(|one| count(*one) <= MOST_LAYOUT_SHEETS);
        let instead = fits.map_or_else(String::new, |fits| format!("{} or smaller, ", scale_text(fits)));
        Some(format!(
            "The layout at {} on {} would take {many} sheets: choose {instead}larger paper, or the largest scale \
             that fits",
            scale_text(scale),
            paper.label()
        ))
    }
}

/// A set of sheets and its PDF file.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// The pages.
    pub set: SheetSet,
    /// All of them as one file.
    pub pdf: Vec<u8>,
}

/// All that the pages depend on.
#[derive(Debug, Clone)]
struct DrawnFrom {
    project: Arc<Project>,
    routing: RoutingId,
    options: SheetOptions,
}

impl DrawnFrom {
    fn of(session: &Session, choice: &PaperChoice, date: Date) -> Self {
        let project = session.snapshot();
        let options = choice.options(&project, session.duty().id, date);
        Self { project, routing: session.routing().id, options }
    }

    fn is_same_object(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.project, &other.project)
            && self.routing == other.routing
            && self.options == other.options
    }

    fn is_equal(&self, other: &Self) -> bool {
        self.routing == other.routing && self.options == other.options && self.project == other.project
    }
}

/// What the thread tells.
enum DrawingEvent {
    Made(Arc<Made>),
    Small(usize, Picture),
    Failed(String),
}

/// How the pages stand.
#[derive(Debug, Clone, PartialEq)]
pub enum PapersState {
    /// They are those of the project as it is.
    UpToDate,
    /// The project has changed; they are drawn again when editing pauses.
    OutOfDate,
    /// They are being drawn: so many of so many, or not known yet.
    Drawing(Option<(usize, usize)>),
    /// Drawing was stopped.
    Stopped,
    /// There are none, and why.
    Refused(String),
}

/// Which picture of a large page is meant.
#[derive(Debug, Clone, Copy, PartialEq)]
struct LargeKey {
    generation: u64,
    page: usize,
    pixels_a_point: f32,
}

/// The papers while they are looked at.
#[derive(Default)]
pub struct Papers {
    /// What is chosen.
    pub choice: PaperChoice,
    /// What is drawn, is being drawn, or could not be drawn.
    of: Option<DrawnFrom>,
    /// What was asked for last, and since when.
    asked: Option<(DrawnFrom, Duration)>,
    at_once: bool,
    task: Option<Task<DrawingEvent>>,
    made: Option<Arc<Made>>,
    /// Counts the sets made.
    generation: u64,
    state: Option<PapersState>,
    small: Vec<(usize, Picture)>,
    large: Option<(LargeKey, Task<Result<Picture, SheetError>>)>,
    large_done: Option<LargeKey>,
}

impl Papers {
    /// Nothing is drawn yet; the first look draws at once.
    pub fn new(choice: PaperChoice) -> Self {
        Self { choice, at_once: true, ..Self::default() }
    }

    /// What was drawn last, whether it still holds or not.
    pub const fn made(&self) -> Option<&Arc<Made>> {
        self.made.as_ref()
    }

    /// How the pages stand.
    pub fn state(&self) -> PapersState {
        self.state.clone().unwrap_or(PapersState::Drawing(None))
    }

    /// The pages, if they are those of the project as it is.
    pub fn current(&self) -> Option<&Arc<Made>> {
        // While small pictures come the pages themselves are there.
        let holds = matches!(self.state, Some(PapersState::UpToDate | PapersState::Drawing(Some(_))));
        self.made.as_ref().filter(|_| holds)
    }

    /// A new number with every set drawn.
    pub const fn generation(&self) -> u64 {
        self.generation
    }

    /// Draws again without waiting for a pause.
    pub const fn draw_now(&mut self) {
        self.at_once = true;
    }

    /// Gives up what is being drawn.
    pub fn stop(&mut self) {
        if let Some(task) = self.task.take() {
            task.stop();
            self.state = Some(PapersState::Stopped);
        }
    }

    /// Looks at the session; once for each frame. `now` is the time since any moment that stays the same, `wake` is
    /// called when there is more to look at. Answers after what time to look again, if nobody wakes before.
    pub fn follow(
        &mut self,
        session: &Session,
        now: Duration,
        date: Date,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Option<Duration> {
        self.take(false);
        let mut source = DrawnFrom::of(session, &self.choice, date);
        let since = match &self.asked {
            Some((asked, since)) if asked.is_same_object(&source) => *since,
            _ => now,
        };
        if let Some(of) = &mut self.of
            && !of.is_same_object(&source)
            && of.is_equal(&source)
        {
            // The same again, after an undo for instance: from now on seen at a glance.
            of.project = Arc::clone(&source.project);
        }
        let holds = self.of.as_ref().is_some_and(|of| of.is_same_object(&source));
        self.asked = Some((source.clone(), since));
        if holds && !self.at_once {
            // Changed and changed back.
            if self.state == Some(PapersState::OutOfDate) {
                self.state = Some(PapersState::UpToDate);
            }
            return None;
        }
        if !self.at_once {
            // What is under way is of no use any more, and what was refused is not what is asked now.
            self.task = None;
            if !matches!(self.state, Some(PapersState::UpToDate | PapersState::OutOfDate)) {
                self.of = None;
            }
            self.state = Some(PapersState::OutOfDate);
            let due = since + SETTLE;
            if now < due {
                return Some(due.saturating_sub(now));
            }
        }
        self.at_once = false;
        source.options = self.choice.options(&source.project, source.options.duty, date);
        self.start(source, wake);
        None
    }

    fn start(&mut self, source: DrawnFrom, wake: impl Fn() + Send + Sync + 'static) {
        self.of = Some(source.clone());
        self.task = None;
        if let Some(why) = self.choice.obstacle(&source.project) {
            self.refuse(why);
            return;
        }
        self.state = Some(PapersState::Drawing(None));
        self.task = Some(Task::start(wake, move |teller| draw(&source, teller)));
    }

    fn refuse(&mut self, why: String) {
        // Pages of something else must not stand beside it.
        self.made = None;
        self.small.clear();
        self.generation += 1;
        self.task = None;
        self.state = Some(PapersState::Refused(why));
    }

    /// Takes what the thread has told.
    fn take(&mut self, waits: bool) {
        while let Some(task) = &mut self.task {
            match task.next(waits) {
                Some(DrawingEvent::Made(made)) => {
                    self.state = Some(PapersState::Drawing(Some((0, made.set.pages.len()))));
                    self.made = Some(made);
                    self.generation += 1;
                    self.small.clear();
                }
                Some(DrawingEvent::Small(page, picture)) => {
                    let many = self.made.as_ref().map_or(0, |made| made.set.pages.len());
                    self.state = Some(PapersState::Drawing(Some((page + 1, many))));
                    self.small.push((page, picture));
                }
                Some(DrawingEvent::Failed(why)) => self.refuse(why),
                None if task.has_ended() => {
                    self.task = None;
                    match self.state {
                        Some(PapersState::Drawing(Some((done, many)))) if done == many => {
                            self.state = Some(PapersState::UpToDate);
                        }
                        _ => self.refuse("Drawing the sheets failed; report this as a fault".to_owned()),
                    }
                }
                None => return,
            }
        }
    }

    /// Pages in small that have come since the last call, with their numbers from 0.
    pub fn take_small(&mut self) -> Vec<(usize, Picture)> {
        std::mem::take(&mut self.small)
    }

    /// A page at a number of pixels for a point of 1/72 in, on a thread; the same again is not drawn again. Answers
    /// the picture once, when it is there, with the page's number.
    pub fn large(
        &mut self,
        page: usize,
        pixels_a_point: f32,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Option<(usize, Result<Picture, SheetError>)> {
        let came = self.take_large();
        let key = LargeKey { generation: self.generation, page, pixels_a_point };
        if self.large.is_none()
            && self.large_done != Some(key)
            && let Some(made) = self.made.clone()
            && page < made.set.pages.len()
        {
            let work = move |teller: &Teller<_>| teller.tell(picture(&made.pdf, page, pixels_a_point));
            self.large = Some((key, Task::start(wake, work)));
        }
        came
    }

    fn take_large(&mut self) -> Option<(usize, Result<Picture, SheetError>)> {
        let (key, task) = self.large.as_mut()?;
        let key = *key;
        let came = task.next(false);
        let broke_off = came.is_none() && task.has_ended();
        if came.is_some() || broke_off {
            self.large = None;
            self.large_done = Some(key);
        }
        let fault = || SheetError::Writer { what: "drawing the page failed".to_owned() };
        let came = came.or_else(|| broke_off.then(|| Err(fault())))?;
        // A picture of pages that are gone is of no use.
        (key.generation == self.generation).then_some((key.page, came))
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        self.take(true);
        if let Some((_, task)) = &mut self.large {
            task.wait();
        }
    }
}

/// On the thread: the set, its file, and each page in small.
fn draw(source: &DrawnFrom, teller: &Teller<DrawingEvent>) {
    let Some(routing) = source.project.routing(source.routing) else {
        teller.tell(DrawingEvent::Failed("The project has no routing: add one first".to_owned()));
        return;
    };
    let options = SheetOptions { fonts: fonts_for(&source.project), ..source.options.clone() };
    let geometry = RoutingGeometry::working(&source.project, routing);
    let made = sheet_set(&source.project, geometry.with(routing), &options).and_then(|set| {
        let pdf = pdf::pdf(&set.pages, &set.about, &set.fonts)?;
        Ok(Arc::new(Made { set, pdf }))
    });
    let made = match made {
        Ok(made) => made,
        Err(error) => {
            let words = error.to_string();
            let mut letters = words.chars();
            let first = letters.next().map(|one| one.to_uppercase().to_string()).unwrap_or_default();
            teller.tell(DrawingEvent::Failed(first + letters.as_str()));
            return;
        }
    };
    teller.tell(DrawingEvent::Made(Arc::clone(&made)));
    for (number, page) in made.set.pages.iter().enumerate() {
        if teller.is_stopped() {
            return;
        }
        let longest = page.width.max(page.height) * pdf::POINTS;
        match picture(&made.pdf, number, SMALL_SIDE / longest as f32) {
            Ok(small) => teller.tell(DrawingEvent::Small(number, small)),
            Err(error) => {
                teller.tell(DrawingEvent::Failed(error.to_string()));
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;
    use crate::plan::{Edit, TitleBlock};

    const DATE: Date = Date { year: 2026, month: 3, day: 31 };

    fn session() -> Session {
        Session::new(files::demo(), None)
    }

    fn rename(session: &mut Session, title: &str) {
        let title = TitleBlock { title: title.to_owned(), ..TitleBlock::default() };
        session.edit("Rename", [Edit::SetTitle(title)]).unwrap();
    }

    fn only(kind: SheetKind) -> Papers {
        Papers::new(PaperChoice { kinds: [kind].into(), ..PaperChoice::default() })
    }

    fn look(papers: &mut Papers, session: &Session, milliseconds: u64) -> Option<Duration> {
        papers.follow(session, Duration::from_millis(milliseconds), DATE, || {})
    }

    /// Looks until all is drawn.
    fn settle(papers: &mut Papers, session: &Session, milliseconds: u64) {
        look(papers, session, milliseconds);
        papers.wait();
        assert_eq!(look(papers, session, milliseconds), None);
    }

    #[test]
    fn pages_are_drawn_at_once_and_again_when_editing_pauses() {
        let mut session = session();
        let mut papers = only(SheetKind::Parts);
        settle(&mut papers, &session, 0);
        assert_eq!(papers.state(), PapersState::UpToDate);
        let many = papers.current().unwrap().set.pages.len();
        assert_eq!(papers.take_small().len(), many);
        let first = papers.made().unwrap().clone();

        rename(&mut session, "One");
        assert_eq!(look(&mut papers, &session, 1000), Some(SETTLE));
        assert_eq!(papers.state(), PapersState::OutOfDate);
        assert!(papers.current().is_none(), "what is out of date is not offered");
        // Each change starts the pause anew.
        rename(&mut session, "Two");
        assert_eq!(look(&mut papers, &session, 1500), Some(SETTLE));
        assert_eq!(look(&mut papers, &session, 1900), Some(Duration::from_millis(200)));
        settle(&mut papers, &session, 2100);
        assert_eq!(papers.state(), PapersState::UpToDate);
        assert_eq!(papers.current().unwrap().set.about.title, "Two, routing A");
        assert_ne!(papers.made().unwrap().pdf, first.pdf);
    }

    #[test]
    fn what_is_taken_back_before_the_pause_needs_no_drawing() {
        let mut session = session();
        let mut papers = only(SheetKind::Parts);
        settle(&mut papers, &session, 0);
        let generation = papers.generation();
        rename(&mut session, "One");
        look(&mut papers, &session, 100);
        session.undo();
        assert_eq!(look(&mut papers, &session, 200), None);
        assert_eq!((papers.state(), papers.generation()), (PapersState::UpToDate, generation));
    }

    #[test]
    fn stopped_drawing_is_said_and_can_be_taken_up() {
        let session = session();
        let mut papers = only(SheetKind::Parts);
        look(&mut papers, &session, 0);
        papers.stop();
        assert_eq!(papers.state(), PapersState::Stopped);
        assert_eq!(look(&mut papers, &session, 5000), None, "it stays so until asked");
        assert!(papers.current().is_none());
        papers.draw_now();
        settle(&mut papers, &session, 5000);
        assert_eq!(papers.state(), PapersState::UpToDate);
    }

    /// Stopped or refused pages are never taken for those of the project after a change there and back.
    #[test]
    fn what_was_never_drawn_is_not_up_to_date_after_an_undo() {
        let mut session = session();
        let mut papers = only(SheetKind::Parts);
        look(&mut papers, &session, 0);
        rename(&mut session, "One");
        look(&mut papers, &session, 100);
        session.undo();
        look(&mut papers, &session, 200);
        assert_eq!(papers.state(), PapersState::OutOfDate);
        settle(&mut papers, &session, 900);
        assert_eq!(papers.state(), PapersState::UpToDate);
    }

    #[test]
    fn refusals_say_what_to_try_and_take_the_pages_away() {
        let mut session = session();
        let mut papers = only(SheetKind::Layout);
        settle(&mut papers, &session, 0);
        papers.choice.scale = Some(1.0);
        papers.choice.paper = Some(Paper::A4);
        papers.draw_now();
        settle(&mut papers, &session, 0);
        let PapersState::Refused(why) = papers.state() else { panic!("{:?}", papers.state()) };
        assert!(why.contains("1:1 on A4") && why.contains("larger paper"), "{why}");
        // What it advises is possible.
        let advised =
            SCALES.into_iter().find(|one| why.contains(&format!("choose {} ", scale_text(*one)))).unwrap();
        papers.choice.scale = Some(advised);
        assert_eq!(papers.choice.obstacle(session.project()), None);
        assert!(papers.made().is_none());

        papers.choice = PaperChoice { kinds: [SheetKind::Parts].into(), ..PaperChoice::default() };
        // A code for private use that no font here gives a shape.
        rename(&mut session, "\u{10fffd}");
        papers.draw_now();
        settle(&mut papers, &session, 0);
        let PapersState::Refused(why) = papers.state() else { panic!("{:?}", papers.state()) };
        assert!(why.contains("U+10FFFD") && why.starts_with("Sheet"), "{why}");
    }

    /// A page of the list and a large one are the same page of the same file.
    #[test]
    fn large_pages_come_once_for_each_size() {
        let session = session();
        let mut papers = only(SheetKind::Schematic);
        settle(&mut papers, &session, 0);
        assert!(papers.large(0, 1.0, || {}).is_none());
        papers.wait();
        let (page, picture) = papers.large(0, 1.0, || {}).unwrap();
        // A3 lying is 1190.55 by 841.89 points (ISO 216: 420 mm by 297 mm); a part of a pixel may be lost.
        let picture = picture.unwrap();
        assert_eq!((page, picture.width, picture.height), (0, 1190, 841));
        papers.wait();
        assert!(papers.large(0, 1.0, || {}).is_none(), "the same again is not drawn again");
        assert!(papers.large.is_none());
        assert!(papers.large(900, 1.0, || {}).is_none() && papers.large.is_none());
    }
}
