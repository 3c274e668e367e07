//! How long one frame of the window takes without a graphics driver: `cargo bench --bench frame`.
//!
//! egui runs the whole window, and what it painted is turned into triangles; what remains for the driver is to draw
//! them. `drag` moves a manifold in every frame, so that a solve, the findings and the whole picture are new each
//! time; `look` is a frame in which only the pointer moves; `fold` one of the folding bar in another position. Figures to
//! compare on one machine in one run; nothing passes or fails by them. After divan's table come the median and the 99th
//! percentile of all three.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops where its input is missing")]

use std::path::Path;
use std::time::{Duration, Instant};

use divan::Bencher;
use eframe::egui::{self, Event, Modifiers, PointerButton, Pos2, RawInput, Rect, pos2, vec2};
use equirow::files;
use equirow::geometry::Point3;
use equirow::plan::{BarPoint, FeedId, FoldPosition, Part, PartId, Project, RowId, RunId, SectionId};
use equirow::quantities::Length;
use equirow::session::Session;
use equirow::window::app::App;

const ROWS: [usize; 2] = [80, 240];
const FRAMES: usize = 400;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// What is measured, and its name.
type Frame = (&'static str, fn(&mut Window));

fn main() {
    divan::main();
    // divan knows no percentiles.
    if std::env::args().any(|argument| argument == "--test") {
        return;
    }
    println!("\n{:>5}  {:>5}  {:>10}  {:>16}  {:>10}", "", "rows", "median", "99th percentile", "slowest");
    for rows in ROWS {
        let frames: [Frame; 3] = [("look", Window::look), ("fold", Window::fold), ("drag", Window::drag)];
        for (name, frame) in frames {
            let mut window = Window::open(rows);
            let mut times: Vec<Duration> = (0..FRAMES)
                .map(|_| {
                    let start = Instant::now();
                    frame(&mut window);
                    start.elapsed()
                })
                .collect();
            times.sort_unstable();
            let milliseconds = |at: usize| format!("{:.2} ms", times[at].as_secs_f64() * 1e3);
            println!(
                "{name:>5}  {rows:>5}  {:>10}  {:>16}  {:>10}",
                milliseconds(FRAMES / 2),
                milliseconds(FRAMES * 99 / 100),
                milliseconds(FRAMES - 1)
            );
        }
    }
}

#[divan::bench(args = ROWS, sample_count = 200, sample_size = 1)]
fn drag(bencher: Bencher, rows: usize) {
    let mut window = Window::open(rows);
    bencher.bench_local(|| window.drag());
}

#[divan::bench(args = ROWS, sample_count = 200, sample_size = 1)]
fn look(bencher: Bencher, rows: usize) {
    let mut window = Window::open(rows);
    bencher.bench_local(|| window.look());
}

#[divan::bench(args = ROWS, sample_count = 200, sample_size = 1)]
fn fold(bencher: Bencher, rows: usize) {
    let mut window = Window::open(rows);
    bencher.bench_local(|| window.fold());
}

/// What the session does alone when a manifold has moved: the solve and the findings.
#[divan::bench(args = ROWS, sample_count = 200, sample_size = 1)]
fn session_alone(bencher: Bencher, rows: usize) {
    let mut session = Session::new(bar(rows), None);
    let (id, routing, at) = {
        let part = &session.routing().parts[manifold(&session)];
        (part.id, session.routing().id, part.position)
    };
    let mut step = 0u32;
    session.begin("Move");
    bencher.bench_local(|| {
        step += 1;
        let x = at.x + f64::from(step % 40) / 100.0;
        let to = Point3::new(x, at.y, at.z);
        session.change(equirow::plan::Edit::MovePart(routing, id, to)).unwrap();
    });
}

/// The embedded bar of 80 rows, or several of it side by side on one pump.
fn bar(rows: usize) -> Project {
    let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twenty-four-metre-bar.ron"));
    let one = files::open(path).unwrap();
    let mut all = one.clone();
    for copy in 1..rows / 80 {
        let by = 1000 * copy as u32;
        let aside = 24.0 * copy as f64;
        let moved = |point: Point3| Point3::new(point.x + aside, point.y, point.z);
        for section in &one.bar.sections {
            let mut section = section.clone();
            section.id = SectionId(section.id.0 + by);
            section.left += Length::metres(aside);
            section.right += Length::metres(aside);
            if let Some(hinge) = &mut section.hinge {
                hinge.parent = SectionId(hinge.parent.0 + by);
                hinge.point = moved(hinge.point);
            }
            for member in &mut section.members {
                (member.from, member.to) = (moved(member.from), moved(member.to));
            }
            all.bar.sections.push(section);
        }
        for row in &one.bar.rows {
            let mut row = row.clone();
            row.id = RowId(row.id.0 + by);
            row.number += 80 * copy as u32;
            row.section = SectionId(row.section.0 + by);
            row.x += Length::metres(aside);
            all.bar.rows.push(row);
        }
        let end = |end: &equirow::plan::End| match *end {
            equirow::plan::End::Port(mut port) => {
                port.part = PartId(port.part.0 + by);
                equirow::plan::End::Port(port)
            }
            other => other,
        };
        let routing = &one.routings[0];
        for part in &routing.parts {
            let mount = part.mount.map(|mut mount| {
                mount.part = PartId(mount.part.0 + by);
                mount
            });
            all.routings[0].parts.push(Part {
                id: PartId(part.id.0 + by),
                tag: format!("{}.{copy}", part.tag),
                section: SectionId(part.section.0 + by),
                position: moved(part.position),
                mount,
                ..part.clone()
            });
        }
        let riding = |point: BarPoint| BarPoint {
            place: moved(point.place),
            section: SectionId(point.section.0 + by),
        };
        for run in &routing.runs {
            let mut run = run.clone();
            run.id = RunId(run.id.0 + by);
            run.tag = format!("{}.{copy}", run.tag);
            (run.from, run.to) = (end(&run.from), end(&run.to));
            run.line.waypoints.iter_mut().for_each(|point| *point = riding(*point));
            for allowance in &mut run.line.crossings {
                allowance.section = SectionId(allowance.section.0 + by);
            }
            all.routings[0].runs.push(run);
        }
        for feed in &routing.feeds {
            let mut feed = feed.clone();
            feed.id = FeedId(feed.id.0 + by);
            feed.tag = format!("{}.{copy}", feed.tag);
            feed.from = end(&feed.from);
            for branch in &mut feed.branches {
                branch.row = RowId(branch.row.0 + by);
            }
            for element in feed.elements_mut() {
                if let equirow::plan::FeedElement::Tube(tube) = element {
                    tube.line.waypoints.iter_mut().for_each(|point| *point = riding(*point));
                }
            }
            all.routings[0].feeds.push(feed);
        }
    }
    assert_eq!(all.bar.rows.len(), rows);
    all
}

/// The place of a manifold among the parts.
fn manifold(session: &Session) -> usize {
    session.routing().parts.iter().position(|part| part.tag == "M4").unwrap()
}

/// The window, a manifold of it held by the pointer.
struct Window {
    app: App,
    context: egui::Context,
    step: u32,
    at: Pos2,
    time: f64,
}

impl Window {
    fn open(rows: usize) -> Self {
        let session = Session::new(bar(rows), None);
        assert!(session.outcome().result.is_ok(), "{:?}", session.outcome().result);
        let context = egui::Context::default();
        let mut window = Self { app: App::new(session), context, step: 0, at: Pos2::ZERO, time: 0.0 };
        window.frame(Vec::new());
        window.frame(Vec::new());
        let session = &window.app.session;
        let part = &session.routing().parts[manifold(session)];
        let place = session.geometry().anchors.part(part.id).unwrap().at.flat();
        // In whichever band shows it.
        window.at = window.app.canvas.places_of(place)[0];
        window.frame(vec![Event::PointerMoved(window.at)]);
        window
    }

    fn frame(&mut self, events: Vec<Event>) {
        self.time += 1.0 / 60.0;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(1280.0, 800.0))),
            time: Some(self.time),
            events,
            ..Default::default()
        };
        let app = &mut self.app;
        let mut output = self.context.run_ui(input, |ui| app.show(ui));
        output.textures_delta.clear();
        divan::black_box(self.context.tessellate(output.shapes, 1.0));
    }

    /// Only the pointer moves, over an empty place.
    fn look(&mut self) {
        self.step += 1;
        let place = self.app.canvas.place.unwrap();
        let x = place.left() + 60.0 + (self.step % 40) as f32;
        self.frame(vec![Event::PointerMoved(pos2(x, place.bottom() - 12.0))]);
    }

    /// The folding bar from all sides, in another position.
    fn fold(&mut self) {
        self.step += 1;
        let position = FoldPosition::share(f64::from(1 + self.step % 97) / 100.0);
        self.app.fold.look_at(position, &mut self.app.session);
        self.frame(Vec::new());
        assert!(self.app.fold.is_open());
    }

    /// The manifold moves.
    fn drag(&mut self) {
        if !self.app.session.is_in_step() {
            let press = Event::PointerButton {
                pos: self.at,
                button: PointerButton::Primary,
                pressed: true,
                modifiers: Modifiers::NONE,
            };
            self.frame(vec![Event::PointerMoved(self.at), press]);
            assert!(self.app.session.is_in_step(), "the pointer holds no manifold");
        }
        self.step += 1;
        let before = self.app.session.revision();
        let by = vec2(8.0 + (self.step % 2) as f32 * 3.0 + (self.step % 17) as f32, 10.0);
        self.frame(vec![Event::PointerMoved(self.at + by)]);
        assert_ne!(self.app.session.revision(), before, "nothing was solved anew");
    }
}
