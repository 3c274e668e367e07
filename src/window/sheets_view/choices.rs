//! What is chosen: routing, sheets, paper, scale, notes; and what came of it.

use eframe::egui;
use eframe::egui::{ComboBox, RichText, Ui};

use crate::drawing::paper::{Page, scale_text};
use crate::drawing::sheet_frame::{Paper, SCALES};
use crate::plan::RoutingId;
use crate::plan::words::counted;
use crate::quantities::Measure;
use crate::session::Session;
use crate::session::papers::Papers;
use crate::sheets::SheetKind;
use crate::window::theme::Theme;

/// Width of the lists to choose from, points.
const LIST: f32 = 150.0;

/// Shows them; the routing, when another one is chosen.
pub(super) fn show(ui: &mut Ui, session: &Session, papers: &mut Papers) -> Option<RoutingId> {
    let theme = Theme::of(ui.visuals());
    let project = session.project();
    let units = project.units;
    let mut routing = session.routing().id;
    let before = papers.choice.clone();
    egui::Grid::new("choices").num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
        ui.label("Routing");
        let name = &session.routing().name;
        list(ui, "Routing", name, |ui| {
            for one in &project.routings {
                ui.selectable_value(&mut routing, one.id, &one.name);
            }
        });
        ui.end_row();
        ui.label("Paper of drawings");
        let paper = papers.choice.paper(units);
        list(ui, "Paper", paper.label(), |ui| {
            for one in Paper::ALL {
                let usual = if one == Paper::usual(units) { " (usual)" } else { "" };
                if ui.selectable_label(one == paper, format!("{}{usual}", one.label())).clicked() {
                    papers.choice.paper = (one != Paper::usual(units)).then_some(one);
                }
            }
        });
        ui.end_row();
        ui.label("Scale of layout");
        let words = |scale: Option<f64>| scale.map_or("largest that fits".to_owned(), scale_text);
        let scale = papers.choice.scale;
        list(ui, "Scale", &words(scale), |ui| {
            for one in std::iter::once(None).chain(SCALES.into_iter().map(Some)) {
                ui.selectable_value(&mut papers.choice.scale, one, words(one));
            }
        })
        .on_hover_text("Holds for the overview, and for the sections from 1:20 on");
        ui.end_row();
    });
    // The line keeps its room while nothing is known, so that nothing below it jumps.
    let used =
        papers.made().map(|made| scales(&made.set.pages, &made.set.kinds)).filter(|used| !used.is_empty());
    let used = match (used, papers.current().is_some()) {
        (Some(used), true) => format!("Used: {used}"),
        _ => "Used: –".to_owned(),
    };
    ui.label(RichText::new(used).small().color(theme.soft));
    ui.add_space(6.0);
    for kind in SheetKind::ALL {
        let pages =
            papers.current().map_or(0, |made| made.set.kinds.iter().filter(|one| **one == kind).count());
        let many = counted(pages, "page");
        ui.horizontal(|ui| {
            let mut wanted = papers.choice.kinds.contains(&kind);
            if ui.checkbox(&mut wanted, kind.label()).changed() {
                if wanted {
                    papers.choice.kinds.insert(kind);
                } else {
                    papers.choice.kinds.remove(&kind);
                }
            }
            if pages > 0 {
                ui.label(RichText::new(many).small().color(theme.soft));
            }
        });
    }
    ui.add_space(4.0);
    let speed = Measure::GroundSpeed.short_text(session.duty().usual.si(), units);
    ui.checkbox(&mut papers.choice.flows, "Note flows and pressures")
        .on_hover_text(format!("In the drawings, solved at the usual speed, {speed}"));
    if let Some(made) = papers.current() {
        if papers.choice.flows {
            ui.label(RichText::new(format!("Solved at the usual speed, {speed}")).small().color(theme.soft));
        }
        for warning in &made.set.warnings {
            ui.add(egui::Label::new(RichText::new(sentence(warning)).color(theme.warning)).wrap());
        }
        if session.routing().parts.is_empty() && session.routing().runs.is_empty() {
            let words = "Nothing is placed in this routing yet: the sheets show the bare bar";
            ui.add(egui::Label::new(RichText::new(words).color(theme.warning)).wrap());
        }
    }
    if papers.choice != before {
        papers.draw_now();
    }
    (routing != session.routing().id).then_some(routing)
}

/// A list to choose from, whose name for screen readers says what is chosen now.
fn list(ui: &mut Ui, name: &str, chosen: &str, content: impl FnOnce(&mut Ui)) -> egui::Response {
    let combo = ComboBox::from_id_salt(name).selected_text(chosen).width(LIST).height(320.0);
    let response = combo.show_ui(ui, content).response;
    let label = format!("{name}: {chosen}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, label.clone()));
    response
}

/// The scales of the layout: the overview's, then those of the sections.
fn scales(pages: &[Page], kinds: &[SheetKind]) -> String {
    let (mut overview, mut sections) = (Vec::new(), Vec::new());
    for (page, _) in pages.iter().zip(kinds).filter(|(_, kind)| **kind == SheetKind::Layout) {
        let Some(view) = page.view else { continue };
        let into = if page.shows_part { &mut sections } else { &mut overview };
        if !into.contains(&view.text()) {
            into.push(view.text());
        }
    }
    let mut said = Vec::new();
    if !overview.is_empty() {
        said.push(format!("overview {}", overview.join(" and ")));
    }
    if !sections.is_empty() {
        said.push(format!("sections {}", sections.join(" and ")));
    }
    said.join(", ")
}

/// With a capital at its start.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|one| one.to_uppercase().to_string()).unwrap_or_default();
    first + letters.as_str()
}
