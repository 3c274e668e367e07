//! Calibrating: readings that the engine makes of a bar with other numbers are told back. That proves the fit and its
//! intervals, not that the engine is like a bar in the field; the fit itself is held against certified values of NIST in
//! `least_squares.rs`.

use std::path::Path;

use equirow::files;
use equirow::hydraulics::solve;
use equirow::plan::{
    Calibrated, CaughtLiquid, EntryCalibration, EntryKey, Field, PartId, Project, Routing, RoutingGeometry,
    RowId, Source, SpreadKind,
};
use equirow::quantities::{Flow, Pressure, Ratio};
use equirow::studies::catch_test::calibrate::{
    Calibratable, Calibration, CalibrationAsked, WhyRefused, calibrate,
};
use equirow::studies::catch_test::readings::{CaughtFlow, PressureReading, RowReading, TestedRouting};
use equirow::studies::tolerance::{ToleranceOptions, ToleranceStudy, study};
use equirow::studies::{NoAnswer, Studied, Unwatched};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};

fn example(name: &str) -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    files::open(&folder.join(name)).unwrap()
}

/// The nine-metre bar: one size of orifice, a filter, a liquid whose viscosity is assumed.
fn bar() -> Project {
    example("nine-metre-bar.ron")
}

fn orifice() -> Calibratable {
    Calibratable::Entry(EntryKey::new("orifice-0.7"), Field::Discharge)
}

/// The bar as it is in truth: thicker liquid, another discharge coefficient, a filter that takes more.
fn truth(project: &Project, thicker: f64, discharge: f64, filter: f64) -> Project {
    let mut truth = project.clone();
    for point in &mut truth.duties.first_mut().liquid.points {
        point.viscosity = point.viscosity * thicker;
    }
    for entry in &mut truth.catalogue.entries {
        if let Some((field, value)) = entry.told_by_catch() {
            let times = match field {
                Field::Discharge => discharge,
                Field::Bore => 1.0,
                _ => filter,
            };
            *entry = entry.with_number(field, value * times).unwrap();
        }
    }
    truth
}

/// No part scatters.
fn of_equal_parts(mut project: Project) -> Project {
    for kind in SpreadKind::ALL {
        let mut spread = kind.entry().of(&project.spreads);
        if !matches!(kind, SpreadKind::Viscosity | SpreadKind::OrificeCoefficient) {
            spread.sd = 0.0;
        }
        kind.entry().set(&mut project.spreads, spread);
    }
    project
}

/// What is read of a bar: every row, and these parts.
struct Read {
    rows: Vec<RowReading>,
    gauges: Vec<PressureReading>,
}

/// How well it is read: a catch as a part of it, a gauge in Pa.
#[derive(Clone, Copy)]
struct Scatter {
    catch: f64,
    gauge: f64,
}

const FINE: Scatter = Scatter { catch: 0.01, gauge: 300.0 };

fn read(truth: &Project, gauges: &[PartId], scatter: Scatter, mut random: Option<&mut ChaCha8Rng>) -> Read {
    let outcome = solve(truth, &truth.routings[0], &truth.duties.first().usual_point());
    let mut off = |sd: f64| {
        let normal: f64 = random.as_mut().map_or(0.0, |random| StandardNormal.sample(*random));
        sd * normal
    };
    let rows = outcome.rows().iter().map(|row| {
        let sd = scatter.catch * row.flow.si();
        let flow = Flow::from_si(row.flow.si() + off(sd));
        RowReading { row: row.row, catches: vec![CaughtFlow { flow, seconds: 30.0, sd: Flow::from_si(sd) }] }
    });
    let rows = rows.collect();
    let gauges = gauges.iter().map(|part| {
        let pressure = outcome.part(*part).unwrap().pressure.unwrap();
        let read = Pressure::from_si(pressure.si() + off(scatter.gauge));
        PressureReading { part: *part, pressure: read, sd: Pressure::from_si(scatter.gauge) }
    });
    Read { rows, gauges: gauges.collect() }
}

fn asked() -> CalibrationAsked {
    CalibrationAsked {
        doubted_rows: Vec::new(),
        doubted_gauges: Vec::new(),
        liquid: CaughtLiquid::Product,
        temperature_is_measured: true,
    }
}

fn calibrated(project: &Project, read: Read, asked: &CalibrationAsked) -> Result<Calibration, NoAnswer> {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let studied =
        Studied { project, routing: geometry.with(routing), point: project.duties.first().usual_point() };
    calibrate(
        &TestedRouting { studied, rows: read.rows, gauges: read.gauges, supply_sd: 0.03 },
        asked,
        &Unwatched,
    )
}

/// All parts with a pressure: as if a gauge hung on each.
fn everywhere(project: &Project) -> Vec<PartId> {
    let outcome = solve(project, &project.routings[0], &project.duties.first().usual_point());
    outcome.parts().iter().filter(|part| part.pressure.is_some()).map(|part| part.part).collect()
}

fn words(found: &Calibration, project: &Project) -> String {
    let routing: &Routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let of =
        Studied { project, routing: geometry.with(routing), point: project.duties.first().usual_point() };
    let told = found.told.iter().map(|one| format!("{}: {}", one.number.name(&of), one.words(project.units)));
    let refused = found
        .refused
        .iter()
        .map(|one| format!("{} refused: {}; {}", one.number.name(&of), one.words(&of), one.would_tell));
    told.chain(refused).chain(found.remarks.iter().cloned()).collect::<Vec<_>>().join("\n")
}

/// What is told of a bar at all is told exactly, each of the four kinds of number on one of the examples at least.
#[test]
fn readings_without_scatter_give_the_numbers_they_were_made_with() {
    let (mut viscosity, mut discharge, mut loss, mut bore) = (false, false, false, false);
    // A thick liquid beside thin ones: only what it loses in tubes tells a viscosity.
    for (name, thick) in
        [("six-metre-trial-bar.ron", 1.0), ("nine-metre-bar.ron", 1.0), ("twelve-metre-bar.ron", 8.0)]
    {
        let mut project = truth(&of_equal_parts(example(name)), thick, 1.0, 1.0);
        project.duties.first_mut().liquid.viscosity_source = Source::Assumed;
        let gauges = everywhere(&project);
        let fine = Scatter { catch: 0.005, gauge: 100.0 };
        let as_assumed = calibrated(&project, read(&project, &gauges, fine, None), &asked()).unwrap();
        println!("{name}\n{}", words(&as_assumed, &project));
        let is_told = |number: &Calibratable| as_assumed.told.iter().any(|one| one.number == *number);
        viscosity |= is_told(&Calibratable::Viscosity);
        let thicker = if is_told(&Calibratable::Viscosity) { 1.15 } else { 1.0 };
        let mut truth = truth(&project, thicker, 1.0, 1.0);
        for entry in &mut truth.catalogue.entries {
            let Some((field, value)) = entry.told_by_catch() else { continue };
            if is_told(&Calibratable::Entry(entry.key.clone(), field)) {
                let times = match field {
                    Field::Discharge => 0.95,
                    Field::Bore => 1.03,
                    _ => 1.6,
                };
                *entry = entry.with_number(field, value * times).unwrap();
            }
        }
        let found = calibrated(&project, read(&truth, &gauges, fine, None), &asked()).unwrap();
        let agreement = found.agreement.unwrap();
        assert!(agreement.chi_squared < 1e-6 && agreement.widened == 1.0, "{name}: {agreement:?}");
        for one in &found.told {
            let expected = match &one.number {
                Calibratable::Viscosity => 1.15,
                Calibratable::Entry(_, Field::Discharge) => 0.95,
                Calibratable::Entry(_, Field::Bore) => 1.03,
                Calibratable::Entry(..) => 1.6,
            };
            discharge |= expected == 0.95;
            loss |= expected == 1.6;
            bore |= expected == 1.03;
            assert!((one.value / one.assumed / expected - 1.0).abs() < 1e-5, "{name}: {one:?}");
        }
        assert_eq!(found.told.len(), as_assumed.told.len(), "{name}: {}", words(&found, &project));
    }
    assert!(
        viscosity && discharge && loss && bore,
        "viscosity {viscosity}, discharge {discharge}, loss {loss}, bore {bore}"
    );
}

/// In laminar flow a metering tube's loss goes by viscosity over the fourth power of its bore (Hagen and Poiseuille; any
/// handbook): where nobody knows the viscosity, rows and gauges can't tell its bore. With water, whose viscosity is known, they
/// can.
#[test]
fn the_bore_of_a_metering_tube_is_refused_beside_an_unknown_viscosity_in_laminar_flow() {
    let mut project = truth(&of_equal_parts(example("six-metre-trial-bar.ron")), 8.0, 1.0, 1.0);
    project.duties.first_mut().liquid.viscosity_source = Source::Assumed;
    let bores = |found: &Calibration| {
        let is_bore = |number: &Calibratable| matches!(number, Calibratable::Entry(_, Field::Bore));
        let told = found.told.iter().filter(|one| is_bore(&one.number)).count();
        (told, found.refused.iter().filter(|one| is_bore(&one.number)).cloned().collect::<Vec<_>>())
    };
    let thick = calibrated(&project, read(&project, &everywhere(&project), FINE, None), &asked()).unwrap();
    let (told, refused) = bores(&thick);
    assert!(told == 0 && !refused.is_empty(), "{}", words(&thick, &project));
    for one in &refused {
        assert!(matches!(one.why, WhyRefused::Tied { .. } | WhyRefused::Wide { .. }), "{one:?}");
        assert!(!one.would_tell.is_empty());
    }
    // The same liquid, its viscosity measured.
    project.duties.first_mut().liquid.viscosity_source = Source::Measured;
    let known = calibrated(&project, read(&project, &everywhere(&project), FINE, None), &asked()).unwrap();
    assert!(bores(&known).0 > 0, "{}", words(&known, &project));
}

/// 95 % of the intervals hold the truth, and the sum of squares is spread as it should be: of 60 bars read with scatter, 57
/// on average; fewer than 52 or a mean of chi-squared off by more than 6 % would come once in some hundreds of runs.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let project = of_equal_parts(bar());
    let truth = truth(&project, 1.1, 0.97, 1.5);
    let gauges = everywhere(&project);
    let (mut inside, mut all, mut squares, mut freedom) = (0, 0, 0.0, 0.0);
    for seed in 0..60 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let read = read(&truth, &gauges, FINE, Some(&mut random));
        let found = calibrated(&project, read, &asked()).unwrap();
        let one = found.told.iter().find(|one| one.number == orifice()).unwrap();
        let [low, high] = one.interval();
        all += 1;
        inside += i32::from((low..=high).contains(&(one.assumed * 0.97)));
        let agreement = found.agreement.unwrap();
        squares += agreement.chi_squared;
        freedom += agreement.freedom as f64;
    }
    println!("{inside} of {all} intervals, chi-squared over freedom {}", squares / freedom);
    assert!(inside >= 52, "{inside} of {all}");
    assert!((squares / freedom - 1.0).abs() < 0.06, "{}", squares / freedom);
}

/// Metered flow through equal orifices says nothing of their coefficient; a gauge behind which they lie would.
#[test]
fn what_flows_alone_can_not_tell_is_refused_with_the_gauge_that_would() {
    let project = bar();
    let truth = truth(&project, 1.0, 0.95, 1.0);
    let found = calibrated(&project, read(&truth, &[], FINE, None), &asked()).unwrap();
    println!("{}", words(&found, &project));
    let refused = found.refused.iter().find(|one| one.number == orifice()).unwrap();
    assert!(refused.would_tell.contains("gauge"), "{}", refused.would_tell);
    assert!(found.told.iter().all(|one| one.number != orifice()));
    // With it, and a fine one, it is told.
    let gauges = everywhere(&project);
    let found = calibrated(&project, read(&truth, &gauges, FINE, None), &asked()).unwrap();
    println!("{}", words(&found, &project));
    let one = found.told.iter().find(|one| one.number == orifice()).unwrap();
    assert!((one.value / one.assumed / 0.95 - 1.0).abs() < 0.01, "{one:?}");
}

/// The interval that is left takes the place of the spread, in the figures and in the words.
#[test]
fn predictions_afterwards_carry_the_interval_that_is_left() {
    let mut project = bar();
    let by = Calibrated {
        on: "2026-11-30".to_owned(),
        test: "Yard".to_owned(),
        temperature: project.duties.first().temperature,
        within: Ratio::from_si(0.02),
    };
    let spreads = |project: &Project| {
        let geometry = RoutingGeometry::working(project, &project.routings[0]);
        let point = project.duties.first().usual_point();
        let of = Studied { project, routing: geometry.with(&project.routings[0]), point };
        let options = ToleranceOptions { samples: 20, ..ToleranceOptions::default() };
        study(&of, &options, &Unwatched).unwrap()
    };
    let before = spreads(&project);
    project.duties.first_mut().liquid.viscosity_source = Source::Calibrated(by.clone());
    for entry in &mut project.catalogue.entries {
        if let Some((Field::Discharge, value)) = entry.told_by_catch() {
            entry.calibrated = Some(EntryCalibration { value, by: by.clone() });
        }
    }
    let after = spreads(&project);
    for kind in [SpreadKind::Viscosity, SpreadKind::OrificeCoefficient] {
        let of = |study: &ToleranceStudy| study.spreads.iter().find(|one| one.kind == kind).unwrap().clone();
        let (before, after) = (of(&before), of(&after));
        assert_eq!(before.spread, kind.entry().usual);
        assert!((after.spread.sd - 0.02 / 1.96).abs() < 1e-5, "{after:?}");
        assert!(after.source.contains("calibrated on 2026-11-30 from test Yard"), "{}", after.source);
    }
    let cv = |study: &ToleranceStudy, kind| {
        study.asked.first_order.causes.iter().find(|one| one.kind == kind).unwrap().cv_squared
    };
    let times = cv(&after, SpreadKind::Viscosity) / cv(&before, SpreadKind::Viscosity);
    let usual = SpreadKind::Viscosity.entry().usual.sd;
    assert!((times / (0.02 / 1.959_964 / usual).powi(2) - 1.0).abs() < 1e-4, "{times}");
}

/// Water's viscosity is published: it is not fitted.
#[test]
fn water_has_no_viscosity_to_calibrate() {
    let project = bar();
    let asked = CalibrationAsked { liquid: CaughtLiquid::Water, ..asked() };
    let found = calibrated(&project, read(&project, &everywhere(&project), FINE, None), &asked).unwrap();
    let numbers = found.told.iter().map(|one| &one.number).chain(found.refused.iter().map(|one| &one.number));
    assert!(numbers.into_iter().all(|number| *number != Calibratable::Viscosity));
}

/// Readings that scatter three times as much as they are said to: the intervals are widened by that, and it is said.
#[test]
fn readings_that_do_not_agree_widen_the_intervals() {
    let project = of_equal_parts(bar());
    let gauges = everywhere(&project);
    let wide = Scatter { catch: 3.0 * FINE.catch, gauge: 3.0 * FINE.gauge };
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut read = read(&project, &gauges, wide, Some(&mut random));
    for row in &mut read.rows {
        for one in &mut row.catches {
            one.sd = one.sd / 3.0;
        }
    }
    for gauge in &mut read.gauges {
        gauge.sd = gauge.sd / 3.0;
    }
    let found = calibrated(&project, read, &asked()).unwrap();
    let agreement = found.agreement.unwrap();
    assert!((2.3..3.7).contains(&agreement.widened), "{agreement:?}");
    assert!(agreement.chance < 0.001);
    assert!(found.remarks.iter().any(|one| one.contains("widened")), "{:?}", found.remarks);
}

#[test]
fn a_doubted_row_does_not_count_and_nothing_read_is_said() {
    let project = of_equal_parts(bar());
    let gauges = everywhere(&project);
    let mut spoiled = read(&project, &gauges, FINE, None);
    spoiled.rows[4].catches[0].flow = spoiled.rows[4].catches[0].flow * 0.5;
    let row: RowId = spoiled.rows[4].row;
    let asked = CalibrationAsked { doubted_rows: vec![row], ..asked() };
    let found = calibrated(&project, spoiled, &asked).unwrap();
    assert!(found.agreement.unwrap().chi_squared < 1e-6, "{found:?}");
    assert_eq!(found.agreement.unwrap().rows, project.bar.rows.len() - 1);
    assert!(found.remarks.iter().any(|one| one.contains("doubted")));
    let nothing = Read { rows: Vec::new(), gauges: Vec::new() };
    let refusal = calibrated(&project, nothing, &asked).unwrap_err().to_string();
    assert!(refusal.contains("no reading is left"), "{refusal}");
    let Some(refused) = found.refused.first() else { return };
    assert!(!matches!(&refused.why, WhyRefused::NoValue { .. }));
}
