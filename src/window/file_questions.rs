//! What is asked about the file of the project in hand: unsaved work, a file that someone else has changed or removed, a
//! file of an older version.

use eframe::egui::{Context, Id, Modal};

use super::dialogs::DialogAnswer;
use super::theme;
use crate::files::VERSION;

/// What to do with unsaved work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unsaved {
    /// Save, then go on.
    Save,
    /// Go on without.
    Drop,
}

/// Asks before unsaved work is dropped: changes, something half made in the hand, or both.
pub fn unsaved(
    ctx: &Context,
    name: &str,
    is_changed: bool,
    half_made: Option<&str>,
) -> DialogAnswer<Unsaved> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("unsaved")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(380.0);
        ui.heading(if is_changed { "Save the changes?" } else { "Give up what is half made?" });
        ui.add_space(4.0);
        if is_changed {
            ui.label(format!("The last changes to {name} are not saved."));
        }
        if let Some(half_made) = half_made {
            ui.label(format!(
                "Not finished, and in no file: {half_made}. It is given up unless you cancel here and finish it."
            ));
        }
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if is_changed && ui.button("Save").clicked() {
                answer = DialogAnswer::Is(Unsaved::Save);
            }
            if ui.button(if is_changed { "Do not save" } else { "Give it up" }).clicked() {
                answer = DialogAnswer::Is(Unsaved::Drop);
            }
            if ui.button("Cancel").clicked() {
                answer = DialogAnswer::Closed;
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// What to do when someone else has changed the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Changed {
    /// Save over it.
    Overwrite,
    /// Save to another file.
    Elsewhere,
    /// Drop the changes here and open the file as it is now.
    Reload,
    /// Go on working with what is here.
    Keep,
}

/// Says that someone else has changed the file, before it is saved over or when it is noticed.
pub fn changed_on_disk(ctx: &Context, name: &str, saving: bool, unsaved: bool) -> DialogAnswer<Changed> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("changed on disk")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(440.0);
        ui.heading("The file has changed");
        ui.add_space(4.0);
        ui.label(format!("{name} was changed by someone else since it was opened or saved here."));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if saving {
                if ui.button("Save as…").clicked() {
                    answer = DialogAnswer::Is(Changed::Elsewhere);
                }
                if ui.button("Save over it").clicked() {
                    answer = DialogAnswer::Is(Changed::Overwrite);
                }
            } else if ui.button("Keep what is here").clicked() {
                answer = DialogAnswer::Is(Changed::Keep);
            }
            let reload = if unsaved { "Discard my changes and open it" } else { "Open it as it is now" };
            if ui.button(reload).clicked() {
                answer = DialogAnswer::Is(Changed::Reload);
            }
            if saving && ui.button("Cancel").clicked() {
                answer = DialogAnswer::Closed;
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// The same where the file is not there any more: there is nothing to save over, and nothing to open.
pub fn gone_from_disk(ctx: &Context, name: &str, saving: bool) -> DialogAnswer<Changed> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("gone from disk")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(440.0);
        ui.heading("The file is gone");
        ui.add_space(4.0);
        ui.label(format!(
            "{name} was removed or renamed by someone else since it was opened or saved here. What is here is in no file now."
        ));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.button("Save as…").clicked() {
                answer = DialogAnswer::Is(Changed::Elsewhere);
            }
            if ui.button("Save it there again").clicked() {
                answer = DialogAnswer::Is(Changed::Overwrite);
            }
            if saving && ui.button("Cancel").clicked() {
                answer = DialogAnswer::Closed;
            }
            if !saving && ui.button("Keep what is here").clicked() {
                answer = DialogAnswer::Is(Changed::Keep);
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// What to do with a file of an older version that is saved over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Older {
    /// Save over it.
    Save,
    /// Save to another file.
    Elsewhere,
}

/// Asks before a file of an older version becomes one of today's, which older programs can't open.
pub fn older_version(ctx: &Context, name: &str, version: u32) -> DialogAnswer<Older> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("older version")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(440.0);
        ui.heading("Save in the newer format?");
        ui.add_space(4.0);
        ui.label(format!(
            "{name} is in version {version} of the file format. Saved now it is in version {VERSION}, which an older Equirow can't open."
        ));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.button(format!("Save in version {VERSION}")).clicked() {
                answer = DialogAnswer::Is(Older::Save);
            }
            if ui.button("Save as…").clicked() {
                answer = DialogAnswer::Is(Older::Elsewhere);
            }
            if ui.button("Cancel").clicked() {
                answer = DialogAnswer::Closed;
            }
        });
    });
    answer.or_closed(modal.should_close())
}
