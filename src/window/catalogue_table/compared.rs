//! Another catalogue beside ours: what it would add or change, and what is taken from it.

use std::collections::BTreeSet;

use eframe::egui::{self, Button, RichText, ScrollArea, Ui};

use crate::plan::catalogue_merge::{Compared, Conflict, Standing};
use crate::plan::{Edit, Entry, EntryKey};
use crate::session::{Refusal, Session};
use crate::window::theme::Theme;

/// Another catalogue beside ours, and what is to be taken from it.
#[derive(Debug)]
pub(super) struct CatalogueComparison {
    pub(super) from: String,
    pub(super) lines: Vec<Compared>,
    pub(super) take: BTreeSet<EntryKey>,
}

impl CatalogueComparison {
    /// What the other catalogue would add or change, each with a tick.
    /// Once it is done with, or why what was to be taken is refused.
    pub(super) fn show(&mut self, ui: &mut Ui, session: &mut Session) -> Option<Result<(), Refusal>> {
        let comparison = self;
        let theme = Theme::of(ui.visuals());
        let count = |wanted: fn(&Standing) -> bool| {
            comparison.lines.iter().filter(|line| wanted(&line.standing)).count()
        };
        ui.label(format!(
            "{}: {} new, {} changed, {} the same, {} in conflict",
            comparison.from,
            count(|one| matches!(one, Standing::Added)),
            count(|one| matches!(one, Standing::Changed(_))),
            count(|one| matches!(one, Standing::Unchanged)),
            count(|one| matches!(one, Standing::Conflict(_))),
        ));
        let mut close = false;
        let mut taken = false;
        ui.horizontal(|ui| {
            let label = format!("Take {}", comparison.take.len());
            taken = ui.add_enabled(!comparison.take.is_empty(), Button::new(label)).clicked();
            close = ui.button("Keep ours").clicked();
        });
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            for line in &comparison.lines {
                if line.standing == Standing::Unchanged {
                    continue;
                }
                let key = &line.entry.key;
                ui.horizontal_wrapped(|ui| {
                    let may = !matches!(line.standing, Standing::Conflict(_));
                    let mut take = comparison.take.contains(key);
                    let label = format!("{key}: {}", line.entry.description);
                    if ui.add_enabled(may, egui::Checkbox::new(&mut take, label)).changed() {
                        if take {
                            comparison.take.insert(key.clone());
                        } else {
                            comparison.take.remove(key);
                        }
                    }
                    let (words, colour) = match &line.standing {
                        Standing::Added => ("new".to_owned(), theme.soft),
                        Standing::Changed(differences) => {
                            let all: Vec<String> = differences
                                .iter()
                                .map(|one| {
                                    let or = |text: &String| {
                                        if text.is_empty() { "nothing".to_owned() } else { text.clone() }
                                    };
                                    format!("{}: {} becomes {}", one.field, or(&one.ours), or(&one.theirs))
                                })
                                .collect();
                            (all.join("; "), theme.ink)
                        }
                        Standing::Conflict(conflict) => (conflict_words(conflict), theme.warning),
                        Standing::Unchanged => (String::new(), theme.soft),
                    };
                    ui.label(RichText::new(words).color(colour));
                });
            }
        });
        if taken {
            let entries: Vec<Entry> = comparison
                .lines
                .iter()
                .filter(|line| comparison.take.contains(&line.entry.key))
                .map(|line| line.entry.clone())
                .collect();
            return Some(session.edit("Take from a catalogue", [Edit::PutEntries(entries)]));
        }
        close.then_some(Ok(()))
    }
}

fn conflict_words(conflict: &Conflict) -> String {
    match conflict {
        Conflict::OtherKind { ours, theirs } => {
            format!("in conflict: ours is a {ours}, theirs a {theirs}; give one of them another key")
        }
        Conflict::PartNumberTaken(key) => {
            format!("in conflict: its part number is that of our {key}; correct one of the two numbers")
        }
    }
}
