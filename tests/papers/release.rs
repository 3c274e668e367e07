//! A design that fails its own limits never looks released: not on a sheet, not in a list, not on the command line.

use std::path::Path;

use equirow::checks::{ClosedTest, Release};
use equirow::drawing::paper::{MarkKind, Page};
use equirow::plan::{Project, ReliefValve, RoutingGeometry};
use equirow::quantities::Ratio;
use equirow::session::paper_export::PaperList;
use equirow::sheets::spreadsheet::{csv, xlsx};
use equirow::sheets::{Basis, Date, SheetFormat, SheetOptions, sheet_set_of};

fn project(name: &str) -> Project {
    equirow::files::open(&Path::new("examples").join(name)).unwrap()
}

fn with_basis<T>(project: &Project, read: impl FnOnce(&Basis) -> T) -> T {
    let geometry = RoutingGeometry::working(project, &project.routings[0]);
    read(&Basis::new(project, geometry.with(&project.routings[0]), project.duties.first()))
}

fn words(page: &Page) -> Vec<&str> {
    let words = page.marks.iter().filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    });
    words.collect()
}

fn says_held(page: &Page) -> bool {
    words(page).iter().any(|one| one.contains("NOT RELEASED"))
}

#[test]
fn every_sheet_of_a_design_outside_its_limits_says_that_it_is_not_released_and_why() {
    for (name, held) in [
        ("twelve-metre-bar.ron", true),
        ("twenty-four-metre-bar.ron", false),
        ("nine-metre-bar.ron", false),
        ("six-metre-trial-bar.ron", false),
    ] {
        let project = project(name);
        let options = SheetOptions::all(&project, Date::parse("2026-03-31").unwrap());
        let (release, set) =
            with_basis(&project, |basis| (basis.release().clone(), sheet_set_of(basis, &options).unwrap()));
        assert_eq!(release.is_released(), !held, "{name}: {release:?}");
        for page in &set.pages {
            assert_eq!(says_held(page), held, "{name}, {}: {:?}", page.name, words(page));
        }
        let warned = set.warnings.iter().any(|one| one.starts_with("NOT RELEASED: "));
        assert_eq!(warned, held, "{name}: {:?}", set.warnings);
        // Some line of each sheet begins the reason, so that it is not the name alone.
        if held {
            let reason = release.reasons[0].words(project.units);
            let first: String = reason.split(' ').take(2).collect::<Vec<_>>().join(" ");
            for page in &set.pages {
                assert!(words(page).iter().any(|one| one.contains(&first)), "{}: {first}", page.name);
            }
            let drawing = SheetFormat::Dxf.files(&set).unwrap();
            for (name, bytes) in drawing {
                assert!(String::from_utf8_lossy(&bytes).contains("NOT RELEASED"), "{name}");
            }
        }
    }
}

/// A design without a fault whose relief valve nobody spoke of: to be built up to the pressure test, and no farther.
#[test]
fn a_stop_before_the_pressure_test_stands_on_every_sheet_and_in_every_list() {
    let mut project = project("twenty-four-metre-bar.ron");
    project.supply.relief_valve = ReliefValve::NotSaid;
    const SAYS: &str =
        "released, but stop before the pressure test: nobody said whether a relief valve guards the bar";
    let mut options = SheetOptions::all(&project, Date::parse("2026-03-31").unwrap());
    options.kinds = equirow::sheets::SheetKind::ALL.to_vec();
    let set = with_basis(&project, |basis| {
        assert!(basis.release().is_released());
        assert_eq!(basis.release().words(project.units), SAYS);
        sheet_set_of(basis, &options).unwrap()
    });
    for page in &set.pages {
        let said = words(page).join(" ").to_lowercase();
        assert!(said.contains("stop before the pressure test"), "{}: {said}", page.name);
    }
    assert!(set.warnings.contains(&format!("STOP: {SAYS}")), "{:?}", set.warnings);
    let geometry = RoutingGeometry::working(&project, &project.routings[0]);
    for list in PaperList::ALL {
        let document = list.document(&project, geometry.with(&project.routings[0]), project.duties.first());
        let text = String::from_utf8(csv(&document).unwrap()).unwrap();
        assert!(text.lines().nth(1).unwrap().contains(SAYS), "{list:?}");
    }
}

#[test]
fn lists_for_other_programs_end_with_the_release_in_every_line() {
    let mut project = project("twenty-four-metre-bar.ron");
    for limit in [0.05, 0.001] {
        project.limits.row_deviation = Ratio::from_si(limit);
        let release = with_basis(&project, |basis| basis.release().words(project.units));
        assert_eq!(release == "released", limit == 0.05, "{release}");
        let geometry = RoutingGeometry::working(&project, &project.routings[0]);
        for list in PaperList::ALL {
            let routing = geometry.with(&project.routings[0]);
            let document = list.document(&project, routing, project.duties.first());
            let text = String::from_utf8(csv(&document).unwrap()).unwrap();
            let mut reader = csv_reader(text.trim_start_matches('\u{feff}'));
            let mut lines = reader.records().map(Result::unwrap).filter(|line| line.len() > 1);
            assert_eq!(lines.next().unwrap().iter().next_back(), Some("Release"), "{list:?}");
            for line in lines {
                let last = line.iter().next_back().unwrap();
                assert!(last == release || last == "Release", "{list:?}: {line:?}");
            }
            assert!(xlsx(&document, "").is_ok());
        }
    }
}

fn csv_reader(text: &str) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes())
}

/// What the window and the command line reckon from the duty's three speeds is what papers say.
#[test]
fn papers_and_command_line_agree_on_the_release() {
    for name in ["twelve-metre-bar.ron", "nine-metre-bar.ron"] {
        let project = project(name);
        let geometry = RoutingGeometry::working(&project, &project.routings[0]);
        let routing = geometry.with(&project.routings[0]);
        let duty = project.duties.first();
        let outcomes: Vec<_> = duty
            .speeds()
            .iter()
            .map(|speed| equirow::hydraulics::solve(&project, routing.routing, &duty.at(*speed)))
            .collect();
        let findings = equirow::checks::all_findings(&project, routing, &outcomes[1], &outcomes);
        let others = project.duties.iter().skip(1);
        let others: Vec<_> = others
            .flat_map(|duty| {
                duty.speeds()
                    .map(|speed| equirow::hydraulics::solve(&project, routing.routing, &duty.at(speed)))
            })
            .collect();
        let test = ClosedTest::of(&project, routing, outcomes.iter().chain(&others));
        let here = Release::of(&project, &findings, &outcomes, test.as_ref());
        assert_eq!(here, with_basis(&project, |basis| basis.release().clone()), "{name}");
    }
}
