//! What the window does in a frame while a part is dragged in a comparison of two 80-row routings:
//! `cargo bench --bench compare`. No graphics card is needed: the frame is laid out, painted to shapes and
//! tessellated, as it is before a card takes over.
//!
//! Figures to compare on one machine in one run; nothing passes or fails by them.

#![expect(clippy::unwrap_used, reason = "a benchmark stops where its input is missing")]

use std::path::Path;

use divan::{Bencher, black_box};
use eframe::egui::{Context, Event, Key, Modifiers, PointerButton, Pos2, RawInput, Rect, pos2, vec2};
use equirow::files;
use equirow::session::Session;
use equirow::window::app::App;
use equirow::window::canvas::to_screen;

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    divan::main();
}

struct Window {
    ctx: Context,
    app: App,
    size: (f32, f32),
    time: f64,
}

impl Window {
    /// The twenty-four-metre bar and a copy of its routing, side by side, in a window of a size.
    fn open(size: (f32, f32)) -> Self {
        let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twenty-four-metre-bar.ron"));
        let mut session = Session::new(files::open(path).unwrap(), None);
        session.add_routing(true).unwrap();
        let mut window = Self { ctx: Context::default(), app: App::new(session), size, time: 0.0 };
        window.frame(Vec::new());
        window.frame(vec![key(Key::C)]);
        for _ in 0..4 {
            window.frame(Vec::new());
        }
        assert!(window.app.compare.is_open());
        window
    }

    fn frame(&mut self, events: Vec<Event>) -> usize {
        self.time += 1.0 / 60.0;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(pos2(0.0, 0.0), vec2(self.size.0, self.size.1))),
            time: Some(self.time),
            events,
            ..RawInput::default()
        };
        let app = &mut self.app;
        let mut output = self.ctx.run_ui(input, |ui| app.show(ui));
        // No card takes the textures.
        output.textures_delta.clear();
        self.ctx.tessellate(output.shapes, output.pixels_per_point).len()
    }

    /// Takes a manifold of the lower drawing in hand.
    fn grip(&mut self) -> Pos2 {
        let (rect, view) = (self.app.compare.picture(1).unwrap(), self.app.compare.view().unwrap());
        let session = &self.app.session;
        let pair = self.app.compare.pair().unwrap();
        let routing = pair.routing(session, 1).unwrap();
        let part = routing.parts.iter().find(|part| part.tag == "M3").unwrap();
        let at = to_screen(rect, &view, session.geometry().anchors.part(part.id).unwrap().at.flat());
        self.frame(vec![Event::PointerMoved(at)]);
        self.frame(vec![button(at, true)]);
        at
    }
}

fn key(key: Key) -> Event {
    Event::Key { key, physical_key: None, pressed: true, repeat: false, modifiers: Modifiers::NONE }
}

fn button(pos: Pos2, pressed: bool) -> Event {
    Event::PointerButton { pos, button: PointerButton::Primary, pressed, modifiers: Modifiers::NONE }
}

#[divan::bench(args = [(1280, 800), (1920, 1080)])]
fn frame_while_dragging(bencher: Bencher, (width, height): (u16, u16)) {
    let mut window = Window::open((f32::from(width), f32::from(height)));
    let at = window.grip();
    let before = window.app.session.revision();
    let mut step = 0u16;
    bencher.bench_local(|| {
        step = (step + 1) % 40;
        let to = at + vec2(f32::from(step) - 20.0, f32::from(step % 7));
        black_box(window.frame(vec![Event::PointerMoved(to)]))
    });
    assert!(window.app.session.revision() > before, "nothing moved: this would time an idle frame");
}

#[divan::bench(args = [(1280, 800), (1920, 1080)])]
fn frame_at_rest(bencher: Bencher, (width, height): (u16, u16)) {
    let mut window = Window::open((f32::from(width), f32::from(height)));
    bencher.bench_local(|| black_box(window.frame(Vec::new())));
}
