//! The catalogue's table, driven by accessible names. No display is needed.

use crate::support::{Window, button, open_demo, press, says};
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use equirow::files;
use equirow::plan::SectionValve;
use equirow::plan::{EntryKey, Price, Project};

fn open() -> Window {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::G);
    harness
}

fn type_into(harness: &mut Window, label: &str, text: &str) {
    harness.get_by_label(label).focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.get_by_label(label).type_text(text);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
}

fn price(project: &Project, key: &str) -> Option<Price> {
    project.catalogue.entry(&EntryKey::new(key)).unwrap().price.clone()
}

#[test]
fn prices_are_typed_with_a_currency_and_taken_back() {
    let mut harness = open();
    type_into(&mut harness, "Price of hose-8", "2,50");
    assert_eq!(price(harness.state().session.project(), "hose-8"), None, "no currency is known yet");
    type_into(&mut harness, "Price of hose-8", "2,50 eur");
    let typed = Price { amount: 2.5, currency: "EUR".to_owned() };
    assert_eq!(price(harness.state().session.project(), "hose-8"), Some(typed));
    type_into(&mut harness, "Price of hose-10", "3");
    let alone = Price { amount: 3.0, currency: "EUR".to_owned() };
    assert_eq!(price(harness.state().session.project(), "hose-10"), Some(alone), "the catalogue's currency");
    harness.get_by_label("Prices in EUR");
    type_into(&mut harness, "Part number of hose-8", "D-77");
    harness.get_by_label("hose, hose-8").click();
    harness.run();
    type_into(&mut harness, "Connection of hose-8", "hose end");
    let entry = harness.state().session.project().catalogue.entry(&EntryKey::new("hose-8")).unwrap();
    assert_eq!(entry.connection, "hose end");
    for _ in 0..3 {
        harness.state_mut().session.undo();
    }
    assert_eq!(price(harness.state().session.project(), "hose-10"), None);
}

#[test]
fn another_catalogue_is_shown_before_it_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("dealer.csv");
    let mut theirs = files::generic_catalogue();
    theirs.entries[0].price = Some(Price { amount: 4.25, currency: "AUD".to_owned() });
    let mut new = theirs.entries[1].clone();
    new.key = EntryKey::new("dealer-hose");
    new.part_number = "D-1".to_owned();
    theirs.entries.push(new);
    std::fs::write(&path, files::catalogue_bytes(&path, &theirs).unwrap()).unwrap();

    let mut harness = open();
    let before = harness.state().session.project().clone();
    type_into(&mut harness, "File, RON or CSV", path.to_str().unwrap());
    harness.get_by_label("Compare with it").click();
    harness.run();
    let head =
        format!("{}: 1 new, 1 changed, {} the same, 0 in conflict", path.display(), theirs.entries.len() - 2);
    harness.get_by_label(&head);
    harness.get_by_label("Price: nothing becomes 4.25 AUD");
    assert_eq!(*harness.state().session.project(), before, "looking changes nothing");
    harness.get_by_label("Take 2").click();
    harness.run();
    let project = harness.state().session.project();
    assert!(project.catalogue.entry(&EntryKey::new("dealer-hose")).is_some());
    assert_eq!(price(project, "hose-8").unwrap().currency, "AUD");
    harness.state_mut().session.undo();
    assert_eq!(*harness.state().session.project(), before, "one step");
}

#[test]
fn a_file_that_can_not_be_read_says_why() {
    let mut harness = open();
    type_into(&mut harness, "File, RON or CSV", "/nowhere/dealer.csv");
    harness.get_by_label("Compare with it").click();
    harness.run();
    harness.get_by_label_contains("check the name and the folder");
}

#[test]
fn an_export_asks_before_it_replaces_and_never_touches_the_project_in_hand() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let (own, other, new) = (at("own.ron"), at("other.ron"), at("new.csv"));
    files::save(&own, &files::demo()).unwrap();
    let mut theirs = files::demo();
    theirs.title.title = "Another bar".to_owned();
    files::save(&other, &theirs).unwrap();
    let mut harness = crate::support::open(equirow::session::Session::open(&own).unwrap());
    press(&mut harness, Modifiers::COMMAND, Key::G);
    let export = |harness: &mut Window, path: &std::path::Path, button: &str| {
        type_into(harness, "File, RON or CSV", path.to_str().unwrap());
        crate::support::button(harness, button);
    };

    // The project in hand is refused, however often, and by another name too.
    let before = std::fs::read(&own).unwrap();
    for path in
        [own.clone(), folder.path().join("..").join(folder.path().file_name().unwrap()).join("own.ron")]
    {
        for _ in 0..2 {
            export(&mut harness, &path, "Export to it");
            assert!(says(&harness, "is the open project: give another name"));
        }
    }
    assert_eq!(std::fs::read(&own).unwrap(), before);

    // Another project is named, and stays until it is agreed; another path takes the question back.
    let before = std::fs::read(&other).unwrap();
    export(&mut harness, &other, "Export to it");
    assert!(says(&harness, "other.ron is an Equirow project, \"Another bar\", saved "));
    type_into(&mut harness, "File, RON or CSV", new.to_str().unwrap());
    assert!(!says(&harness, "Another bar"));
    crate::support::button(&mut harness, "Export to it");
    assert!(files::open_catalogue(&new).is_ok());
    export(&mut harness, &other, "Export to it");
    assert_eq!(std::fs::read(&other).unwrap(), before);
    crate::support::button(&mut harness, "Replace it");
    assert_eq!(files::open_catalogue(&other).unwrap(), harness.state().session.project().catalogue);
}

/// A data sheet gives Kv or Cv where the catalogue keeps a coefficient. Kv 2 at 12 mm: the velocity is 2/3600/A, K = 2Δp/(ρv²)
/// (definition of IEC 60534), Cv = Kv/0.865.
#[test]
fn a_loss_may_be_given_as_a_flow_factor() {
    let mut harness = open();
    type_into(&mut harness, "Find", "section-valve-12");
    harness.get_by_label("section valve, section-valve-12").click();
    harness.run();
    let k = |harness: &Window| match harness
        .state()
        .session
        .project()
        .catalogue
        .item(&equirow::plan::PartKey::new("section-valve-12"))
    {
        Some(equirow::plan::PartItem::SectionValve(SectionValve { k, .. })) => *k,
        other => panic!("{other:?}"),
    };
    type_into(&mut harness, "or Kv", "2");
    let velocity = 2.0 / 3600.0 / (0.25 * std::f64::consts::PI * 0.012 * 0.012);
    assert!((k(&harness) / (2e5 / 1000.0 / velocity.powi(2)) - 1.0).abs() < 1e-9);
    type_into(&mut harness, "or Kv", "2 cv");
    let velocity = velocity * 0.865;
    assert!((k(&harness) / (2e5 / 1000.0 / velocity.powi(2)) - 1.0).abs() < 1e-3);
    type_into(&mut harness, "Loss coefficient", "0");
    assert_eq!(k(&harness), 0.0);
}

#[test]
fn an_entry_is_added_by_its_kind_and_stands_ready_to_be_changed() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::G);
    assert!(says(&harness, "press the kind of an entry for its numbers"));
    let before = harness.state().session.project().catalogue.entries.len();
    button(&mut harness, "Add an entry");
    button(&mut harness, "gauge");
    let entries = &harness.state().session.project().catalogue.entries;
    assert_eq!(entries.len(), before + 1);
    let new = entries.iter().find(|entry| entry.key.0.ends_with("-2")).unwrap();
    assert!(says(&harness, &format!("{}: gauge", new.key)), "its numbers are shown");
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(harness.state().session.project().catalogue.entries.len(), before, "one step");
}

/// However far up it is dragged, the menus stay in reach.
#[test]
fn the_catalogue_never_covers_the_menus() {
    let mut harness = open_demo();
    press(&mut harness, Modifiers::COMMAND, Key::G);
    let title =
        harness.get_by_label("Only what is in use").rect().center_top() - eframe::egui::vec2(0.0, 22.0);
    harness.hover_at(title);
    harness.run_ok();
    harness.drag_at(title);
    harness.run_ok();
    harness.drop_at(eframe::egui::pos2(title.x, 1.0));
    harness.run_ok();
    let menus = harness.get_by_role_and_label(eframe::egui::accesskit::Role::Button, "File").rect();
    assert!(harness.get_by_label("Only what is in use").rect().top() > menus.bottom());
    button(&mut harness, "File");
    assert!(says(&harness, "Save as…"));
}
