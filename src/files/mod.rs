//! The only door to the disk.

pub mod network_file;
