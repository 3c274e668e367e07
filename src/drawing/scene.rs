//! What a display list is made of.

use super::{DeviationClass, PressureClass};
use crate::geometry::{Bounds, Point2};
use crate::plan::Subject;

/// Everything to draw, in the order it is drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scene {
    /// The items; later ones lie on top.
    pub items: Vec<DrawItem>,
    /// What a picture should show when it fits all: the bar with its captions, without a far-off pump.
    pub extent: Option<Bounds>,
}

/// One shape and what it stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawItem {
    /// What it belongs to.
    pub layer: Layer,
    /// Where it is.
    pub shape: Shape,
    /// What its line means.
    pub ink: Ink,
    /// What its inside means.
    pub fill: Fill,
    /// What a person points at when pointing here.
    pub subject: Option<Subject>,
    /// How it is kept readable when it is small.
    pub grow: Option<Grow>,
    /// Left away below this scale, picture units per metre; 0 for always there.
    pub from_scale: f64,
}

/// In the order they are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Sections, their frame and their names.
    Frame,
    /// Hinge lines.
    Hinge,
    /// Delivery tubes.
    Feeds,
    /// Hoses.
    Runs,
    /// Placed parts.
    Parts,
    /// Outlets at the rows.
    Outlets,
    /// Tags of parts.
    Tags,
    /// Numbers beside outlets and gauges.
    Values,
    /// Lengths of hoses.
    Dimensions,
}

/// A shape in metres, plan view.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Straight pieces through points.
    Line {
        /// At least two.
        points: Vec<Point2>,
        /// How wide.
        width: Width,
        /// Broken or not.
        dash: Dash,
    },
    /// A circle; its line is a hairline.
    Circle {
        /// Its middle.
        centre: Point2,
        /// Its radius, metres.
        radius: f64,
    },
    /// A closed shape; its line is a hairline.
    Polygon {
        /// Its corners, convex.
        points: Vec<Point2>,
    },
    /// Words and numbers.
    Text(SceneText),
}

/// Words at a place, kept upright and at reading size whatever the scale.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneText {
    /// What it belongs to.
    pub at: Point2,
    /// Where it may stand, best first.
    pub places: Vec<TextPlace>,
    /// Kept clear to the left and right of `at`.
    pub clear_x: Reach,
    /// Kept clear in front of and behind `at`.
    pub clear_y: Reach,
    /// Wordings, longest first; the first that fits is drawn.
    pub wordings: Vec<String>,
    /// At most this wide, metres, if that matters.
    pub room: Option<f64>,
    /// What kind of words.
    pub role: TextRole,
}

/// Where words stand, as seen on the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextPlace {
    /// Inside what is kept clear, if they fit there.
    Inside,
    /// To its right.
    Right,
    /// To its left.
    Left,
    /// Over it.
    Above,
    /// Under it.
    Below,
}

/// What kind of words; the order is who gives way last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TextRole {
    /// Tag of a part, with the reading of a gauge.
    Tag,
    /// Name of a section; moves outwards where a tag stands, and stays in sight.
    Section,
    /// Rows and width of a section, travel, pump; moves outwards where something stands.
    Caption,
    /// Deviation of a row.
    Value,
    /// Tag and length of a hose.
    Dimension,
    /// Number of a manifold's outlet.
    OutletNumber,
}

/// Width of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Width {
    /// True width, metres; 0 for a hairline.
    pub metres: f64,
    /// Never thinner than this, picture units.
    pub least: f64,
}

impl Width {
    /// As thin as a line is drawn.
    pub const HAIRLINE: Self = Self { metres: 0.0, least: 1.0 };
    /// The line of a symbol.
    pub const SYMBOL: Self = Self { metres: 0.0, least: 1.4 };

    /// In picture units at a scale.
    pub fn at(self, scale: f64) -> f64 {
        (self.metres * scale).max(self.least)
    }
}

/// Broken or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Short dashes.
    Dashed,
    /// A long dash and a dot: axes and hinges (ISO 128 type 04.1).
    LongDashDot,
}

/// What the inside of a closed shape means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// What lies below shows through.
    None,
    /// The paper.
    Paper,
    /// The same as its line.
    Ink,
    /// The colour of a deviation class.
    Deviation(DeviationClass),
    /// The colour of a gauge pressure.
    Pressure(PressureClass),
}

/// What a line or a word means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ink {
    /// The ground a section is drawn on; no line.
    SectionPanel,
    /// A frame member.
    FrameRail,
    /// A hinge.
    HingeLine,
    /// Direction of travel.
    Travel,
    /// The ground, seen from its side.
    Ground,
    /// The widest and the highest that the road allows.
    TransportLimit,
    /// A hose with liquid moving in it, or not solved.
    Hose,
    /// A hose in which nothing moves.
    HoseStill,
    /// A delivery tube.
    Tube,
    /// A delivery tube in which nothing moves.
    TubeStill,
    /// The line of a part.
    Part,
    /// The line of an outlet.
    Outlet,
    /// A sign on the colour of a deviation class.
    OnDeviation(DeviationClass),
    /// A hose at a gauge pressure, with an edge of the hose's own colour.
    Pressure(PressureClass),
    /// Words on the colour of a gauge pressure where they stand inside it, plain words elsewhere.
    OnPressure(PressureClass),
    /// An outlet that gets nothing.
    NotFed,
    /// A row that is not used.
    LeftOut,
    /// Words that name.
    Words,
    /// Words that explain.
    SoftWords,
}

/// A size that stays readable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// True size from the middle, metres.
    pub half: f64,
    /// Never smaller than this, picture units.
    pub least: f64,
    /// Never larger than this, picture units.
    pub most: f64,
}

impl Reach {
    /// True to scale always.
    pub const fn true_to_scale(half: f64) -> Self {
        Self { half, least: 0.0, most: f64::INFINITY }
    }

    /// True to scale but never smaller than `least` picture units.
    pub const fn at_least(half: f64, least: f64) -> Self {
        Self { half, least, most: f64::INFINITY }
    }

    /// In picture units at a scale.
    pub fn at(self, scale: f64) -> f64 {
        (self.half * scale).min(self.most).max(self.least)
    }

    /// Drawn size over true size at a scale.
    pub fn factor(self, scale: f64) -> f64 {
        let true_size = self.half * scale;
        if true_size > 0.0 { self.at(scale) / true_size } else { 1.0 }
    }
}

/// How a symbol keeps its readable size: stretched about a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grow {
    /// What stays in place.
    pub about: Point2,
    /// Direction of `along`, radians from x.
    pub turn: f64,
    /// Along that direction.
    pub along: Reach,
    /// Across it.
    pub across: Reach,
}

impl Grow {
    /// The same both ways.
    pub const fn evenly(about: Point2, reach: Reach) -> Self {
        Self { about, turn: 0.0, along: reach, across: reach }
    }

    /// Where a point of the symbol is drawn at a scale, metres.
    pub fn apply(&self, point: Point2, scale: f64) -> Point2 {
        let (sin, cos) = self.turn.sin_cos();
        let (dx, dy) = (point.x - self.about.x, point.y - self.about.y);
        let along = (dx * cos + dy * sin) * self.along.factor(scale);
        let across = (dy * cos - dx * sin) * self.across.factor(scale);
        Point2::new(self.about.x + along * cos - across * sin, self.about.y + along * sin + across * cos)
    }
}

impl Scene {
    /// The box that a picture which fits all should show.
    pub fn bounds(&self) -> Bounds {
        self.extent.unwrap_or(Bounds::EMPTY)
    }
}

impl DrawItem {
    /// Always drawn, without a subject, true to scale.
    pub const fn new(layer: Layer, shape: Shape, ink: Ink) -> Self {
        Self { layer, shape, ink, fill: Fill::None, subject: None, grow: None, from_scale: 0.0 }
    }

    /// With an inside.
    #[must_use]
    pub const fn filled(mut self, fill: Fill) -> Self {
        self.fill = fill;
        self
    }

    /// Standing for something.
    #[must_use]
    pub const fn of(mut self, subject: Subject) -> Self {
        self.subject = Some(subject);
        self
    }

    /// Kept readable.
    #[must_use]
    pub const fn growing(mut self, grow: Grow) -> Self {
        self.grow = Some(grow);
        self
    }

    /// Somewhere else on the picture.
    #[must_use]
    pub fn moved(mut self, by: Point2) -> Self {
        let shift = |point: &mut Point2| *point = Point2::new(point.x + by.x, point.y + by.y);
        match &mut self.shape {
            Shape::Line { points, .. } | Shape::Polygon { points } => points.iter_mut().for_each(shift),
            Shape::Circle { centre, .. } => shift(centre),
            Shape::Text(text) => shift(&mut text.at),
        }
        if let Some(grow) = &mut self.grow {
            shift(&mut grow.about);
        }
        self
    }

    /// Left away below a scale.
    #[must_use]
    pub const fn from_scale(mut self, scale: f64) -> Self {
        self.from_scale = scale;
        self
    }
}
