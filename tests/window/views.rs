//! What the window shows, arranged view by view, and painted without a display: to be compared with the pictures in
//! `tests/snapshots` (`tests/window/pictures.rs`), and to be looked at (`tests/window/take_pictures.rs`).

#![allow(dead_code, reason = "shared by several test files; each uses its own part of it")]

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::OnceLock;

use eframe::egui::{Color32, Key, Modifiers, Theme, accesskit::Role, vec2};
use egui_kittest::kittest::Queryable as _;
use egui_kittest::{Harness, TestRenderer};
use equirow::files::{self, system_fonts::SystemFonts};
use equirow::geometry::Point2;
use equirow::plan::{Project, Routing, RoutingId, StockKey, Subject};
use equirow::session::Session;
use equirow::sheets::Date;
use equirow::sheets::picture::Picture;
use equirow::window::app::App;
use equirow::window::canvas::to_screen;
use equirow::window::fallback_font::FallbackFonts;
use equirow::window::software_painter::SoftwarePainter;

use crate::catch_stories::{self, Story};
use crate::support::{Window, button, choose, fill, press, settle, show};

/// One view of the window, and how to get there.
pub(crate) struct View {
    /// Its name, that of its files too.
    pub name: &'static str,
    /// The theme that it is compared in; none if it is only for looking at.
    pub compared: Option<Theme>,
    project: fn() -> Project,
    arrange: fn(&mut Window),
}

/// The size of the windows that are compared, points.
pub(crate) const SIZE: [f32; 2] = [1280.0, 800.0];

/// The picture of the window that README shows: its file, and how it looks now.
pub(crate) fn picture_of_readme() -> (PathBuf, Picture) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/window.png");
    (file, VIEWS[0].paint(Theme::Light, SIZE, true))
}

/// Every view that pictures are taken of.
pub(crate) const VIEWS: &[View] = &[
    View { name: "drawing", compared: Some(Theme::Light), project: files::demo, arrange: |_| {} },
    View {
        name: "pressures",
        compared: Some(Theme::Dark),
        project: large_bar,
        arrange: |window| window.state_mut().canvas.switch_colours(),
    },
    View {
        name: "details",
        compared: Some(Theme::Light),
        project: large_bar,
        arrange: |window| {
            select_part(window, "M3");
            window.state_mut().canvas.fit_selection();
        },
    },
    View {
        name: "row-table",
        compared: Some(Theme::Dark),
        project: large_bar,
        arrange: |window| table(window, "rows", "Line 2"),
    },
    View {
        name: "catalogue",
        compared: Some(Theme::Light),
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::G);
            window.get_by_label("hose, hose-8").click();
        },
    },
    View {
        name: "comparison",
        compared: Some(Theme::Light),
        project: files::demo,
        arrange: |window| press(window, Modifiers::NONE, Key::C),
    },
    View { name: "sheets", compared: Some(Theme::Light), project: large_bar, arrange: sheets },
    View {
        name: "bar-form",
        compared: Some(Theme::Light),
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::B);
            enter(window, "Rows", "38");
            button(window, "Divide evenly");
        },
    },
    // From here on to be looked at only.
    View { name: "drawing-24m", compared: None, project: large_bar, arrange: |_| {} },
    View {
        name: "section",
        compared: None,
        project: files::demo,
        arrange: |window| {
            let canvas = &mut window.state_mut().canvas;
            canvas.fit_next_section();
            (canvas.extras.widths, canvas.extras.grid) = (true, true);
        },
    },
    View { name: "card-row", compared: None, project: files::demo, arrange: |window| card(window, "Row 5,") },
    View {
        name: "card-hose",
        compared: None,
        project: files::demo,
        arrange: |window| card(window, "Hose H1,"),
    },
    View {
        name: "card-part",
        compared: None,
        project: files::demo,
        arrange: |window| card(window, "Manifold M2,"),
    },
    View {
        name: "ghost",
        compared: None,
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::NONE, Key::M);
            hover(window, Point2::new(1.0, 0.05));
        },
    },
    View {
        name: "measure",
        compared: None,
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::NONE, Key::L);
            let from = hover(window, Point2::new(-3.0, 0.9));
            window.drag_at(from);
            window.run_ok();
            hover(window, Point2::new(0.8, -0.9));
        },
    },
    View {
        name: "new-bar",
        compared: None,
        project: files::demo,
        arrange: |window| press(window, Modifiers::COMMAND, Key::N),
    },
    View {
        name: "new-bar-refused",
        compared: None,
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::N);
            enter(window, "Centre", "3");
        },
    },
    View {
        name: "import-file",
        compared: None,
        project: files::demo,
        arrange: |window| press(window, Modifiers::COMMAND, Key::I),
    },
    View { name: "import-rows", compared: None, project: files::demo, arrange: import },
    View {
        name: "settings-liquid",
        compared: None,
        project: files::demo,
        arrange: |window| settings(window, "Liquid"),
    },
    View {
        name: "settings-application",
        compared: None,
        project: files::demo,
        arrange: |window| settings(window, "Application"),
    },
    View {
        name: "settings-supply",
        compared: None,
        project: files::demo,
        arrange: |window| settings(window, "Pump"),
    },
    View {
        name: "settings-limits",
        compared: None,
        project: files::demo,
        arrange: |window| settings(window, "Limits"),
    },
    View {
        name: "settings-title-block",
        compared: None,
        project: files::demo,
        arrange: |window| settings(window, "Title block"),
    },
    View {
        name: "part-table",
        compared: None,
        project: large_bar,
        arrange: |window| press(window, Modifiers::COMMAND, Key::T),
    },
    View {
        name: "hose-table",
        compared: None,
        project: large_bar,
        arrange: |window| table(window, "hoses", "Line H2"),
    },
    View {
        name: "row-feed-table",
        compared: None,
        project: large_bar,
        arrange: |window| table(window, "row feeds", "Line T2"),
    },
    View {
        name: "commands",
        compared: None,
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::K);
            fill(window, "Find a command", "row");
        },
    },
    View {
        name: "start-card",
        compared: None,
        project: files::demo,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::K);
            enter(window, "Find a command", "start card");
        },
    },
    View {
        name: "finding",
        compared: None,
        project: files::demo,
        arrange: |window| {
            let finding = window.state().session.findings()[0].clone();
            button(window, &format!("More about: {}, {}", finding.place, finding.what));
        },
    },
    View {
        name: "routing-menu",
        compared: None,
        project: files::demo,
        arrange: |window| button(window, "Change…"),
    },
    View {
        name: "us-customary",
        compared: None,
        project: large_bar,
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::U);
            select_part(window, "M3");
        },
    },
    View { name: "several-selected", compared: None, project: files::demo, arrange: several },
    View {
        name: "menu",
        compared: None,
        project: files::demo,
        arrange: |window| window.get_by_role_and_label(Role::Button, "Edit").click(),
    },
    View {
        name: "help",
        compared: None,
        project: files::demo,
        arrange: |window| press(window, Modifiers::NONE, Key::F1),
    },
    View {
        name: "catch-none",
        compared: None,
        project: files::demo,
        arrange: |window| press(window, Modifiers::NONE, Key::F4),
    },
    View {
        name: "catch-sound",
        compared: None,
        project: || catch_stories::project(Story::Sound),
        arrange: catch_tests,
    },
    View {
        name: "catch-blocked",
        compared: None,
        project: || catch_stories::project(Story::BlockedOrifice),
        arrange: catch_tests,
    },
    View {
        name: "catch-crushed",
        compared: None,
        project: || catch_stories::project(Story::CrushedMain),
        arrange: catch_tests,
    },
    View {
        name: "catch-thick",
        compared: None,
        project: || catch_stories::project(Story::ThickLiquid),
        arrange: |window| {
            press(window, Modifiers::COMMAND, Key::U);
            catch_tests(window);
        },
    },
    View {
        name: "comparison-24m",
        compared: None,
        project: large_bar_twice,
        arrange: |window| press(window, Modifiers::NONE, Key::C),
    },
    View {
        name: "sheets-export",
        compared: None,
        project: large_bar,
        arrange: |window| {
            sheets(window);
            press(window, Modifiers::NONE, Key::PageDown);
            press(window, Modifiers::NONE, Key::Z);
            button(window, "Export sheets as PDF");
            settle(window);
        },
    },
    View {
        name: "sheets-refused",
        compared: None,
        project: large_bar,
        arrange: |window| {
            sheets(window);
            choose(window, "Scale", "1:2");
            settle(window);
        },
    },
];

fn example(name: &str) -> Project {
    files::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)).unwrap()
}

fn large_bar() -> Project {
    example("twenty-four-metre-bar.ron")
}

/// With a second routing that differs from the first in a part and a hose.
fn large_bar_twice() -> Project {
    let mut project = large_bar();
    let first = project.routings[0].clone();
    let id = RoutingId::next(project.routings.iter().map(|routing| routing.id));
    let mut other = Routing { id, name: "Moved".to_owned(), ..first };
    other.parts[2].position.x += 0.6;
    other.runs[2].line.stock = StockKey::new("hose-32");
    project.routings.insert(1, other);
    project
}

fn enter(window: &mut Window, name: &str, text: &str) {
    fill(window, name, text);
    press(window, Modifiers::NONE, Key::Enter);
}

fn select_part(window: &mut Window, tag: &str) {
    let session = &mut window.state_mut().session;
    let part = session.routing().parts.iter().find(|part| part.tag == tag).unwrap().id;
    session.select([Subject::Part(part)]);
}

fn several(window: &mut Window) {
    let session = &mut window.state_mut().session;
    let routing = session.routing();
    let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
    let parts = routing.parts.iter().take(3).map(|part| Subject::Part(part.id));
    let rows = session.project().bar.rows.iter().take(3).map(|row| Subject::Row(row.id));
    let all: Vec<Subject> = runs.chain(parts).chain(rows).collect();
    session.select(all);
}

fn table(window: &mut Window, which: &str, line: &str) {
    press(window, Modifiers::COMMAND, Key::T);
    button(window, &format!("Table of {which}"));
    window.get_by_label(line).click();
}

fn settings(window: &mut Window, page: &str) {
    press(window, Modifiers::COMMAND, Key::Comma);
    button(window, page);
}

fn sheets(window: &mut Window) {
    // The title block bears the date.
    window.state_mut().sheets.today = || Date { year: 2026, month: 3, day: 14 };
    press(window, Modifiers::COMMAND, Key::P);
    settle(window);
}

fn catch_tests(window: &mut Window) {
    press(window, Modifiers::NONE, Key::F4);
    settle(window);
}

fn import(window: &mut Window) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    let rows = "x;forward;height\n-0,45;0,3;0,05\n-0,15;-0,3;\n0,15;0,3;\nhere;0;0\n0,45;-0,3;0,06\n";
    std::fs::write(&file, rows).unwrap();
    press(window, Modifiers::COMMAND, Key::I);
    fill(window, "File", file.to_str().unwrap());
    button(window, "Read");
}

fn card(window: &mut Window, starts: &str) {
    let thing = window.get_by(|node| {
        node.role() == Role::Button && node.label().is_some_and(|label| label.starts_with(starts))
    });
    let at = thing.rect().center();
    window.hover_at(at);
    for _ in 0..60 {
        window.step();
    }
}

/// Moves the pointer to a point of the bar, and says where that is on the screen.
fn hover(window: &mut Window, at: Point2) -> eframe::egui::Pos2 {
    let rect = window.get_by_label("Drawing of the bar").rect();
    let at = to_screen(rect, &window.state().canvas.view.unwrap(), at);
    window.hover_at(at);
    window.run_ok();
    at
}

/// Hands the textures of every frame to a painter.
struct Textures(Rc<RefCell<SoftwarePainter>>);

impl TestRenderer for Textures {
    fn handle_delta(&mut self, delta: &mut eframe::egui::TexturesDelta) {
        self.0.borrow_mut().take_textures(delta);
    }
}

/// No fonts but the program's own, so that pictures are the same on every machine.
fn no_system_fonts() -> &'static SystemFonts {
    static FONTS: OnceLock<SystemFonts> = OnceLock::new();
    FONTS.get_or_init(|| SystemFonts::of_folder(Path::new("/nonexistent")))
}

impl View {
    /// Arranges it in a window of a size, points.
    pub(crate) fn open(&self, [width, height]: [f32; 2]) -> Window {
        let mut app = App::new(Session::new((self.project)(), None));
        app.fallback = FallbackFonts::from(no_system_fonts);
        let mut window = show(app, width, height);
        (self.arrange)(&mut window);
        window.run_ok();
        window
    }

    /// Arranges it in a window of a size, points, with letters hinted or not, and paints it, a pixel to a point.
    pub(crate) fn paint(&self, theme: Theme, [width, height]: [f32; 2], hinted: bool) -> Picture {
        let painter = Rc::new(RefCell::new(SoftwarePainter::default()));
        let mut app = App::new(Session::new((self.project)(), None));
        app.fallback = FallbackFonts::from(no_system_fonts);
        let builder = Harness::builder()
            .with_size(vec2(width, height))
            .with_max_steps(32)
            .renderer(Textures(Rc::clone(&painter)));
        let mut window = builder.build_ui_state(|ui, app: &mut App| app.show(ui), app);
        window.ctx.set_theme(theme);
        window.ctx.all_styles_mut(|style| style.visuals.text_options.font_hinting = hinted);
        window.run_ok();
        (self.arrange)(&mut window);
        window.run_ok();
        let scale = window.ctx.pixels_per_point();
        let triangles = window.ctx.tessellate(window.output().shapes.clone(), scale);
        let size = [width * scale, height * scale].map(|side| side.round() as usize);
        painter.borrow().paint(&triangles, size, scale, Color32::BLACK)
    }
}

/// The file that a compared view is kept in.
pub(crate) fn snapshot_file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots").join(format!("{name}.png"))
}

/// Half as wide and high, each pixel the mean of four: what snapshots are kept at.
pub(crate) fn halved(picture: &Picture) -> Picture {
    let (width, height) = (picture.width / 2, picture.height / 2);
    let mut rgba = Vec::with_capacity(width * height * 4);
    for y in 0..height {
        for x in 0..width {
            for channel in 0..4 {
                let at = |dx: usize, dy: usize| {
                    u32::from(picture.rgba[((2 * y + dy) * picture.width + 2 * x + dx) * 4 + channel])
                };
                rgba.push(((at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1) + 2) / 4) as u8);
            }
        }
    }
    Picture { width, height, rgba }
}
