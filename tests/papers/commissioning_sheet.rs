//! What a commissioning sheet works out for the field, read off the printed words and held against published formulas and
//! worked examples; what is our own arithmetic says so.

use equirow::plan::MeteringOrifice;
use std::path::Path;

use equirow::files;
use equirow::plan::{ElementItem, Item, LiquidPoint, Project, RoutingGeometry};
use equirow::quantities::{Density, Length, Measure, Speed, Temperature, UnitSystem, Viscosity};
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::document::{Document, PaperCell, PaperTable, Shown};

fn example() -> Project {
    files::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/nine-metre-bar.ron")).unwrap()
}

fn sheet(project: &Project) -> Document {
    commissioning_sheet(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        project.duties.first(),
    )
}

fn fact(sheet: &Document, name: &str) -> Option<String> {
    let rows = &table(sheet, "Conditions").rows;
    rows.iter().find(|row| row[0].printed() == name).map(|row| row[1].printed().to_owned())
}

fn table<'a>(sheet: &'a Document, caption: &str) -> &'a PaperTable {
    sheet.tables().find(|table| table.caption == caption).unwrap()
}

fn catches(sheet: &Document) -> &PaperTable {
    table(sheet, "Catch of every row")
}

fn numbers(table: &PaperTable, heading: &str) -> Vec<f64> {
    let at = table.columns.iter().position(|column| column.heading == heading).unwrap();
    let value = |row: &Vec<PaperCell>| match &row[at] {
        PaperCell::Number { value, .. } => Some(*value),
        _ => None,
    };
    table.rows.iter().filter_map(value).collect()
}

/// The number that stands between two pieces of a text.
fn between(text: &str, before: &str, after: &str) -> f64 {
    let from = text.split_once(before).unwrap_or_else(|| panic!("no {before:?} in {text:?}")).1;
    let number = from.split_once(after).unwrap_or_else(|| panic!("no {after:?} in {text:?}")).0;
    number.trim().parse().unwrap_or_else(|_| panic!("{number:?} in {text:?}"))
}

fn note(table: &PaperTable, begins: &str) -> String {
    let found = table.notes.iter().find(|note| note.starts_with(begins));
    found.unwrap_or_else(|| panic!("no note begins with {begins:?}: {:?}", table.notes)).clone()
}

fn at_speed(project: &mut Project, speed: Speed) {
    project.duties.first_mut().slowest = speed;
    project.duties.first_mut().usual = speed;
    project.duties.first_mut().fastest = speed;
}

/// Alberta Agriculture, Crop Protection, p. 11: 800 m at 8, 9, 10, 11 and 12 km/h take 6:00, 5:20, 4:48, 4:22 and 4:00,
/// printed in whole seconds; the sheet's course is an eighth of that, in tenths of a second.
#[test]
fn the_course_is_timed_as_published() {
    let mut project = example();
    for (speed, seconds) in [(8.0, 360.0), (9.0, 320.0), (10.0, 288.0), (11.0, 262.0), (12.0, 240.0)] {
        at_speed(&mut project, Speed::kilometres_per_hour(speed));
        let words = fact(&sheet(&project), "Ground speed check").unwrap();
        let ours = between(&words, "100 m in ", " s at");
        assert!((ours - seconds / 8.0).abs() <= 0.5 / 8.0 + 0.05, "{speed} km/h: {words}");
    }
}

/// University of Georgia Extension (P. Sumner), "Fertilizer Applicator Calibration": 214.9 ft for 19 in between rows, 340.3 ft
/// for 12 in. A project in metric units has no use for it.
#[test]
fn the_course_of_a_128th_of_an_acre_is_the_published_one() {
    let mut project = example();
    assert_eq!(fact(&sheet(&project), "Course of 1/128 acre"), None);
    project.units = UnitSystem::UsCustomary;
    for (inches, feet) in [(19.0, 214.9), (12.0, 340.3)] {
        project.bar.row_spacing = Length::millimetres(25.4 * inches);
        let words = fact(&sheet(&project), "Course of 1/128 acre").unwrap();
        let ours: f64 = words.split_once(" ft for one row").unwrap().0.parse().unwrap();
        assert!((ours - feet).abs() <= 0.1 + 1e-9, "{inches} in: {words}");
    }
}

/// Ontario government, ep75: over a course of 50 m, L/ha = 0.2 · mL / spacing [m]; over another course in proportion.
#[test]
fn the_factor_from_catch_to_rate_is_ontarios() {
    let mut project = example();
    for (speed, spacing) in [(9.0, 0.25), (7.0, 0.25), (9.0, 0.38)] {
        at_speed(&mut project, Speed::kilometres_per_hour(speed));
        project.bar.row_spacing = Length::metres(spacing);
        let sheet = sheet(&project);
        let seconds = between(&note(catches(&sheet), "Catch every row"), "for ", " s standing");
        let travel = speed / 3.6 * seconds;
        let words = note(catches(&sheet), "Rate from the catches");
        let ours = between(&words, "in mL times ", " is the rate in L/ha");
        let theirs = 0.2 / spacing * 50.0 / travel;
        assert!((ours - theirs).abs() <= 0.5e-4 + 1e-9, "{words}: {theirs}");
    }
}

/// Own arithmetic: the mean of the targets times the factor is the rate that was asked for. Targets are whole millilitres.
#[test]
fn the_targets_of_the_catches_add_up_to_the_rate() {
    let project = example();
    let sheet = sheet(&project);
    let targets = numbers(catches(&sheet), "Target");
    let mean = targets.iter().sum::<f64>() / targets.len() as f64;
    let factor =
        between(&note(catches(&sheet), "Rate from the catches"), "in mL times ", " is the rate in L/ha");
    let asked = project.duties.first().rate.as_litres_per_hectare();
    assert!(targets.len() == 36 && (mean * factor / asked - 1.0).abs() < 0.5 / mean + 0.5e-4 / factor);
}

/// The same source as the course: over 1/128 acre, fluid ounces caught are gallons an acre; over another course in
/// proportion.
#[test]
fn the_factor_in_us_units_is_georgias() {
    let mut project = example();
    project.units = UnitSystem::UsCustomary;
    project.bar.row_spacing = Length::millimetres(25.4 * 12.0);
    at_speed(&mut project, Speed::from_si(Measure::GroundSpeed.stored(6.0, UnitSystem::UsCustomary)));
    let sheet = sheet(&project);
    let seconds = between(&note(catches(&sheet), "Catch every row"), "for ", " s standing");
    // 6 mph are 8.8 ft/s, exactly.
    let theirs = 340.3 / (8.8 * seconds);
    let words = note(catches(&sheet), "Rate from the catches");
    let ours = between(&words, "in fl oz times ", " is the rate in gal/ac");
    assert!((ours / theirs - 1.0).abs() < 0.05 / 340.3 + 0.5e-4 / theirs, "{words}: {theirs}");
}

/// University of Nebraska, "Setting the Sprayer Flow Rate for Non-Water Solutions" (2016): pounds a gallon and the factor,
/// printed to two places, with water at 8.34 lb/gal. 1 lb/US gal is 119.826 kg/m³.
#[test]
fn the_density_factor_is_the_published_one_where_orifices_meter_alone() {
    let mut project = example();
    let quick = |project: &Project| {
        let sheet = sheet(project);
        catches(&sheet).notes.iter().find(|note| note.starts_with("A quick check")).cloned()
    };
    for (pounds, factor) in
        [(9.0, 1.04), (10.0, 1.10), (10.65, 1.13), (11.06, 1.15), (11.4, 1.17), (12.0, 1.20)]
    {
        project.duties.first_mut().liquid.points = vec![LiquidPoint {
            temperature: Temperature::from_si(20.0),
            density: Density::from_si(pounds * 119.826),
            viscosity: Viscosity::millipascal_seconds(2.0),
        }];
        let words = quick(&project).unwrap();
        let ours = between(&words, "water flows ", " times as much");
        assert!((ours - factor).abs() <= 0.0055, "{pounds} lb/gal: {words}");
    }
    // An orifice that has a viscous loss of its own no longer follows the root.
    for entry in &mut project.catalogue.entries {
        if let Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { creeping, .. })) = &mut entry.item
        {
            *creeping = true;
        }
    }
    assert_eq!(quick(&project), None);
}

/// Own arithmetic: the sample's coefficient of variation (n - 1) of expected over target.
#[test]
fn the_expected_evenness_is_that_of_the_expected_catches() {
    let project = example();
    let sheet = sheet(&project);
    let (targets, expected) =
        (numbers(catches(&sheet), "Target"), numbers(catches(&sheet), "Liquid expected"));
    let ratios: Vec<f64> = expected.iter().zip(&targets).map(|(one, target)| one / target).collect();
    let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
    let squares: f64 = ratios.iter().map(|one| (one - mean).powi(2)).sum();
    let by_hand = (squares / (ratios.len() - 1) as f64).sqrt() / mean * 100.0;
    let day = table(&sheet, "On the day");
    let words = day.rows.iter().flatten().find_map(|cell| match cell {
        PaperCell::Text(words) if words.contains("n − 1") => Some(words.clone()),
        _ => None,
    });
    let words = words.unwrap();
    let ours = between(&words, "expected ", " %");
    // Printed to a tenth, from catches in whole millilitres.
    let rounding = 0.05 + 100.0 * 0.5 / targets[0];
    assert!(by_hand > 0.1 && (ours - by_hand).abs() < rounding, "{words}: {by_hand}");
}

/// Where rows stand for strips of different widths, catches are only compared over their targets, and no one course of
/// 1/128 acre is right for all.
#[test]
fn rows_of_different_targets_are_judged_over_these() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/six-metre-trial-bar.ron");
    let uneven = files::open(&path).unwrap();
    for (mut project, differ) in [(example(), false), (uneven, true)] {
        let sheet_of = sheet(&project);
        let day = table(&sheet_of, "On the day");
        let says = |words: &str| day.rows.iter().flatten().any(|cell| cell.printed().starts_with(words));
        assert_eq!(says("Mean of the catches"), !differ);
        assert_eq!(says("Coefficient of variation of the catches (n − 1), expected "), !differ);
        assert_eq!(says("Mean of catch over target (each catch divided by its row's target)"), differ);
        assert_eq!(says("Coefficient of variation of catch over target (n − 1), expected "), differ);
        let limits = table(&sheet_of, "Bands and limits");
        let over = |row: &Vec<PaperCell>| row[1].printed().contains("of catch over target");
        assert_eq!(limits.rows.iter().any(over), differ);
        project.units = UnitSystem::UsCustomary;
        assert_eq!(fact(&sheet(&project), "Course of 1/128 acre").is_none(), differ);
    }
}

/// A program that reads the file is told how long rows are caught, and what each band is of.
#[test]
fn the_tables_say_how_long_to_catch_and_what_the_bands_are_of() {
    let sheet = sheet(&example());
    let seconds: f64 = fact(&sheet, "Catch time, s").unwrap().parse().unwrap();
    let said = note(catches(&sheet), "Catch every row for ");
    assert_eq!(between(&said, "Catch every row for ", " s standing"), seconds);
    let limits = table(&sheet, "Bands and limits");
    for (name, what) in
        [("Drawn from, drawn to", "computed to give a row"), ("Target from, target to", "should get")]
    {
        let row = limits.rows.iter().find(|row| row[0].printed() == name).unwrap();
        assert!(row[1].printed().contains(what), "{row:?}");
    }
}

/// A liquid with the numbers of water under another name, and one a tenth denser.
#[test]
fn water_has_columns_of_its_own_only_where_it_reads_otherwise() {
    let columns = |density: f64| {
        let mut project = example();
        let mut liquid = equirow::plan::Liquid::water();
        liquid.name = "Inoculant".to_owned();
        for point in &mut liquid.points {
            point.density = Density::from_si(point.density.si() * density);
        }
        project.duties.first_mut().liquid = liquid;
        let sheet = sheet(&project);
        let of_water = sheet.tables().filter(|one| one.caption == "Pressures and total flow, water").count();
        let says =
            sheet.tables().flat_map(|one| &one.notes).filter(|one| one.contains("reads as with the liquid"));
        let catches = catches(&sheet).columns.iter().filter(|one| one.heading.starts_with("Water"));
        // Pages have a band in one column, files both of its ends.
        let pages = catches.clone().filter(|one| one.shown != Shown::InFiles).count();
        let files = catches.filter(|one| one.shown != Shown::OnPages).count();
        (of_water, [pages, files], says.count())
    };
    assert_eq!(columns(1.000_1), (0, [0, 0], 1));
    assert_eq!(columns(1.1), (1, [4, 6], 0));
}

/// A flow meter in the supply hose: at each speed it is expected to read what flows there, beside a column to write down
/// what it reads, in the unit of its dial; without one there are no such columns.
#[test]
fn a_flow_meter_has_a_column_of_what_it_should_read() {
    let mut session = equirow::session::Session::new(example(), None);
    let headings = |session: &equirow::session::Session| -> Vec<String> {
        let sheet = sheet(session.project());
        let found =
            sheet.tables().find(|table| table.columns.iter().any(|one| one.heading == "Pump read")).unwrap();
        found.columns.iter().map(|one| one.heading.clone()).collect()
    };
    assert!(!headings(&session).iter().any(|one| one.starts_with("FM") || one.starts_with('Q')));
    let before = headings(&session);
    let (run, at) = {
        let run = session.routing().runs.iter().find(|run| run.from == equirow::plan::End::Supply).unwrap();
        let path = session.geometry().run(run.id).unwrap().places();
        let longest =
            path.windows(2).max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1]))).unwrap();
        (run.id, longest[0].towards(longest[1], 0.5).flat())
    };
    let meter = session
        .project()
        .catalogue
        .first(|item: &equirow::plan::PartItem| item.kind() == "flow meter")
        .expect("the catalogue has a flow meter");
    session.place(&meter, at, 0.2).unwrap();
    let part = session.selected_part().unwrap();
    let tag = session.routing().part(part).unwrap().tag.clone();
    let after = headings(&session);
    let new: Vec<&String> = after.iter().filter(|one| !before.contains(one)).collect();
    assert_eq!(new, [&format!("{tag} expected"), &format!("{tag} read")], "beside {run:?}");
    let sheet = sheet(session.project());
    let found =
        sheet.tables().find(|table| table.columns.iter().any(|one| one.heading == "Pump read")).unwrap();
    let expected = numbers(found, &format!("{tag} expected"));
    // All of the flow passes it.
    assert_eq!(expected, numbers(found, "Total flow expected"));
    assert_eq!(expected.len(), found.rows.len());
    assert!(expected.windows(2).all(|pair| pair[0] < pair[1]), "more at each speed: {expected:?}");
    let at = found.columns.iter().position(|one| one.heading == format!("{tag} read")).unwrap();
    assert!(found.rows.iter().all(|row| matches!(row[at], PaperCell::FillIn)), "left to be written down");
}

/// On a side slope of 10 % the outermost row of the bar of 24 m hangs 1.18 m below the middle: with the tank's liquid over it
/// some 0.3 bar stand on a valve that shuts at 0.18 bar. No finding at the duty's own slope, which is none, tells it.
#[test]
fn what_bites_on_slopes_stands_on_the_sheet_of_the_standard_set() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/twenty-four-metre-bar.ron");
    let project = equirow::files::open(&path).unwrap();
    let sheet = |project: &Project| {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(project, routing);
        format!("{:?}", commissioning_sheet(project, geometry.with(routing), project.duties.first()).blocks)
    };
    let text = sheet(&project);
    assert!(text.contains("At work, as tried"), "{text}");
    assert!(text.contains("With the pump off and the bar on side slope 10.0 %"), "{text}");
    assert!(text.contains("shut a valve at the tank, or it runs out there"), "{text}");
    // Where no slope is tried nothing is said.
    let mut level = project;
    level.limits.tried_slope = equirow::quantities::Angle::ZERO;
    assert!(!sheet(&level).contains("do not hold the full tank"));
}
