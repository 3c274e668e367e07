//! The only door to the disk: project files, the generic catalogue, and the list of recent files.
//!
//! Reading returns every problem found, each with where, what and what to try. Saving never harms the file
//! that was there: the new text is written beside it, flushed to the disk, and only then takes its name.
//!
//! Never here: what a project means (that is [`plan`](crate::plan)), dialogs, or anything of the window's own
//! storage. Start reading at [`project_file`].

mod attributes;
pub mod catalogue_file;
pub mod catch_readings;
pub mod cut_lengths;
mod embedded;
pub mod epa_file;
mod layout;
pub mod marks;
pub mod network_file;
pub mod notices;
pub mod output;
pub mod preferences;
pub mod project_file;
mod read_error;
mod reading;
mod recent;
pub mod recovery;
mod ron_words;
pub mod row_positions;
pub mod system_fonts;
mod unfinished;
mod version_1;
mod version_1_findings;
mod visible_path;
pub mod whole_file;
mod written;

pub use catalogue_file::{catalogue_bytes, catalogue_output, open_catalogue};
pub use embedded::{Example, demo, generic_catalogue};
pub use project_file::{
    VERSION, older_project, open, open_with_notes, read_catalogue, read_text, save, write_catalogue,
    write_text,
};
pub use read_error::ReadError;
pub use recent::{recent, remember};
pub use visible_path::visible_path;
pub use whole_file::write_whole;
pub use written::{NotKept, Notes, WriteError};
