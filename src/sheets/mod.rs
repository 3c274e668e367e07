//! The papers: what a customer builds from.
//!
//! [`document`] is the model of a paper: headings, tables, steps, cautions as plain data, numbers already in the
//! project's units. [`set`] makes the pages of a whole set, drawings and documents, numbered; the writers turn pages
//! into bytes: [`pdf`], [`svg`], [`dxf`] and, from the PDF's own bytes, [`picture`].
//!
//! Never here: files, paths or clocks (bytes are handed up), layout decisions taken twice, or numbers that another
//! layer could give. Start reading at [`set`] and [`document`].

pub mod basis;
pub mod behaviour;
mod carrier_words;
pub mod catch_test;
pub mod cautions;
pub mod commissioning;
mod customer;
pub mod cut_list;
pub mod cut_plan;
mod dashes;
mod date;
pub mod document;
pub mod dxf;
mod error;
mod extras;
pub mod fitting_steps;
pub mod font;
mod format;
pub mod hinge_crossings;
mod holding;
pub mod items;
pub mod joint_list;
mod leak_check;
pub mod packing;
pub mod parts_list;
pub mod pdf;
pub mod picture;
mod places;
pub mod set;
pub mod spreadsheet;
pub mod svg;
mod test_pieces;
mod typeset;

pub use basis::Basis;
pub use date::Date;
pub use error::SheetError;
pub use format::{NamedBytes, SheetFormat};
pub use set::{SheetKind, SheetOptions, SheetSet, sheet_set, sheet_set_of};
