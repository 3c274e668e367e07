//! The guide: how the window, the papers and the files are used. One text, for the window's help and for `equirow guide`.
//!
//! `guide.md` holds it: headings, and one paragraph a line. A command is named there by its wording in double brackets, and
//! gets its keys from the table of commands.

use std::fmt::Write as _;

use super::commands::TABLE;
use crate::plan::limits;
use crate::quantities::UnitSystem;

const SOURCE: &str = include_str!("guide.md");

/// Most letters in a line of the guide as plain text.
const LINE: usize = 96;

/// What is to be said of one matter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topic {
    /// Its heading.
    pub heading: String,
    /// One after the other.
    pub paragraphs: Vec<String>,
}

/// All topics; the last one lists the limits that findings are measured against.
pub fn topics() -> Vec<Topic> {
    let mut topics: Vec<Topic> = Vec::new();
    for line in SOURCE.lines() {
        if let Some(heading) = line.strip_prefix("## ") {
            topics.push(Topic { heading: heading.to_owned(), paragraphs: Vec::new() });
        } else if let (Some(topic), Some(words)) = (topics.last_mut(), line.strip_prefix("- ")) {
            topic.paragraphs.push(quoted(&with_keys(words)));
        }
    }
    topics.push(limits_topic());
    topics
}

/// The guide as plain text.
pub fn text() -> String {
    let mut out = String::new();
    for topic in topics() {
        let _ = writeln!(out, "{}\n", topic.heading);
        for paragraph in &topic.paragraphs {
            let mut length = 0;
            for word in paragraph.split(' ') {
                let letters = word.chars().count();
                let lead = match length {
                    0 => "- ",
                    _ if length + 1 + letters > LINE => "\n  ",
                    _ => " ",
                };
                length = if lead == " " { length + 1 + letters } else { 2 + letters };
                let _ = write!(out, "{lead}{word}");
            }
            out.push_str("\n\n");
        }
    }
    out
}

fn limits_topic() -> Topic {
    let line = |limit: &limits::Limit| {
        let text = |value: f64| limit.measure.short_text(value, UnitSystem::Metric);
        let [default, least, most] = [limit.default, limit.least, limit.most].map(text);
        format!("{}: {default} unless changed ({least} to {most}); {}.", limit.name, limit.source)
    };
    Topic { heading: "Limits".to_owned(), paragraphs: limits::TABLE.iter().map(line).collect() }
}

/// Commands with their keys: `[[Fit to window]]` becomes `Fit to window (F)`.
fn with_keys(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut rest = words;
    while let Some((before, (label, after))) =
        rest.split_once("[[").and_then(|(before, inside)| Some((before, inside.split_once("]]")?)))
    {
        let keys = TABLE.iter().find(|entry| entry.label == label).and_then(|entry| entry.keys);
        out.push_str(before);
        out.push_str(label.trim_end_matches('…'));
        if let Some(keys) = keys {
            let _ = write!(out, " ({})", keys.text());
        }
        rest = after;
    }
    out + rest
}

/// What is typed literally stands in quotation marks.
fn quoted(words: &str) -> String {
    let mut opens = true;
    words
        .chars()
        .map(|letter| match letter {
            '`' => {
                opens = !opens;
                if opens { '”' } else { '“' }
            }
            other => other,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_that_the_guide_names_exists() {
        for named in SOURCE.split("[[").skip(1) {
            let label = named.split_once("]]").unwrap().0;
            assert!(TABLE.iter().any(|entry| entry.label == label), "no command is called {label}");
        }
        assert!(topics().iter().flat_map(|topic| &topic.paragraphs).all(|one| !one.contains(['[', '`'])));
    }

    #[test]
    fn a_line_of_the_source_is_a_heading_or_a_paragraph() {
        for line in SOURCE.lines().filter(|line| !line.is_empty()) {
            assert!(line.starts_with("## ") || line.starts_with("- "), "{line}");
        }
        assert!(topics().iter().all(|topic| !topic.paragraphs.is_empty()));
        assert!(SOURCE.lines().all(|line| line.matches('`').count() % 2 == 0));
    }

    #[test]
    fn the_text_holds_every_topic_and_limit_in_lines_that_fit() {
        let text = text();
        for topic in topics() {
            assert!(text.contains(&format!("{}\n\n- ", topic.heading)), "{}", topic.heading);
        }
        assert!(text.contains("Fit to window (F) shows the bar"));
        assert!(
            text.contains("- Row flow from target: 5 % unless changed (0.1 % to 1000 %); each outlet within")
        );
        assert!(text.lines().all(|line| line.chars().count() <= LINE), "{text}");
    }
}
