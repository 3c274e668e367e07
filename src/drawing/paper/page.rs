//! A page and the marks on it, in millimetres from its lower left corner.

use crate::drawing::Subject;
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use strum::EnumCount;

/// Millimetres of paper that one of the scene's "picture units" takes.
pub const PICTURE_UNIT: f64 = 0.2;

/// One sheet of paper.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// What it shows, in words: `Layout, centre`.
    pub name: String,
    /// Width, millimetres.
    pub width: f64,
    /// Height, millimetres.
    pub height: f64,
    /// It shows a part of the bar, of which another page shows the whole.
    pub shows_part: bool,
    /// The part of it that is true to scale, if one is.
    pub view: Option<View>,
    /// What is drawn, later marks on top.
    pub marks: Vec<Mark>,
}

/// A scale and where the bar's origin lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// 20 for 1:20.
    pub denominator: f64,
    /// The bar's origin on the paper, millimetres; it may lie off the sheet.
    pub origin: Point2,
}

impl View {
    /// Millimetres of paper for a metre of the bar.
    pub fn millimetres(&self) -> f64 {
        1000.0 / self.denominator
    }

    /// Where a point of the bar lies on the paper.
    pub fn at(&self, point: Point2) -> Point2 {
        let scale = self.millimetres();
        Point2::new(self.origin.x + point.x * scale, self.origin.y + point.y * scale)
    }

    /// As written in the title block.
    pub fn text(&self) -> String {
        scale_text(self.denominator)
    }
}

/// `1:20`, `2:1`.
pub fn scale_text(denominator: f64) -> String {
    if denominator < 1.0 {
        format!("{}:1", (10.0 / denominator).round() / 10.0)
    } else {
        format!("1:{}", (denominator * 10.0).round() / 10.0)
    }
}

/// What a mark belongs to; writers that know layers use these names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum PaperLayer {
    /// Border, title block, scale bar, tables beside the drawing.
    Sheet,
    /// The frame of the bar.
    Frame,
    /// Carriers across open frame.
    Carrier,
    /// Hinges and match lines.
    Hinge,
    /// Delivery tubes.
    Tube,
    /// Hoses.
    Hose,
    /// Parts and their symbols.
    Part,
    /// Outlets at the rows.
    Row,
    /// Words of the drawing: tags, bores, lengths.
    Words,
    /// The ways from words and balloons to what they name.
    Leader,
    /// Balloons, dimension lines.
    Notes,
}

impl PaperLayer {
    /// All, in drawing order.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Sheet,
        Self::Frame,
        Self::Carrier,
        Self::Hinge,
        Self::Tube,
        Self::Hose,
        Self::Part,
        Self::Row,
        Self::Words,
        Self::Leader,
        Self::Notes,
    ];

    /// Its name in a file with layers.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sheet => "SHEET",
            Self::Frame => "FRAME",
            Self::Carrier => "CARRIERS",
            Self::Hinge => "HINGES",
            Self::Tube => "TUBES",
            Self::Hose => "HOSES",
            Self::Part => "PARTS",
            Self::Row => "ROWS",
            Self::Words => "WORDS",
            Self::Leader => "LEADERS",
            Self::Notes => "NOTES",
        }
    }
}

/// How dark: 0 is the ink, 255 the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shade(pub u8);

impl Shade {
    /// The ink.
    pub const INK: Self = Self(0);

    /// For what explains.
    pub const SOFT: Self = Self(85);

    /// For what lies behind.
    pub const BEHIND: Self = Self(150);

    /// For the ground under a table's heading.
    pub const GROUND: Self = Self(232);

    /// Frame members.
    pub const FRAME: Self = Self(205);

    /// The paper.
    pub const PAPER: Self = Self(255);
}

/// Something drawn on a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// What it belongs to.
    pub layer: PaperLayer,
    /// What it stands for on the bar.
    pub subject: Option<Subject>,
    /// Where it is.
    pub kind: MarkKind,
}

/// A shape on paper; all sizes in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkKind {
    /// Straight pieces through points.
    Line {
        /// At least two.
        points: Vec<Point2>,
        /// How wide.
        width: f64,
        /// Broken or not.
        dash: Dash,
        /// How dark.
        shade: Shade,
    },
    /// A closed shape.
    Area {
        /// Its corners.
        points: Vec<Point2>,
        /// Its outline: width and shade.
        line: Option<(f64, Shade)>,
        /// Its inside.
        fill: Option<Shade>,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: Point2,
        /// Its radius.
        radius: f64,
        /// Its outline: width and shade.
        line: Option<(f64, Shade)>,
        /// Its inside.
        fill: Option<Shade>,
    },
    /// One line of words.
    Words(Words),
}

/// One line of words at a fixed size.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Left end of the line the letters stand on.
    pub at: Point2,
    /// What it says.
    pub text: String,
    /// Height of the capitals (ISO 3098: 1.8, 2.5, 3.5, 5 mm).
    pub height: f64,
    /// Width as the font has it.
    pub width: f64,
    /// Bold or not.
    pub bold: bool,
    /// Reads upwards instead of to the right.
    pub upright: bool,
    /// How dark.
    pub shade: Shade,
}

impl Words {
    /// What they cover.
    pub fn bounds(&self) -> Bounds {
        let below = self.height * 0.3;
        if self.upright {
            Bounds {
                min: Point2::new(self.at.x - self.height, self.at.y),
                max: Point2::new(self.at.x + below, self.at.y + self.width),
            }
        } else {
            Bounds {
                min: Point2::new(self.at.x, self.at.y - below),
                max: Point2::new(self.at.x + self.width, self.at.y + self.height),
            }
        }
    }
}

impl MarkKind {
    /// What it covers, without the width of its lines.
    pub fn bounds(&self) -> Bounds {
        match self {
            Self::Line { points, .. } | Self::Area { points, .. } => Bounds::around(points.iter().copied()),
            Self::Circle { centre, radius, .. } => Bounds { min: *centre, max: *centre }.grown(*radius),
            Self::Words(words) => words.bounds(),
        }
    }
}

/// A box from left, bottom, width and height.
pub const fn sized(left: f64, bottom: f64, width: f64, height: f64) -> Bounds {
    Bounds { min: Point2::new(left, bottom), max: Point2::new(left + width, bottom + height) }
}

/// The corners of a box, anticlockwise.
pub fn corners(bounds: &Bounds) -> Vec<Point2> {
    let (min, max) = (bounds.min, bounds.max);
    vec![min, Point2::new(max.x, min.y), max, Point2::new(min.x, max.y)]
}
