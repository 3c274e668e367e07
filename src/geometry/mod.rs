//! Shapes in metres: points, polylines, boxes, the rotation of a hinge, the bent hose between two clamps, and the view transform between the
//! bar and a flat picture of it.
//!
//! Coordinates are those of the bar in working position: x to the right, y forward, z up, origin at the bar's
//! centre on the ground. Never here: pixels of a particular toolkit, or what a shape means.

mod bend;
mod capsule;
mod elastica;
mod hinge;
mod point;
mod rigid_motion;
mod view;

pub use bend::{Bend, tightest_bend};
pub use capsule::{Box3, Capsule, distance_of_pieces};
pub use elastica::{Bent, FreePiece, NoShape, PlaneClamp};
pub use hinge::rotate_about;
pub(crate) use point::finite;
pub use point::{Bounds, Point2, Point3, polyline_length};
pub use rigid_motion::RigidMotion;
pub use view::View;
