//! How much a plan may hold, in one table: a bar that anyone builds is far below every line of it.
//!
//! The same bounds hold for what is read and for what is typed, and they are looked at before anything that takes longer
//! the more there is. They are our own choice: what the window, the solver and the papers have been tried with, and what a
//! person can still oversee.

use super::problems::Problem;
use super::revision::MOST_REVISIONS;
use super::words::{count, short};
use strum::EnumCount;

/// Something that a plan may hold only so much of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, EnumCount)]
pub enum Bound {
    /// Characters of a name, tag or key.
    Name,
    /// Characters of a field of the title block, a description, a part number or a connection.
    Words,
    /// Characters of a note.
    Note,
    /// Things that a finding which is no longer shown is about.
    Hidden,
    /// Rows of the bar.
    Rows,
    /// Ranks of the bar.
    Ranks,
    /// Sections of the bar.
    Sections,
    /// Frame members of a section.
    Members,
    /// Duties of a project.
    Duties,
    /// Temperatures at which a liquid is known.
    LiquidPoints,
    /// Points of a pump's curve.
    CurvePoints,
    /// Entries of a catalogue.
    Entries,
    /// Lines added to the parts list.
    AddedLines,
    /// Revisions of which a project knows what they changed.
    Revisions,
    /// Lengths that a revision changed.
    ChangedLengths,
    /// Routings of a project.
    Routings,
    /// Parts of a routing.
    Parts,
    /// Hoses of a routing.
    Hoses,
    /// Row feeds of a routing.
    Feeds,
    /// Waypoints of a hose or tube.
    Waypoints,
    /// Hinge allowances of a hose or tube.
    Allowances,
    /// Fittings of a hose.
    Fittings,
    /// Rows that share a feed.
    Branches,
    /// Elements one behind the other in a row feed.
    Elements,
    /// Parts mounted one on the other.
    Mounts,
    /// Findings that are no longer shown.
    Dismissed,
    /// Catch tests of a project.
    CatchTests,
    /// Catches of a test.
    Catches,
    /// Gauge readings of a test.
    GaugeReadings,
    /// What of tables is in doubt in a test.
    TableDoubts,
}

impl Bound {
    /// All of them.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Name,
        Self::Words,
        Self::Note,
        Self::Hidden,
        Self::Rows,
        Self::Ranks,
        Self::Sections,
        Self::Members,
        Self::Duties,
        Self::LiquidPoints,
        Self::CurvePoints,
        Self::Entries,
        Self::AddedLines,
        Self::Revisions,
        Self::ChangedLengths,
        Self::Routings,
        Self::Parts,
        Self::Hoses,
        Self::Feeds,
        Self::Waypoints,
        Self::Allowances,
        Self::Fittings,
        Self::Branches,
        Self::Elements,
        Self::Mounts,
        Self::Dismissed,
        Self::CatchTests,
        Self::Catches,
        Self::GaugeReadings,
        Self::TableDoubts,
    ];

    /// The most there may be, what is counted, and what to try where there is more.
    const fn line(self) -> (usize, &'static str, &'static str) {
        match self {
            // Three lines of a table on paper.
            Self::Name => (200, "characters", "shorten it"),
            // A paragraph in a cell of the parts list.
            Self::Words => (500, "characters", "shorten it"),
            // Three pages of a book.
            Self::Note => (10_000, "characters", "shorten it, and keep long texts in a file of their own"),
            // Every row, part, hose and row feed there may be.
            Self::Hidden => (4000, "things that a hidden finding is about", "hide it for fewer of them"),
            // A bar of 120 m with rows 12 cm apart.
            Self::Rows => (1000, "rows", "leave out what is no seed row, or part the bar into two projects"),
            // Measured rows may each stand a little further forward than the next.
            Self::Ranks => (1000, "ranks", "let rows that stand side by side share a rank"),
            // A centre section and twelve pairs of wings.
            Self::Sections => (25, "sections", "join sections that don't fold against each other"),
            // Rails, cross members and a ladder of posts.
            Self::Members => (200, "frame members", "keep those that hoses can be tied to"),
            // Everything that is placed in a year, flat and on the steepest field.
            Self::Duties => (20, "duties", "keep those that the bar is used for"),
            // A value for every third degree from -60 to 90 °C.
            Self::LiquidPoints => (50, "temperatures", "keep those between which its properties bend"),
            // A sheet of a pump gives some ten.
            Self::CurvePoints => (50, "points of the pump's curve", "keep those between which it bends"),
            // Lists of choices stay lists.
            Self::Entries => (
                2000,
                "catalogue entries",
                "keep the entries that are in use, and the others in a catalogue file",
            ),
            // Four pages of a parts list.
            Self::AddedLines => (
                200,
                "lines added to the parts list",
                "keep those that are ordered with this bar, and put parts that are drawn into the catalogue",
            ),
            // Papers name the newest three.
            Self::Revisions => (MOST_REVISIONS, "revisions", "keep the newest"),
            // Every hose, and a tube and some pieces of each row feed.
            Self::ChangedLengths => (5000, "changed lengths", "keep those that differ"),
            // Each is solved and drawn by itself.
            Self::Routings => {
                (20, "routings", "keep the ones to compare, and the others in a project file of their own")
            }
            // A manifold outlet or its plug for each row.
            Self::Parts => (1000, "parts", "check for parts that were placed twice"),
            Self::Hoses => (1000, "hoses", "check for hoses that were laid twice"),
            // One for each row.
            Self::Feeds => (1000, "row feeds", "check for row feeds that were laid twice"),
            // A turn every 20 cm on 40 m.
            Self::Waypoints => (200, "waypoints", "keep those where it turns"),
            // One for each hinge.
            Self::Allowances => (25, "hinge allowances", "keep one for each hinge that it crosses"),
            Self::Fittings => (20, "fittings", "join several fittings to one entry of the catalogue"),
            Self::Branches => (20, "rows on one feed", "give some of its rows a feed of their own"),
            Self::Elements => {
                (20, "elements in a row", "join several fittings to one entry of the catalogue")
            }
            // A gauge on a tee on a manifold.
            Self::Mounts => (8, "parts mounted one on the other", "place some of them by themselves"),
            Self::Dismissed => (1000, "hidden findings", "show some of them again"),
            // Two a season for as long as a bar lasts.
            Self::CatchTests => (60, "catch tests", "remove the oldest, and keep them in a copy of the file"),
            // Every row of the widest bar, twice and a bit.
            Self::Catches => (2500, "catches", "begin another test"),
            // Each gauge a few times.
            Self::GaugeReadings => (200, "gauge readings", "keep one for each gauge"),
            // Nobody settles more by hand.
            Self::TableDoubts => (100, "lines that are in doubt", "settle them, and read the table again"),
        }
    }

    /// The most there may be.
    pub const fn most(self) -> usize {
        self.line().0
    }

    /// What is counted, in the plural.
    pub const fn what(self) -> &'static str {
        self.line().1
    }

    /// What to try where there is more.
    pub const fn advice(self) -> &'static str {
        self.line().2
    }

    /// Why so many can't be taken, if they can't; `place` is where, `whose` begins the sentence.
    pub fn broken_by(self, place: &str, whose: &str, found: usize) -> Option<Problem> {
        (found > self.most()).then(|| Problem {
            place: short(place),
            what: format!(
                "{whose} has {} {}, and can have {} at most",
                count(found),
                self.what(),
                count(self.most())
            ),
            advice: self.advice().to_owned(),
        })
    }
}
