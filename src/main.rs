//! The door: a window, or a command without one.

use std::path::PathBuf;
use std::process::ExitCode;

use equirow::command_line::{self, Start};
use equirow::plan::letters::visible_lines;

/// A frame of a drag makes and drops some ten thousand small things; the system's allocator takes a quarter of its time.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// A file that may not become larger is a failed write like any other: unhandled, its signal ends the program on the spot.
#[cfg(unix)]
fn let_writes_fail() {
    use signal_hook::consts::SIGXFSZ;
    // Where no handler can be had, it stays as it was.
    let _ = signal_hook::flag::register(SIGXFSZ, std::sync::Arc::default());
}

fn main() -> ExitCode {
    #[cfg(unix)]
    let_writes_fail();
    match command_line::run(std::env::args_os().skip(1).collect()) {
        Start::Done(code) => code,
        Start::Window(file) => match open_window(file) {
            Ok(()) => ExitCode::SUCCESS,
            Err((code, message)) => {
                eprintln!("equirow: {}", visible_lines(&message));
                ExitCode::from(code)
            }
        },
    }
}

#[cfg(feature = "window")]
fn open_window(file: Option<PathBuf>) -> Result<(), (u8, String)> {
    use equirow::window::RunError;
    equirow::window::run(file).map_err(|error| match error {
        RunError::NoDisplay(message) => (1, message),
        RunError::Unreadable(message) => (3, message),
    })
}

#[cfg(not(feature = "window"))]
fn open_window(_file: Option<PathBuf>) -> Result<(), (u8, String)> {
    Err((1, "this build has no window; `equirow solve PROJECT` works without one".to_owned()))
}
