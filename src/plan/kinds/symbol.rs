//! The symbol of a kind as plain data: strokes, circles and areas, read by the drawing to scale, its legends and the
//! schematic, so that a part looks the same on all of them.
//!
//! After ISO 1219-1 where it has one (from memory): a filter is a diamond with a broken line across the flow, a gauge a
//! circle with a needle, a check valve a ball on its seat before a spring, a restriction two arcs back to back. A shut-off
//! valve is two triangles tip to tip, as in the plumbing diagrams of ISO 14617; shut, they are filled. Manifold, tee and
//! plug are drawn as what they look like from above.

/// How strong a line is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Weight {
    /// As symbols are drawn.
    Plain,
    /// Stands out among them.
    Strong,
    /// A pipe of this width, metres.
    Pipe(f64),
}

/// What an area is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Filling {
    /// As the paper: it covers what lies beneath.
    Paper,
    /// As lines are.
    Ink,
    /// As the paper, and as lines are where the part is shut.
    InkWhereShut,
}

/// The form of a mark, in units of the symbol; x along the part, y across it to its left.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkShape {
    /// Straight pieces.
    Line {
        /// Its corners.
        points: Vec<(f64, f64)>,
        /// How strong it is.
        weight: Weight,
        /// Broken.
        dashed: bool,
    },
    /// A closed area.
    Area {
        /// Its corners.
        points: Vec<(f64, f64)>,
        /// What is in it.
        filling: Filling,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: (f64, f64),
        /// Its radius.
        radius: f64,
        /// What is in it.
        filling: Filling,
    },
    /// A box about the middle with rounded corners.
    RoundedBox {
        /// Half its length.
        half: f64,
        /// Its upper edge.
        top: f64,
        /// Its lower edge.
        bottom: f64,
        /// Of its corners.
        radius: f64,
        /// What is in it.
        filling: Filling,
    },
}

/// When a mark is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawn {
    /// Always, held at a least size with the symbol.
    Always,
    /// Always, true to scale whatever the size of the rest.
    TrueToScale,
    /// While the part is shut.
    WhileShut,
}

/// One mark of a symbol.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its form.
    pub form: MarkShape,
    /// When it is drawn.
    pub drawn: Drawn,
}

impl Mark {
    /// A plain line.
    pub fn line(points: &[(f64, f64)]) -> Self {
        Self::lines(points, Weight::Plain, false)
    }

    /// A broken line.
    pub fn dashed(points: &[(f64, f64)]) -> Self {
        Self::lines(points, Weight::Plain, true)
    }

    /// A line of another weight.
    pub fn weighted(points: &[(f64, f64)], weight: Weight) -> Self {
        Self::lines(points, weight, false)
    }

    fn lines(points: &[(f64, f64)], weight: Weight, dashed: bool) -> Self {
        Self { form: MarkShape::Line { points: points.to_vec(), weight, dashed }, drawn: Drawn::Always }
    }

    /// A closed area.
    pub fn area(points: &[(f64, f64)], filling: Filling) -> Self {
        Self { form: MarkShape::Area { points: points.to_vec(), filling }, drawn: Drawn::Always }
    }

    /// A circle.
    pub const fn circle(centre: (f64, f64), radius: f64, filling: Filling) -> Self {
        Self { form: MarkShape::Circle { centre, radius, filling }, drawn: Drawn::Always }
    }

    /// The same, drawn at other times.
    #[must_use]
    pub fn drawn(self, drawn: Drawn) -> Self {
        Self { drawn, ..self }
    }
}

/// How far a symbol reaches from its middle, and how it keeps readable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldSize {
    /// True size from the middle, metres.
    pub half: f64,
    /// Not drawn smaller than this from the middle, points of a screen; 0 for true to scale.
    pub least: f64,
}

/// The symbol of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartSymbol {
    /// Its marks, in the order they are drawn.
    pub marks: Vec<Mark>,
    /// One unit of its marks, metres.
    pub unit: f64,
    /// Along the part.
    pub along: HeldSize,
    /// Across it.
    pub across: HeldSize,
}

impl PartSymbol {
    /// A symbol of which one unit is half the part, held at the same least size both ways.
    pub(super) const fn unit(half: f64, least: f64, marks: Vec<Mark>) -> Self {
        let held = HeldSize { half, least };
        Self { marks, unit: half, along: held, across: held }
    }
}

/// How a part stands on the schematic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SchematicForm {
    /// Its symbol, one line of its legend for it open and another for it shut.
    Symbol {
        /// In the legend.
        legend: &'static str,
        /// In the legend, for one that is shut; none for what can't be.
        legend_shut: Option<&'static str>,
    },
    /// A dot where lines meet.
    Dot,
    /// A line with taps for its outlets.
    Header,
    /// A short stroke across the end of a line.
    Stroke,
}

/// A side of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// To its right.
    Right,
    /// To its left.
    Left,
    /// Over it.
    Above,
    /// Under it.
    Below,
}

/// From which scale on a part has its tag on the drawing to scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TagFrom {
    /// At every scale.
    Afar,
    /// Not from afar, where it explains itself.
    Nearer,
    /// Where there is room for the tags of small parts.
    Near,
}

/// Where the tag of a part stands on the drawing to scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TagPlacing {
    /// Sides it may stand on, the best first.
    pub sides: &'static [Beside],
    /// From which scale on.
    pub from: TagFrom,
}

/// The symbol of a piece of a row feed, two units long: liquid passes from -1 to 1 along x.
#[derive(Debug, Clone, PartialEq)]
pub struct ElementSymbol {
    /// Its marks, in the order they are drawn.
    pub marks: Vec<Mark>,
    /// Its length on the schematic, mm.
    pub schematic_length: f64,
    /// What the schematic's legend calls it.
    pub legend: &'static str,
    /// Stands on the drawing to scale too, at close scale.
    pub to_scale: bool,
}
