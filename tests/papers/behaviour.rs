//! How the bar behaves, on paper: the studies in at most three pages, each with its answer.

use std::path::Path;

use equirow::drawing::paper::MarkKind;
use equirow::files;
use equirow::plan::RoutingGeometry;
use equirow::sheets::{Date, SheetKind, SheetOptions, sheet_set};
use equirow::studies::Study;

#[test]
fn how_the_bar_behaves_stands_on_two_pages_at_most() {
    for name in ["six-metre-trial-bar.ron", "twelve-metre-bar.ron"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
        let project = files::open(&path).unwrap();
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let options = SheetOptions {
            kinds: vec![SheetKind::Behaviour],
            ..SheetOptions::all(&project, Date::from_days(20_000))
        };
        let set = sheet_set(&project, geometry.with(routing), &options).unwrap();
        assert!((1..=2).contains(&set.pages.len()), "{name}: {} pages", set.pages.len());
        let mut words = set.pages.iter().flat_map(|page| &page.marks).filter_map(|mark| match &mark.kind {
            MarkKind::Words(words) => Some(words.text.as_str()),
            _ => None,
        });
        let all: Vec<&str> = words.by_ref().collect();
        for study in [Study::Metering, Study::Conditions, Study::Tolerance, Study::Prime] {
            assert!(all.contains(&study.title()), "{name}: {}", study.title());
        }
        assert!(all.iter().any(|one| one.contains("viscosity")), "{name}: what is assumed is said");
        // The metering that was chosen, what is fitted and the next sizes, in figures.
        for said in ["Metering of the catalogue at", "slowest", "misses", "in use"] {
            assert!(all.iter().any(|one| one.contains(said)), "{name}: {said} in {all:?}");
        }
    }
}
