//! The fitting steps: each piece goes in during one step, what is flushed gets water, and nothing is pressed beyond what it
//! bears.

use std::collections::BTreeMap;
use std::path::Path;

use crate::schematic::{bare_bar, random_routing};
use equirow::files;
use equirow::plan::dismissal::FindingSubject;
use equirow::plan::{
    AddedLine, Control, Duty, ElementItem, ElementKind, FeedElement, FittingItem, Gauge, Item, LaidRouting,
    PartItem, PartKey, Project, ReliefValve, Routing, RoutingGeometry,
};
use equirow::quantities::{Length, Measure, Pressure, Temperature, UnitSystem};
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::cut_list;
use equirow::sheets::cut_plan::{self, CutPiece, Cutting};
use equirow::sheets::document::{Block, Document, FittingStep, Hazard, PaperCell, PaperTable};
use equirow::sheets::fitting_steps::fitting_steps;
use equirow::sheets::items::items;
use equirow::sheets::joint_list::joint_list;
use equirow::sheets::parts_list;

fn example(name: &str) -> Project {
    files::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)).unwrap()
}

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn steps_for(project: &Project, routing: &Routing) -> Document {
    fitting_steps(project, RoutingGeometry::working(project, routing).with(routing), project.duties.first())
}

fn steps_of(project: &Project) -> Document {
    steps_for(project, &project.routings[0])
}

fn all_steps(document: &Document) -> Vec<(usize, &FittingStep)> {
    let steps = document.blocks.iter().filter_map(|block| match block {
        Block::Steps(steps) => Some((steps.first..).zip(&steps.steps)),
        _ => None,
    });
    steps.flatten().collect()
}

/// The step whose text begins so, with its number.
fn step_of<'a>(document: &'a Document, begins: &str) -> (usize, &'a FittingStep) {
    let found = all_steps(document).into_iter().find(|(_, step)| step.text.starts_with(begins));
    assert!(found.is_some(), "no step begins with: {begins}");
    found.unwrap()
}

fn says(step: &FittingStep, words: &str) -> bool {
    step.text.contains(words) || step.details.iter().any(|detail| detail.contains(words))
}

fn table<'a>(document: &'a Document, caption: &str) -> &'a PaperTable {
    document.tables().find(|table| table.caption == caption).unwrap()
}

/// Pieces of each item by the parts list: single pieces of the catalogue's items, and the quantities of what the list
/// counts beside them.
fn listed(project: &Project, routing: &Routing) -> BTreeMap<usize, usize> {
    let geometry = RoutingGeometry::working(project, routing);
    let catalogued = items(project, geometry.with(routing));
    let mut pieces: BTreeMap<usize, usize> =
        catalogued.iter().map(|item| (item.number, item.pieces)).collect();
    let list = parts_list::parts_list(project, geometry.with(routing), project.duties.first());
    let list = table(&list, "Parts list");
    let at = |heading: &str| list.columns.iter().position(|column| column.heading == heading).unwrap();
    let (item, quantity) = (at("Item"), at("In use"));
    for row in &list.rows {
        let number: usize = row[item].printed().parse().unwrap();
        if number > catalogued.len() {
            let many = row[quantity].printed().parse().unwrap();
            assert_eq!(pieces.insert(number, many), None, "item {number} is listed twice");
        }
    }
    pieces.retain(|_, many| *many > 0);
    pieces
}

/// Pieces of each item by the steps in which they go in.
fn fitted(steps: &Document) -> BTreeMap<usize, usize> {
    let mut pieces: BTreeMap<usize, usize> = BTreeMap::new();
    for (_, step) in all_steps(steps) {
        for one in &step.items {
            *pieces.entry(one.item).or_default() += one.pieces;
        }
    }
    pieces
}

/// Pieces, not items: a piece that goes in twice, or never, makes the sums differ.
#[test]
fn each_piece_of_the_parts_list_goes_in_during_one_step() {
    for name in EXAMPLES {
        for units in UnitSystem::ALL {
            let mut project = example(name);
            project.units = units;
            project.added_lines = vec![
                AddedLine { quantity: 6, ..AddedLine::new("Bracket") },
                AddedLine { quantity: 12, unit: "m".to_owned(), ..AddedLine::new("Sleeve") },
            ];
            for routing in &project.routings {
                let listed = listed(&project, routing);
                assert!(listed.len() > 20, "{name}: {listed:?}");
                let steps = steps_for(&project, routing);
                assert_eq!(fitted(&steps), listed, "{name}, routing {}", routing.name);
                let (_, check) = step_of(&steps, "Check the parts against the parts list");
                let pieces: usize = listed.values().sum();
                let said =
                    format!("{} item numbers on it, {}", listed.len(), equirow::plan::words::count(pieces));
                assert!(says(check, &said), "{said}: {}", check.text);
            }
        }
    }
    let project = bare_bar();
    let mut some = 0;
    for seed in 1..=150 {
        let routing = random_routing(&project, seed);
        let listed = listed(&project, &routing);
        some += usize::from(listed.len() > 8);
        assert_eq!(fitted(&steps_for(&project, &routing)), listed, "seed {seed}");
    }
    assert!(some > 50, "{some} random routings hold more than a few items");
}

/// The test with the outlets closed goes up to what the pump reaches with nothing running, 4 bar in the example, below the
/// 4.5 bar of its relief valve and the lowest rating, the 6 bar of its gauges' scale; it names plugs for all 80 outlets in use that bear it, both gauges, and
/// stands before tubes and metering.
#[test]
fn hoses_are_tested_at_what_the_pump_reaches_and_never_above_the_lowest_rating() {
    let project = example("twenty-four-metre-bar.ron");
    let steps = steps_of(&project);
    let (number, test) = step_of(&steps, "Test hoses, manifolds and their joints with water, outlets closed");
    assert!(test.text.ends_with("up to 4.00 bar"), "{}", test.text);
    assert!(
        says(test, "Never above 6.00 bar, the lowest rating of all on the bar (item"),
        "{:?}",
        test.details
    );
    assert!(says(test, "full scale)"));
    assert!(says(test, "see that the relief valve is the one of 4.50 bar"), "{:?}", test.details);
    assert!(!says(test, "just below") && !says(test, "end of the scale"), "{:?}", test.details);
    assert!(says(test, "G1 on M4 and G2 on M7") && says(test, "80 plugs"));
    assert!(says(test, "each of 1.33 bar, 2.67 bar and 4.00 bar"));
    let (_, tools) = step_of(&steps, "Lay out the tools");
    assert!(says(tools, "80 × item") && says(tools, ": plug to close an outlet for flushing and testing"));
    assert!(says(tools, "rated for 4.00 bar or more"), "{:?}", tools.details);
    let later = ["Push in the tubes", "Flush the tubes", "Fit into each row", "Leak check with water"];
    assert!(later.iter().all(|one| step_of(&steps, one).0 > number));
    // Gauges are in before the pump first runs.
    let (gauges, fit) = step_of(&steps, ON_THE_BENCH);
    assert!(says(fit, "G1 on M4 gauge port in place of its plug"), "{:?}", fit.details);
    let runs = |step: &FittingStep| {
        step.hazards.contains(&Hazard::Pressure) && !step.text.starts_with("Bar hitched")
    };
    let first = all_steps(&steps).into_iter().find(|(_, step)| runs(step)).unwrap();
    assert!(gauges < first.0 && first.1.text.starts_with("Flush"), "{}", first.1.text);
}

#[test]
fn there_is_no_test_without_a_gauge_a_solve_or_parts_that_bear_it() {
    let project = example("twenty-four-metre-bar.ron");
    let refused = |change: &dyn Fn(&mut Project)| {
        let mut project = project.clone();
        change(&mut project);
        step_of(&steps_of(&project), "STOP HERE, no pressure test yet").1.text.clone()
    };
    let gauges = |project: &mut Project| {
        let (routing, catalogue) = (&mut project.routings[0], &project.catalogue);
        routing.parts.retain(|part| !matches!(catalogue.item(&part.entry), Some(PartItem::Gauge(_))));
    };
    assert!(refused(&gauges).contains("no gauge is in the plan"));
    let weak = |project: &mut Project| project.supply.weakest_rated = Some(Pressure::bar(3.9));
    assert!(refused(&weak).contains("the pump reaches 4.00 bar, more than the lowest rating"));
    // A gauge that the pump would drive beyond its scale is what bears least.
    let short = |project: &mut Project| {
        for entry in &mut project.catalogue.entries {
            if let Item::Part(PartItem::Gauge(Gauge { full_scale })) = &mut entry.item {
                *full_scale = Pressure::bar(2.5);
            }
        }
    };
    assert!(refused(&short).contains("more than the lowest rating"));
    let strong = |project: &mut Project| {
        project.supply.control = Control::Metered { limit: Pressure::bar(6.5) };
        project.supply.relief_valve = ReliefValve::Absent;
    };
    assert!(refused(&strong).contains("the pump reaches 6.50 bar"));
    let unsolved = |project: &mut Project| project.duties.first_mut().liquid.points.clear();
    assert!(refused(&unsolved).contains("is not solved"));
}

/// Barbs and orifices without a rating, and a relief valve that nobody spoke of.
#[test]
fn what_has_no_rating_is_asked_for_before_the_test() {
    let mut project = example("twenty-four-metre-bar.ron");
    for entry in &mut project.catalogue.entries {
        match &mut entry.item {
            Item::Fitting(FittingItem::Fitting(fitting)) => fitting.rated = None,
            Item::Element(ElementItem::MeteringOrifice(orifice)) => orifice.rated = None,
            _ => {}
        }
    }
    let steps = steps_of(&project);
    let (_, test) = step_of(&steps, "Test hoses, manifolds and their joints with water, outlets closed");
    assert!(
        says(test, "no rating of their own: the 8.00 bar of the weakest part, as entered by the designer"),
        "{:?}",
        test.details
    );
    project.supply.weakest_rated = None;
    project.supply.relief_valve = ReliefValve::NotSaid;
    let steps = steps_of(&project);
    let (_, test) = step_of(&steps, "STOP HERE, no pressure test yet");
    assert!(test.text.contains("nobody knows what the bar bears"), "{}", test.text);
    assert!(test.text.ends_with("(and 1 reason more)"), "{}", test.text);
    for words in
        ["No rating is known of items", "enter the ratings", "Nobody said whether a relief valve guards"]
    {
        assert!(says(test, words), "{words}: {:?}", test.details);
    }
}

/// A test that can't be asked for ends the work: all that presses the bar after it says that it comes after the test.
#[test]
fn what_comes_after_a_test_that_stops_waits_for_it() {
    const WAITS: &str = "NOT BEFORE the pressure test of step ";
    let mut project = example("twenty-four-metre-bar.ron");
    assert!(!all_steps(&steps_of(&project)).iter().any(|(_, step)| says(step, "NOT BEFORE")));
    project.supply.relief_valve = ReliefValve::NotSaid;
    let steps = steps_of(&project);
    let (test, _) = step_of(&steps, "STOP HERE, no pressure test yet: nobody said whether a relief valve");
    let waits = format!("{WAITS}{test} has been done");
    for begins in [
        "Leak check with water",
        "Catch test with water",
        "First fill",
        "Catch test with UAN",
        "Flush the tubes",
    ] {
        assert!(says(step_of(&steps, begins).1, &waits), "{begins}");
    }
    for (at, step) in all_steps(&steps) {
        let presses = at > test && step.hazards.contains(&Hazard::Pressure);
        assert_eq!(says(step, WAITS), presses, "{}", step.text);
    }
    assert!(!all_steps(&steps).iter().any(|(_, step)| step.text.starts_with("Test hoses")));
}

/// Where test, relief valve and scale end at one pressure, the step says what to do about each.
#[test]
fn a_test_that_opens_the_valve_or_fills_the_dial_says_what_to_do() {
    let mut project = example("twenty-four-metre-bar.ron");
    project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(4.0));
    for part in project.routings[0].parts.iter_mut().filter(|part| part.entry.any().0 == "gauge-6") {
        part.entry = PartKey::new("gauge-4");
    }
    let steps = steps_of(&project);
    let (_, test) = step_of(&steps, "Test hoses, manifolds and their joints with water, outlets closed");
    assert!(
        says(test, "At 4.00 bar the relief valve opens: hold the last just below it"),
        "{:?}",
        test.details
    );
    assert!(says(test, "G1 and G2 stand at the end of the scale then: a larger dial"), "{:?}", test.details);
}

/// Whoever fits carriers has each with its mark and place in one table, and knows which hoses and tubes lie on them: all that the
/// findings say hang free, but for those that no carrier can bear, which are named with what is in the way; and as many pieces
/// as are ordered and fitted.
#[test]
fn all_that_hangs_free_lies_on_a_carrier_of_the_list_of_joints() {
    for name in ["twelve-metre-bar.ron", "twenty-four-metre-bar.ron"] {
        let project = example(name);
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let laid = geometry.with(routing);
        let joints = joint_list(&project, laid, project.duties.first());
        let at = |table: &PaperTable, heading: &str| {
            table.columns.iter().position(|column| column.heading == heading).unwrap()
        };
        let mut counted: BTreeMap<usize, usize> = BTreeMap::new();
        let mut borne: Vec<String> = Vec::new();
        let mut bears = |tags: &str| {
            for piece in tags.split(", ").flat_map(|piece| piece.split(" and ")) {
                let number = |tag: &str| tag[1..].parse::<usize>().unwrap();
                let ends: Vec<&str> = piece.split(" to ").collect();
                let (first, last) = (number(ends[0]), number(ends[ends.len() - 1]));
                borne.extend((first..=last).map(|at| format!("{}{at}", &ends[0][..1])));
            }
        };
        let carriers = table(&joints, "Carriers");
        for (index, row) in carriers.rows.iter().enumerate() {
            *counted.entry(row[at(carriers, "Item")].printed().parse().unwrap()).or_default() += 1;
            for end in ["From", "To"] {
                assert!(row[at(carriers, end)].printed().contains("F "), "{:?}", row[at(carriers, end)]);
            }
            bears(row[at(carriers, "Bears")].printed());
            let marks = carriers.rows.iter().map(|row| row[at(carriers, "Mark")].printed());
            let mark = row[at(carriers, "Mark")].printed();
            assert_eq!(marks.filter(|one| *one == mark).count(), 1, "{index}: {mark}");
        }
        for note in carriers.notes.iter().filter_map(|note| note.strip_prefix("NO CARRIER under ")) {
            bears(note.split(':').next().unwrap());
        }
        let held = table(&joints, "Brackets and clamps at hinges");
        for row in &held.rows {
            let number = row[at(held, "Item")].printed().parse().unwrap();
            *counted.entry(number).or_default() +=
                row[at(held, "Pieces")].printed().parse::<usize>().unwrap();
        }
        let point = project.duties.first().usual_point();
        let outcome = equirow::hydraulics::solve(&project, routing, &point);
        let found = equirow::checks::all_findings(&project, laid, &outcome, &[]);
        let mut hanging = 0;
        for one in found.iter().filter(|one| ["open frame", "supports"].contains(&one.kind.rule.as_str())) {
            for subject in &one.subjects {
                let tag = match subject {
                    FindingSubject::Run(id) => {
                        routing.runs.iter().find(|run| run.id == *id).unwrap().tag.clone()
                    }
                    FindingSubject::Feed(id) => {
                        routing.feeds.iter().find(|feed| feed.id == *id).unwrap().tag.clone()
                    }
                    other => panic!("{other:?}"),
                };
                assert!(borne.contains(&tag), "{name}: {tag} hangs on no carrier");
                hanging += 1;
            }
        }
        assert!(hanging > 30, "{name}: {hanging}");
        // The finding itself says why no carrier can stand beneath some of them, and selects what is in the way.
        for one in &equirow::plan::holding::held(&project, laid).uncarried {
            let of = FindingSubject::from(one.line.of);
            let finding = found.iter().find(|finding| {
                ["open frame", "supports"].contains(&finding.kind.rule.as_str())
                    && finding.subjects.contains(&of)
            });
            let finding = finding.unwrap_or_else(|| panic!("{name}: {one:?}"));
            let why = equirow::plan::holding::why_uncarried(&project, laid, one);
            assert!(finding.what.contains(&why), "{name}: {}", finding.what);
            let subject = one.why.as_ref().and_then(|why| why.subject()).map(FindingSubject::from);
            assert!(subject.is_none_or(|subject| finding.also.contains(&subject)), "{name}: {finding:?}");
        }
        let listed = listed(&project, routing);
        assert!(counted.len() >= 3, "carriers, brackets and clamps: {counted:?}");
        assert!(counted.iter().all(|(item, pieces)| listed[item] == *pieces), "{counted:?}");
        let steps = steps_of(&project);
        let (fit, _) = step_of(&steps, "Fit carriers and brackets to the frame");
        assert!(fit < step_of(&steps, "Push in the tubes").0);
        let (_, tubes) = step_of(&steps, "Push in the tubes");
        assert!(says(tubes, "On carriers (item"), "{:?}", tubes.details);
    }
}

/// Each hose and tube bears two labels: the strip, the file for a label printer, the parts list and the steps count the same.
#[test]
fn labels_are_counted_once_and_alike_on_every_paper() {
    for name in EXAMPLES {
        let project = example(name);
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let (laid, duty) = (geometry.with(routing), project.duties.first());
        let pieces = cut_plan::pieces(&project, laid);
        let strip = cut_list::labels(&project, laid, duty);
        let printed: Vec<(String, String)> = strip
            .blocks
            .iter()
            .filter_map(|block| if let Block::Labels(strip) = block { Some(&strip.labels) } else { None })
            .flatten()
            .map(|label| (label.tag.clone(), label.here.clone()))
            .collect();
        let file = cut_list::label_table(&project, laid, duty);
        let in_file: Vec<(String, String)> = table(&file, "Labels")
            .rows
            .iter()
            .map(|row| (row[0].printed().to_owned(), row[1].printed().to_owned()))
            .collect();
        assert_eq!(printed, in_file, "{name}");
        assert_eq!(printed.len(), 2 * pieces.len(), "{name}");
        for piece in &pieces {
            let of: Vec<&str> =
                printed.iter().filter(|one| one.0 == piece.tag).map(|one| one.1.as_str()).collect();
            assert_eq!(of, [piece.from.as_str(), piece.to.as_str()], "{name}");
        }
        let list = parts_list::parts_list(&project, laid, duty);
        let is_label = |row: &&Vec<PaperCell>| row[5].printed().starts_with("Label, one round each end");
        let row = table(&list, "Parts list").rows.iter().find(is_label).unwrap().clone();
        let number: usize = row[0].printed().parse().unwrap();
        assert!(row.iter().any(|cell| cell.printed() == printed.len().to_string()), "{row:?}");
        assert_eq!(fitted(&fitting_steps(&project, laid, duty)).get(&number), Some(&printed.len()), "{name}");
    }
}

/// Steps that cut name the numbers of the cut list, each piece in one of them.
#[test]
fn steps_name_the_cuts_that_they_make() {
    let project = example("twenty-four-metre-bar.ron");
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let plan = cut_plan::cut_plan(&project, geometry.with(routing));
    let steps = steps_of(&project);
    let (_, rough) = step_of(&steps, "Lay the hoses that cross hinges");
    let numbers: Vec<u32> = (1..)
        .zip(&plan.cuts)
        .filter(|(_, cut)| {
            let piece = &plan.pieces[cut.piece];
            piece.feed.is_none() && matches!(piece.cutting, Cutting::Rough { .. })
        })
        .map(|(number, _)| number)
        .collect();
    let said = format!("(cuts {})", equirow::plan::words::ranges(&numbers));
    assert!(numbers.len() > 3 && says(rough, &said), "{said}: {:?}", rough.details);
    let (_, hitch) = step_of(&steps, "Bar hitched");
    assert!(says(hitch, &format!("H1 (cut {})", plan.cuts.len())), "{:?}", hitch.details);
}

/// Water tries the joints at the pressure that the liquid reaches at its fastest, or the step says that it does not. Through
/// orifices alone the setting would be the root of the density ratio times the fastest speed: 12.46 km/h on the bar of 12 m (UAN of
/// 1282 kg/m³ at 11 km/h); water's lower viscosity and the cracking pressures change that by little.
#[test]
fn the_leak_check_reaches_the_pressure_of_the_liquid_or_says_that_it_does_not() {
    let mut project = example("twelve-metre-bar.ron");
    let leak = |project: &Project| step_of(&steps_of(project), "Leak check with water").1.details.join(" ");
    let text = leak(&project);
    let set: f64 =
        text.split("Set the controller to ").nth(1).unwrap().split(" km/h").next().unwrap().parse().unwrap();
    assert!((set - 11.0 * 1.282_f64.sqrt()).abs() < 0.3, "{text}");
    let fastest = equirow::hydraulics::solve(
        &project,
        &project.routings[0],
        &project.duties.first().at(project.duties.first().fastest),
    );
    let pump = Measure::Pressure.text(fastest.numbers().unwrap().pump_pressure.si(), project.units);
    assert!(
        !text.contains(&format!(" {pump} at the pump"))
            && text.contains("what the liquid reaches at 11.0 km/h; expect "),
        "{text}"
    );
    // One number: what the commissioning sheet asks the pump to read.
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let sheet = commissioning_sheet(&project, geometry.with(routing), project.duties.first());
    let tried = sheet.tables().find(|table| table.caption == "Tried on the bar").unwrap();
    let asked =
        tried.rows.iter().find(|row| row[0].printed().starts_with("Leak check")).unwrap()[1].printed();
    assert!(text.contains(&format!("expect the pump {asked}")), "{asked}: {text}");
    // A pump that gives no more than the liquid takes.
    project.supply.pump_capacity = Some(fastest.numbers().unwrap().total_flow);
    assert!(
        leak(&project).contains(&format!("LOWER than with the liquid, {pump} at the pump at 11.0 km/h")),
        "{}",
        leak(&project)
    );
    project.duties.first_mut().liquid = equirow::plan::Liquid::water();
    assert!(
        leak(&project).contains("of the controller, the fastest, expect the pump "),
        "{}",
        leak(&project)
    );
}

/// What is screwed into a part is in before the part hangs.
#[test]
fn gauges_and_fittings_go_into_their_parts_on_the_bench() {
    for name in EXAMPLES {
        let steps = steps_of(&example(name));
        let (bench, fit) = step_of(&steps, ON_THE_BENCH);
        assert!(says(fit, "Gauge: G1 on M"), "{name}: {:?}", fit.details);
        assert!(bench < step_of(&steps, "Mount the parts").0, "{name}");
    }
}

const ON_THE_BENCH: &str =
    "On the bench, before the parts hang: screw in the fittings of all hoses, gauges and plugs";

/// Manifolds of plastic, rated for 8 bar at 20 °C, bear 0.74 of it at 40 °C (ISO 13761).
#[test]
fn a_warm_bar_bears_less_and_the_test_says_so() {
    let mut project = example("twenty-four-metre-bar.ron");
    for entry in &mut project.catalogue.entries {
        if let Item::Part(PartItem::Gauge(Gauge { full_scale })) = &mut entry.item {
            *full_scale = Pressure::bar(10.0);
        }
    }
    project.duties.first_mut().temperature = Temperature::from_si(40.0);
    let steps = steps_of(&project);
    let (_, test) = step_of(&steps, "Test hoses, manifolds and their joints with water, outlets closed");
    assert!(
        says(test, "Never above 5.92 bar, the lowest rating of all on the bar (item"),
        "{:?}",
        test.details
    );
    assert!(says(test, "8.00 bar at 20 °C, at 40 °C less"), "{:?}", test.details);
    assert!(says(test, "Ratings of plastic are counted at 40 °C"), "{:?}", test.details);
}

/// The tank's surface 4 m up: some 0.4 bar of water, over valves that shut at 0.18 bar.
#[test]
fn rows_that_run_on_are_said_where_the_pump_is_stopped() {
    let mut project = example("twenty-four-metre-bar.ron");
    let stop = |project: &Project| step_of(&steps_of(project), "Stop the pump and watch").1.clone();
    assert!(says(&stop(&project), "No row drips on"));
    project.supply.tank_surface = Length::metres(4.0);
    let stop = stop(&project);
    assert!(says(&stop, "EXPECT ROWS TO DRIP: shut the valve between tank and pump"));
    assert!(says(&stop, "valve closes at 0.18 bar") && !says(&stop, "No row drips"));
    assert!(says(&stop, "hold up to 0.20 bar"), "the cracking pressure");
}

/// On the drawing of the bar of 12 m: the pump feeds M3, whose far end feeds J1, which feeds M2 and M4; these pass on to M1
/// and M5.
#[test]
fn what_is_fed_through_a_manifold_is_flushed_after_that_is_joined() {
    let project = example("twelve-metre-bar.ron");
    let steps = steps_of(&project);
    let flushed: Vec<(String, Vec<String>)> = all_steps(&steps)
        .into_iter()
        .filter(|(_, step)| step.text.starts_with("Flush ") && !step.text.starts_with("Flush the tubes"))
        .map(|(_, step)| (step.text.clone(), step.details.clone()))
        .collect();
    let texts: Vec<&str> = flushed.iter().map(|one| one.0.as_str()).collect();
    assert_eq!(
        texts,
        [
            "Flush H2, then M3: from the pump",
            "Flush H6 and H4, then M4 and M2: through M3, outlets closed",
            "Flush H7 and H5, then M5 and M1: through M3, M4 and M2, outlets closed",
        ]
    );
    assert!(
        flushed[0]
            .1
            .iter()
            .any(|one| one
                .contains("at M3, then flush it through its outlets; the open ends of H6 and H4 capped")),
        "{flushed:?}"
    );
    assert!(
        flushed[1].1.iter().any(|one| one.contains("the other capped: H6 at M4 and H4 at M2")),
        "{flushed:?}"
    );
    let (_, tools) = step_of(&steps, "Lay out the tools");
    let caps = tools.details.iter().filter(|one| one.contains(": cap to close a hose end"));
    let caps: Vec<&str> = caps.map(|one| one.rsplit_once("for hose of ").unwrap().1).collect();
    // H2 of 16 mm is flushed alone, with nothing else to close.
    assert_eq!(caps, ["8 mm bore"]);
    assert!(tools.details.iter().any(|one| one.starts_with("2 × item")), "{:?}", tools.details);
}

/// On the drawing of the bar of 24 m: J1 feeds M4; J2 the inner wings, whose tees feed M3 and M5 and go on to the middle
/// wings' tees, which feed M2 and M6 by 200 mm and M1 and M7 across a hinge: no manifold feeds another.
#[test]
fn hoses_that_no_manifold_feeds_are_flushed_at_once_after_the_fold_trial() {
    let project = example("twenty-four-metre-bar.ron");
    let steps = steps_of(&project);
    let rounds = || all_steps(&steps).into_iter().filter(|(_, step)| step.text.ends_with("from the pump"));
    assert_eq!(rounds().count(), 1);
    let (flush, step) = rounds().next().unwrap();
    let ends = step.details.iter().find_map(|one| one.split_once("the 6 others capped: ")).unwrap().1;
    let order: Vec<&str> = ends.split([',', ' ']).filter(|word| word.starts_with('M')).collect();
    assert_eq!(order, ["M4", "M3", "M5", "M2", "M6", "M1", "M7"]);
    let (cut, hinge) = step_of(&steps, "With the wings locked, cut and label H5 to H8, H13 and H14");
    assert!(cut < flush && says(hinge, "all ends except those at manifolds"));
    let (_, cutting) = step_of(&steps, "Cut and label");
    assert!(says(cutting, "Not yet to length: H5 to H8, H13 and H14"), "{:?}", cutting.details);
}

/// A gauge to 6 bar on the bar of 12 m reads 1.4 bar or a little more at its usual speed; its own goes to 4 bar.
#[test]
fn no_gauge_is_ordered_that_the_checks_call_unsuitable_without_a_word() {
    let project = example("twelve-metre-bar.ron");
    let geometry = RoutingGeometry::working(&project, &project.routings[0]);
    let list = |project: &Project| {
        let list =
            parts_list::parts_list(project, geometry.with(&project.routings[0]), project.duties.first());
        format!("{:?}", table(&list, "Parts list").rows)
    };
    // With what to do instead.
    let mut unsuited = project.clone();
    for part in unsuited.routings[0].parts.iter_mut().filter(|part| part.entry.any().0 == "gauge-4") {
        part.entry = PartKey::new("gauge-6");
    }
    let says = list(&unsuited);
    assert!(says.contains("Does not suit, G1 reads 1.4"), "{says}");
    assert!(says.contains(
        "bar at 9 km/h, in the first third of its full scale of 6.00 bar: fit the gauge with a full scale of 4.00 bar"
    ));
    assert!(!list(&project).contains("Does not suit"));
}

/// What the liquid of any duty attacks stands beside the item, on the page and in the file.
#[test]
fn what_the_liquid_attacks_is_marked_where_it_is_ordered() {
    let mut project = example("twelve-metre-bar.ron");
    for entry in project.catalogue.entries.iter_mut().filter(|entry| entry.key.0 == "check-valve-0.20") {
        entry.materials = vec![equirow::plan::WettedMaterial::CopperAlloy];
    }
    let geometry = RoutingGeometry::working(&project, &project.routings[0]);
    let list = parts_list::parts_list(&project, geometry.with(&project.routings[0]), project.duties.first());
    let csv = String::from_utf8(equirow::sheets::spreadsheet::csv(&list).unwrap()).unwrap();
    let says = "Do not order: brass, bronze or copper is attacked by UAN 28 % N";
    assert_eq!(csv.matches(says).count(), 1, "{csv}");
    assert_eq!(format!("{:?}", table(&list, "Parts list").rows).matches(says).count(), 1);
}

/// The pump has no place on the bar and openers move: what no length counts is told where it is cut.
#[test]
fn hitch_and_openers_are_told_to_move() {
    for name in EXAMPLES {
        let steps = steps_of(&example(name));
        let hitch = all_steps(&steps)
            .into_iter()
            .filter(|(_, step)| says(step, "leave a loop for turning and lifting"));
        assert_eq!(hitch.count(), 1, "{name}");
        assert!(says(step_of(&steps, "Push in the tubes").1, "Openers rise, trip and float"), "{name}");
    }
}

/// Every step that folds or pumps bears the letter of a caution that stands at the head, once, and the rules for who runs
/// them.
#[test]
fn steps_that_fold_or_pump_point_to_their_caution() {
    for name in EXAMPLES {
        let project = example(name);
        let steps = steps_of(&project);
        let heads: Vec<Hazard> = steps
            .blocks
            .iter()
            .filter_map(|block| if let Block::Caution(one) = block { one.hazard } else { None })
            .collect();
        let (mut folds, mut pumps) = (0, 0);
        for (_, step) in all_steps(&steps) {
            let text = step.text.to_lowercase();
            assert!(step.hazards.iter().all(|one| heads.contains(one)), "{}", step.text);
            if text.contains("fold ") && !text.contains("pressure off, hoses full")
                || text.contains("fold once")
            {
                folds += 1;
                assert!(step.hazards.contains(&Hazard::Folding), "{}", step.text);
            }
            if ["flush ", "test hoses", "leak check", "catch test", "first fill", "rinse"]
                .iter()
                .any(|one| text.starts_with(one))
            {
                pumps += 1;
                assert!(step.hazards.contains(&Hazard::Pressure), "{}", step.text);
            }
        }
        let hinged = project.bar.sections.iter().any(|section| section.hinge.is_some());
        assert_eq!(heads.contains(&Hazard::Folding), hinged, "{name}");
        assert!(pumps >= 6 && (folds >= 3) == hinged, "{name}: {pumps}, {folds}");
        let facts: Vec<&String> = steps
            .blocks
            .iter()
            .filter_map(|block| if let Block::Facts(facts) = block { Some(facts) } else { None })
            .flatten()
            .map(|(_, says)| says)
            .collect();
        assert!(facts.iter().any(|one| one.contains("stays at the stop")));
        assert_eq!(facts.iter().any(|one| one.contains("at the controls")), hinged);
    }
    // Water burns nobody.
    let mut project = example("nine-metre-bar.ron");
    project.duties.first_mut().liquid = equirow::plan::Liquid::water();
    let text = format!("{:?}", steps_of(&project));
    assert!(!text.contains("Chemicals") && !text.contains("burn eyes"));
}

/// A second duty at twice the rate presses more: hoses and plugs are tested, and the pump is judged, by that duty,
/// whichever of the two the papers are of.
#[test]
fn what_has_to_bear_every_duty_is_tested_and_judged_by_the_hardest() {
    let mut project = example("twenty-four-metre-bar.ron");
    let first = project.duties.first().clone();
    project.duties.first_mut().name = "Spring".to_owned();
    let mut second =
        Duty { id: project.duties.free_id(), name: "Autumn".to_owned(), rate: first.rate * 1.2, ..first };
    second.liquid.name = "Heavier liquid".to_owned();
    let mut alone = project.clone();
    project.duties.put(second.clone());
    let weaker = alone.duties.first().id;
    alone.duties.put(second.clone());
    assert!(alone.duties.remove(weaker));
    let paper = |of: &Project, duty: &Duty, make: fn(&Project, LaidRouting, &Duty) -> Document| {
        let routing = &of.routings[0];
        make(of, RoutingGeometry::working(of, routing).with(routing), duty)
    };
    let test_of = |of: &Project, duty: &Duty| {
        step_of(&paper(of, duty, fitting_steps), "Test hoses, manifolds").1.clone()
    };
    let spring = project.duties.first().clone();
    let (hardest, weak) = (test_of(&alone, &second), test_of(&example("twenty-four-metre-bar.ron"), &spring));
    assert_ne!(hardest.details, weak.details);
    for duty in [&spring, &second] {
        let test = test_of(&project, duty);
        assert_eq!(test.text, hardest.text, "duty {}", duty.name);
        let at_work =
            |test: &FittingStep| test.details.iter().find(|one| one.contains("; at work")).cloned().unwrap();
        assert!(at_work(&test).starts_with(at_work(&hardest).trim_end_matches(')')), "{:?}", test.details);
        assert!(says(&test, "duty Autumn, the highest of all duties"), "{:?}", test.details);
        let sheet = paper(&project, duty, commissioning_sheet);
        let (both, one) = (table(&sheet, "Pump check"), paper(&alone, &second, commissioning_sheet));
        for (row, by_itself) in both.rows.iter().zip(&table(&one, "Pump check").rows) {
            assert!(row[0].printed().ends_with("(duty Autumn)"), "{row:?}");
            assert_eq!(row[1..], by_itself[1..]);
        }
        let list = format!("{:?}", paper(&project, duty, parts_list::parts_list));
        let names = [spring.liquid.name.as_str(), "Heavier liquid"];
        let wetted = list.split("Wetted materials").nth(1).unwrap();
        let wetted = wetted.split(": ask").next().unwrap();
        assert!(names.iter().all(|name| wetted.contains(name)), "{wetted}");
        let other = if duty.name == "Spring" { "Autumn" } else { "Spring" };
        for document in [list, format!("{sheet:?}")] {
            assert_eq!(document.matches(&format!("the bar also works for {other}")).count(), 1);
        }
    }
    assert!(
        !format!("{:?}", paper(&alone, &second, parts_list::parts_list)).contains("the bar also works for")
    );
}

/// One row of a section has a flow indicator ahead of its check valve, and a shared tube has one of its own: the steps say
/// which row and which tube, in the order the liquid passes, after flushing.
#[test]
fn steps_group_rows_by_what_their_liquid_passes_in_its_order() {
    let mut project = example("nine-metre-bar.ron");
    let catalogue = files::generic_catalogue();
    let entry = catalogue
        .entries
        .iter()
        .find(|entry| matches!(entry.item, Item::Element(ElementItem::FlowIndicator(_))))
        .unwrap();
    if project.catalogue.entry(&entry.key).is_none() {
        project.catalogue.entries.push(entry.clone());
    }
    let indicator = || {
        let key = catalogue.first(|item: &ElementItem| item.item_kind() == ElementKind::FlowIndicator);
        FeedElement::Piece(ElementKind::FlowIndicator, key.unwrap())
    };
    let place = |element: &FeedElement| matches!(element, FeedElement::Piece(ElementKind::CheckValve, _));
    let feeds = &mut project.routings[0].feeds;
    let elements = &mut feeds[2].branches[0].elements;
    elements.insert(elements.iter().position(place).unwrap(), indicator());
    feeds[5].trunk.push(indicator());
    let (row, tag) = (feeds[2].branches[0].row, feeds[5].tag.clone());
    let number = project.bar.row(row).unwrap().number;
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let steps = fitting_steps(&project, geometry.with(routing), project.duties.first());
    let text = format!("{steps:?}");
    let own = text.split(&format!("\"row {number}: ")).nth(1).unwrap().split('"').next().unwrap();
    let at = |words: &str| own.find(words).unwrap();
    assert!(own.starts_with("flow indicator"), "{own}");
    assert!(at("then check valve") < at("then metering orifice"), "{own}");
    let shared = text.find(&format!("\"shared tube {tag}: flow indicator")).unwrap();
    assert!(shared > text.find("Flush the tubes").unwrap());
    let fitted = |one: &&String| one.starts_with("row") && one.contains("flow indicator");
    let told: usize = steps
        .blocks
        .iter()
        .filter_map(|block| if let Block::Steps(steps) = block { Some(&steps.steps) } else { None })
        .flatten()
        .map(|step| step.details.iter().filter(fitted).count())
        .sum();
    assert_eq!(told, 1, "no other row is told to fit one");
}

/// Once the parts hang what the cut list calls finished and neither hitch, hinge nor opener moves is cut, with the tape held
/// along its way first; the labels go on where the cutting is.
#[test]
fn what_waits_for_hitch_hinge_or_opener_is_not_counted_as_cut_at_the_start() {
    for name in EXAMPLES {
        let project = example(name);
        let routing = &project.routings[0];
        let laid = RoutingGeometry::working(&project, routing);
        let pieces = cut_plan::pieces(&project, laid.with(routing));
        let finished = |piece: &&CutPiece| {
            piece.cutting == Cutting::Finished && (piece.feed.is_none() || piece.is_metering)
        };
        let now = pieces.iter().filter(finished).count();
        let supply: Vec<&CutPiece> = pieces.iter().filter(|one| one.cutting == Cutting::Last).collect();
        assert!(now < pieces.len() && supply.len() == 1, "{name}");
        let steps = steps_of(&project);
        let (start, cut) = step_of(&steps, "Cut and label hoses and tubes");
        assert!(says(cut, &format!(": {now} of {} pieces", pieces.len())), "{name}, {now}: {}", cut.text);
        let (mounted, _) = step_of(&steps, "Mount the parts");
        assert!(mounted < start, "{name}");
        let by_tape = pieces.iter().filter(finished).any(|piece| !piece.is_metering);
        assert_eq!(says(cut, "First hold the tape along each way"), by_tape, "{name}: {:?}", cut.details);
        let tag = supply[0].tag.as_str();
        assert!(says(cut, &format!("Not yet to length: {tag} (cut ")), "{:?}", cut.details);
        assert!(says(cut, "), from the pump: last"), "{:?}", cut.details);
        assert!(says(cut, "to the rows: where they lie, with the loop"), "{:?}", cut.details);
        let (hitched, hitch) = step_of(&steps, "Bar hitched: turn fully both ways and lift");
        let (tubes, row) = step_of(&steps, "Push in the tubes");
        assert!(start < hitched && hitched < tubes);
        assert!(says(hitch, &format!("cut, label and clamp {tag}")));
        assert!(says(row, "only then cut it to length and label both ends"));
        // Labels, two a piece.
        let list = parts_list::parts_list(&project, laid.with(routing), project.duties.first());
        let is_label = |row: &&Vec<PaperCell>| row[5].printed().starts_with("Label, one round each end");
        let label: usize =
            table(&list, "Parts list").rows.iter().find(is_label).unwrap()[0].printed().parse().unwrap();
        let labels =
            |step: &FittingStep| step.items.iter().find(|one| one.item == label).map(|one| one.pieces);
        assert_eq!((labels(cut), labels(hitch)), (Some(2 * now), Some(2)), "{name}");
    }
}

#[test]
fn the_machine_turns_and_lifts_clear_of_supports_and_people() {
    for name in EXAMPLES {
        let project = example(name);
        let steps = steps_of(&project);
        let (number, step) = step_of(&steps, "Bar hitched");
        let hinged = project.bar.sections.iter().any(|section| section.hinge.is_some());
        assert_eq!(step.hazards.contains(&Hazard::Folding), hinged, "{name}");
        assert!(step.hazards.contains(&Hazard::Pressure));
        for words in
            ["supports and chocks out", "everybody clear", "set down on the supports again", "key out"]
        {
            assert!(says(step, words), "{words}: {:?}", step.details);
        }
        let moving = all_steps(&steps).into_iter().filter(|(_, step)| says(step, "turn fully both ways"));
        assert_eq!(moving.map(|(at, _)| at).collect::<Vec<_>>(), [number], "{name}");
        assert!(format!("{:?}", steps.blocks).contains("in which the bar folds, turns or lifts"));
    }
}

#[test]
fn opening_what_was_pressed_and_work_at_hinges_bear_their_letters() {
    for name in EXAMPLES {
        let project = example(name);
        let steps = steps_of(&project);
        let opened = [
            ("Pressure off, supply shut, water drained", false),
            ("Fit into each row", true),
            ("Stop the pump and watch", false),
            ("Before frost", true),
        ];
        for (begins, chemicals) in opened {
            let hazards = &step_of(&steps, begins).1.hazards;
            assert!(hazards.contains(&Hazard::Pressure), "{name}: {begins}");
            assert_eq!(hazards.contains(&Hazard::Chemicals), chemicals, "{name}: {begins}");
        }
        assert!(says(step_of(&steps, "Fit into each row").1, "pump off, supply shut, pressure off"));
    }
    let steps = steps_of(&example("twenty-four-metre-bar.ron"));
    for begins in ["Lay the hoses that cross hinges", "With the wings locked, cut and label"] {
        assert!(step_of(&steps, begins).1.hazards.contains(&Hazard::Folding), "{begins}");
    }
}

/// Parts are tight before the bar first folds; later one is loosened only to be turned and tightened at once.
#[test]
fn parts_are_tightened_once_before_the_first_fold() {
    let steps = steps_of(&example("twenty-four-metre-bar.ron"));
    let (mount, step) = step_of(&steps, "Mount the parts");
    assert!(step.text.ends_with("and tighten them"), "{}", step.text);
    let (fold, _) = step_of(&steps, "Fold once slowly without any hose");
    assert!(mount < fold);
    let (_, hoses) = step_of(&steps, "Lay and fasten the hoses that cross no hinge");
    assert!(says(hoses, "loosened, turned and tightened again at once"));
    let text = format!("{:?}", steps.blocks);
    assert!(!text.contains("snug") && !text.contains("Every part tight"));
}

/// What stands in the rows goes in after the test: it is neither asked about nor called tested.
#[test]
fn the_closed_test_asks_only_about_what_is_on_the_bar_by_then() {
    for name in ["twelve-metre-bar.ron", "twenty-four-metre-bar.ron"] {
        let project = example(name);
        let steps = steps_of(&project);
        let (number, test) = step_of(&steps, "Test hoses, manifolds and their joints");
        let asked = test.details.iter().find(|one| one.contains("no rating of their own")).unwrap();
        let numbers = asked.strip_prefix("Items ").unwrap().split(" have").next().unwrap();
        let fitted_by_then: Vec<usize> = all_steps(&steps)
            .into_iter()
            .filter(|(at, _)| *at < number)
            .flat_map(|(_, step)| step.items.iter().map(|one| one.item))
            .collect();
        let whole = |word: &str| word.parse::<usize>().ok();
        let mut spans = 0;
        let words: Vec<&str> = numbers.split([' ', ',']).filter(|word| !word.is_empty()).collect();
        for (at, word) in words.iter().enumerate() {
            let Some(one) = whole(word) else { continue };
            spans += 1;
            let last = if words.get(at + 1) == Some(&"to") { whole(words[at + 2]).unwrap() } else { one };
            for item in one..=last {
                assert!(fitted_by_then.contains(&item), "{name}: item {item} is not on yet: {asked}");
            }
        }
        assert!(spans > 0, "{asked}");
        assert!(!says(test, "under Supply"));
        assert!(says(test, "Not on the bar yet: row tubes, check valves and metering"), "{:?}", test.details);
        assert!(says(test, "at working pressure only"));
    }
}

#[test]
fn what_this_bar_has_not_is_not_spoken_of() {
    for name in EXAMPLES {
        let mut project = example(name);
        let has = |kind: ElementKind, project: &Project| {
            let mut elements = project.routings[0].feeds.iter().flat_map(|feed| feed.elements());
            elements.any(|one| matches!(one, FeedElement::Piece(known, _) if *known == kind))
        };
        let text = |project: &Project| format!("{:?}", steps_of(project).blocks).to_lowercase();
        let indicators = has(ElementKind::FlowIndicator, &project);
        assert_eq!(text(&project).contains("flow indicator"), indicators, "{name}");
        assert!(has(ElementKind::CheckValve, &project) && text(&project).contains("arrows of check valves"));
        let keep = |one: &FeedElement| !matches!(one, FeedElement::Piece(ElementKind::CheckValve, _));
        for feed in &mut project.routings[0].feeds {
            feed.trunk.retain(keep);
            for branch in &mut feed.branches {
                branch.elements.retain(keep);
            }
        }
        let without = text(&project);
        assert!(!without.contains("arrows of check") && !without.contains("all check valves"), "{name}");
    }
}
