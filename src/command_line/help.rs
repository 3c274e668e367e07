//! `equirow help`: the manual page of the window, from the one table of commands.

use std::fmt::Write as _;
use std::process::ExitCode;

use super::{print, wrong_usage};
use crate::session::commands::{Menu, TABLE};

/// Usage, for help and for wrong usage.
pub(super) const USAGE: &str = "equirow help";

/// Prints every command of the window by its menu.
pub(super) fn run(arguments: &[String]) -> ExitCode {
    if let Some(argument) = arguments.first() {
        return wrong_usage(&format!("help takes no argument, but found \"{argument}\""), USAGE);
    }
    print(&manual(), ExitCode::SUCCESS)
}

/// The page: each menu with its commands, their keys and what they do.
pub fn manual() -> String {
    let mut text = super::help();
    text.push_str("\ncommands of the window, by menu; Ctrl is Command on a Mac:\n");
    for menu in Menu::ALL {
        let _ = writeln!(text, "\n{}", menu.label());
        for entry in TABLE.iter().filter(|entry| entry.menu == menu) {
            let _ = writeln!(text, "  {:<16}{:<34}{}", entry.keys_text(), entry.label, entry.about);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_names_every_command_once() {
        let page = manual();
        for entry in TABLE {
            let line = format!("{:<16}{:<34}{}", entry.keys_text(), entry.label, entry.about);
            assert_eq!(page.matches(&line).count(), 1, "{}", entry.label);
        }
    }
}
