//! The display list: plan and outcome turned into shapes in metres, once, for every picture of the bar.
//!
//! A [`Scene`] says what is drawn where and what it means ([`Ink`]), never in which colour. The screen and
//! every paper draw the same list, so that they can't disagree. Sizes that must stay readable carry a
//! [`Reach`]: true to scale where that is large enough, held at a least size where it is not. Lengths named
//! "picture units" are screen points in the window and the writer's own unit on paper.
//!
//! Sheets of paper are display lists of their own in millimetres ([`paper`]): [`layout_sheet`] puts the same shapes on
//! paper, true to scale, and [`schematic`] draws what is connected with what.
//!
//! Never here: colours, fonts, toolkits, file formats. Start reading at [`bar_scene`].

mod bar;
pub mod card;
pub mod crossing_picture;
pub mod crossing_table;
pub mod customer_sheet;
mod describe;
pub mod deviation;
mod dimension;
mod flow_arrow;
mod fold_scene;
pub mod folded_sheet;
mod harness;
mod label_places;
pub mod layout_sheet;
pub mod layout_tables;
pub mod paper;
mod pick;
pub mod pressure;
mod scene;
mod scene_options;
pub mod schematic;
mod seen_from;
pub mod sheet_frame;
pub mod sheet_source;
mod symbols;

pub use crate::plan::Subject;
pub use bar::{CAPTION_ROOM, FoldedWays, bar_scene};
pub use card::{Card, card};
pub use describe::describe;
pub use deviation::DeviationClass;
pub use fold_scene::{FoldRoom, fold_scene};
pub use pick::pick;
pub use pressure::{PressureClass, PressureScale};
pub use scene::{
    Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, Scene, SceneText, Shape, TextPlace, TextRole, Width,
};
pub use scene_options::{Colouring, Detail, SceneOptions};
pub use seen_from::SeenFrom;
pub use symbols::symbol;
