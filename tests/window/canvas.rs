//! The canvas: words that never collide, colours, cards, gestures on the drawing. No display is needed.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use eframe::egui::{self, Event, Key, Modifiers, PointerButton, Pos2, RawInput, Rect, accesskit, pos2, vec2};
use egui_kittest::{Harness, kittest::Queryable as _};
use equirow::drawing::{
    Card, Colouring, Detail, Fill, Ink, Layer, PressureScale, SceneOptions, Shape, Subject, TextRole,
    bar_scene, card, pressure::rows_ahead_of_metering,
};
use equirow::files;
use equirow::geometry::{Point2, Point3, View};
use equirow::hydraulics::{Outcome, solve};
use equirow::plan::{Anchors, FeedElement, PartItem, Project, RoutingGeometry};
use equirow::quantities::UnitSystem;
use equirow::session::commands::Command;
use equirow::session::snap::SnapSettings;
use equirow::session::{Session, Tool, tool::Gesture};
use equirow::window::app::App;
use equirow::window::canvas::shown::Shown;
use equirow::window::canvas::to_screen;
use equirow::window::canvas::view::Canvas;
use proptest::prelude::*;

fn examples() -> Vec<Project> {
    ["nine", "twelve", "twenty-four"]
        .iter()
        .map(|name| files::open(format!("examples/{name}-metre-bar.ron").as_ref()).unwrap())
        .collect()
}

fn solved(project: &Project, at: usize) -> Outcome {
    solve(project, &project.routings[at], &project.duties.first().usual_point())
}

/// One frame of a canvas on a project, without a window around it.
struct Sheet {
    context: egui::Context,
    canvas: Canvas,
    size: egui::Vec2,
    selected: BTreeSet<Subject>,
    revision: u64,
}

impl Sheet {
    fn new(width: f32, height: f32) -> Self {
        let (context, canvas) = (egui::Context::default(), Canvas::default());
        Self { context, canvas, size: vec2(width, height), selected: BTreeSet::new(), revision: 0 }
    }

    fn draw(&mut self, project: &Project, outcome: &Outcome) {
        let rect = Rect::from_min_size(Pos2::ZERO, self.size);
        let input = RawInput { screen_rect: Some(rect), ..Default::default() };
        let (canvas, selected, revision) = (&mut self.canvas, &self.selected, self.revision);
        let mut output = self.context.run_ui(input, |ui| {
            let geometry = RoutingGeometry::working(project, &project.routings[0]);
            let routing = geometry.with(&project.routings[0]);
            let shown = Shown {
                project,
                routing,
                outcome: Some(outcome),
                revision,
                slot: 0,
                beside: None,
                caught: None,
                selected,
            };
            canvas.picture(ui, rect, &shown, "Drawing");
        });
        output.textures_delta.clear();
    }

    /// No two words overlap, and none leaves the picture.
    fn check(&self, what: &str) {
        let rect = Rect::from_min_size(Pos2::ZERO, self.size).expand(0.5);
        for (index, label) in self.canvas.labels[0].iter().enumerate() {
            assert!(rect.contains_rect(label.rect), "{what}: {label:?} leaves the picture");
            for other in &self.canvas.labels[0][index + 1..] {
                assert!(!label.rect.intersects(other.rect), "{what}: {label:?} covers {other:?}");
            }
        }
    }
}

#[test]
fn no_words_collide_at_any_zoom() {
    for project in examples() {
        let outcome = solved(&project, 0);
        let name = &project.title.title;
        for (width, height) in [(790.0, 270.0), (1430.0, 560.0), (420.0, 180.0)] {
            let mut sheet = Sheet::new(width, height);
            sheet.draw(&project, &outcome);
            sheet.check(name);
            assert!(!sheet.canvas.labels[0].is_empty(), "{name} says nothing at {width} × {height}");
            let fitted = sheet.canvas.view.unwrap();
            for step in -8i32..=34 {
                let scale = (fitted.scale * 1.14f64.powi(step)).clamp(2.0, 4000.0);
                for x in [0.0, -4.3, 3.15] {
                    sheet.canvas.view = Some(View { centre: Point2::new(x, 0.1), scale });
                    sheet.canvas.colouring =
                        if step % 2 == 0 { Colouring::Deviation } else { Colouring::Pressure };
                    let chosen = project.routings[0].parts.iter().find(|part| part.tag == "M1").unwrap();
                    sheet.selected =
                        if step % 3 == 0 { [Subject::Part(chosen.id)].into() } else { [].into() };
                    sheet.canvas.extras.widths = step % 2 == 0;
                    sheet.draw(&project, &outcome);
                    sheet
                        .check(&format!("{name}, {width} × {height}, {scale:.0} points per metre about {x}"));
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    /// Parts anywhere, even on top of each other; any place and zoom.
    #[test]
    fn no_words_collide_on_random_bars(
        which in 0usize..3,
        moves in prop::collection::vec((-1.5f64..1.5, -0.6f64..0.6), 24),
        zoom in 3.0f64..900.0,
        centre in (-9.0f64..9.0, -1.0f64..2.0),
        customary: bool,
    ) {
        let mut project = examples().swap_remove(which);
        if customary {
            project.units = UnitSystem::UsCustomary;
        }
        for (part, (dx, dy)) in project.routings[0].parts.iter_mut().zip(&moves) {
            let at = part.position;
            part.position = Point3::new(at.x + dx, at.y + dy, at.z);
            part.tag = format!("{}{}", part.tag, "0".repeat((dx.abs() * 4.0) as usize));
        }
        let outcome = solved(&project, 0);
        let mut sheet = Sheet::new(800.0, 300.0);
        sheet.canvas.view = Some(View { centre: Point2::new(centre.0, centre.1), scale: zoom });
        sheet.draw(&project, &outcome);
        sheet.check("random");
    }
}

/// At a glance: every manifold is named, and every section says what its rows get, on a 24 m bar in a small window.
#[test]
fn a_wide_bar_says_the_main_things_when_it_fits() {
    let project = examples().pop().unwrap();
    let outcome = solved(&project, 0);
    let mut sheet = Sheet::new(790.0, 270.0);
    sheet.draw(&project, &outcome);
    let says = |words: &str| sheet.canvas.labels[0].iter().any(|label| label.words.starts_with(words));
    for part in &project.routings[0].parts {
        if matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_))) {
            assert!(says(&part.tag), "{} has no tag: {:?}", part.tag, sheet.canvas.labels[0]);
        }
    }
    let summaries = sheet.canvas.labels[0].iter().filter(|label| label.words.ends_with('%')).count();
    assert!(summaries >= project.bar.sections.len(), "{:?}", sheet.canvas.labels[0]);
}

/// What stands on a drawing.
struct Standing {
    /// Boxes of parts, outlets, pump and pieces of row feeds, with what they stand for.
    boxes: Vec<(Rect, Option<Subject>)>,
    /// Straight pieces of hoses.
    hoses: Vec<[Pos2; 2]>,
}

fn standing(project: &Project, outcome: &Outcome, rect: Rect, view: &View) -> Standing {
    let geometry = RoutingGeometry::working(project, &project.routings[0]);
    let options = SceneOptions { detail: Detail::at(view.scale), ..SceneOptions::default() };
    let scene = bar_scene(project, geometry.with(&project.routings[0]), Some(outcome), &options);
    let (mut boxes, mut hoses) = (Vec::new(), Vec::new());
    for item in scene.items.iter().filter(|item| view.scale >= item.from_scale) {
        let grown = |point: Point2| item.grow.map_or(point, |grow| grow.apply(point, view.scale));
        let at = |point: &Point2| to_screen(rect, view, grown(*point));
        let is_solid = matches!(item.layer, Layer::Parts | Layer::Outlets | Layer::Runs | Layer::Feeds);
        match &item.shape {
            Shape::Polygon { points } if is_solid => {
                boxes.push((Rect::from_points(&points.iter().map(at).collect::<Vec<_>>()), item.subject));
            }
            Shape::Circle { centre, radius } if is_solid => {
                let factor = item.grow.map_or(1.0, |grow| grow.along.factor(view.scale));
                let size = 2.0 * (radius * factor * view.scale) as f32;
                boxes.push((Rect::from_center_size(at(centre), vec2(size, size)), item.subject));
            }
            Shape::Line { points, .. } if item.layer == Layer::Runs => {
                let points: Vec<Pos2> = points.iter().map(at).collect();
                hoses.extend(points.windows(2).map(|pair| [pair[0], pair[1]]));
            }
            _ => {}
        }
    }
    Standing { boxes, hoses }
}

/// A straight piece enters a box: tried at points along it a quarter of a point apart.
fn enters(rect: Rect, [a, b]: [Pos2; 2]) -> bool {
    let steps = ((b - a).length() * 4.0).ceil().max(1.0);
    (0..=steps as usize).any(|step| rect.contains(a.lerp(b, step as f32 / steps)))
}

/// At a glance every section has its name and what its rows get, off hoses, parts, outlets and pump; no line to a tag
/// passes over another thing.
#[test]
fn words_stay_by_their_owner() {
    for project in examples() {
        let outcome = solved(&project, 0);
        for (width, height) in [(790.0, 270.0), (1080.0, 300.0), (1430.0, 560.0)] {
            let mut sheet = Sheet::new(width, height);
            sheet.draw(&project, &outcome);
            // Once more: how much is drawn depends on the scale that was found.
            sheet.draw(&project, &outcome);
            let what = format!("{}, {width} × {height}", project.title.title);
            let rect = Rect::from_min_size(Pos2::ZERO, sheet.size);
            let Standing { boxes, hoses } = standing(&project, &outcome, rect, &sheet.canvas.view.unwrap());
            let labels = &sheet.canvas.labels[0];
            let names = labels.iter().filter(|label| label.role == TextRole::Section);
            assert_eq!(names.clone().count(), project.bar.sections.len(), "{what}: {labels:?}");
            for name in names {
                assert!(!hoses.iter().any(|hose| enters(name.rect, *hose)), "{what}: {name:?} covers a hose");
            }
            let figures = labels.iter().filter(|label| label.words.ends_with('%') && label.subject.is_none());
            assert!(figures.count() >= project.bar.sections.len(), "{what}: {labels:?}");
            for label in labels.iter().filter(|label| label.role != TextRole::OutletNumber) {
                for (solid, whose) in &boxes {
                    let own = label.subject.is_some() && *whose == label.subject;
                    assert!(
                        own || !label.rect.shrink(0.5).intersects(*solid),
                        "{what}: {label:?} hides {whose:?}"
                    );
                    let Some(leader) = label.leader.filter(|_| !own) else { continue };
                    assert!(!enters(*solid, leader), "{what}: the line of {label:?} passes over {whose:?}");
                }
            }
        }
    }
}

/// Nothing is lost where the bar is shown in two low bands: every section has its name and what its rows get.
/// Selecting something moves no tag, no name and no figures of a section, unless its own words had no room before. (The tubes of a
/// selected manifold are drawn apart, so that values of rows make room for them.)
#[test]
fn words_stay_where_they_are_when_something_is_selected() {
    for project in examples() {
        let outcome = solved(&project, 0);
        let routing = &project.routings[0];
        let mut sheet = Sheet::new(1080.0, 300.0);
        sheet.draw(&project, &outcome);
        sheet.draw(&project, &outcome);
        let before: BTreeMap<String, Rect> = words_of(&sheet);
        let parts = routing.parts.iter().map(|part| Subject::Part(part.id));
        let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
        for subject in parts.chain(runs).chain([Subject::Row(project.bar.rows[3].id)]) {
            sheet.selected = [subject].into();
            sheet.draw(&project, &outcome);
            let own = |label: &&equirow::window::canvas::paint::PlacedWords| label.subject == Some(subject);
            let is_new = |label: &equirow::window::canvas::paint::PlacedWords| {
                !before.values().any(|rect| *rect == label.rect)
            };
            // Where its own words had no room, they come before the others.
            if sheet.canvas.labels[0].iter().filter(own).any(is_new) {
                continue;
            }
            assert_eq!(words_of(&sheet), before, "{} {subject:?}", project.title.title);
        }
    }
}

fn words_of(sheet: &Sheet) -> BTreeMap<String, Rect> {
    let stays = |role| matches!(role, TextRole::Tag | TextRole::Section | TextRole::Caption);
    let all = sheet.canvas.labels[0].iter().filter(|label| stays(label.role)).enumerate();
    all.map(|(at, label)| (format!("{at} {}", label.words), label.rect)).collect()
}

#[test]
fn two_low_bands_say_what_every_section_gets() {
    for units in UnitSystem::ALL {
        let mut project = examples().pop().unwrap();
        project.units = units;
        let sections = project.bar.sections.len();
        let builder = Harness::builder().with_size(vec2(1280.0, 800.0)).with_max_steps(16);
        let app = App::new(Session::new(project, None));
        let mut harness = builder.build_ui_state(|ui, app: &mut App| app.show(ui), app);
        harness.run();
        let canvas = &harness.state().canvas;
        assert!(canvas.is_split());
        // The upper band holds the left half with the centre.
        let figures = canvas.labels[0].iter().filter(|label| {
            label.role == TextRole::Caption && label.words.ends_with('%') && label.subject.is_none()
        });
        assert!(figures.count() >= sections.div_ceil(2), "{units:?}: {:?}", canvas.labels[0]);
        let names = canvas.labels[0].iter().filter(|label| label.role == TextRole::Section);
        assert!(names.count() >= sections.div_ceil(2), "{units:?}: {:?}", canvas.labels[0]);
    }
}

/// Of outlets that stand closer together than a pointer is held, the card says which is nearest, and its row.
#[test]
fn the_outlet_that_is_pointed_at_is_said() {
    let mut harness = open();
    let session = &harness.state().session;
    let feed = session.routing().feeds.iter().find(|feed| feed.branches.len() == 1).unwrap();
    let port = feed.from.port().unwrap();
    let number = session.project().bar.row(feed.branches[0].row).unwrap().number;
    let tag = &session.routing().part(port.part).unwrap().tag;
    let says = format!("{}: row {number}", session.geometry().anchors.port_words(tag, port));
    let place = session.geometry().anchors.port(port).unwrap().place.flat();
    let at = on_screen(&harness, place);
    harness.hover_at(at);
    for _ in 0..60 {
        harness.step();
    }
    harness.get_by_label(&says);
}

/// The bar grows with the room that the folded panels leave.
#[test]
fn a_bar_in_two_bands_grows_when_panels_fold() {
    let mut harness = wide_bar(1920.0, 1080.0);
    let before = harness.state().canvas.view.unwrap().scale;
    for key in [Key::F6, Key::F7] {
        press(&mut harness, Modifiers::NONE, key);
    }
    let now = harness.state().canvas.view.unwrap().scale;
    assert!(harness.state().canvas.is_split());
    assert!(now > 1.1 * before, "{now} after {before} points a metre");
}

/// Near enough for every row to have room, every row in sight says its value.
#[test]
fn a_section_says_the_value_of_every_row() {
    for project in examples() {
        let outcome = solved(&project, 0);
        let mut sheet = Sheet::new(1200.0, 600.0);
        let section = &project.bar.sections[0];
        let middle = f64::midpoint(section.left.si(), section.right.si());
        sheet.canvas.view =
            Some(View { centre: Point2::new(middle, 0.0), scale: 1000.0 / section.width().si() });
        sheet.draw(&project, &outcome);
        for row in project.bar.rows.iter().filter(|row| row.section == section.id) {
            let subject = Some(Subject::Row(row.id));
            let found = sheet.canvas.labels[0].iter().any(|label| label.subject == subject);
            assert!(
                found,
                "{}: row {} says nothing: {:?}",
                project.title.title, row.number, sheet.canvas.labels[0]
            );
        }
    }
}

/// The balance of one way: the manifold's pressure, less what the tube takes, plus the weight of the liquid between
/// the manifold and the lower outlet (Bernoulli), is the pressure ahead of the metering. What the manifold's own body
/// and its inlet take, the spread of pressure over its ports on the flat, is all that may be missing.
#[test]
fn pressure_ahead_of_metering_closes_the_balance() {
    for project in examples() {
        let routing = &project.routings[0];
        let outcome = solved(&project, 0);
        let ahead = rows_ahead_of_metering(
            &project,
            RoutingGeometry::working(&project, routing).with(routing),
            &outcome,
        );
        assert_eq!(ahead.len(), project.bar.rows.len());
        let density = outcome.liquid.unwrap().density.si();
        for row in outcome.rows() {
            let feed = routing.feed(row.feed.unwrap()).unwrap();
            let (part, _) = row.outlet.unwrap();
            let tube = outcome.elements().iter().find(|one| one.feed == feed.id && one.index == 0).unwrap();
            assert!(matches!(feed.branches[0].elements[0], FeedElement::Tube(_)));
            let top = Anchors::of(&project, routing).part(part).unwrap().at.z;
            let foot = project.bar.row(row.row).unwrap().outlet_height.si();
            let expected = outcome.part(part).unwrap().pressure.unwrap().si() - tube.drop.unwrap().si()
                + density * 9.80665 * (top - foot);
            let found = ahead[&row.row].si();
            let host = outcome.part(part).unwrap();
            let body = (host.highest.unwrap() - host.lowest.unwrap()).si();
            assert!((found - expected).abs() < body + 0.01, "row {}: {found} against {expected}", row.number);
        }
    }
}

#[test]
fn pressures_colour_hoses_manifolds_and_rows_and_nothing_without_numbers() {
    let project = files::demo();
    let routing = &project.routings[0];
    let outcome = solved(&project, 0);
    let options = SceneOptions { colouring: Colouring::Pressure, ..SceneOptions::default() };
    let scene = bar_scene(
        &project,
        RoutingGeometry::working(&project, routing).with(routing),
        Some(&outcome),
        &options,
    );
    let scale =
        PressureScale::of(&project, RoutingGeometry::working(&project, routing).with(routing), &outcome)
            .unwrap();
    for run in outcome.runs() {
        let own: Vec<_> = scene
            .items
            .iter()
            .filter(|item| item.subject == Some(Subject::Run(run.run)) && item.layer == Layer::Runs)
            .filter_map(|item| match item.ink {
                Ink::Pressure(class) => Some(class),
                _ => None,
            })
            .collect();
        // From one end's class to the other's, through all between.
        let (from, to) = (scale.class(run.pressure_from.unwrap()), scale.class(run.pressure_to.unwrap()));
        assert_eq!((own.first(), own.last()), (Some(&from), Some(&to)), "{run:?}");
        assert_eq!(own.len(), usize::from(from.index.abs_diff(to.index)) + 1);
    }
    let filled = |subject: Subject| {
        scene.items.iter().any(|item| item.subject == Some(subject) && matches!(item.fill, Fill::Pressure(_)))
    };
    for row in &project.bar.rows {
        assert!(filled(Subject::Row(row.id)));
    }
    let mut cut = project.clone();
    cut.routings[0].runs.clear();
    let outcome = solved(&cut, 0);
    let scene = bar_scene(
        &cut,
        RoutingGeometry::working(&cut, &cut.routings[0]).with(&cut.routings[0]),
        Some(&outcome),
        &options,
    );
    assert!(
        scene
            .items
            .iter()
            .all(|item| { !matches!(item.fill, Fill::Pressure(_)) && !matches!(item.ink, Ink::Pressure(_)) })
    );
}

/// Bundled tubes are fewer, wider lines; marked ones lie apart.
#[test]
fn row_feeds_are_bundled_and_spread() {
    let project = files::demo();
    let routing = &project.routings[0];
    let manifold = routing.parts.iter().find(|part| part.tag == "M3").unwrap().id;
    let bundles = |options: &SceneOptions| {
        let scene =
            bar_scene(&project, RoutingGeometry::working(&project, routing).with(routing), None, options);
        scene.items.iter().filter(|item| item.layer == Layer::Feeds && item.subject.is_none()).count()
    };
    let together = SceneOptions::default();
    let apart = SceneOptions { marked: [Subject::Part(manifold)].into(), lane: 0.05, ..together.clone() };
    assert!(bundles(&together) > bundles(&apart));
    let scene = bar_scene(&project, RoutingGeometry::working(&project, routing).with(routing), None, &apart);
    let feeds =
        routing.feeds.iter().filter(|feed| feed.from.port().is_some_and(|port| port.part == manifold));
    let mut levels: Vec<i64> = Vec::new();
    for feed in feeds {
        let item = scene.items.iter().find(|item| item.subject == Some(Subject::Feed(feed.id))).unwrap();
        let Shape::Line { points, .. } = &item.shape else { panic!("a tube is a line") };
        let level = points.windows(2).filter(|pair| (pair[0].y - pair[1].y).abs() < 1e-6);
        let longest = level.max_by(|a, b| (a[0].x - a[1].x).abs().total_cmp(&(b[0].x - b[1].x).abs()));
        let side = i64::from(longest.unwrap()[0].x > longest.unwrap()[1].x) * 10_000;
        levels.push(side + (longest.unwrap()[0].y * 1000.0).round() as i64);
    }
    let different: BTreeSet<i64> = levels.iter().copied().collect();
    assert_eq!(different.len(), levels.len(), "{levels:?}");
}

#[test]
fn cards_say_the_numbers_with_their_units() {
    let project = files::demo();
    let routing = &project.routings[0];
    let outcome = solved(&project, 0);
    let of = |subject| {
        card(
            &project,
            RoutingGeometry::working(&project, routing).with(routing),
            Some(&outcome),
            subject,
            UnitSystem::Metric,
        )
        .unwrap()
    };
    let value = |card: &Card, name: &str| {
        let found = card.facts.iter().find(|(one, _)| *one == name);
        found.unwrap_or_else(|| panic!("{name} is missing: {card:?}")).1.clone()
    };
    let hose = of(Subject::Run(routing.runs[0].id));
    assert_eq!(hose.tag, "H1");
    for (name, unit) in [
        ("Pressure in", "bar"),
        ("Pressure out", "bar"),
        ("Flow", "L/min"),
        ("Velocity", "m/s"),
        ("Length", "m"),
        ("Holds", "L"),
    ] {
        assert!(value(&hose, name).ends_with(unit), "{name}: {}", value(&hose, name));
    }
    // Re = 4 ρ q/(π μ D) (Reynolds 1883), by hand from the outcome.
    let run = outcome.runs()[0];
    let liquid = outcome.liquid.unwrap();
    let bore = project.catalogue.stock(&routing.runs[0].line.stock).unwrap().bore.si();
    let reynolds = 4.0 * liquid.density.si() * run.flow.unwrap().si()
        / (std::f64::consts::PI * liquid.viscosity.si() * bore);
    let regime = if reynolds <= 2000.0 { "laminar" } else { "" };
    let says = value(&hose, "Reynolds number");
    assert!(says.replace(',', "").starts_with(&format!("{reynolds:.0}")) && says.contains(regime), "{says}");
    let row = of(Subject::Row(project.bar.rows[0].id));
    assert!(value(&row, "Ahead of metering").ends_with("bar") && value(&row, "Fed by").starts_with("M1"));
    let manifold = routing.parts.iter().find(|part| part.tag == "M1").unwrap().id;
    let manifold = of(Subject::Part(manifold));
    assert_eq!(value(&manifold, "Rows"), "1 to 6");
    assert!(value(&manifold, "Fed by").contains(" from "), "{manifold:?}");
    // Without numbers none is shown.
    let blank = card(
        &project,
        RoutingGeometry::working(&project, routing).with(routing),
        None,
        Subject::Run(routing.runs[0].id),
        UnitSystem::Metric,
    )
    .unwrap();
    assert!(blank.facts.iter().all(|(_, value)| !value.contains("bar")), "{blank:?}");
}

fn open() -> Harness<'static, App> {
    let builder = Harness::builder().with_size(vec2(1280.0, 800.0)).with_max_steps(16);
    let app = App::new(Session::new(files::demo(), None));
    let mut harness = builder.build_ui_state(|ui, app: &mut App| app.show(ui), app);
    harness.run();
    harness
}

fn on_screen(harness: &Harness<'static, App>, at: Point2) -> Pos2 {
    let canvas = &harness.state().canvas;
    to_screen(canvas.place.unwrap(), &canvas.view.unwrap(), at)
}

fn press(harness: &mut Harness<'static, App>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

#[test]
fn keys_fit_pan_and_switch_colours() {
    let mut harness = open();
    let whole = harness.state().canvas.view.unwrap();
    press(&mut harness, Modifiers::SHIFT, Key::Z);
    let section = harness.state().canvas.view.unwrap();
    assert!(section.scale > whole.scale && section.centre.x < -0.9, "{section:?}");
    for _ in 0..4 {
        press(&mut harness, Modifiers::SHIFT, Key::Z);
    }
    assert!(harness.state().canvas.view.unwrap().centre.x > 0.9);
    press(&mut harness, Modifiers::COMMAND, Key::ArrowRight);
    let right = harness.state().canvas.view.unwrap();
    press(&mut harness, Modifiers::COMMAND, Key::ArrowLeft);
    assert!(harness.state().canvas.view.unwrap().centre.x < right.centre.x);
    press(&mut harness, Modifiers::NONE, Key::F);
    assert_eq!(harness.state().canvas.view.unwrap(), whole);
    let part = harness.state().session.routing().parts[0].clone();
    harness.state_mut().session.select([Subject::Part(part.id)]);
    press(&mut harness, Modifiers::NONE, Key::Z);
    let near = harness.state().canvas.view.unwrap();
    assert!(near.scale > whole.scale * 2.0 && near.centre.distance(part.position.flat()) < 0.2, "{near:?}");
    press(&mut harness, Modifiers::NONE, Key::P);
    assert_eq!(harness.state().canvas.colouring, Colouring::Pressure);
    harness.get_by_role_and_label(accesskit::Role::Button, "Deviation").click();
    harness.run();
    assert_eq!(harness.state().canvas.colouring, Colouring::Deviation);
}

#[test]
fn layers_switch_off_and_on() {
    let mut harness = open();
    let tags = |harness: &Harness<'static, App>| {
        harness.state().canvas.labels[0].iter().filter(|label| label.role == TextRole::Tag).count()
    };
    let before = tags(&harness);
    assert!(before > 0);
    harness.get_by_label("Layers").click();
    harness.run();
    harness.get_by_label("Tags").click();
    harness.run();
    assert_eq!(tags(&harness), 0);
    harness.get_by_label("Tags").click();
    harness.run();
    assert_eq!(tags(&harness), before);
}

#[test]
fn a_distance_is_measured_and_shown() {
    let mut harness = open();
    harness.state_mut().session.take(Tool::Measure);
    let session = &mut harness.state_mut().session;
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let (from, to) = (Point2::new(-2.0, 1.6), Point2::new(1.0, -1.4));
    let (a, b) = (on_screen(&harness, from), on_screen(&harness, to));
    harness.hover_at(a);
    harness.run();
    harness.drag_at(a);
    harness.run();
    harness.hover_at(b);
    harness.run();
    harness.drop_at(b);
    harness.run();
    let session = &harness.state().session;
    assert!(matches!(session.gesture(), Gesture::Measuring { .. }));
    let metres = session.measured().unwrap().si();
    assert!((metres - from.distance(to)).abs() < 0.05, "{metres}");
    assert!(!session.is_changed());
}

#[test]
fn a_box_selects_and_handles_bend_a_hose() {
    let mut harness = open();
    // Shift on an empty place in front of the bar, across the filter.
    let (a, b) = (on_screen(&harness, Point2::new(-1.3, 1.6)), on_screen(&harness, Point2::new(-0.3, 0.98)));
    harness.hover_at(a);
    harness.run();
    let button = |pressed, pos| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::SHIFT,
    };
    harness.event_modifiers(button(true, a), Modifiers::SHIFT);
    harness.run();
    harness.hover_at(b);
    harness.run();
    assert!(matches!(harness.state().session.gesture(), Gesture::Box { .. }));
    harness.event_modifiers(button(false, b), Modifiers::SHIFT);
    harness.run();
    let filter = harness.state().session.routing().parts[0].id;
    assert!(harness.state().session.selection().contains(&Subject::Part(filter)));

    let run = harness.state().session.routing().runs[1].clone();
    harness.state_mut().session.select([Subject::Run(run.id)]);
    harness.run();
    let at = on_screen(&harness, run.line.waypoints[0].place.flat());
    for step in 0..4 {
        let to = at + vec2(-6.0 * step as f32, 4.0 * step as f32);
        harness.hover_at(to);
        harness.run();
        if step == 0 {
            harness.drag_at(to);
            harness.run();
        }
    }
    harness.drop_at(at + vec2(-18.0, 12.0));
    harness.run();
    let after = harness.state().session.routing().run(run.id).unwrap().line.waypoints.clone();
    assert_ne!(after, run.line.waypoints);
}

/// In each frame of a drag the details say where the part stands that the session holds, not where it was a frame ago.
#[test]
fn details_follow_a_drag_in_the_same_frame() {
    let mut harness = open();
    let (part, place) = {
        let session = &harness.state().session;
        let part = session.routing().parts.iter().find(|part| part.tag == "M2").unwrap();
        (part.id, part.position)
    };
    let at = on_screen(&harness, place.flat());
    harness.hover_at(at);
    harness.run();
    harness.drag_at(at);
    harness.run();
    let mut places = Vec::new();
    for step in 1..5 {
        harness.hover_at(at + vec2(9.0 * step as f32, 0.0));
        harness.step();
        let session = &harness.state().session;
        assert!(session.is_in_step());
        let x = session.routing().part(part).unwrap().position.x;
        let shown =
            harness.get_by_role_and_label(accesskit::Role::TextInput, "Right of centre").value().unwrap();
        assert_eq!(shown.parse::<f64>().unwrap(), (x * 1000.0).round() / 1000.0);
        places.push(x);
    }
    harness.drop_at(at + vec2(36.0, 0.0));
    harness.run();
    places.dedup();
    assert!(places.len() > 2, "{places:?}");
    assert_eq!(harness.state().session.routing().part(part).unwrap().position.x, places[places.len() - 1]);
}

/// Nothing is asked of the machine while nobody does anything.
#[test]
fn an_idle_window_asks_for_no_frame() {
    let mut app = App::new(Session::new(files::demo(), None));
    let context = egui::Context::default();
    let mut delays = Vec::new();
    for frame in 0..8u8 {
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(1280.0, 800.0))),
            time: Some(f64::from(frame)),
            events: if frame == 0 { vec![Event::PointerMoved(pos2(400.0, 300.0))] } else { Vec::new() },
            ..Default::default()
        };
        let mut output = context.run_ui(input, |ui| app.show(ui));
        output.textures_delta.clear();
        delays.push(output.viewport_output.values().map(|one| one.repaint_delay).min().unwrap());
    }
    assert_eq!(delays.last(), Some(&Duration::MAX), "{delays:?}");
}

/// Two routings in one window share the view.
#[test]
fn two_pictures_share_one_view() {
    let project = files::demo();
    let outcomes = [solved(&project, 0), solved(&project, 1)];
    let context = egui::Context::default();
    let mut canvas = Canvas::default();
    let selected = BTreeSet::new();
    for _ in 0..2 {
        let size = Rect::from_min_size(Pos2::ZERO, vec2(900.0, 600.0));
        let input = RawInput { screen_rect: Some(size), ..Default::default() };
        let mut output = context.run_ui(input, |ui| {
            for (slot, outcome) in outcomes.iter().enumerate() {
                let rect = Rect::from_min_size(pos2(0.0, 300.0 * slot as f32), vec2(900.0, 200.0));
                let geometry = RoutingGeometry::working(&project, &project.routings[slot]);
                let routing = geometry.with(&project.routings[slot]);
                let shown = Shown {
                    project: &project,
                    routing,
                    outcome: Some(outcome),
                    revision: 1,
                    slot,
                    beside: None,
                    caught: None,
                    selected: &selected,
                };
                let pointed = canvas.picture(ui, rect, &shown, &routing.name);
                assert_eq!(pointed.response.rect, rect);
                let strip = rect.translate(vec2(0.0, 200.0)).with_max_y(rect.bottom() + 100.0);
                canvas.strip(ui, strip, &shown, "Row flows");
            }
        });
        output.textures_delta.clear();
    }
    assert!(canvas.view.is_some() && !canvas.labels[0].is_empty());
}

/// The 24 m bar in a window of a size, points.
fn wide_bar(width: f32, height: f32) -> Harness<'static, App> {
    let builder = Harness::builder().with_size(vec2(width, height)).with_max_steps(16);
    let app = App::new(Session::new(examples().pop().unwrap(), None));
    let mut harness = builder.build_ui_state(|ui, app: &mut App| app.show(ui), app);
    harness.run();
    harness
}

#[test]
fn a_wide_bar_is_shown_in_two_bands_where_that_is_larger() {
    assert!(!open().state().canvas.is_split());
    let mut harness = wide_bar(1920.0, 1080.0);
    assert!(harness.state().canvas.is_split());
    let two = harness.state().canvas.view.unwrap().scale;
    press(&mut harness, Modifiers::NONE, Key::F8);
    assert!(!harness.state().canvas.is_split());
    let one = harness.state().canvas.view.unwrap().scale;
    assert!(two > 1.9 * one, "{two} points a metre in two bands, {one} in one");
    press(&mut harness, Modifiers::NONE, Key::F8);
    assert!(harness.state().canvas.is_split());
    // Every row is found once by whoever can't see the drawing, and has a strip below it.
    for row in 1..=80 {
        let starts = format!("Row {row},");
        let named = |label: Option<String>| label.is_some_and(|label| label.starts_with(&starts));
        let found = harness
            .query_all_by(|node| node.role() == accesskit::Role::Button && named(node.label()))
            .count();
        assert_eq!(found, 1, "row {row}");
    }
    for half in ["left half", "right half"] {
        harness.get_by_label(&format!("Strip of row flows against the target, {half}"));
    }
}

#[test]
fn tools_work_across_both_bands() {
    let mut harness = wide_bar(1920.0, 1080.0);
    let session = &mut harness.state_mut().session;
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let part = session.routing().parts.iter().find(|part| part.tag == "M2").unwrap().clone();
    let from = part.position.flat();
    let to = Point2::new(6.0, from.y);
    let at = |harness: &Harness<'static, App>, point: Point2| harness.state().canvas.places_of(point)[0];
    let (a, b) = (at(&harness, from), at(&harness, to));
    assert!(b.y > a.y + 200.0, "the right half stands below the left one");
    // From the upper band into the lower one.
    harness.hover_at(a);
    harness.run();
    harness.drag_at(a);
    harness.run();
    harness.hover_at(b);
    harness.run();
    harness.drop_at(b);
    harness.run();
    let moved = harness.state().session.routing().part(part.id).unwrap().position.flat();
    assert!(moved.distance(to) < 0.05, "{moved:?}");
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(harness.state().session.routing().part(part.id).unwrap().position.flat(), from);
    // A click in the lower band selects, a tool places there.
    let row = harness.state().session.project().bar.rows[74].clone();
    let place = harness.state().session.project().bar.outlet(&row).flat();
    let b = at(&harness, place);
    harness.hover_at(b);
    harness.run();
    harness.drag_at(b);
    harness.run();
    harness.drop_at(b);
    harness.run();
    assert!(harness.state().session.selection().contains(&Subject::Row(row.id)));
    let count = harness.state().session.routing().parts.len();
    press(&mut harness, Modifiers::NONE, Key::T);
    let b = at(&harness, Point2::new(7.3, 0.9));
    harness.hover_at(b);
    harness.run();
    harness.drag_at(b);
    harness.run();
    harness.drop_at(b);
    harness.run();
    let parts = &harness.state().session.routing().parts;
    assert_eq!(parts.len(), count + 1);
    assert!(parts.last().unwrap().position.flat().distance(Point2::new(7.3, 0.9)) < 0.05);
}

#[test]
fn a_bar_keeps_its_width_with_tables_or_curves_open() {
    for (width, height) in [(1280.0, 800.0), (1920.0, 1080.0)] {
        let mut harness = wide_bar(width, height);
        // In one band: what two bands take of the height, tables need.
        if harness.state().canvas.is_split() {
            press(&mut harness, Modifiers::NONE, Key::F8);
        }
        let before = harness.state().canvas.view.unwrap().scale;
        for (modifiers, key) in [(Modifiers::COMMAND, Key::T), (Modifiers::SHIFT, Key::P)] {
            press(&mut harness, modifiers, key);
            let now = harness.state().canvas.view.unwrap().scale;
            assert!(now > 0.93 * before, "{now} of {before} points a metre at {width} by {height}");
        }
    }
}

/// The band behind each row: twice the standard deviation to either side of the row's bar, asked for by its key.
#[test]
fn the_scatter_of_parts_stands_behind_each_row_and_never_with_pressures() {
    let project = files::demo();
    let outcome = solved(&project, 0);
    let mut canvas = Canvas::default();
    let context = egui::Context::default();
    let bands = |canvas: &mut Canvas| {
        let rect = Rect::from_min_size(Pos2::ZERO, vec2(1200.0, 700.0));
        let input = RawInput { screen_rect: Some(rect), ..Default::default() };
        let mut output = context.run_ui(input, |ui| {
            let geometry = RoutingGeometry::working(&project, &project.routings[0]);
            let routing = geometry.with(&project.routings[0]);
            let selected = BTreeSet::new();
            let shown = Shown {
                project: &project,
                routing,
                outcome: Some(&outcome),
                revision: 1,
                slot: 0,
                beside: None,
                caught: None,
                selected: &selected,
            };
            canvas.picture(ui, rect.with_max_y(500.0), &shown, "Drawing");
            canvas.strip(ui, rect.with_min_y(520.0), &shown, "Row flows");
        });
        output.textures_delta.clear();
        let ground = egui::Color32::PLACEHOLDER;
        let mut heights = Vec::new();
        for shape in output.shapes {
            if let egui::Shape::Rect(one) = shape.shape
                && one.stroke.is_empty()
                && one.fill != ground
                && one.rect.top() > 540.0
                // As wide as a row, and no ground of a word.
                && one.rect.width() < 24.0
            {
                heights.push(one.rect);
            }
        }
        heights
    };
    let without = bands(&mut canvas).len();
    assert!(canvas.run(Command::SwitchScatter) && canvas.extras.scatter);
    let with = bands(&mut canvas);
    assert_eq!(with.len() - without, project.bar.rows.len());
    assert!(canvas.run(Command::SwitchScatter) && !canvas.extras.scatter);
    assert_eq!(bands(&mut canvas).len(), without);
    canvas.colouring = Colouring::Pressure;
    canvas.run(Command::SwitchScatter);
    assert!(canvas.extras.scatter && canvas.colouring == Colouring::Deviation);
}
