//! Catch tests judged: the arithmetic against worked examples of extension services, and the engine's own flows as "as drawn".

use std::sync::Arc;

use equirow::hydraulics::solve;
use equirow::plan::catch_test::tested_bar;
use equirow::plan::edit::apply;
use equirow::plan::{
    Catch, CatchScatter, CatchSpan, CatchTest, CatchUnit, CaughtAmount, CaughtLiquid, Control, Drive, Edit,
    FeedElement, GaugeReading, Liquid, Part, PartItem, Project, Source, TableDoubt,
};
use equirow::quantities::{
    Angle, ApplicationRate, Density, Flow, Length, Mass, Pressure, Ratio, Speed, Viscosity, Volume,
};
use equirow::studies::NoAnswer;
use equirow::studies::catch_test::judged::{Judged, judge};
use equirow::studies::catch_test::prepare::PreparedTest;
use equirow::studies::catch_test::verdict_words::{headline, sentences};

use crate::studies_pressure::example;

const SECONDS: f64 = 40.0;

/// A test of the first routing at the usual speed in which nothing was caught yet.
fn empty(project: &Project) -> CatchTest {
    let duty = project.duties.first();
    CatchTest {
        temperature: Some(duty.temperature),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
        span: CatchSpan::Seconds(SECONDS),
        ..project.catch_tests.empty_at(&duty.usual_point())
    }
}

/// What the plan says comes at each row, as a test that was made so.
fn as_planned(project: &Project) -> CatchTest {
    let outcome = solve(project, &project.routings[0], &project.duties.first().usual_point());
    let catches = outcome.rows().iter().map(|row| Catch {
        row: row.row,
        amount: CaughtAmount::Volume(Volume::from_si(row.flow.si() * SECONDS)),
        span: None,
        spoiled: None,
    });
    CatchTest { catches: catches.collect(), ..empty(project) }
}

fn prepared(project: &Project, test: CatchTest) -> Result<PreparedTest, NoAnswer> {
    let mut project = project.clone();
    let id = test.id;
    let bar = tested_bar(&project, project.routings[0].id, test.duty).unwrap();
    apply(&mut project, Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))).unwrap();
    PreparedTest::of(&project, project.catch_tests.get(id).unwrap())
}

fn judged(project: &Project, test: CatchTest) -> Judged {
    judge(&prepared(project, test).unwrap()).unwrap()
}

fn times(test: &mut CatchTest, row: usize, factor: f64) {
    let CaughtAmount::Volume(volume) = test.catches[row].amount else { panic!() };
    test.catches[row].amount = CaughtAmount::Volume(volume * factor);
}

/// The engine's own flows: this tests the reckoning, not the engine.
#[test]
fn what_the_plan_says_is_as_drawn_and_one_row_off_is_found() {
    for name in ["twenty-four-metre-bar.ron", "nine-metre-bar.ron", "six-metre-trial-bar.ron"] {
        let project = example(name);
        let test = as_planned(&project);
        let found = judged(&project, test.clone());
        assert_eq!(found.verdict.as_drawn, Some(true), "{name}");
        for row in &found.rows {
            assert!(row.from_expected.unwrap().si().abs() < 1e-9, "{name}: {row:?}");
            assert_eq!(row.asked, Some(row.target), "{name}");
        }
        let planned = solve(&project, &project.routings[0], &project.duties.first().usual_point());
        let limit = project.limits.row_deviation;
        let within = planned.rows().iter().all(|row| row.deviation.is_none_or(|one| one.abs() <= limit));
        assert_eq!(found.verdict.within_limits, Some(within), "{name}");
        // A tenth less at one row.
        let mut off = test;
        times(&mut off, 4, 0.9);
        let number = project.bar.rows[4].number;
        let prepared = prepared(&project, off).unwrap();
        let found = judge(&prepared).unwrap();
        let verdict = found.verdict.clone();
        assert_eq!((verdict.as_drawn, verdict.within_limits), (Some(false), Some(false)), "{name}");
        let wrong: Vec<u32> = found.rows.iter().filter(|row| !row.as_drawn).map(|row| row.number).collect();
        let outliers: Vec<u32> =
            found.rows.iter().filter(|row| row.is_outlier).map(|row| row.number).collect();
        assert_eq!((wrong, outliers), (vec![number], vec![number]), "{name}");
        let said = sentences(&found, &prepared).join("\n");
        assert!(said.contains(&format!("not as drawn: row {number}, −10.0 %, where −")), "{said}");
        assert!(said.contains(" may be beside the other readings"), "{said}");
        assert_eq!(headline(&found), "Neither as drawn nor within the limits");
    }
}

/// A bar of full rows whose rows stand as far apart as an example says.
fn with_spacing(metres: f64) -> Project {
    let mut project = example("nine-metre-bar.ron");
    project.bar.row_spacing = Length::metres(metres);
    for row in &mut project.bar.rows {
        row.share = 1.0;
    }
    project
}

fn all_rows(project: &Project, amount: CaughtAmount) -> Vec<Catch> {
    let rows = project.bar.rows.iter();
    rows.map(|row| Catch { row: row.id, amount, span: None, spoiled: None }).collect()
}

/// University of Georgia Extension, Fertilizer Applicator Calibration: over a course of 340.3 ft (1/128 acre for 12 in) fluid
/// ounces caught are gallons an acre. Over a distance the speed does not matter.
#[test]
fn ounces_over_the_course_are_gallons_an_acre() {
    let project = with_spacing(12.0 * 0.0254);
    for (ounces, mph) in [(20.0, 5.0), (11.5, 7.0)] {
        let test = CatchTest {
            catches: all_rows(&project, CatchUnit::FluidOunce.amount(ounces)),
            span: CatchSpan::Distance(Length::metres(340.3 * 0.3048)),
            drive: Drive::Speed(Speed::from_si(mph * 0.44704)),
            ..empty(&project)
        };
        let applied = judged(&project, test).applied.unwrap();
        let gallons = applied.rate.si() / (3.785411784e-3 / 4046.8564224);
        assert!((gallons / ounces - 1.0).abs() < 2e-4, "{gallons} of {ounces}");
    }
}

/// Alberta Agriculture, Crop Protection book, p. 11: 40 L an acre at 9 km/h, outlets of 50 cm: 0.75 L/min, 0.71 to 0.79
/// accepted. 40 L an acre is 98.84 L/ha (1 acre = 4046.856 m²), exactly 0.7413 L/min.
#[test]
fn litres_a_minute_are_litres_an_acre() {
    let mut project = with_spacing(0.5);
    let duty = project.duties.first_mut();
    duty.rate = ApplicationRate::litres_per_hectare(98.842);
    duty.slowest = Speed::kilometres_per_hour(8.0);
    duty.usual = Speed::kilometres_per_hour(9.0);
    duty.fastest = Speed::kilometres_per_hour(10.0);
    let rated = |litres_a_minute: f64| {
        let one = Volume::from_si(Flow::litres_per_minute(litres_a_minute).si() * SECONDS);
        judged(
            &project,
            CatchTest { catches: all_rows(&project, CaughtAmount::Volume(one)), ..empty(&project) },
        )
    };
    let applied = rated(0.7413).applied.unwrap();
    assert!((applied.rate.as_litres_per_hectare() * 0.4046856 / 40.0 - 1.0).abs() < 1e-3, "{applied:?}");
    // The band that the book accepts is ±5 % of 0.75: so is ours of the exact target.
    for (litres, within) in [(0.71, true), (0.775, true), (0.70, false), (0.79, false)] {
        let found = rated(litres);
        assert!(found.rows.iter().all(|row| row.within_limit == within), "{litres}: {:?}", found.rows[0]);
        assert!((found.rows[0].target.as_litres_per_minute() - 0.7413).abs() < 1e-4);
    }
}

/// University of Nebraska, Setting the Sprayer Flow Rate for Non-Water Solutions (2016): 28-0-0 of 10.65 lb/gal against water,
/// factor 1.13 through orifices at one pressure; 20 gallons an acre are 22.6 of water. What else the rows have (hoses, tubes)
/// passes nearly as the root of the density does where the kinematic viscosity is the same, as it is given here.
#[test]
fn water_stands_for_a_heavier_liquid_by_the_root_of_the_density() {
    let mut project = with_spacing(0.25);
    let temperature = project.duties.first().temperature;
    let water = Liquid::water().at(temperature).unwrap();
    let heavier = 10.65 / 8.34;
    let liquid = &mut project.duties.first_mut().liquid;
    liquid.points.truncate(1);
    liquid.points[0].temperature = temperature;
    liquid.points[0].density = Density::from_si(water.density.si() * heavier);
    liquid.points[0].viscosity = Viscosity::from_si(water.viscosity.si() * heavier);
    let metering = |element: &FeedElement| element.is_metering();
    assert!(project.routings[0].feeds.iter().flat_map(|feed| feed.elements()).any(metering));
    project.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
    project.supply.pump_capacity = None;
    project.supply.pump_curve.clear();
    let drop = CaughtAmount::Volume(Volume::millilitres(300.0));
    let test =
        CatchTest { liquid: CaughtLiquid::Water, catches: all_rows(&project, drop), ..empty(&project) };
    let found = judged(&project, test);
    for row in &found.rows {
        let factor = row.asked.unwrap() / row.target;
        assert!((factor / 1.13 - 1.0).abs() < 0.015, "{factor} at row {}", row.number);
    }
}

/// With a metered flow water and liquid come out at the same total: what is asked is the target, but for the ways to the rows.
#[test]
fn a_metered_total_is_the_same_of_water() {
    let project = example("twenty-four-metre-bar.ron");
    let drop = CaughtAmount::Volume(Volume::millilitres(300.0));
    let test =
        CatchTest { liquid: CaughtLiquid::Water, catches: all_rows(&project, drop), ..empty(&project) };
    let found = judged(&project, test);
    let (asked, target): (f64, f64) = found
        .rows
        .iter()
        .filter_map(|row| Some((row.asked?.si(), row.target.si())))
        .fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    assert!((asked / target - 1.0).abs() < 2e-3, "{}", asked / target);
}

/// A weight over the density is a volume: 412.5 g of what weighs 1.1 kg/L are 375 mL.
#[test]
fn weights_become_volumes_by_the_density_that_was_caught() {
    let mut project = example("nine-metre-bar.ron");
    for point in &mut project.duties.first_mut().liquid.points {
        point.density = Density::from_si(1100.0);
    }
    let catches = all_rows(&project, CaughtAmount::Mass(Mass::grams(412.5)));
    let found = judged(&project, CatchTest { catches, ..empty(&project) });
    let volume = found.rows[0].caught.si() * SECONDS;
    assert!((volume / 375e-6 - 1.0).abs() < 1e-12, "{volume}");
    // It is said by which density, of what, and who says so; another one makes other volumes.
    let catches = all_rows(&project, CaughtAmount::Mass(Mass::grams(412.5)));
    let weighed = CatchTest { catches, ..empty(&project) };
    let said = |project: &Project, test: CatchTest| {
        let prepared = prepared(project, test).unwrap();
        sentences(&judge(&prepared).unwrap(), &prepared).join("\n")
    };
    for (source, says) in [
        (Source::Assumed, "(assumed): that of Inoculant in water at 12 °C; weigh a litre of it to know"),
        (Source::Measured, "(measured): that of Inoculant in water at 12 °C"),
    ] {
        project.duties.first_mut().liquid.density_source = source;
        let words = said(&project, weighed.clone());
        let line = format!("weights are volumes by a density of 1100 kg/m³ {says}");
        assert!(words.lines().any(|one| one == line), "{line}: {words}");
    }
    let unknown = said(&project, CatchTest { temperature: None, ..weighed.clone() });
    assert!(unknown.contains("at 12 °C, a temperature that is assumed"), "{unknown}");
    assert!(!said(&project, as_planned(&project)).contains("weights are volumes"));
    for point in &mut project.duties.first_mut().liquid.points {
        point.density = Density::from_si(1250.0);
    }
    let volume = judged(&project, weighed).rows[0].caught.si() * SECONDS;
    assert!((volume / 330e-6 - 1.0).abs() < 1e-12, "{volume}");
}

/// By hand: the mean of two catches of a row with the inverse squares of their scatters as weights.
#[test]
fn catches_of_a_row_are_weighed_by_their_scatter() {
    let project = example("nine-metre-bar.ron");
    let mut test = empty(&project);
    test.scatter = CatchScatter { amount: Ratio::from_si(0.01), seconds: 0.0, ..CatchScatter::default() };
    let one = |millilitres: f64, seconds: f64| Catch {
        row: project.bar.rows[0].id,
        amount: CaughtAmount::Volume(Volume::millilitres(millilitres)),
        span: Some(CatchSpan::Seconds(seconds)),
        spoiled: None,
    };
    // 10 and 10.1 mL/s; the jug is read to 1 % of the larger of a flow and the middle one, 10.1.
    test.catches = vec![one(400.0, 40.0), one(404.0, 40.0)];
    let row = judged(&project, test.clone()).rows[0];
    assert!((row.caught.si() * 1e6 - 10.05).abs() < 1e-9, "{row:?}");
    assert!((row.sd.si() * 1e6 - 0.101 / 2f64.sqrt()).abs() < 1e-9, "{row:?}");
    assert_eq!(row.apart, None);
    // 10 and 12 mL/s contradict each other: by hand, 2.77 times 0.12 is allowed (ISO 5725-6, critical difference of two), and the
    // mean of two of equal scatter is as uncertain as half of what they differ by.
    test.catches = vec![one(400.0, 40.0), one(480.0, 40.0)];
    let row = judged(&project, test.clone()).rows[0];
    assert!((row.caught.si() * 1e6 - 11.0).abs() < 1e-9, "{row:?}");
    assert!((row.sd.si() * 1e6 - 1.0).abs() < 1e-9, "{row:?}");
    let apart = row.apart.unwrap();
    assert!((apart.range.si() * 1e6 - 2.0).abs() < 1e-9, "{apart:?}");
    assert!((apart.critical.si() * 1e6 - 2.77 * 0.12).abs() < 1e-3, "{apart:?}");
    // A watch stopped within 2 s in 40 s costs 5 %, twice as long half of that.
    test.scatter = CatchScatter { amount: Ratio::ZERO, seconds: 2.0, ..CatchScatter::default() };
    test.catches = vec![one(400.0, 40.0), one(960.0, 80.0)];
    let row = judged(&project, test.clone()).rows[0];
    assert!((row.caught.si() * 1e6 - (10.0 + 4.0 * 12.0) / 5.0).abs() < 1e-9, "{row:?}");
    // Catches that took equally long count alike, however far apart: 4 and 7 mL/s are 5.5.
    test.catches = vec![one(80.0, 20.0), one(140.0, 20.0)];
    let row = judged(&project, test).rows[0];
    assert!((row.caught.si() * 1e6 - 5.5).abs() < 1e-9, "{row:?}");
}

/// Bad input is said in words and the rest is judged.
#[test]
fn what_does_not_count_is_named_and_the_rest_is_judged() {
    let project = example("twenty-four-metre-bar.ron");
    let whole = as_planned(&project);
    let remarks = |test: CatchTest| -> (String, Judged) {
        let prepared = prepared(&project, test).unwrap();
        let said: Vec<String> = prepared.remarks().iter().map(ToString::to_string).collect();
        (said.join("\n"), judge(&prepared).unwrap())
    };
    // Rows missing: with an interval of the CV, since they are a sample.
    let mut few = whole.clone();
    few.catches.truncate(30);
    times(&mut few, 3, 1.02);
    let found = judged(&project, few.clone());
    assert_eq!((found.rows.len(), found.not_caught.len()), (30, 50));
    let cv = found.cv.unwrap();
    let (low, high) = cv.interval.unwrap();
    assert!(low < cv.as_caught && cv.as_caught < high);
    let words = sentences(&found, &prepared(&project, few).unwrap()).join("\n");
    assert!(words.contains("50 rows in use of 80 not caught, 30 caught (38 %): catch them too"), "{words}");
    // All rows zero.
    let mut dry = whole.clone();
    for one in &mut dry.catches {
        one.amount = CaughtAmount::Volume(Volume::ZERO);
    }
    let (said, found) = remarks(dry);
    assert!(said.contains("nothing came at any row that was caught; was the pump on"), "{said}");
    assert_eq!((found.verdict.as_drawn, found.cv), (Some(false), None));
    // A jug knocked over, and one row at zero.
    let mut spoiled = whole.clone();
    spoiled.catches[2].spoiled = Some("knocked over".to_owned());
    times(&mut spoiled, 5, 0.0);
    let (said, found) = remarks(spoiled);
    assert!(said.contains("row 3: a catch is marked as spoiled (knocked over) and not counted"), "{said}");
    assert!(said.contains("row 6 is given with an amount of 0, which counts as caught"), "{said}");
    assert_eq!(found.rows.len(), 79);
    // A gauge above its dial.
    let gauge = project.routings[0]
        .parts
        .iter()
        .find(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Gauge(_))));
    let mut high = whole.clone();
    high.gauges = vec![GaugeReading { part: gauge.unwrap().id, pressure: Pressure::bar(40.0), sd: None }];
    let (said, found) = remarks(high);
    assert!(said.contains("40.00 bar is above its dial, which ends at"), "{said}");
    assert!(found.gauges.is_empty() && found.verdict.as_drawn == Some(true));
    // A catch longer than the tank: 80 rows ask some 40 L/min.
    let mut long = whole.clone();
    long.catches[7].span = Some(CatchSpan::Seconds(3600.0));
    let mut small = project.clone();
    small.limits.tank_holds = Volume::from_si(1.0);
    let prepared_long = prepared(&small, long).unwrap();
    let said: Vec<String> = prepared_long.remarks().iter().map(ToString::to_string).collect();
    let said = said.join("\n");
    assert!(said.contains("row 8 is caught for so long that the bar would empty a tank of 1000 L"), "{said}");
    assert_eq!(judge(&prepared_long).unwrap().rows.len(), 79);
    // Weights beside volumes, nobody measured the temperature.
    let mut mixed = whole.clone();
    mixed.catches[0].amount = CaughtAmount::Mass(Mass::grams(400.0));
    mixed.temperature = None;
    let (said, _) = remarks(mixed);
    assert!(said.contains("some amounts are volumes and others weights"), "{said}");
    assert!(said.contains("nobody measured the temperature"), "{said}");
    // Nothing that counts.
    let mut none = whole;
    none.catches.truncate(1);
    none.catches[0].spoiled = Some(String::new());
    let why = prepared(&project, none).err().unwrap().to_string();
    assert!(why.contains("counts yet; enter what was caught"), "{why}");
}

/// What a gauge may show follows from its own scatter and from what the supply makes of the pressure, which the rows tell: with parts
/// and liquid that do not scatter, the closed form of a number `x` of variance `σ²` that readings `x + e` tell (Bishop, Pattern
/// Recognition and Machine Learning, 2.3.3, from memory): its variance is `1 / (1/σ² + Σ 1/e²)` once these are known, and a reading
/// beside them has that times the square of its slope, and its own. The slope is the engine's own at a little more and less speed,
/// which a metered flow follows. How many standard deviations is alike for rows and gauge.
#[test]
fn a_gauge_that_shows_something_else_is_said() {
    let mut project = example("twenty-four-metre-bar.ron");
    for entry in &equirow::plan::spreads::TABLE {
        let none = equirow::plan::Spread { sd: 0.0, ..entry.of(&project.spreads) };
        entry.set(&mut project.spreads, none);
    }
    let outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
    let gauge = project.routings[0]
        .parts
        .iter()
        .find(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Gauge(_))));
    let part = gauge.unwrap();
    let Some(PartItem::Gauge(dial)) = project.catalogue.item(&part.entry) else { panic!() };
    let expected = outcome.part(part.id).unwrap().pressure.unwrap();
    assert!(matches!(project.supply.control, Control::Metered { .. }));
    let usual = project.duties.first().usual;
    let at = |times: f64| {
        let point = project.duties.first().at(usual * times);
        solve(&project, &project.routings[0], &point).part(part.id).unwrap().pressure.unwrap().si()
    };
    let slope = (at(1.01) - at(0.99)) / 0.02;
    assert!(slope > 1e5, "{slope}");
    let own = dial.full_scale.si() * 0.016;
    let judged_at = |supply: f64, off: f64| {
        let mut test = as_planned(&project);
        test.scatter =
            CatchScatter { amount: Ratio::from_si(0.05), supply: Ratio::from_si(supply), ..test.scatter };
        test.gauges =
            vec![GaugeReading { part: part.id, pressure: expected + Pressure::from_si(off), sd: None }];
        let prepared = prepared(&project, test).unwrap();
        let found = judge(&prepared).unwrap();
        let said = sentences(&found, &prepared).join("\n");
        (found, said)
    };
    for supply in [0.001, 0.05, 0.2] {
        let (found, _) = judged_at(supply, 0.0);
        let told: Vec<f64> = found.rows.iter().map(|row| (row.expected.si() / row.sd.si()).powi(2)).collect();
        let by_rows: f64 = told.iter().sum();
        let known = |by: f64| 1.0 / (supply.powi(-2) + by);
        let of_gauge = own.hypot(slope * known(by_rows).sqrt());
        let of_row = (known(by_rows - told[0] + (slope / own).powi(2)) + 1.0 / told[0]).sqrt()
            * found.rows[0].expected.si();
        let [gauge, row] = [
            found.gauges[0].may_show.map(|one| one.high.si() - one.low.si()),
            found.rows[0].may_give.map(|one| one.high.si() - one.low.si()),
        ];
        let (gauge, row) = (gauge.unwrap() / 2.0, row.unwrap() / 2.0);
        assert!(
            (gauge / of_gauge / (row / of_row) - 1.0).abs() < 0.01,
            "{supply}: {gauge} {of_gauge} {row} {of_row}"
        );
        // Of 81 readings: between Šidák's point of so many and of twice that.
        assert!((3.3..3.7).contains(&(gauge / of_gauge)), "{supply}: {}", gauge / of_gauge);
        for (times, as_drawn) in [(0.95, true), (-0.95, true), (1.05, false), (-1.05, false)] {
            let (found, said) = judged_at(supply, times * gauge);
            assert_eq!((found.gauges[0].as_drawn, found.verdict.as_drawn), (as_drawn, Some(as_drawn)));
            assert_eq!(said.contains(&format!("{} shows ", part.tag)), !as_drawn, "{said}");
            assert_eq!(said.contains(" may be"), !as_drawn, "{said}");
        }
    }
}

/// What is wrong at one row does not show at another (each hangs on its own tube and orifice): of rows that nobody caught nothing
/// is known, however many of the others are right. What is wrong is wrong all the same.
#[test]
fn few_rows_are_no_verdict_on_the_bar() {
    let project = example("twenty-four-metre-bar.ron");
    let whole = as_planned(&project);
    let verdict = |change: &dyn Fn(&mut CatchTest)| {
        let mut test = whole.clone();
        change(&mut test);
        let found = judged(&project, test);
        (found.verdict.as_drawn, found.verdict.within_limits, headline(&found))
    };
    let (all, fair) = (Some(true), None);
    assert_eq!(verdict(&|_| {}), (all, all, "As drawn and within the limits".to_owned()));
    assert_eq!(
        verdict(&|test| test.catches.truncate(1)),
        (
            fair,
            fair,
            "Not judged: 79 of 80 rows were not caught; the one caught is as drawn and within the limits"
                .to_owned()
        )
    );
    // Every row but one.
    let (drawn, within, words) = verdict(&|test| drop(test.catches.remove(12)));
    assert_eq!((drawn, within), (None, None));
    assert!(words.starts_with("Not judged: 1 of 80 rows was not caught; those caught are"), "{words}");
    let (drawn, within, words) = verdict(&|test| {
        test.catches.truncate(40);
        times(test, 4, 0.5);
    });
    assert_eq!((drawn, within), (Some(false), Some(false)), "{words}");
    // A row that is left out need not be caught.
    let mut with_less = project.clone();
    with_less.bar.rows[0].left_out = true;
    let mut test = as_planned(&with_less);
    test.catches.remove(0);
    assert_eq!(judged(&with_less, test).verdict.not_judged, None);
}

/// A line that could not be read may be of any row.
#[test]
fn lines_that_are_missing_leave_a_test_without_a_verdict() {
    let project = example("nine-metre-bar.ron");
    let mut test = as_planned(&project);
    let doubt = |lines: u32| TableDoubt {
        row: None,
        lines,
        no_verdict: None,
        says: "line 3: \"full\" is no amount".to_owned(),
    };
    test.doubts = vec![doubt(0)];
    assert_eq!(
        judged(&project, test.clone()).verdict.not_judged,
        None,
        "it does not fit, and nothing is missing"
    );
    test.doubts = vec![doubt(1), doubt(2)];
    let found = judged(&project, test.clone());
    assert_eq!((found.verdict.as_drawn, found.verdict.within_limits), (None, None));
    assert_eq!(headline(&found), "Not judged: 3 lines could not be read or placed");
    assert_eq!(found.rows.len(), project.bar.rows.len(), "the rest is evaluated");
    // Whatever was caught, of another bar it says nothing; until somebody has settled that.
    let why = "the sheet is of \"Another bar, revision 2\"";
    let mut other = as_planned(&project);
    other.doubts = vec![TableDoubt { no_verdict: Some(why.to_owned()), ..doubt(0) }];
    for factor in [1.0, 0.5] {
        times(&mut other, 3, factor);
        let found = judged(&project, other.clone());
        assert_eq!((found.verdict.as_drawn, found.verdict.within_limits), (None, None));
        assert_eq!(headline(&found), format!("Not judged: {why}"));
    }
    other.doubts.clear();
    assert_eq!(judged(&project, other).verdict.as_drawn, Some(false));
    times(&mut test, 3, 0.5);
    let said = sentences(&judged(&project, test.clone()), &prepared(&project, test).unwrap()).join("\n");
    assert!(said.contains("not as drawn"), "{said}");
}

/// By hand: 2.00 and 2.10 bar are 2.05 bar on one dial, whose own error is the same each time.
#[test]
fn several_readings_of_one_gauge_count_as_their_mean() {
    let project = example("twenty-four-metre-bar.ron");
    let parts = &project.routings[0].parts;
    let is_gauge = |part: &&Part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Gauge(_)));
    let part = parts.iter().find(is_gauge).unwrap().id;
    let mut test = as_planned(&project);
    let read = |bar: f64| GaugeReading { part, pressure: Pressure::bar(bar), sd: None };
    test.gauges = vec![read(2.0), read(2.1)];
    let prepared = prepared(&project, test).unwrap();
    let [one] = prepared.gauges() else { panic!("one reading") };
    assert!((one.pressure.si() - 2.05e5).abs() < 1e-6, "{one:?}");
    let said: Vec<String> = prepared.remarks().iter().map(ToString::to_string).collect();
    let said = said.join("\n");
    assert!(
        said.contains("it was read 2 times, 2.00 bar and 2.10 bar; their mean of 2.05 bar counts"),
        "{said}"
    );
}
