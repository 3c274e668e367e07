//! Commands: everything that a menu, a key or a button can ask for.

mod catching_table;
mod names;
mod plumbing_table;
mod run;
mod search;
mod synonyms;
mod table;

pub use names::{Command, CommandEntry, Keys, Menu};
pub use run::{CommandDone, obstacle, run};
pub use search::search;
pub use table::TABLE;
