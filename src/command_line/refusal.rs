//! Wrong usage in the program's own words: where, what, and what to try.

use std::error::Error as _;
use std::ffi::OsString;
use std::process::ExitCode;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Arg, Command, Subcommand as _, ValueHint};

use super::arguments::{innermost, path_of, subcommand_of};
use super::{Subcommand, command, wrong_usage};

/// Says why the arguments could not be read.
pub(super) fn tell(error: &clap::Error, arguments: &[OsString]) -> ExitCode {
    let all = command();
    let subcommand = subcommand_of(&all, arguments);
    if let (None, [first, rest @ ..]) = (subcommand, arguments)
        && !first.as_encoded_bytes().starts_with(b"-")
        && !rest.is_empty()
    {
        return wrong_usage(None, &no_subcommand(first, rest.first()));
    }
    // Of a subcommand with subcommands of its own it is these that have options.
    let path = path_of(&all, arguments);
    let refusal = UsageRefusal { error, command: innermost(&all, arguments).unwrap_or(&all), arguments };
    wrong_usage((!path.is_empty()).then_some(path.as_str()), &refusal.words())
}

struct UsageRefusal<'a> {
    error: &'a clap::Error,
    command: &'a Command,
    arguments: &'a [OsString],
}

impl UsageRefusal<'_> {
    fn words(&self) -> String {
        let name = self.context(ContextKind::InvalidArg);
        let argument = self.command.get_arguments().find(|one| one.to_string() == name);
        let label = argument.map_or_else(|| name.clone(), label);
        let value = self.context(ContextKind::InvalidValue);
        match self.error.kind() {
            ErrorKind::UnknownArgument if name.starts_with('-') => self.unknown_option(&name),
            ErrorKind::UnknownArgument => self.one_too_many(&name),
            ErrorKind::MissingRequiredArgument => {
                argument.map_or_else(|| format!("{name} is missing"), |one| self.missing(one))
            }
            ErrorKind::InvalidValue if value.is_empty() && argument.is_some_and(Arg::is_positional) => {
                format!("{label}: \"\" names no file")
            }
            ErrorKind::InvalidValue | ErrorKind::ValueValidation
                if value.is_empty() && argument.is_some_and(|one| self.lists_nothing(one)) =>
            {
                let known = listed(&self.all_of(ContextKind::ValidValue));
                format!(
                    "{label}: a comma with no name beside it; part the names by one comma each and end without one, \
                     out of {known}"
                )
            }
            ErrorKind::InvalidValue | ErrorKind::ValueValidation if value.is_empty() => {
                format!("{label} needs a value behind it")
            }
            ErrorKind::InvalidValue => {
                let known = listed(&self.all_of(ContextKind::ValidValue));
                let meant = self.meant(ContextKind::SuggestedValue);
                format!("{label}: \"{value}\" is not known; {meant}write {known}")
            }
            ErrorKind::ValueValidation => {
                let why = self.error.source().map(ToString::to_string).unwrap_or_default();
                format!("{label}: {why}")
            }
            ErrorKind::TooManyValues => format!("{label} stands alone, but found \"{label}={value}\""),
            ErrorKind::ArgumentConflict if name == self.context(ContextKind::PriorArg) => {
                format!("{label} is given twice; give it once")
            }
            ErrorKind::ArgumentConflict if !self.all_of(ContextKind::PriorArg).is_empty() => {
                let others: Vec<String> =
                    self.all_of(ContextKind::PriorArg).iter().map(|other| self.label_of(other)).collect();
                format!("{label} does not go with {}; give only one of them", listed(&others))
            }
            ErrorKind::InvalidUtf8 => {
                "an argument is no text in UTF-8; only names of files may be".to_owned()
            }
            _ => self.error.to_string(),
        }
    }

    /// How people call an argument that the parser names.
    fn label_of(&self, name: &str) -> String {
        let argument = self.command.get_arguments().find(|one| one.to_string() == name);
        argument.map_or_else(|| name.to_owned(), label)
    }

    /// A list with a comma was given for it: it lacks a name, and not a value.
    fn lists_nothing(&self, argument: &Arg) -> bool {
        let name = label(argument);
        let is_list = |words: &str| argument.get_value_delimiter().is_some_and(|mark| words.contains(mark));
        let words = || self.arguments.iter().map(|one| one.to_string_lossy());
        let behind = words().zip(words().skip(1)).any(|(before, value)| before == name && is_list(&value));
        behind || words().any(|one| one.strip_prefix(&format!("{name}=")).is_some_and(is_list))
    }

    /// What the parser noted, empty if it did not.
    fn context(&self, kind: ContextKind) -> String {
        self.all_of(kind).into_iter().next().unwrap_or_default()
    }

    fn all_of(&self, kind: ContextKind) -> Vec<String> {
        match self.error.get(kind) {
            Some(ContextValue::String(one)) => vec![one.clone()],
            Some(ContextValue::Strings(all)) => all.clone(),
            _ => Vec::new(),
        }
    }

    /// A question with what was probably meant, if anything is near.
    fn meant(&self, kind: ContextKind) -> String {
        let near = self.all_of(kind);
        if near.is_empty() { String::new() } else { format!("did you mean {}? Else ", listed(&near)) }
    }

    fn unknown_option(&self, name: &str) -> String {
        let known: Vec<String> =
            self.command.get_arguments().filter(|one| !one.is_positional()).map(label).collect();
        format!(
            "the option {name} is not known; {}try one of {}",
            self.meant(ContextKind::SuggestedArg),
            known.join(", ")
        )
    }

    /// A name for which there is no place.
    fn one_too_many(&self, name: &str) -> String {
        let takes: Vec<&Arg> = self.command.get_positionals().collect();
        match (&takes[..], takes.first().and_then(|one| self.given(one))) {
            ([], _) => format!("{} takes no argument, but found \"{name}\"", self.command.get_name()),
            ([one], Some(first)) if is_file(one) => {
                format!("{}: two files are given, {first} and {name}; give one", label(one))
            }
            _ => {
                let takes: Vec<String> = takes.into_iter().map(label).collect();
                format!("\"{name}\" is one name too many; give {}", takes.join(", "))
            }
        }
    }

    fn missing(&self, argument: &Arg) -> String {
        let help = argument.get_help().map(ToString::to_string).unwrap_or_default();
        let label = label(argument);
        let what =
            help.strip_prefix("The ").map_or_else(|| help.to_lowercase(), |rest| format!("the {rest}"));
        if !argument.is_positional() {
            return format!("{label} is missing; name {what}");
        }
        // What stands before it may be there: "only this one".
        let before =
            self.command.get_positionals().take_while(|one| one.get_id() != argument.get_id()).last();
        match before
            .filter(|before| is_file(before) == is_file(argument))
            .and_then(|before| self.given(before))
        {
            Some(before) => format!("{label}: only \"{before}\" is given; name {what}"),
            None if is_file(argument) => format!("{label}: no file is given; name {what}"),
            None => format!("{label}: no {} is given; name {what}", noun(argument)),
        }
    }

    /// What was given for an argument, as far as the rest can be read.
    fn given(&self, argument: &Arg) -> Option<String> {
        let words = std::iter::once(OsString::from("equirow")).chain(self.arguments.iter().cloned());
        let found = command().ignore_errors(true).try_get_matches_from(words).ok()?;
        let mut found = &found;
        while let Some((_, within)) = found.subcommand() {
            found = within;
        }
        let raw = found.get_raw(argument.get_id().as_str())?.next()?;
        Some(raw.to_string_lossy().into_owned())
    }
}

/// What is wrong with a first argument that is no subcommand.
fn no_subcommand(first: &OsString, next: Option<&OsString>) -> String {
    let only = Subcommand::augment_subcommands(Command::new("equirow")).disable_help_subcommand(true);
    let near = only.try_get_matches_from(["equirow".into(), first.clone()]).err();
    let near = match near.as_ref().and_then(|error| error.get(ContextKind::SuggestedSubcommand)) {
        Some(ContextValue::Strings(near)) => format!("; did you mean {}?", listed(near)),
        _ => String::new(),
    };
    let found = next.map_or_else(String::new, |next| format!(", but found \"{}\"", next.display()));
    format!("\"{}\" is no subcommand, and behind a PROJECT nothing may follow{found}{near}", first.display())
}

fn is_file(argument: &Arg) -> bool {
    argument.get_value_hint() == ValueHint::FilePath
}

/// What an argument that is no file stands for.
fn noun(argument: &Arg) -> &str {
    match argument.get_id().as_str() {
        "a" | "b" => "routing",
        other => other,
    }
}

/// How people call an argument: `--speed`, or `PROJECT`.
fn label(argument: &Arg) -> String {
    let value = || argument.get_value_names().and_then(|names| names.first()).map(ToString::to_string);
    argument
        .get_long()
        .map(|long| format!("--{long}"))
        .or_else(value)
        .unwrap_or_else(|| argument.get_id().to_string())
}

/// "a, b or c".
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} or {last}", rest.join(", ")),
    }
}
