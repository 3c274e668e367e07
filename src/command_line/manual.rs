//! What the definitions of the arguments become besides a reader of them: help, manual pages, completions for shells.

use std::fmt::Write as _;
use std::process::ExitCode;

use clap::{Args, Command};
use clap_complete::Shell;
use clap_mangen::Man;

use super::{Ended, command, print, wrong_usage};
use crate::session::commands::{CommandEntry, Menu, TABLE};

#[derive(Args)]
pub(super) struct OfSubcommand {
    /// A subcommand; without one it is of the program
    subcommand: Option<String>,
}

impl OfSubcommand {
    /// The definition of the subcommand that is named, or of the whole program; a refusal has been printed.
    fn definition(&self, asks: &str) -> Result<Command, ExitCode> {
        let all = command();
        let Some(name) = &self.subcommand else { return Ok(all) };
        all.find_subcommand(name).cloned().ok_or_else(|| {
            let names: Vec<&str> = all.get_subcommands().map(Command::get_name).collect();
            wrong_usage(
                Some(asks),
                &format!("found \"{name}\", but the subcommands are {}", names.join(", ")),
            )
        })
    }
}

#[derive(Args)]
pub(super) struct Completions {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

/// `equirow help`: how a subcommand is called, or all of them and every command of the window.
pub(super) fn help(of: &OfSubcommand) -> Ended {
    let mut text = of.definition("help")?.render_help().to_string();
    if of.subcommand.is_none() {
        text.push_str(&window_commands());
    }
    Ok(print(&text, ExitCode::SUCCESS))
}

/// `equirow man`: a manual page in the language of `man`.
pub(super) fn man(of: &OfSubcommand) -> Ended {
    let mut page = Vec::new();
    // A page of its own without the number of the version would not say what it describes.
    let made = Man::new(of.definition("man")?.version(env!("CARGO_PKG_VERSION"))).render(&mut page);
    debug_assert!(made.is_ok(), "memory takes any page");
    Ok(print(&String::from_utf8_lossy(&page), ExitCode::SUCCESS))
}

/// `equirow completions`: a script for a shell.
pub(super) fn completions(asked: &Completions) -> ExitCode {
    let mut script = Vec::new();
    let mut all = command();
    let name = all.get_name().to_owned();
    clap_complete::generate(asked.shell, &mut all, name, &mut script);
    print(&String::from_utf8_lossy(&script), ExitCode::SUCCESS)
}

/// Each menu of the window with its commands, their keys and what they do.
fn window_commands() -> String {
    let mut text = "\nCommands of the window, by menu; Ctrl is Command on a Mac:\n".to_owned();
    for menu in Menu::ALL {
        let _ = writeln!(text, "\n{}", menu.label());
        for entry in TABLE.iter().filter(|entry| entry.menu == menu) {
            let _ = writeln!(text, "{}", line(entry));
        }
    }
    text
}

/// Keys, name and use of a command, in columns as wide as the longest of all takes.
fn line(entry: &CommandEntry) -> String {
    let widest = |of: fn(&CommandEntry) -> usize| TABLE.iter().map(of).max().unwrap_or_default();
    let keys = widest(|one| one.keys_text().chars().count());
    let label = widest(|one| one.label.chars().count());
    format!("  {:<keys$}  {:<label$}  {}", entry.keys_text(), entry.label, entry.about)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_names_every_command_once_with_its_columns_apart() {
        let page = window_commands();
        for entry in TABLE {
            let words = [entry.label, entry.about];
            let of_it = |line: &&str| {
                let mut columns = line.split("  ").map(str::trim).filter(|one| !one.is_empty());
                columns.clone().count() == 2 + usize::from(entry.keys.is_some())
                    && words.iter().all(|one| columns.any(|column| column == *one))
            };
            assert_eq!(page.lines().filter(of_it).count(), 1, "{}", entry.label);
        }
    }
}
