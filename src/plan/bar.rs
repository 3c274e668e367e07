//! The frame: sections in a tree from the centre outwards, their hinges and frame members, and the rows.

use serde::{Deserialize, Serialize};

use super::bar_point::BarPoint;
use super::row::Row;
use super::{RowId, SectionId};
use crate::geometry::{Bounds, Point3};
use crate::quantities::{Angle, Length};

/// A folding bar in working position.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bar {
    /// Nominal spacing of rows, metres; above 0. The width `w` of a row's target unless rows take their own strips.
    pub row_spacing: Length,
    /// Which width a row stands for.
    pub row_widths: RowWidths,
    /// The ranks from front to back: how far forward each line of openers is, metres.
    pub ranks: Vec<Length>,
    /// Sections; a parent stands before its children, the centre first.
    pub sections: Vec<Section>,
    /// Rows from left to right as they are numbered.
    pub rows: Vec<Row>,
}

/// The width in a row's target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum RowWidths {
    /// The bar's nominal row spacing.
    #[default]
    Nominal,
    /// Its own strip, for unevenly spaced rows: half-way to each neighbour, outer rows to the edge of the working width.
    HalfWidths,
}

/// A rigid piece of the bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Section {
    /// Identity.
    pub id: SectionId,
    /// As people call it: `centre`, `inner wing left`.
    pub name: String,
    /// How it hangs on its parent; none for the centre section.
    pub hinge: Option<Hinge>,
    /// Left end in working position, metres.
    pub left: Length,
    /// Right end in working position, metres; beyond `left`.
    pub right: Length,
    /// Its frame.
    pub members: Vec<FrameMember>,
}

impl Section {
    /// Between its ends, ends included.
    pub fn spans(&self, x: f64) -> bool {
        (self.left.si()..=self.right.si()).contains(&x)
    }

    /// Width, metres.
    pub fn width(&self) -> Length {
        self.right - self.left
    }
}

/// Where and how a section turns against its parent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hinge {
    /// The section it hangs on.
    pub parent: SectionId,
    /// A point on the hinge line, working position.
    pub point: Point3,
    /// Direction of the hinge line; a positive angle turns right-handed about it. Not zero.
    pub axis: Point3,
    /// Angle at the lowest place reached at work (a wing that follows the ground), radians; usually 0, or the other way than
    /// `folded` for a wing that folds up.
    pub lowest: Angle,
    /// Angle in transport position, radians.
    pub folded: Angle,
    /// In which step of folding it turns; 1 to [`Hinge::MOST_STEPS`]. Hinges of one step turn together, each step begins
    /// when the one before it is done.
    #[serde(default = "first_step", skip_serializing_if = "is_first_step")]
    pub step: u8,
}

const fn first_step() -> u8 {
    Hinge::FIRST_STEP
}

const fn is_first_step(step: &u8) -> bool {
    *step == Hinge::FIRST_STEP
}

/// A straight piece of the frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrameMember {
    /// One end, working position.
    pub from: Point3,
    /// The other end.
    pub to: Point3,
    /// Width of the profile, metres; above 0.
    pub width: Length,
}

/// Where something is on the bar, as a tape measure finds it; metres, working position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// To the right of the bar's centre line.
    pub from_centre: f64,
    /// From the hinge that its section hangs on, along the bar; none on the centre section.
    pub from_hinge: Option<f64>,
    /// Behind the middle of the section's foremost frame member; none without a frame.
    pub behind_front: Option<f64>,
    /// Above the ground.
    pub height: f64,
}

impl Hinge {
    /// How far a point is from its line, metres; of one without an axis from its point.
    pub fn off_line(&self, at: Point3) -> f64 {
        let off = at - self.point;
        self.axis.unit().map_or(off, |axis| off - axis * off.dot(axis)).distance(Point3::default())
    }

    /// A pin seen from above: the section turns forward or back, not up.
    pub fn is_upright(&self) -> bool {
        self.axis.z.abs() > self.axis.x.hypot(self.axis.y)
    }

    /// The plane across its axis, in which it turns: a direction to the right in it and one upwards, or forward where it is
    /// upright; each of length 1. None for a hinge without an axis.
    pub fn plane(&self) -> Option<(Point3, Point3)> {
        let axis = self.axis.unit()?;
        let up = if self.is_upright() { Point3::new(0.0, 1.0, 0.0) } else { Point3::new(0.0, 0.0, 1.0) };
        let up = (up - axis * up.dot(axis)).unit()?;
        let right = up.cross(axis);
        // Of an axis across the bar, to the front.
        let is_turned = right.x < -1e-9 || (right.x.abs() <= 1e-9 && right.y < 0.0);
        Some((if is_turned { right * -1.0 } else { right }, up))
    }
}

impl Bar {
    /// Where a point is that rides on a section.
    pub fn place(&self, section: Option<SectionId>, at: Point3) -> Place {
        let section = section.and_then(|id| self.section(id));
        let front = section.and_then(|section| {
            section.members.iter().map(|member| member.from.y.max(member.to.y)).reduce(f64::max)
        });
        Place {
            from_centre: at.x,
            from_hinge: section.and_then(|section| section.hinge).map(|hinge| (at.x - hinge.point.x).abs()),
            behind_front: front.map(|front| front - at.y),
            height: at.z,
        }
    }

    /// A section by its id.
    pub fn section(&self, id: SectionId) -> Option<&Section> {
        self.sections.iter().find(|section| section.id == id)
    }

    /// A row by its id.
    pub fn row(&self, id: RowId) -> Option<&Row> {
        self.rows.iter().find(|row| row.id == id)
    }

    /// A row by the number that is painted at it.
    pub fn row_numbered(&self, number: u32) -> Option<&Row> {
        self.rows.iter().find(|row| row.number == number)
    }

    /// The section over a place; where none spans it, the one whose end is nearest.
    pub fn section_at(&self, x: f64) -> Option<&Section> {
        let gap = |section: &Section| (section.left.si() - x).max(x - section.right.si()).max(0.0);
        self.sections.iter().min_by(|a, b| gap(a).total_cmp(&gap(b)))
    }

    /// Where a row's liquid leaves, working position.
    pub fn outlet(&self, row: &Row) -> Point3 {
        let y = self.ranks.get(row.rank).map_or(0.0, |rank| rank.si());
        Point3::new(row.x.si(), y, row.outlet_height.si())
    }

    /// The underside of the lowest frame member of some sections above the ground, working position; none where none has a frame.
    pub fn underside(&self, sections: &[SectionId]) -> Option<Length> {
        let members = sections.iter().filter_map(|id| self.section(*id)).flat_map(|section| &section.members);
        let undersides =
            members.map(|member| Length::metres(member.from.z.min(member.to.z)) - member.width / 2.0);
        undersides.reduce(Length::min)
    }

    /// The hinges between two sections, each named by the section that hangs on it.
    pub fn hinges_between(&self, a: SectionId, b: SectionId) -> Vec<SectionId> {
        let (up_a, up_b) = (self.to_centre(a), self.to_centre(b));
        let mut crossed: Vec<SectionId> = up_a.iter().filter(|id| !up_b.contains(id)).copied().collect();
        crossed.extend(up_b.iter().filter(|id| !up_a.contains(id)));
        crossed.retain(|id| self.section(*id).is_some_and(|section| section.hinge.is_some()));
        crossed
    }

    /// The hinges that a way through these points crosses, in order, each named by the section that hangs on it; one that
    /// is crossed there and back comes twice.
    pub fn hinges_along(&self, path: &[BarPoint]) -> Vec<SectionId> {
        let mut crossed = Vec::new();
        for pair in path.windows(2).filter(|pair| pair[0].section != pair[1].section) {
            crossed.extend(self.hinges_between(pair[0].section, pair[1].section));
        }
        crossed
    }

    /// A section and its parents up to the centre.
    pub(super) fn to_centre(&self, id: SectionId) -> Vec<SectionId> {
        let mut path = Vec::new();
        let mut at = Some(id);
        while let Some(id) = at.filter(|id| !path.contains(id)) {
            path.push(id);
            at = self.section(id).and_then(|section| section.hinge).map(|hinge| hinge.parent);
        }
        path
    }

    /// The left and right edge of what it works, metres: the outermost ends of its sections; none without a section.
    pub fn edges(&self) -> Option<(f64, f64)> {
        let left = self.sections.iter().map(|section| section.left.si()).reduce(f64::min)?;
        let right = self.sections.iter().map(|section| section.right.si()).reduce(f64::max)?;
        Some((left, right))
    }

    /// Between its edges; zero without a section.
    pub fn working_width(&self) -> Length {
        self.edges().map_or(Length::ZERO, |(left, right)| Length::metres(right - left))
    }

    /// The plan view of everything that belongs to the bar.
    pub fn bounds(&self) -> Bounds {
        let members = self.sections.iter().flat_map(|section| &section.members);
        let frame = members.flat_map(|member| [member.from.flat(), member.to.flat()]);
        Bounds::around(frame.chain(self.rows.iter().map(|row| self.outlet(row).flat())))
    }
}
