//! Where the ports of a part are, what they are called, and what liquid meets between them.

use crate::geometry::Point2;
use crate::plan::part::Port;
use crate::quantities::{Length, Pressure};

/// What a port is, as papers and the words of a catalogue call it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PortName {
    /// Liquid comes in here.
    Inlet,
    /// Liquid leaves here.
    Outlet,
    /// An end of a tee's run, which is an inlet in the words of a catalogue. Either may be where liquid comes in, so they
    /// are told apart by where they point.
    RunStart,
    /// The other end of a tee's run, an outlet in those words.
    RunEnd,
    /// The branch of a tee.
    Branch,
    /// The end of a manifold across from where liquid comes in.
    FarEnd,
    /// Made for a gauge.
    Gauge,
}

impl PortName {
    /// As the words of a catalogue call it.
    pub const fn in_catalogue(self) -> &'static str {
        match self {
            Self::Inlet | Self::RunStart => "inlet",
            Self::Outlet | Self::RunEnd => "outlet",
            Self::Branch => "branch",
            Self::FarEnd => "far end",
            Self::Gauge => "gauge port",
        }
    }

    /// Is told by where it points, not by what it is for.
    pub const fn by_its_side(self) -> bool {
        matches!(self, Self::RunStart | Self::RunEnd)
    }
}

/// A port of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartPort {
    /// Which one.
    pub port: Port,
    /// What it is.
    pub name: PortName,
    /// Where it is, from the part's middle before it is turned; metres, plan view. Sizes for drawing and for where hoses
    /// end, not dimensions of a particular make.
    pub offset: Point2,
    /// Which way it faces before its part is turned: a unit vector in the plan view.
    pub facing: Point2,
    /// Comes plugged: nothing has to be on it.
    pub comes_plugged: bool,
}

impl PartPort {
    /// A port that faces away from the part's middle, and has to be joined or closed.
    pub(super) fn outwards(port: Port, name: PortName, x: f64, y: f64) -> Self {
        let size = x.hypot(y);
        let facing = if size > 0.0 { Point2::new(x / size, y / size) } else { Point2::new(1.0, 0.0) };
        Self { port, name, offset: Point2::new(x, y), facing, comes_plugged: false }
    }

    /// The same, facing another way.
    pub(super) const fn facing(self, x: f64, y: f64) -> Self {
        Self { facing: Point2::new(x, y), ..self }
    }

    /// The same, plugged as delivered.
    pub(super) const fn plugged(self) -> Self {
        Self { comes_plugged: true, ..self }
    }
}

/// What liquid meets on a way through a part, or in an element of a row feed. Coefficients refer to the velocity in the
/// bore beside them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Passage {
    /// A loss of `k` velocity heads.
    Loss {
        /// Loss coefficient.
        k: f64,
        /// Bore.
        bore: Length,
    },
    /// Between an end of a tee's run and its middle: half of what it takes straight through.
    HalfRun {
        /// Loss coefficient of the whole run.
        k_through: f64,
        /// Bore.
        bore: Length,
    },
    /// Between a tee's middle and its branch: what is left of the branch's coefficient beside the half run.
    Branch {
        /// Loss coefficient of the whole run.
        k_through: f64,
        /// Loss coefficient from either end into the branch.
        k_branch: f64,
        /// Bore.
        bore: Length,
    },
    /// Along a moulded body.
    Body {
        /// From outlet to outlet.
        spacing: Length,
        /// The way is the spacing over this: 1, or 2 for half of it.
        over: f64,
        /// Bore.
        bore: Length,
    },
    /// A hole in a plate.
    Orifice {
        /// Diameter of the hole.
        bore: Length,
        /// Discharge coefficient.
        cd: f64,
        /// Thickness of the plate, where creeping flow is counted.
        creeping_thickness: Option<Length>,
    },
    /// Opens at a pressure, and then has a loss.
    CheckValve {
        /// Pressure difference at which it opens.
        cracking: Pressure,
        /// Loss coefficient, open.
        k: f64,
        /// Bore.
        bore: Length,
    },
}

/// An end of a way through a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WayEnd {
    /// A port.
    Port(Port),
    /// The place inside where several ways meet; there is one at most.
    Inside,
}

/// What a way through a part is called, behind the part's tag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WayName {
    /// The part itself: it has one way.
    Whole,
    /// The port that it begins at.
    Port(Port),
    /// The stretch of a body behind this outlet.
    Body(u16),
    /// The left half of such a stretch.
    BodyLeft(u16),
    /// Its right half.
    BodyRight(u16),
}

impl std::fmt::Display for WayName {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Whole => Ok(()),
            Self::Port(port) => write!(out, " {port}"),
            Self::Body(number) => write!(out, " body {number}"),
            Self::BodyLeft(number) => write!(out, " body {number} left"),
            Self::BodyRight(number) => write!(out, " body {number} right"),
        }
    }
}

/// A way through a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Where it begins.
    pub from: WayEnd,
    /// Where it ends.
    pub to: WayEnd,
    /// What it is called.
    pub name: WayName,
    /// What liquid meets on it.
    pub passage: Passage,
}

/// All ways through a part.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ways {
    /// What the place inside is called, where ways meet inside.
    pub inside: Option<&'static str>,
    /// The ways that take something.
    pub ways: Vec<Way>,
    /// Ports that are the same place as another end.
    pub joined: Vec<(Port, WayEnd)>,
}

impl Ways {
    /// From the inlet to the outlet, and nothing else.
    pub(super) fn through(passage: Passage) -> Self {
        let (from, to) = (WayEnd::Port(Port::In), WayEnd::Port(Port::Out));
        Self { ways: vec![Way { from, to, name: WayName::Whole, passage }], ..Self::default() }
    }
}
