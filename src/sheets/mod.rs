//! The papers: what a customer builds from.
//!
//! [`document`] is the model of a paper: headings, tables, steps, cautions as plain data, numbers already in the
//! project's units. Writers turn it into bytes.
//!
//! Never here: files, paths or clocks (bytes are handed up), layout decisions taken twice, or numbers that another
//! floor could give. Start reading at [`document`].

pub mod cautions;
pub mod commissioning;
pub mod cut_list;
pub mod document;
mod fitting_order;
pub mod fitting_steps;
pub mod packing;
pub mod parts_list;
mod places;
pub mod port_list;
pub mod spreadsheet;
