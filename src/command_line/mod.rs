//! The front without a window: one file a subcommand.

pub mod network;
