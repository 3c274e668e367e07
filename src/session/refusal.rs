//! Why an action was refused, and what one that was done has to say besides.
//!
//! Every action of a session returns its refusal; the front that asked for it says it, once. Never here: a decision
//! about what is refused.

use std::fmt;

use super::obstacle::Obstacle;
use super::side::Side;
use crate::files::{ReadError, WriteError};
use crate::plan::edit::EditError;
use crate::plan::words::{self, counted};
use crate::plan::{EntryKey, PartKey};
use crate::studies::catch_test::nothing_judged::NothingJudged;

/// Why an action was refused; nothing has changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// The plan refuses the change.
    Edit(EditError),
    /// Rows can't be given or shared out so.
    Rows(RowsError),
    /// A wing can't be mirrored.
    Mirror(MirrorError),
    /// Main hoses can't be laid in one step.
    MainHoses(MainHosesError),
    /// What a catch test told can't be taken over.
    Calibration(CalibrationError),
    /// The command has to wait for something.
    Obstacle(Obstacle),
    /// The tool in hand can do nothing at this place or moment.
    Tool(ToolRefusal),
    /// What was named is not there any more.
    Gone(Gone),
    /// The part to be placed was taken from the catalogue.
    NotInCatalogue(PartKey),
    /// The catalogue has nothing of this kind.
    CatalogueLacks(&'static str),
    /// The catalogue has no tee for this hose, by its tag.
    NoTeeFor(String),
    /// Another part than a tee was to split a hose.
    NotATee {
        /// The part.
        entry: PartKey,
        /// Tag of the hose.
        run: String,
    },
    /// An end of the hose with this tag is nowhere.
    EndNowhere(String),
    /// No straight piece of a hose is long enough for a tee.
    NoRoomForTee {
        /// Tag of the hose.
        run: String,
        /// Length of the tee with its unit.
        length: String,
    },
    /// No frame leads from one end to the other of hoses and row feeds with these tags.
    NoFrame(Vec<String>),
    /// Every section with rows has a manifold.
    EverySectionHasManifold,
    /// A number lies beyond the range of its property.
    OutOfRange {
        /// The property's name.
        property: String,
        /// The number, and from where to where it may be.
        why: String,
    },
    /// A property can't be set to a value of that kind.
    NoSuchValue(String),
    /// The catalogue has no such entry of the kind that is asked for.
    NotOfThisKind(EntryKey),
    /// Nothing that a study names is where it was to be carried out: where that is, and what to do.
    NothingOfStudyThere(&'static str),
    /// What was worked out beside the session, by its name, came to nothing or too late.
    NotWorkedOut(String),
    /// What would put a finding right does harm that was not known yet: what it leaves and brings.
    NotWithoutHarm(Vec<String>),
    /// The last routing can't be deleted.
    LastRouting,
    /// The last duty can't be removed.
    LastDuty,
    /// The file can't be opened.
    NotOpened(Box<ReadError>),
    /// The file can't be written.
    NotSaved(Box<WriteError>),
}

/// Why a tool or an action on what is selected does nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToolRefusal {
    /// No hose where a tee was to go.
    NoHoseToSplit,
    /// No port where a plug was to go.
    NoPortForPlug,
    /// Rows were clicked before their manifold.
    ManifoldFirst,
    /// Both ends of a hose would be on one part.
    SamePart,
    /// No port where a hose was to start.
    NoPortToStart,
    /// A hose was to be ended before it leads anywhere.
    HoseLeadsNowhere,
    /// A part that is screwed onto a port was to be moved by keys.
    Mounted,
    /// Only a tee has a branch.
    NoBranch,
    /// Only parts are copied.
    NothingToCopy,
    /// Only parts are duplicated.
    NothingToDuplicate,
    /// Nothing was copied yet.
    NothingCopied,
}

/// What may be gone when an action is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gone {
    /// A hose.
    Hose,
    /// A routing.
    Routing,
    /// A duty.
    Duty,
    /// A catch test.
    CatchTest,
}

/// Why rows can't be given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowsError {
    /// The part is no manifold.
    NotAManifold,
    /// More rows than outlets.
    TooMany {
        /// Rows asked for.
        rows: usize,
        /// Outlets that are free for rows.
        outlets: usize,
    },
    /// Nothing in the catalogue to make a feed of.
    NoStock(&'static str),
    /// Not a list of row numbers.
    NotRows(String),
    /// The bar has no row with this number; how many it has, and which.
    NotOfTheBar(u32, usize, String),
    /// Rows from a larger number to a smaller.
    Backwards(u32, u32),
    /// No manifold to give rows to.
    NoManifold(String),
    /// A row that would have to hang on something hangs on nothing.
    NotFed(u32),
    /// Two rows that share one feed.
    OneFeed(u32, u32),
    /// No row in use among those meant.
    NoRowInUse,
    /// No outlet is left for a row that is to take another.
    NoOutletLeft(String),
    /// A manifold has too few outlets for rows that are to leave a shared tube.
    NoOutletsToPart {
        /// Its tag.
        tag: String,
        /// Numbers of the rows that share the tube.
        rows: Vec<u32>,
        /// How many outlets are missing.
        lacking: usize,
    },
    /// Another feed sits on the outlet, and there is none to exchange it for.
    Taken(String),
}

/// Why what a test told can't be taken over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CalibrationError {
    /// The test is not there any more.
    TestGone,
    /// Nothing was told, or nothing chosen.
    Nothing,
    /// Nothing of the test is judged.
    NotJudged(NothingJudged),
    /// An entry is not in the catalogue any more, by its key.
    EntryGone(String),
    /// An entry is not what it was when the test was made, by its key.
    EntryChanged(String),
    /// The liquid of the duty is not what it was when the test was made, by the duty's name.
    LiquidChanged(String),
}

/// Why a wing can't be mirrored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MirrorError {
    /// The bar has no wing there with a wing opposite.
    NoWing(Side),
    /// Nothing is placed on that wing.
    Bare(Side),
}

/// Why main hoses can't be laid in one step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MainHosesError {
    /// No manifold is placed.
    NoManifold,
    /// The hose with this tag, on the way from the pump, ends loose.
    EndsLoose(String),
    /// The part with this tag stands where main hoses go, and nobody may take it out unasked.
    InTheWay(String),
}

/// What an action that was done has to say besides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remark {
    /// A step found everything as it was to be.
    AlreadySo {
        /// Name of the step.
        step: String,
    },
    /// A gauge or plug was screwed onto a port.
    Mounted {
        /// Its tag.
        tag: String,
        /// The port with its part.
        port: String,
    },
    /// A part lies over others.
    LiesOver {
        /// Its tag.
        tag: String,
        /// Theirs.
        over: String,
    },
    /// Done but for what was refused.
    Partly(Refusal),
    /// What a step changed of hoses and tubes, in words.
    Changed(String),
    /// What a step did, in words.
    Did(String),
    /// Hoses or tubes were laid.
    Laid {
        /// Which, and what else came of it, in words.
        words: String,
        /// None of them is caught in the fold or among openers.
        is_clear: bool,
    },
    /// What was entered or placed at hinges gave way to what is computed there.
    CrossingsTakenBack {
        /// Of how many hoses.
        hoses: usize,
        /// Of how many row feeds.
        tubes: usize,
    },
    /// Rows were joined on one tube, and outlets that nothing sits on any more are left.
    OutletsFree(usize),
    /// The duty that was looked at is gone.
    DutyGone {
        /// Its name.
        gone: String,
        /// The name of the one looked at now.
        shown: String,
    },
    /// The condition that was looked at can't be tried any more, in words.
    ConditionGone(String),
    /// What was half made was given up because something else was asked for, in words.
    GivenUp(&'static str),
    /// What a file gave was taken, in words.
    Taken(String),
    /// A step was taken back, by its name.
    Undone(String),
    /// A step that had been taken back was done again, by its name.
    Redone(String),
    /// Something that is not seen on the drawing is gone.
    Removed {
        /// What it was, with its name.
        what: String,
        /// What stays of what belonged to it, in words; empty if there is nothing.
        stays: String,
    },
    /// What could not be carried over to the other wing, in sentences.
    NotMirrored(Vec<String>),
}

/// What comes of an action: what it has to say, or why it was refused.
pub type Reply = Result<Option<Remark>, Refusal>;

impl fmt::Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Edit(error) => error.fmt(out),
            Self::Rows(error) => error.fmt(out),
            Self::Mirror(error) => error.fmt(out),
            Self::MainHoses(error) => error.fmt(out),
            Self::Calibration(error) => error.fmt(out),
            Self::Obstacle(obstacle) => obstacle.fmt(out),
            Self::Tool(refusal) => refusal.fmt(out),
            Self::Gone(gone) => gone.fmt(out),
            Self::NotInCatalogue(entry) => {
                write!(out, "{entry} is not in the catalogue; choose another part")
            }
            Self::NotWorkedOut(what) => {
                write!(out, "{what}: not done, something else came meanwhile; ask for it again")
            }
            Self::NotWithoutHarm(harm) => {
                write!(out, "Not done, for it {}; press again to see all of it first", harm.join("; "))
            }
            Self::CatalogueLacks(kind) => write!(out, "The catalogue has no {kind}; add one first"),
            Self::NoTeeFor(run) => {
                write!(out, "{run}: the catalogue has no tee to split it with; add one first")
            }
            Self::NotATee { entry, run } => {
                write!(out, "{entry} is not a tee; choose one to split {run} with")
            }
            Self::EndNowhere(run) => write!(out, "{run}: one of its ends is not connected; connect it first"),
            Self::NoRoomForTee { run, length } => write!(
                out,
                "{run}: no straight piece of it is as long as the tee ({length}); move its waypoints apart first"
            ),
            Self::NoFrame(tags) => write!(
                out,
                "{}: no frame leads from one end to the other; set waypoints by hand, or give the sections frame members",
                tags.join(", ")
            ),
            Self::EverySectionHasManifold => {
                out.write_str("Every section with rows has a manifold already; delete one to place another")
            }
            Self::OutOfRange { property, why } => write!(out, "{property}: {why}"),
            Self::NoSuchValue(property) => {
                write!(out, "{property} can't be set to that; choose another value")
            }
            Self::NotOfThisKind(entry) => {
                write!(out, "The catalogue has no {entry} of this kind; choose another entry")
            }
            Self::NothingOfStudyThere(place) => write!(out, "Nothing of it is {place}"),
            Self::LastRouting => {
                out.write_str("A project keeps one routing at least; add another before deleting this one")
            }
            Self::LastDuty => {
                out.write_str("A project keeps one duty at least; add another before removing this one")
            }
            Self::NotOpened(error) => error.fmt(out),
            Self::NotSaved(error) => error.fmt(out),
        }
    }
}

impl std::error::Error for Refusal {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Edit(error) => Some(error),
            Self::Rows(error) => Some(error),
            Self::Mirror(error) => Some(error),
            Self::MainHoses(error) => Some(error),
            Self::Calibration(error) => Some(error),
            Self::NotOpened(error) => Some(error),
            Self::NotSaved(error) => Some(error),
            _ => None,
        }
    }
}

impl fmt::Display for ToolRefusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::NoHoseToSplit => "A tee splits a hose; click on one",
            Self::NoPortForPlug => "A plug closes a port; click nearer to one",
            Self::ManifoldFirst => "Click the manifold first, then its rows",
            Self::SamePart => "A hose leads to another part; click another port",
            Self::NoPortToStart => "A hose starts at a port or goes on from a loose end; click nearer to one",
            Self::HoseLeadsNowhere => "Click where the hose goes before ending it, or press Esc to leave it",
            Self::Mounted => {
                "A part mounted on a port moves with it; drag it off, or move the part that bears it"
            }
            Self::NoBranch => "Only a tee has a branch; select one",
            Self::NothingToCopy => "Only parts are copied, with the hoses between them; select a part first",
            Self::NothingToDuplicate => {
                "Only parts are duplicated, with the hoses between them; select a part first"
            }
            Self::NothingCopied => "Nothing was copied yet; select parts and copy them first",
        })
    }
}

impl fmt::Display for Gone {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Hose => "That hose does not exist any more; select another",
            Self::Routing => "That routing does not exist any more; choose another",
            Self::CatchTest => "There is no such catch test any more; choose another",
            Self::Duty => "That duty does not exist any more; choose another",
        })
    }
}

impl fmt::Display for RowsError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAManifold => out.write_str("rows are connected to a manifold; select one first"),
            Self::TooMany { rows, outlets } => write!(
                out,
                "{}, but only {} free; choose a manifold with more outlets or fewer rows, or take out blanking plugs",
                counted(*rows, "row"),
                counted(*outlets, "outlet")
            ),
            Self::NoStock(what) => write!(out, "the catalogue has no {what}; add one first"),
            Self::NotRows(text) => {
                write!(out, "\"{text}\" is no list of rows; type row numbers like 27-34 or 1, 3, 5")
            }
            Self::NotOfTheBar(number, rows, numbers) => {
                write!(out, "the bar has no row {number}; it has {}: {numbers}", counted(*rows, "row"))
            }
            Self::Backwards(from, to) => write!(out, "rows {from}-{to} run backwards; type {to}-{from}"),
            Self::NoManifold(place) => {
                write!(out, "{place} has no manifold to connect rows to; place one there first")
            }
            Self::NotFed(row) => write!(out, "row {row} is not connected to a manifold; connect it first"),
            Self::OneFeed(a, b) => {
                write!(out, "rows {a} and {b} share one tube; choose rows on two different outlets")
            }
            Self::NoRowInUse => out.write_str("There is no row in use here; select others"),
            Self::Taken(tag) => write!(out, "{tag} is on that outlet; choose a free one"),
            Self::NoOutletsToPart { tag, rows, lacking } => write!(
                out,
                "rows {}: {tag} lacks {} for a tube each; take out blanking plugs or choose a larger manifold first",
                words::ranges(rows),
                counted(*lacking, "free outlet")
            ),
            Self::NoOutletLeft(tag) => write!(
                out,
                "{tag} has no outlet free for the row to move to; choose a larger manifold or connect a row to another one"
            ),
        }
    }
}

impl std::error::Error for RowsError {}

impl fmt::Display for CalibrationError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TestGone => out.write_str("The catch test is not there any more; choose another"),
            Self::Nothing => {
                out.write_str("Nothing is chosen to take over; choose a number that the readings tell")
            }
            Self::NotJudged(why) => {
                write!(out, "Nothing is calibrated by a test that is not judged: {why}; {}", why.advice())
            }
            Self::EntryGone(key) => write!(
                out,
                "{key} is not in the catalogue any more, so that nothing can be calibrated of it; leave it out"
            ),
            Self::EntryChanged(key) => write!(
                out,
                "{key} is not what it was when it was tested; leave it out, or test the bar as it is now"
            ),
            Self::LiquidChanged(duty) => write!(
                out,
                "The liquid of {duty} is not what it was when it was tested; leave it out, or test it as it is now"
            ),
        }
    }
}

impl std::error::Error for CalibrationError {}

impl fmt::Display for MirrorError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoWing(side) => write!(
                out,
                "The bar has no {} wing with a wing opposite; only sections off the centre are mirrored",
                side.label()
            ),
            Self::Bare(side) => write!(
                out,
                "Nothing is placed on the {} wing; plumb it first, or mirror the other way",
                side.label()
            ),
        }
    }
}

impl std::error::Error for MirrorError {}

impl fmt::Display for MainHosesError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoManifold => {
                out.write_str("There is no manifold to lead main hoses to; place one on every section first")
            }
            Self::EndsLoose(tag) => {
                write!(out, "{tag} comes from the pump and ends loose; join its end or delete it first")
            }
            Self::InTheWay(tag) => write!(
                out,
                "{tag} stands in the main hoses that are there; delete it, or join the hoses one by one"
            ),
        }
    }
}

impl std::error::Error for MainHosesError {}

impl Remark {
    /// There is something to see to; else it is news of what was done.
    pub const fn is_caution(&self) -> bool {
        !matches!(
            self,
            Self::AlreadySo { .. }
                | Self::Mounted { .. }
                | Self::Taken(_)
                | Self::Undone(_)
                | Self::Redone(_)
                | Self::Removed { .. }
                | Self::Changed(_)
                | Self::Did(_)
                | Self::Laid { is_clear: true, .. }
        )
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AlreadySo { step } => write!(out, "{step}: nothing to change"),
            Self::Mounted { tag, port } => write!(out, "{tag} is mounted on {port}"),
            Self::LiesOver { tag, over } => write!(
                out,
                "{tag} lies over {over}; move one of them, or give it another height if one stands above the other"
            ),
            Self::ConditionGone(words) => write!(
                out,
                "What was looked at ({words}) can't be tried on the routing any more; it is shown as planned"
            ),
            Self::DutyGone { gone, shown } => {
                write!(out, "Duty {gone} is no longer in the project; duty {shown} is shown")
            }
            Self::Changed(words) => write!(out, "Changed: {words}"),
            Self::Did(words) | Self::Laid { words, .. } => out.write_str(words),
            Self::CrossingsTakenBack { hoses, tubes } => {
                let (hoses, tubes) = (counted(*hoses, "hose"), counted(*tubes, "row's tube"));
                write!(
                    out,
                    "what was entered or placed at hinges of {hoses} and {tubes} gave way to what is computed; undo brings it \
                     back"
                )
            }
            Self::OutletsFree(count) => write!(
                out,
                "{} no tube now: plug what is open, or choose smaller manifolds",
                if *count == 1 { "1 outlet has".to_owned() } else { format!("{count} outlets have") }
            ),
            Self::Partly(refusal) => refusal.fmt(out),
            Self::GivenUp(what) => write!(out, "Not finished and given up: {what}"),
            Self::Taken(words) => out.write_str(words),
            Self::Undone(step) => write!(out, "Undone: {step}"),
            Self::Redone(step) => write!(out, "Redone: {step}"),
            Self::Removed { what, stays } if stays.is_empty() => {
                write!(out, "{what} is removed; undo brings it back")
            }
            Self::Removed { what, stays } => write!(out, "{what} is removed; undo brings it back; {stays}"),
            Self::NotMirrored(notes) => out.write_str(&notes.join("; ")),
        }
    }
}

macro_rules! from {
    ($($error:ty => $refusal:ident),* $(,)?) => {
        $(impl From<$error> for Refusal {
            fn from(error: $error) -> Self {
                Self::$refusal(error)
            }
        })*
    };
}

from! {
    EditError => Edit,
    RowsError => Rows,
    MirrorError => Mirror,
    CalibrationError => Calibration,
    MainHosesError => MainHoses,
    Obstacle => Obstacle,
    ToolRefusal => Tool,
    Gone => Gone,
}

impl From<ReadError> for Refusal {
    fn from(error: ReadError) -> Self {
        Self::NotOpened(Box::new(error))
    }
}

impl From<WriteError> for Refusal {
    fn from(error: WriteError) -> Self {
        Self::NotSaved(Box::new(error))
    }
}
