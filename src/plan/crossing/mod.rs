//! A hinge crossing: where a hose or tube is clamped on either side of a hinge, and how long the free piece between must be.
//!
//! The free piece is the shortest that keeps the least bend radius of its stock and is never stretched while the hinge turns,
//! with the slack that the project asks for, cut as people cut and shorter or longer under pressure. Its shape is that of a
//! hose without weight (`geometry/elastica.rs`), in the plane across the hinge; clamps that are not in one such plane are not
//! computed. Clamps lie on the straight stretch of the hose beside the hinge, where the free piece becomes shortest unless
//! somebody says where (`search.rs`), and rather on a frame member than where a carrier must be made (`places.rs`). Start
//! reading at [`crossings`].

mod at_hinges;
mod crossed;
mod gathered;
mod not_computed;
mod parts;
mod places;
mod search;
mod stretch;
mod words;

pub use at_hinges::{HoseBend, Unknown, crossings};
pub use crossed::{Awaited, Clamp, CrossedHinge, Crossing, CrossingBasis, HINGE_ALLOWANCE};
pub use gathered::{Gathered, gathered};
pub use not_computed::NotComputed;
pub use words::facts;
