//! How wide, deep and high a bar is in a position of its fold.

use super::bar_point::BarPoint;
use super::fold::FoldedBar;
use super::project::Project;
use super::routing_geometry::LaidRouting;
use crate::geometry::Point3;
use crate::quantities::Length;

/// The box about everything of a bar that the project knows: frame members with their widths, outlets, placed parts, hoses
/// and tubes. Openers, wheels, hitch and whatever else the machine has are not in it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Envelope {
    corners: Option<(Point3, Point3)>,
}

impl Envelope {
    /// Of a bar with a routing, in a position of the fold.
    pub fn of(project: &Project, routing: LaidRouting, folded: &FoldedBar) -> Self {
        let mut envelope = Self::default();
        for section in &project.bar.sections {
            let motion = folded.motion(section.id);
            for member in &section.members {
                for end in [member.from, member.to] {
                    envelope.add(motion.place(end), member.width.si() / 2.0);
                }
            }
        }
        let anchors = &routing.geometry.anchors;
        for part in anchors.parts() {
            envelope.add(folded.place(part.middle()), 0.0);
        }
        for row in project.bar.rows.iter().filter(|row| !row.left_out) {
            envelope
                .add(folded.place(BarPoint { section: row.section, place: project.bar.outlet(row) }), 0.0);
        }
        // The supply hose leads to the pump, which does not fold.
        let joins_pump = |run: &&super::Run| run.from != super::End::Supply && run.to != super::End::Supply;
        let runs = routing.runs.iter().filter(joins_pump).filter_map(|run| routing.geometry.run(run.id));
        let tubes = routing.geometry.feeds().iter().flatten().flat_map(|feed| feed.tubes());
        for line in runs.chain(tubes) {
            for point in &line.path {
                envelope.add(folded.place(*point), 0.0);
            }
        }
        envelope
    }

    fn add(&mut self, point: Point3, around: f64) {
        let by = Point3::new(around, around, around);
        let (low, high) = (point - by, point + by);
        self.corners = Some(self.corners.map_or((low, high), |(least, most)| {
            (
                Point3::new(least.x.min(low.x), least.y.min(low.y), least.z.min(low.z)),
                Point3::new(most.x.max(high.x), most.y.max(high.y), most.z.max(high.z)),
            )
        }));
    }

    /// The corner that is farthest left, back and down, and the one opposite; none for a bar with nothing on it.
    pub const fn corners(&self) -> Option<(Point3, Point3)> {
        self.corners
    }

    /// From its left to its right end; zero for a bar with nothing on it.
    pub fn width(&self) -> Length {
        Length::metres(self.corners.map_or(0.0, |(least, most)| most.x - least.x))
    }

    /// The height of its highest point above the ground; zero for a bar with nothing on it.
    pub fn height(&self) -> Length {
        Length::metres(self.corners.map_or(0.0, |(_, most)| most.z.max(0.0)))
    }
}
