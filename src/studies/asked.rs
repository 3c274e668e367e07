//! What a study is asked, and by whom: the list of studies, the routing that is studied, whoever waits, and why there may be no
//! answer.

use super::status;
use crate::hydraulics::variation::ElementId;
use crate::hydraulics::ways::Passed;
use crate::hydraulics::{NoNumbers, Outcome};
use crate::plan::words::capital;
use crate::plan::{FeedElement, LaidRouting, OperatingPoint, Project, RowId};
use crate::quantities::Measure;
use strum::EnumCount;

/// The studies that a designer can ask for: one list for window, command line and papers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum Study {
    /// Which metering element serves all rows from the slowest to the fastest speed.
    Metering,
    /// Metering of its own for each row, so that all get the same in spite of unequal ways.
    Equalise,
    /// Where the pressure goes on the way to a row.
    Pressure,
    /// What other conditions and single faults do.
    Conditions,
    /// What parts as they are sold and cut do.
    Tolerance,
    /// How long until liquid comes, and what the lines hold.
    Prime,
}

impl Study {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] =
        [Self::Metering, Self::Equalise, Self::Pressure, Self::Conditions, Self::Tolerance, Self::Prime];

    /// Its name on the command line.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Metering => "metering",
            Self::Equalise => "equalise",
            Self::Pressure => "pressure",
            Self::Conditions => "conditions",
            Self::Tolerance => "tolerance",
            Self::Prime => "prime",
        }
    }

    /// Its heading.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Metering => "Choose metering",
            Self::Equalise => "Equalise rows",
            Self::Pressure => "Where the pressure goes",
            Self::Conditions => "Other conditions",
            Self::Tolerance => "Parts as sold",
            Self::Prime => "Prime and clear",
        }
    }

    /// What it answers.
    pub const fn question(self) -> &'static str {
        match self {
            Self::Metering => "Which metering serves every row from the slowest to the fastest speed?",
            Self::Equalise => "Which metering for each row makes all rows equal, and is it worth it?",
            Self::Pressure => "Where does the pressure go on the way to a row, beside the mean row?",
            Self::Conditions => "What do slopes, cold, wear and single faults do to the rows?",
            Self::Tolerance => "How even will the bar be, built of real parts?",
            Self::Prime => "How long until liquid comes to each row, and what do the lines hold?",
        }
    }
}

/// What is studied: a routing of a project at an operating point, whose duty names liquid and speeds.
#[derive(Clone, Copy)]
pub struct Studied<'a> {
    /// The project.
    pub project: &'a Project,
    /// The routing.
    pub routing: LaidRouting<'a>,
    /// Where.
    pub point: OperatingPoint,
}

impl<'a> Studied<'a> {
    /// What to know of the liquid before relying on a study of it: sentences without a full stop.
    pub fn liquid_cautions(&self) -> Vec<String> {
        let caution = self.project.duty(self.point.duty).liquid.caution();
        caution.iter().map(|caution| capital(caution.sentence())).collect()
    }

    /// `9 km/h`, with the duty where there are several: `9 km/h under Inoculant`.
    pub fn speed_and_duty(&self) -> String {
        let speed = Measure::GroundSpeed.short_text(self.point.speed.si(), self.project.units);
        if self.project.duties.are_several() {
            format!("{speed} under {}", self.project.duty(self.point.duty).name)
        } else {
            speed
        }
    }

    /// An element of a row feed of the routing.
    pub fn element(&self, id: ElementId) -> Option<&'a FeedElement> {
        let feed = self.routing.routing.feed(id.feed())?;
        match id.branch() {
            None => feed.trunk.get(id.index()),
            Some(branch) => feed.branches.get(branch)?.elements.get(id.index()),
        }
    }

    /// The tag of what liquid passes.
    pub fn tag(&self, passed: Passed) -> String {
        let routing = self.routing.routing;
        let feed = |id| routing.feed(id).map(|feed| feed.tag.clone());
        let tag = match passed {
            Passed::Run(id) => routing.run(id).map(|run| run.tag.clone()),
            Passed::Part(id) => routing.part(id).map(|part| part.tag.clone()),
            Passed::SmallTee(id) => feed(id),
            Passed::Element(id) => feed(id.feed()),
        };
        tag.unwrap_or_default()
    }

    /// What a metering is called: its entry in the catalogue, with the cut length of a metering tube.
    pub fn metering_words(&self, element: &FeedElement) -> String {
        let entry = self.project.catalogue.entry(element.entry());
        let name = entry.map_or_else(|| element.entry().0.clone(), |entry| entry.description.clone());
        match element {
            FeedElement::MeteringTube { length, .. } => {
                format!("{name}, {}", Measure::CutLength.text(length.si(), self.project.units))
            }
            _ => name,
        }
    }
}

/// Why there is no answer where a solve has no numbers.
pub(super) fn no_numbers(of: &Studied, outcome: &Outcome) -> NoAnswer {
    let why = status::why_no_numbers(outcome, of.routing.routing)
        .unwrap_or_else(|| "the routing has no numbers".to_owned());
    NoAnswer::impossible(
        format!("routing {}: {why}", of.routing.name),
        "mend what the findings say first, then ask again",
    )
}

/// Why there is no answer where too few rows are fed in an outcome.
pub(super) fn too_few_fed(of: &Studied, what: &str, outcome: &Outcome) -> NoAnswer {
    if matches!(outcome.result, Err(NoNumbers::Failed { .. })) {
        return no_numbers(of, outcome);
    }
    let (why, advice) = status::why_few_are_fed(outcome);
    NoAnswer::impossible(format!("{what}: {why}"), advice)
}

/// What can be chosen beside the routing and the point.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StudyOptions {
    /// The row of the bar that is asked about; the worst one without it.
    pub row: Option<RowId>,
    /// How many bars are built of parts as they are sold; [`USUAL_SAMPLES`](super::tolerance::USUAL_SAMPLES) without it.
    pub bars: Option<u32>,
}

/// Whoever waits for a study: hears how far it is, and may lose patience.
pub trait Waiting: Sync {
    /// How much of the work is done, 0 to 1.
    fn so_far(&self, part: f32);

    /// Nobody wants the rest.
    fn has_stopped(&self) -> bool;
}

/// Whoever waits for a whole of which this is a part.
pub(super) struct PartOfWait<'a> {
    /// Who.
    pub(super) of: &'a dyn Waiting,
    /// What was done before, 0 to 1.
    pub(super) from: f32,
    /// How much of the whole it is.
    pub(super) share: f32,
}

impl Waiting for PartOfWait<'_> {
    fn so_far(&self, part: f32) {
        self.of.so_far(self.from + self.share * part);
    }

    fn has_stopped(&self) -> bool {
        self.of.has_stopped()
    }
}

/// Nobody watches, and nobody stops it.
pub struct Unwatched;

impl Waiting for Unwatched {
    fn so_far(&self, _part: f32) {}

    fn has_stopped(&self) -> bool {
        false
    }
}

/// Why a study has no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoAnswer {
    /// Whoever asked stopped it.
    Stopped,
    /// It can't be answered for this routing.
    Impossible {
        /// Why, as a sentence without a full stop.
        why: String,
        /// What to try, as a sentence without a full stop.
        advice: String,
    },
}

impl NoAnswer {
    /// A study that can't be answered.
    pub fn impossible(why: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::Impossible { why: why.into(), advice: advice.into() }
    }
}

impl std::fmt::Display for NoAnswer {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Stopped => out.write_str("stopped before its end"),
            Self::Impossible { why, advice } => write!(out, "{why}; {advice}"),
        }
    }
}

impl std::error::Error for NoAnswer {}
