//! Letters that the program's own fonts lack, with fonts that the tests bring along: what is installed does not matter.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use eframe::egui::{self, FontDefinitions, FontFamily, FontId};
use egui_kittest::Harness;
use equirow::drawing::paper::Letters as _;
use equirow::files::system_fonts::{FontUse, SystemFonts};
use equirow::plan::{Project, RoutingGeometry};
use equirow::session::Session;
use equirow::session::fonts::fonts_among;
use equirow::sheets::font::Fonts;
use equirow::sheets::{Date, SheetError, SheetFormat, SheetKind, SheetOptions, SheetSet, sheet_set};
use equirow::window::app::App;
use equirow::window::fallback_font::FallbackFonts;
use equirow::window::status_line::StatusLine;

/// In Hack, and not in DejaVu Sans Condensed.
const SPESMILO: char = '₷';

/// Hack, as egui ships it.
fn hack() -> Vec<u8> {
    let definitions = FontDefinitions::default();
    let (_, font) = definitions.font_data.iter().find(|(name, _)| name.as_str() == "Hack").unwrap();
    AsRef::<[u8]>::as_ref(&**font).to_vec()
}

/// A folder with that font alone.
fn folder(bytes: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("letters.ttf"), bytes).unwrap();
    folder
}

/// Sets the bits for embedding, `fsType` at byte 8 of the table OS/2 (OpenType 1.9).
fn with_embedding(mut bytes: Vec<u8>, bits: u16) -> Vec<u8> {
    let number = |bytes: &[u8], at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    let tables = usize::from(u16::from_be_bytes(bytes[4..6].try_into().unwrap()));
    let record = (0..tables).map(|index| 12 + 16 * index).find(|at| &bytes[*at..*at + 4] == b"OS/2").unwrap();
    let at = number(&bytes, record + 8) + 8;
    bytes[at..at + 2].copy_from_slice(&bits.to_be_bytes());
    bytes
}

fn project() -> Project {
    let mut project = equirow::files::open(Path::new("examples/nine-metre-bar.ron")).unwrap();
    project.title.title = format!("{SPESMILO} bar");
    project
}

fn sheets(project: &Project, fonts: Fonts) -> Result<SheetSet, SheetError> {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![SheetKind::Parts], fonts, ..all };
    sheet_set(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
}

#[test]
fn papers_borrow_a_font_of_the_system_and_say_so() {
    let folder = folder(&hack());
    let system = SystemFonts::of_folder(folder.path());
    let project = project();
    let fonts = fonts_among(&project, || &system);
    assert_eq!(fonts.others().iter().map(|one| one.family.as_str()).collect::<Vec<_>>(), ["Hack"]);
    assert_eq!(fonts.unwritable(&project.title.title, false), None);
    assert!(fonts.width("₷", false) > 0.5, "{}", fonts.width("₷", false));
    let set = sheets(&project, fonts).unwrap();
    let says = |warning: &String| warning.contains("₷") && warning.contains("\"Hack\"");
    assert_eq!(set.warnings.iter().filter(|one| says(one)).count(), 1, "{:?}", set.warnings);
    let svg = String::from_utf8(SheetFormat::Svg.files(&set).unwrap().remove(0).1).unwrap();
    assert!(svg.contains("font-family=\"'DejaVu Sans Condensed', 'Hack', sans-serif\""));
    // On one machine the same project gives the same bytes.
    let bytes = |set: &SheetSet| SheetFormat::Pdf.files(set).unwrap().remove(0).1;
    let again = sheets(&project, fonts_among(&project, || &system)).unwrap();
    assert!(bytes(&set) == bytes(&again));
    assert!(bytes(&set).windows(12).any(|piece| piece == b"Hack-Regular"), "the font is not in the file");
}

#[test]
fn a_project_in_our_own_letters_looks_at_no_font_of_the_system() {
    let mut project = project();
    project.title.title = "Поле Ελλάδα Łódź مزرعة שדה".to_owned();
    let fonts = fonts_among(&project, || panic!("the system's fonts were listed"));
    let set = sheets(&project, fonts).unwrap();
    assert!(set.warnings.iter().all(|warning| !warning.contains("font")), "{:?}", set.warnings);
    assert!(!SheetFormat::Pdf.files(&set).unwrap().remove(0).1.is_empty());
}

#[test]
fn a_font_that_may_not_be_embedded_is_for_the_screen_alone() {
    let letters = BTreeSet::from([SPESMILO]);
    // Bits of OpenType's OS/2 table: installable, preview and print, editable; restricted, no subsets, bitmaps alone.
    for (bits, may) in [(0, true), (4, true), (8, true), (2, false), (0x100, false), (0x200, false)] {
        let folder = folder(&with_embedding(hack(), bits));
        let system = SystemFonts::of_folder(folder.path());
        assert_eq!(system.covering(&letters, FontUse::Screen).len(), 1, "{bits}");
        assert_eq!(system.covering(&letters, FontUse::Papers).len(), usize::from(may), "{bits}");
    }
}

#[test]
fn a_letter_that_no_font_has_is_refused_with_its_place() {
    let folder = folder(&with_embedding(hack(), 2));
    let system = SystemFonts::of_folder(folder.path());
    let project = project();
    let fonts = fonts_among(&project, || &system);
    assert_eq!(fonts.unwritable(&project.title.title, false), Some(SPESMILO));
    let error = sheets(&project, fonts).unwrap_err().to_string();
    assert!(error.contains("U+20B7") && error.contains("install a font"), "{error}");
}

fn hack_folder() -> &'static SystemFonts {
    static FONTS: OnceLock<SystemFonts> = OnceLock::new();
    FONTS.get_or_init(|| SystemFonts::of_folder(folder(&hack()).keep().as_path()))
}

fn nowhere() -> &'static SystemFonts {
    static FONTS: OnceLock<SystemFonts> = OnceLock::new();
    FONTS.get_or_init(|| SystemFonts::of_folder(Path::new("/nonexistent")))
}

/// The window with one font of its own, and others from somewhere.
fn window(source: fn() -> &'static SystemFonts) -> Harness<'static, App> {
    let mut app = App::new(Session::new(project(), None));
    app.fallback = FallbackFonts::from(source);
    let mut harness = Harness::builder()
        .allow_missing_glyphs()
        .with_size(egui::vec2(1280.0, 800.0))
        .build_ui_state(|ui, app: &mut App| app.show(ui), app);
    let mut definitions = FontDefinitions::default();
    for family in definitions.families.values_mut() {
        family.retain(|name| name.as_str() != "Hack");
    }
    harness.ctx.set_fonts(definitions);
    for _ in 0..4 {
        harness.step();
        harness.state().fallback.wait();
    }
    harness
}

fn shows(harness: &Harness<'static, App>, letter: char) -> bool {
    let font = FontId::new(13.0, FontFamily::Proportional);
    harness.ctx.fonts_mut(|fonts| fonts.has_glyph(&font, letter))
}

#[test]
fn the_window_finds_a_font_for_a_letter_that_its_own_lack() {
    let mut harness = window(hack_folder);
    harness.step();
    assert!(shows(&harness, SPESMILO));
    // Of the papers' font, without the system's.
    assert!(shows(&harness, 'ა') && shows(&harness, 'ع'));
    assert!(harness.state().status.words().is_none());
}

#[test]
fn the_window_says_once_that_no_font_has_a_letter() {
    let mut harness = window(nowhere);
    let message = harness.state().status.words().unwrap().to_owned();
    assert!(message.contains("U+20B7") && message.contains("install a font"), "{message}");
    // Another project of the same letters: nothing new is said.
    let project = harness.state().session.project().clone();
    harness.state_mut().status = StatusLine::on(&Session::new(project, None));
    harness.step();
    assert_eq!(harness.state().status.words(), None);
}
