//! The sheets view and export in the window, driven by accessible names as a screen reader would find them. No display
//! is needed.

use std::path::Path;

use crate::support::{Window, button, choose, click, fill, open_project as open, press, says, settle};
use eframe::egui::{self, Key, Modifiers, accesskit::Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use equirow::files;
use equirow::plan::{Edit, Project, RoutingGeometry, TitleBlock};
use equirow::session::papers::PapersState;

fn sheets_of(project: Project) -> Window {
    let mut harness = open(project);
    press(&mut harness, Modifiers::COMMAND, Key::P);
    settle(&mut harness);
    harness
}

fn many_pages(harness: &Window) -> usize {
    harness.state().sheets.papers().unwrap().current().map_or(0, |made| made.set.pages.len())
}

fn textures(harness: &Window) -> usize {
    harness.ctx.tex_manager().read().num_allocated()
}

/// Writes to a path in the dialog that is open.
fn write_to(harness: &mut Window, path: &Path) {
    fill(harness, "File", path.to_str().unwrap());
    button(harness, "Export");
    settle(harness);
}

#[test]
fn the_view_opens_with_every_page_and_closing_frees_them() {
    let mut harness = open(files::demo());
    let before = textures(&harness);
    press(&mut harness, Modifiers::COMMAND, Key::P);
    settle(&mut harness);
    let many = many_pages(&harness);
    assert!(many > 8, "{many} pages");
    assert_eq!(harness.state().sheets.papers().unwrap().state(), PapersState::UpToDate);
    assert!(says(&harness, "Page 1: Layout, overview") && says(&harness, &format!("Page {many}: ")));
    assert!(says(&harness, &format!("Page 1 of {many}: Layout, overview")));
    // Each in small, and one large.
    assert_eq!(textures(&harness), before + many + 1);
    assert!(says(&harness, "Used: overview 1:"), "the scale is stated");
    assert!(!harness.state().session.is_changed(), "looking changes no project");

    // Nothing goes on while nothing happens.
    harness.step();
    let delay = harness.output().viewport_output[&egui::ViewportId::ROOT].repaint_delay;
    assert!(delay > std::time::Duration::from_hours(1), "{delay:?}");

    press(&mut harness, Modifiers::NONE, Key::PageDown);
    assert_eq!(harness.state().sheets.page(), Some(1));
    settle(&mut harness);
    assert_eq!(textures(&harness), before + many + 1);
    assert_eq!(harness.state().session.routing_place(), 0, "Page down turns the page, not the routing");
    for _ in 0..many + 3 {
        button_if_enabled(&mut harness, "Next page");
    }
    assert_eq!(harness.state().sheets.page(), Some(many - 1));
    press(&mut harness, Modifiers::NONE, Key::PageDown);
    assert_eq!(harness.state().sheets.page(), Some(many - 1));

    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert!(!harness.state().sheets.is_open());
    harness.get_by_label("Drawing of the bar");
    assert_eq!(textures(&harness), before);
}

fn button_if_enabled(harness: &mut Window, name: &str) {
    let node = harness.query_all_by(|node| node.label().is_some_and(|label| label == name)).last();
    if let Some(node) = node.filter(|node| !node.accesskit_node().is_disabled()) {
        node.click();
    }
    harness.run_ok();
}

#[test]
fn paper_scale_and_kinds_are_chosen_and_stay_chosen() {
    let mut harness = sheets_of(files::demo());
    let many = many_pages(&harness);
    choose(&mut harness, "Paper", "A4");
    settle(&mut harness);
    let made = harness.state().sheets.papers().unwrap().current().unwrap().clone();
    assert_eq!((made.set.pages[0].width, made.set.pages[0].height), (297.0, 210.0));
    // ISO 5455: at 1:100 twelve metres are 120 mm and stand on one A4.
    choose(&mut harness, "Scale", "1:100");
    settle(&mut harness);
    assert!(says(&harness, "Used: overview 1:100,"));
    for kind in [
        "Layout",
        "Hinge crossings and folded bar",
        "Schematic",
        "Cut list and labels",
        "Fitting steps",
        "Commissioning sheet",
    ] {
        click(&mut harness, Role::CheckBox, kind);
    }
    settle(&mut harness);
    let left = many_pages(&harness);
    assert!(left > 0 && left < many, "{left} of {many}");
    click(&mut harness, Role::CheckBox, "Parts list");
    settle(&mut harness);
    assert!(says(&harness, "No sheet is chosen: tick at least one"));
    assert_eq!(many_pages(&harness), 0);
    click(&mut harness, Role::CheckBox, "Parts list");
    button(&mut harness, "Close");
    press(&mut harness, Modifiers::COMMAND, Key::P);
    settle(&mut harness);
    assert_eq!(many_pages(&harness), left);
    harness.get_by_label("Paper: A4");
}

#[test]
fn a_changed_project_marks_the_pages_and_draws_them_again() {
    let mut harness = sheets_of(files::demo());
    let generation = |harness: &Window| harness.state().sheets.papers().unwrap().generation();
    let first = generation(&harness);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::U);
    harness.step();
    assert!(says(&harness, "Out of date"));
    assert_eq!(many_pages(&harness), 0, "what is out of date can't be exported");
    settle(&mut harness);
    assert!(!says(&harness, "Out of date"));
    assert_eq!(generation(&harness), first + 1);
    // The paper that is usual there.
    harness.get_by_label("Paper: Tabloid");
    // The units of the view at the top are those of the papers.
    let made = harness.state().sheets.papers().unwrap().current().unwrap().clone();
    let words = |holds: &str| {
        made.set.pages.iter().flat_map(|page| &page.marks).any(|mark| match &mark.kind {
            equirow::drawing::paper::MarkKind::Words(words) => words.text.contains(holds),
            _ => false,
        })
    };
    assert!(words(" psi") && !words(" L/ha"));
}

#[test]
fn what_can_not_be_drawn_is_said_with_what_to_try() {
    let mut harness = sheets_of(files::demo());
    choose(&mut harness, "Paper", "A4");
    choose(&mut harness, "Scale", "1:1");
    settle(&mut harness);
    assert!(says(&harness, "The layout at 1:1 on A4 would take "));
    assert!(says(&harness, "choose 1:"));
    choose(&mut harness, "Scale", "largest that fits");
    settle(&mut harness);
    assert!(many_pages(&harness) > 0);

    // A code for private use, which no font here gives a shape; the window shows a box.
    harness.ctx.set_missing_glyph_policy(egui::MissingGlyphPolicy::Tofu);
    let title = TitleBlock { title: "\u{10fffd}".to_owned(), ..TitleBlock::default() };
    harness.state_mut().session.edit("Title", [Edit::SetTitle(title)]).unwrap();
    settle(&mut harness);
    assert!(says(&harness, "U+10FFFD"), "where, what and what to try");
    assert_eq!(many_pages(&harness), 0);
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    settle(&mut harness);
    assert!(many_pages(&harness) > 0);

    let mut empty = files::demo();
    empty.bar.sections.clear();
    empty.bar.rows.clear();
    empty.routings.iter_mut().for_each(|routing| *routing = equirow::plan::Routing::empty(routing.id, "A"));
    let harness = sheets_of(empty);
    assert!(says(&harness, "There is nothing to draw: the bar has no sections and no rows"));
}

#[test]
fn pages_are_written_and_nothing_is_replaced_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut harness = sheets_of(files::demo());
    let many = many_pages(&harness);
    button(&mut harness, "Export sheets as PDF");
    write_to(&mut harness, &at("all"));
    assert!(says(&harness, &format!("Written: {}", at("all.pdf").display())));
    let made = harness.state().sheets.papers().unwrap().current().unwrap().clone();
    assert_eq!(std::fs::read(at("all.pdf")).unwrap(), made.pdf, "what was seen is what was written");

    // The same name again: asked first.
    std::fs::write(at("all.pdf"), b"precious").unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::E);
    write_to(&mut harness, &at("all.pdf"));
    assert!(says(&harness, "all.pdf is there already, and not from Equirow, saved "));
    assert_eq!(std::fs::read(at("all.pdf")).unwrap(), b"precious");
    button(&mut harness, "Replace");
    settle(&mut harness);
    assert_eq!(std::fs::read(at("all.pdf")).unwrap(), made.pdf);

    for (format, ending) in [("SVG", ".svg"), ("DXF", "-mm.dxf"), ("PNG", ".png")] {
        button(&mut harness, &format!("Export sheets as {format}"));
        write_to(&mut harness, &at(&format!("each.{}", format.to_lowercase())));
        assert!(says(&harness, &format!("{many} files written: ")), "{format}");
        let written = std::fs::read_dir(folder.path()).unwrap();
        let names = written.map(|entry| entry.unwrap().file_name().into_string().unwrap());
        assert_eq!(names.filter(|name| name.starts_with("each") && name.ends_with(ending)).count(), many);
    }

    click(&mut harness, Role::RadioButton, "Page 1");
    button(&mut harness, "Export sheets as SVG");
    write_to(&mut harness, &at("one.svg"));
    assert!(std::fs::read_to_string(at("one.svg")).unwrap().contains("<svg"));

    // A page that is written alone leaves the pages of a set beside it.
    button(&mut harness, "Export sheets as SVG");
    write_to(&mut harness, &at("each.svg"));
    let pages = || {
        std::fs::read_dir(folder.path())
            .unwrap()
            .filter(|entry| {
                let path = entry.as_ref().unwrap().path();
                let name = path.file_name().unwrap().to_str().unwrap();
                name.starts_with("each-") && path.extension().is_some_and(|ending| ending == "svg")
            })
            .count()
    };
    assert_eq!(pages(), many);

    button(&mut harness, "Export sheets as PDF");
    write_to(&mut harness, &at("none/all.pdf"));
    assert!(says(&harness, "choose a folder that exists"), "said before any work");
    write_to(&mut harness, &at("all.doc"));
    assert!(says(&harness, "Sheets are written as .pdf, .svg, .dxf or .png"));
    button(&mut harness, "Cancel");
}

#[test]
fn a_shorter_set_asks_before_pages_of_a_longer_one_go() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("x.svg");
    let pages = || std::fs::read_dir(folder.path()).unwrap().count();
    let mut harness = sheets_of(files::demo());
    let many = many_pages(&harness);
    button(&mut harness, "Export sheets as SVG");
    write_to(&mut harness, &out);
    assert_eq!(pages(), many);
    click(&mut harness, Role::CheckBox, "Layout");
    settle(&mut harness);
    let few = many_pages(&harness);
    assert!(few < many);
    button(&mut harness, "Export sheets as SVG");
    write_to(&mut harness, &out);
    assert!(says(&harness, "that are not written again are removed: x-"));
    assert_eq!(pages(), many, "asked first");
    button(&mut harness, "Replace");
    settle(&mut harness);
    assert_eq!(pages(), few);
}

#[test]
fn lists_are_written_for_spreadsheets() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mut harness = sheets_of(files::demo());
    for (list, name) in [
        ("Parts list", "parts"),
        ("List of joints", "joints"),
        ("Hose and tube cut list", "cuts"),
        ("Hinge crossings", "hinges"),
        ("Hose and tube labels", "labels"),
        ("Commissioning sheet", "commissioning"),
    ] {
        if list != "Parts list" {
            choose(&mut harness, "List", list);
        }
        for ending in ["csv", "xlsx"] {
            let export = format!("Export list as {}", ending.to_uppercase());
            harness.get_by_label(&export).scroll_to_me();
            harness.run_ok();
            button(&mut harness, &export);
            write_to(&mut harness, &at(&format!("{name}.{ending}")));
            assert!(says(&harness, "Written: "), "{name}.{ending}");
            assert!(std::fs::metadata(at(&format!("{name}.{ending}"))).unwrap().len() > 100);
        }
    }
    let session = &harness.state().session;
    let parts = equirow::sheets::parts_list::parts_list(
        session.project(),
        RoutingGeometry::working(session.project(), session.routing()).with(session.routing()),
        session.project().duties.first(),
    );
    let csv = equirow::sheets::spreadsheet::csv(&parts).unwrap();
    assert_eq!(std::fs::read(at("parts.csv")).unwrap(), csv);
}

#[test]
fn a_picture_of_the_drawing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.png");
    let mut harness = open(files::demo());
    press(&mut harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::P);
    click(&mut harness, Role::RadioButton, "1280 pixels");
    fill(&mut harness, "File", path.to_str().unwrap());
    button(&mut harness, "Write");
    harness.state_mut().picture.as_mut().unwrap().wait();
    harness.run_ok();
    assert!(says(&harness, "Written: "));
    let file = std::fs::File::open(&path).unwrap();
    let info = png::Decoder::new(std::io::BufReader::new(file)).read_info().unwrap().info().clone();
    assert_eq!(info.width, 1280);
    // Once more: asked, as it is there by now.
    button(&mut harness, "Write");
    assert!(says(&harness, "bar.png is a picture of the drawing that Equirow wrote, saved "));
    button(&mut harness, "Replace");
    harness.state_mut().picture.as_mut().unwrap().wait();
    harness.run_ok();
    // Everything that gives colours: the deviation classes of the demo's rows, and the words of the legend.
    let bytes = std::fs::read(&path).unwrap();
    assert!(bytes.len() > 20_000);
    button(&mut harness, "Cancel");
    assert!(harness.state().picture.is_none());
}
