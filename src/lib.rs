//! Equirow plumbs a wide folding seeding bar so that every row gets its share.
//!
//! The layers, bottom to top; a layer imports lower ones only (`tests/house/rules.rs` proves it):
//!
//! 0. [`quantities`] numbers with units | [`geometry`] shapes in metres
//! 1. [`plan`] the bar, the parts, the routings, and every edit that may change them
//! 2. [`hydraulics`] what flows, at what pressure, or why not
//! 3. [`checks`] findings | [`studies`] which is best, and what if | [`drawing`] the display list
//! 4. [`files`] the only door to the disk | [`sheets`] the papers, as bytes
//! 5. [`session`] the project in hand: gestures, undo, commands; no widgets
//! 6. `window` | [`command_line`] two fronts

pub mod checks;
pub mod command_line;
pub mod drawing;
pub mod files;
pub mod geometry;
pub mod hydraulics;
pub mod plan;
pub mod quantities;
pub mod session;
pub mod sheets;
pub mod studies;
#[cfg(feature = "window")]
pub mod window;
