//! The window: everything that needs egui. No hydraulics and no file formats here.

pub mod canvas;
pub mod theme;
