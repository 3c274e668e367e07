//! What is asked about the file of the project in hand before anything is lost: a file that is gone, one of an older
//! version; and what is said of a save no longer stands beside it once it is done.

use std::path::{Path, PathBuf};

use eframe::egui::{Key, Modifiers};
use equirow::files;
use equirow::geometry::Point2;
use equirow::plan::End;
use equirow::session::{Session, Tool};

use crate::support::{Window, button, open, press, says};

fn opened(file: &Path) -> Window {
    open(Session::open(file).unwrap())
}

fn version_1(folder: &Path) -> PathBuf {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/version_1/six-metre-trial-bar.ron");
    let file = folder.join("bar.ron");
    std::fs::copy(kept, &file).unwrap();
    file
}

#[test]
fn a_file_of_an_older_version_is_said_on_opening_and_asked_about_before_it_is_saved_over() {
    let folder = tempfile::tempdir().unwrap();
    let file = version_1(folder.path());
    let before = std::fs::read(&file).unwrap();
    let mut harness = opened(&file);
    assert!(says(&harness, "The file is in version 1 of the format"));
    press(&mut harness, Modifiers::COMMAND, Key::U);
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "Save in the newer format?"));
    button(&mut harness, "Cancel");
    assert_eq!(std::fs::read(&file).unwrap(), before);
    assert!(harness.state().session.is_changed());
    press(&mut harness, Modifiers::COMMAND, Key::S);
    button(&mut harness, "Save as…");
    assert!(says(&harness, "Save the project"));
    press(&mut harness, Modifiers::NONE, Key::Escape);
    // On leaving too, and then it is left.
    press(&mut harness, Modifiers::COMMAND, Key::Q);
    button(&mut harness, "Save");
    assert!(says(&harness, "Save in the newer format?"));
    button(&mut harness, "Save in version 2");
    assert!(!harness.state().session.is_changed());
    assert!(std::fs::read_to_string(&file).unwrap().contains("version: 2,"));
    // Once it is of today's version nothing is asked.
    let mut harness = opened(&file);
    assert!(!says(&harness, "of the format"));
    press(&mut harness, Modifiers::COMMAND, Key::U);
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(!says(&harness, "Save in the newer format?") && !harness.state().session.is_changed());
}

#[test]
fn of_a_file_that_is_gone_nothing_is_offered_that_needs_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    for saving in [true, false] {
        files::save(&file, &files::demo()).unwrap();
        let mut harness = opened(&file);
        std::fs::remove_file(&file).unwrap();
        if saving {
            press(&mut harness, Modifiers::COMMAND, Key::S);
        } else {
            for focused in [false, true] {
                harness.input_mut().focused = focused;
                harness.run();
            }
        }
        assert!(says(&harness, "The file is gone"));
        for offered in ["Save over it", "Open it as it is now", "Discard my changes and open it"] {
            assert!(!says(&harness, offered), "{offered}");
        }
        assert_eq!(says(&harness, "Keep what is here"), !saving);
        assert!(harness.state().session.is_changed(), "it is in no file");
        button(&mut harness, "Save it there again");
        assert_eq!(files::open(&file).unwrap(), files::demo());
        assert!(!harness.state().session.is_changed());
    }
}

#[test]
fn what_was_said_of_a_save_ends_with_the_next() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bar.ron");
    files::save(&file, &files::demo()).unwrap();
    let mut harness = opened(&file);
    press(&mut harness, Modifiers::COMMAND, Key::B);
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "Not saved: finish or cancel"));
    press(&mut harness, Modifiers::NONE, Key::Escape);
    press(&mut harness, Modifiers::COMMAND, Key::S);
    assert!(says(&harness, "Saved") && !says(&harness, "Not saved"));
}

/// A hose of which half is drawn is in no file: leaving asks, also where everything else is saved and while the fold is looked
/// at.
#[test]
fn half_a_hose_is_asked_about_before_it_is_left() {
    let mut harness = open(Session::new(files::demo(), None));
    let session = &mut harness.state_mut().session;
    let stock = session.usual_hose().unwrap();
    session.take(Tool::Join { stock });
    let pump = session.end_place(&End::Supply).unwrap().flat();
    session.press(pump, None, 0.05, false).unwrap();
    session.press(Point2::new(1.0, 1.5), None, 0.05, false).unwrap();
    let gesture = session.gesture().clone();
    assert!(!session.is_changed());
    harness.run();
    for with_fold in [false, true] {
        if with_fold {
            press(&mut harness, Modifiers::NONE, Key::F10);
        }
        press(&mut harness, Modifiers::COMMAND, Key::Q);
        assert!(
            says(&harness, "Give up what is half made?") && says(&harness, "the hose that was being drawn")
        );
        assert!(!says(&harness, "Save the changes?"), "there are none");
        button(&mut harness, "Cancel");
        assert!(!says(&harness, "Give up what is half made?"));
    }
    press(&mut harness, Modifiers::NONE, Key::F10);
    assert_eq!(*harness.state().session.gesture(), gesture);
}
