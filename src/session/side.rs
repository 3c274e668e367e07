//! The two sides of a bar.

/// A side of the bar, seen facing forward.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// x below 0.
    Left,
    /// x above 0.
    Right,
}

impl Side {
    /// The other one.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }

    /// In words.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}
