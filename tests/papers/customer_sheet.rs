//! The customer's page: exactly one, nothing on it covered or cut, and its bars and figures those of the solve.

use std::path::Path;

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::{Paper, drawing_area};
use equirow::hydraulics::solve;
use equirow::plan::{Bar, PartItem, Project, RoutingGeometry, Subject};
use equirow::quantities::{Measure, UnitSystem};
use equirow::sheets::{Date, SheetKind, SheetOptions, SheetSet, sheet_set};

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn project(name: &str) -> Project {
    equirow::files::open(&Path::new("examples").join(name)).unwrap()
}

fn customer(project: &Project, routing: usize, paper: Paper) -> SheetSet {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![SheetKind::Customer], paper, ..all };
    let routing = &project.routings[routing];
    sheet_set(project, RoutingGeometry::working(project, routing).with(routing), &options).unwrap()
}

fn words(page: &Page) -> Vec<&str> {
    let words = page.marks.iter().filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    });
    words.collect()
}

/// On every paper, in both unit systems.
#[test]
fn it_is_one_page_on_which_nothing_is_covered_cut_or_too_small() {
    for name in EXAMPLES {
        let mut project = project(name);
        for units in UnitSystem::ALL {
            project.units = units;
            for routing in 0..project.routings.len() {
                for paper in Paper::ALL {
                    let set = customer(&project, routing, paper);
                    assert_eq!(set.pages.len(), 1, "{name} {paper:?}");
                    let cut = set.warnings.iter().find(|one| !one.starts_with("NOT RELEASED"));
                    assert_eq!(cut, None, "{name} {paper:?} {units:?}");
                    let page = &set.pages[0];
                    let area = drawing_area(page.width, page.height);
                    let all: Vec<_> = page
                        .marks
                        .iter()
                        .filter(|mark| mark.layer != PaperLayer::Sheet)
                        .filter_map(|mark| match &mark.kind {
                            MarkKind::Words(words) => Some((words, words.bounds())),
                            _ => None,
                        })
                        .collect();
                    // Sections and manifolds are named, or the sheet says that they are drawn without names.
                    let said: Vec<&str> = all.iter().map(|one| one.0.text.as_str()).collect();
                    let says_rest = said.iter().any(|one| {
                        one.contains("; drawn without a name: ")
                            || one.contains("what has no room for its name here is drawn without one")
                    });
                    let lines = said.join(" ");
                    let manifolds = project.routings[routing].parts.iter().filter(|part| {
                        matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_)))
                    });
                    for part in manifolds {
                        assert!(
                            said.contains(&part.tag.as_str()) || says_rest,
                            "{name} {paper:?}: {}",
                            part.tag
                        );
                    }
                    for section in &project.bar.sections {
                        assert!(
                            lines.contains(&section.name) || says_rest,
                            "{name} {paper:?}: {}",
                            section.name
                        );
                    }
                    for (index, (words, a)) in all.iter().enumerate() {
                        assert!(
                            area.grown(0.1).contains(a.min) && area.grown(0.1).contains(a.max),
                            "{name} {paper:?} {units:?}: {words:?}"
                        );
                        assert!(words.height >= 1.79, "{name} {paper:?} {units:?}: {words:?}");
                        for (other, b) in &all[index + 1..] {
                            let x = a.max.x.min(b.max.x) - a.min.x.max(b.min.x);
                            let y = a.max.y.min(b.max.y) - a.min.y.max(b.min.y);
                            assert!(
                                x <= 0.2 || y <= 0.5,
                                "{name} {paper:?} {units:?}: \"{}\" | \"{}\"",
                                words.text,
                                other.text
                            );
                        }
                    }
                }
            }
        }
    }
}

/// Twice the deviation is twice the height, upwards for too much; the figures are those of a solve.
#[test]
fn bars_and_figures_are_those_of_the_solve() {
    for name in EXAMPLES {
        let project = project(name);
        let routing = &project.routings[0];
        let duty = project.duties.first();
        let outcome = solve(&project, routing, &duty.usual_point());
        let set = customer(&project, 0, Paper::A3);
        let page = &set.pages[0];
        let limit = project.limits.row_deviation.si();
        let mut scale: Option<f64> = None;
        let (mut zero, mut seen) = (None, 0);
        for mark in &page.marks {
            let (Some(Subject::Row(row)), MarkKind::Area { fill: Some(fill), .. }) =
                (mark.subject, &mark.kind)
            else {
                continue;
            };
            let deviation = outcome.row(row).unwrap().deviation.unwrap().si();
            let bounds = mark.kind.bounds();
            if deviation.abs() > 1e-4 {
                let a_unit = bounds.depth() / deviation.abs();
                let known = *scale.get_or_insert(a_unit);
                assert!((a_unit / known - 1.0).abs() < 1e-6, "{name} row {row:?}");
                let base = if deviation > 0.0 { bounds.min.y } else { bounds.max.y };
                assert!((base - *zero.get_or_insert(base)).abs() < 1e-9, "{name} row {row:?}");
            }
            assert_eq!(fill.0 == 0, deviation.abs() > limit, "{name} row {row:?}");
            seen += 1;
        }
        assert_eq!(seen, outcome.fed_rows(), "{name}");
        let all = words(page);
        let cv = Measure::Percent.number(outcome.evenness().unwrap().cv.si(), project.units);
        let at = all.iter().position(|word| word.starts_with("CV over rows")).unwrap();
        assert!(all[at + 1..at + 4].contains(&cv.as_str()), "{name}: {:?} lacks {cv}", &all[at..at + 4]);
    }
}

/// Metres of hose and tube are those on the bar: the parts list's "In use", and the fitted lengths of the cut list, without
/// what rough cuts have over. Reducers and adapters are counted among the fittings.
#[test]
fn what_the_bar_is_made_of_is_what_is_fitted() {
    let project = project("twelve-metre-bar.ron");
    let routing = &project.routings[1];
    let geometry = equirow::plan::RoutingGeometry::working(&project, routing);
    let plan = equirow::sheets::cut_plan::cut_plan(&project, geometry.with(routing));
    let (mut surplus, mut wanted) = (0.0, Vec::new());
    for stock in &plan.stocks {
        let pieces = || stock.pieces.iter().map(|at| &plan.pieces[*at]);
        let fitted: f64 = pieces().filter_map(|piece| piece.length).map(|one| one.si()).sum();
        surplus += stock.total.si() - fitted;
        wanted.push(format!("{} of ", Measure::Distance.text(fitted, project.units)));
    }
    assert!(surplus > 0.5, "nothing is cut roughly: {surplus}");
    let set = customer(&project, 1, Paper::A3);
    let all = words(&set.pages[0]);
    for wanted in wanted {
        assert!(all.iter().any(|line| line.starts_with(&wanted)), "{wanted}: {all:?}");
    }
    let pieces = |line: &&&str| line.ends_with(", adapters and plugs");
    let count: usize = all.iter().find(pieces).unwrap().split(' ').next().unwrap().parse().unwrap();
    let list = equirow::sheets::items::items(&project, geometry.with(routing));
    let own = list.iter().filter(|item| {
        let found = project.catalogue.any_item(&item.entry).unwrap();
        matches!(
            found,
            equirow::plan::Item::Fitting(_)
                | equirow::plan::Item::Part(equirow::plan::PartItem::BlankingPlug(_))
        )
    });
    assert!(count > own.map(|item| item.pieces).sum(), "reducers and adapters are counted too: {count}");
    let parts =
        equirow::sheets::parts_list::parts_list(&project, geometry.with(routing), project.duties.first());
    let table = parts.tables().find(|table| table.caption == "Parts list").unwrap();
    let used = table.columns.iter().position(|column| column.heading == "In use").unwrap();
    for stock in &plan.stocks {
        let fitted = Measure::Distance.number(stock.fitted.si(), project.units);
        assert!(table.rows.iter().any(|row| row[used].printed() == fitted), "{fitted}");
    }
}

/// The bar that is uneven on purpose is not released, and says how many rows are why; the even one is.
#[test]
fn a_design_outside_its_limits_is_not_released() {
    let uneven = project("twelve-metre-bar.ron");
    let set = customer(&uneven, 0, Paper::A3);
    let all = words(&set.pages[0]);
    assert!(all.contains(&"NOT RELEASED"), "{all:?}");
    assert!(all.iter().any(|word| word.contains("expected more than 5 % off target")), "{all:?}");
    let even = project("twenty-four-metre-bar.ron");
    let set = customer(&even, 0, Paper::A3);
    assert!(words(&set.pages[0]).contains(&"Released for fitting"));
}

#[test]
fn a_bare_project_gives_a_page_that_says_so() {
    let demo = equirow::files::demo();
    let project = Project::new(Bar::default(), demo.catalogue);
    let set = customer(&project, 0, Paper::A4);
    let all = words(&set.pages[0]);
    assert!(all.contains(&"NOT RELEASED") && all.contains(&"Nothing is placed yet"), "{all:?}");
    assert!(all.iter().any(|word| word.contains("no frame and no rows")), "{all:?}");
}

/// Papers of two routings of one bar can't pass for each other.
#[test]
fn each_routing_has_a_document_number_of_its_own() {
    let two = project("twelve-metre-bar.ron");
    for (routing, number) in [(0, "EX-12-A"), (1, "EX-12-B")] {
        assert!(words(&customer(&two, routing, Paper::A3).pages[0]).contains(&number), "{number}");
    }
    let one = project("twenty-four-metre-bar.ron");
    assert!(words(&customer(&one, 0, Paper::A3).pages[0]).contains(&"EX-24"));
}

/// What a catch test calibrated stands where "assumed" stood, with the interval that is left: on the customer's page, and on every
/// paper.
#[test]
fn a_calibrated_viscosity_is_told_with_its_interval() {
    let mut project = project("nine-metre-bar.ron");
    let by = equirow::plan::Calibrated {
        on: "2026-11-30".to_owned(),
        test: "Yard".to_owned(),
        temperature: equirow::quantities::Temperature::from_si(12.0),
        within: equirow::quantities::Ratio::from_si(0.04),
    };
    project.duties.first_mut().liquid.viscosity_source = equirow::plan::Source::Calibrated(by);
    for (density, says) in [
        (
            equirow::plan::Source::Measured,
            "(viscosity calibrated on 2026-11-30 from test Yard at 12 °C, ±4.0 %",
        ),
        (
            equirow::plan::Source::Assumed,
            "(density assumed, viscosity calibrated on 2026-11-30 from test Yard",
        ),
    ] {
        project.duties.first_mut().liquid.density_source = density;
        for paper in Paper::ALL {
            let set = customer(&project, 0, paper);
            let cut = set.warnings.iter().find(|one| !one.starts_with("NOT RELEASED"));
            assert_eq!(cut, None, "{paper:?}");
            let all = words(&set.pages[0]).join(" ");
            assert!(all.contains(says), "{paper:?} {says}: {all}");
        }
    }
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let list =
        equirow::sheets::parts_list::parts_list(&project, geometry.with(routing), project.duties.first());
    assert_eq!(
        list.assumed,
        "Assumed, not measured: density of the liquid; Viscosity of the liquid calibrated on 2026-11-30 from test Yard at 12 °C, \
         ±4.0 % with 95 % confidence"
    );
}
