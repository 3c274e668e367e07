//! A hinge crossing: where a hose or tube is clamped on either side of a hinge, and how long the free piece between must be.
//!
//! The free piece is the shortest that keeps the least bend radius of its stock and is never stretched while the hinge turns,
//! with the slack that the project asks for, cut as people cut and shorter or longer under pressure. Its shape is that of a
//! hose with its weight, full and empty, and its stiffness (`geometry/elastica.rs`, `plan/stock_bending.rs`), in the plane across
//! the hinge, whose way through the fold says where down is (`way.rs`); clamps that are not in one such plane are not computed,
//! and what of the weight acts across it is left out. Clamps lie on the straight stretch of the hose beside the hinge, where the
//! free piece becomes shortest unless somebody says where (`search.rs`), and rather on a frame member than where a carrier must
//! be made (`places.rs`). Start reading at [`crossings`].

mod as_assumed;
mod at_hinges;
mod crossed;
mod gathered;
mod not_computed;
mod parts;
mod places;
mod search;
mod stretch;
mod way;
mod words;

pub use as_assumed::IfUnlikeAssumed;
pub use at_hinges::{HoseBend, Unknown, crossings};
pub(super) use crossed::FilmKey;
pub use crossed::{Awaited, Clamp, CrossedHinge, Crossing, CrossingBasis, HINGE_ALLOWANCE, Hang};
pub use gathered::{Gathered, gathered};
pub use not_computed::NotComputed;
pub use words::{OUT_OF_PLANE, facts, lowest_words};
