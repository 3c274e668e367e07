//! The project in hand: what is open, what is selected, what was done and can be undone, and the tools that turn
//! presses and moves (in metres) into edits.
//!
//! Never here: widgets, colours, pixels. Start reading at [`Session`] (`in_hand.rs`).

pub mod as_cut;
pub mod autosave;
pub mod bulk;
pub mod commands;
mod copied;
pub mod copies;
mod deleting;
mod document;
mod duties;
mod editor;
pub mod ends;
mod feed_ends;
pub mod fonts;
mod frame_cache;
mod giving_rows;
pub mod guide;
mod handles;
pub mod history;
mod in_hand;
mod in_line;
mod joining;
pub mod listing;
mod looking_at;
mod main_hoses;
mod mirror;
mod new_manifolds;
pub mod obstacle;
pub mod paper_export;
pub mod papers;
mod placing;
pub mod properties;
mod reconnecting;
pub mod refusal;
mod remedies;
pub mod remedy_trial;
mod routings;
mod row_groups;
pub mod row_sharing;
pub mod rows;
mod runs;
mod selected;
mod selection;
mod side;
pub mod side_by_side;
pub mod snap;
pub mod snapping;
mod solved;
pub mod studies;
pub mod study_actions;
pub mod task;
pub mod tool;
pub mod tools;

pub use copied::Copied;
pub use in_hand::Session;
pub use main_hoses::MainHoses;
pub use obstacle::Obstacle;
pub use refusal::{Refusal, Remark, Reply};
pub use row_sharing::Scope;
pub use selected::Selection;
pub use side::Side;
pub use side_by_side::SideBySide;
pub use snap::Ghost;
pub use tool::{Following, Gesture, Handle, Tool};
