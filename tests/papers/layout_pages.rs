//! The layout of each example on each paper, made once for all tests that look at it.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use equirow::drawing::paper::Page;
use equirow::drawing::sheet_frame::Paper;
use equirow::plan::RoutingGeometry;
use equirow::sheets::{Date, SheetKind, SheetOptions, sheet_set};

type Made = Arc<OnceLock<Vec<Page>>>;

static MADE: Mutex<BTreeMap<(String, &'static str), Made>> = Mutex::new(BTreeMap::new());

/// The sheets of the layout of the first routing of an example. Tests that ask for the same at once wait for each other.
pub(crate) fn layout_pages(example: &str, paper: Paper) -> Arc<OnceLock<Vec<Page>>> {
    let made = {
        let mut all = MADE.lock().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(all.entry((example.to_owned(), paper.label())).or_default())
    };
    made.get_or_init(|| {
        let project = equirow::files::open(&Path::new("examples").join(example)).unwrap();
        let all = SheetOptions::all(&project, Date::parse("2026-03-31").unwrap());
        let options = SheetOptions { kinds: vec![SheetKind::Layout], paper, ..all };
        let routing = &project.routings[0];
        sheet_set(&project, RoutingGeometry::working(&project, routing).with(routing), &options)
            .unwrap()
            .pages
    });
    made
}
