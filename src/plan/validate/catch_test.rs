//! Rules of catch tests and of the bars that they were made on.

use super::review::{MOST_PRESSURE, Review, unique};
use crate::plan::bounds::Bound;
use crate::plan::catch_test::{
    Catch, CatchSpan, CatchTest, CatchTests, CaughtAmount, Drive, GaugeReading, LONGEST_CATCH, MOST_CAUGHT,
    MOST_CAUGHT_MASS, TestedBar,
};
use crate::plan::problems::Problems;
use crate::plan::words::called;
use crate::quantities::Measure;

/// Farthest distance of a catch, metres: what is driven in an hour.
const FARTHEST_CATCH: f64 = 50_000.0;

/// What tests and bars break together, whatever each holds.
pub fn catch_list(tests: &CatchTests) -> Problems {
    let mut review = Review::of("catch tests");
    review.bound(Bound::CatchTests, "the project", tests.tests.len());
    review.bound(Bound::CatchTests, "the list of tested bars", tests.bars.len());
    if !review.problems.is_empty() {
        return review.problems;
    }
    unique(&mut review, "catch test id", tests.tests.iter().map(|test| test.id.0));
    unique(&mut review, "catch test name", tests.tests.iter().map(|test| test.name.as_str()));
    unique(&mut review, "tested bar id", tests.bars.iter().map(|bar| bar.id.0));
    for bar in &tests.bars {
        review.claim(
            tests.tests.iter().any(|test| test.bar == bar.id),
            || format!("no test was made on the tested bar with id {}", bar.id.0),
            "remove that bar",
        );
    }
    review.problems
}

/// What a tested bar has to be before it is looked into: a project of one routing and one duty, without tests.
pub(super) fn bar_alone(bar: &TestedBar) -> Problems {
    let project = &bar.project;
    let mut review = Review::of(tested_bar_place(bar));
    review.claim(
        project.routings.len() == 1,
        || "it has not one routing".to_owned(),
        "keep the one that was tested",
    );
    review.claim(
        project.duties.count() == 1,
        || "it has not one duty".to_owned(),
        "keep the one of its test",
    );
    review.claim(
        project.catch_tests == CatchTests::default(),
        || "it holds catch tests itself".to_owned(),
        "remove those",
    );
    review.problems
}

pub(super) fn tested_bar_place(bar: &TestedBar) -> String {
    format!("tested bar with id {}", bar.id.0)
}

/// Rules of one test, whose bar is among those of `tests`.
pub fn catch_test(tests: &CatchTests, test: &CatchTest) -> Problems {
    let mut review = Review::of(called("catch test", &test.name, test.id.0));
    review.bound(Bound::Catches, "it", test.catches.len());
    review.bound(Bound::GaugeReadings, "it", test.gauges.len());
    if !review.problems.is_empty() {
        return review.problems;
    }
    review.name("its name", &test.name);
    review.text("its date", &test.date, Bound::Name);
    review.text("who made it", &test.by, Bound::Name);
    review.text("its notes", &test.notes, Bound::Note);
    if let Some(temperature) = test.temperature {
        review.number("temperature", Measure::Temperature, temperature.si(), -60.0, 120.0);
    }
    match test.drive {
        Drive::Speed(speed) => {
            review.above_zero("its ground speed", Measure::GroundSpeed, speed.si(), 30.0);
        }
        Drive::HeldPressure(pressure) => review.pressure("the pressure that was held", pressure),
    }
    for (name, slope) in [("side slope", test.side_slope), ("fore-aft slope", test.fore_aft_slope)] {
        review.number(name, Measure::Slope, slope.si(), -0.8, 0.8);
    }
    span(&mut review, "it", test.span, test.drive);
    review.number(
        "the scatter of an amount, as a part of it",
        Measure::Percent,
        test.scatter.amount.si(),
        0.0,
        1.0,
    );
    review.number("the scatter of a time", Measure::Duration, test.scatter.seconds, 0.0, 60.0);
    let Some(bar) = tests.project_of(test) else {
        review.claim(
            false,
            || format!("the bar it was made on, with id {}, is not kept", test.bar.0),
            "name one of the tested bars",
        );
        return review.problems;
    };
    review.claim(
        bar.duties.get(test.duty).is_some(),
        || format!("its duty with id {} is not that of its bar", test.duty.0),
        "name the duty of the tested bar",
    );
    for Catch { row, amount, span: own, spoiled } in &test.catches {
        let known = bar.bar.row(*row);
        let name =
            known.map_or_else(|| format!("row with id {}", row.0), |row| format!("row {}", row.number));
        review.claim(
            known.is_some(),
            || format!("{name} is not a row of the bar it was made on"),
            "name a row of the tested bar",
        );
        match amount {
            CaughtAmount::Volume(volume) => {
                let name = format!("what was caught at {name}");
                review.number(&name, Measure::Catch, volume.si(), 0.0, MOST_CAUGHT.si());
            }
            CaughtAmount::Mass(mass) => {
                let name = format!("what was caught at {name}");
                review.number(&name, Measure::CaughtMass, mass.si(), 0.0, MOST_CAUGHT_MASS.si());
            }
        }
        if let Some(own) = own {
            span(&mut review, &format!("a catch at {name}"), *own, test.drive);
        }
        if let Some(why) = spoiled {
            review.text(&format!("why a catch at {name} is spoiled"), why, Bound::Words);
        }
    }
    let routing = bar.routings.first();
    for GaugeReading { part, pressure, sd } in &test.gauges {
        let known = routing.and_then(|routing| routing.part(*part));
        let name = known.map_or_else(|| format!("part with id {}", part.0), |part| part.tag.clone());
        review.claim(
            known.is_some(),
            || format!("{name} is not a part of the routing that was tested"),
            "name a gauge of the tested routing",
        );
        review.number(&format!("what {name} showed"), Measure::Pressure, pressure.si(), 0.0, MOST_PRESSURE);
        if let Some(sd) = sd {
            review.pressure(&format!("the scatter of {name}"), *sd);
        }
    }
    review.problems
}

fn span(review: &mut Review, whose: &str, span: CatchSpan, drive: Drive) {
    match span {
        CatchSpan::Seconds(seconds) => {
            let name = format!("how long {whose} was caught");
            review.above_zero(&name, Measure::Duration, seconds, LONGEST_CATCH);
        }
        CatchSpan::Distance(distance) => {
            let name = format!("how far {whose} was caught");
            review.above_zero(&name, Measure::Distance, distance.si(), FARTHEST_CATCH);
            review.claim(
                matches!(drive, Drive::Speed(_)),
                || format!("{whose} was caught over a distance while a pressure was held, so that nobody knows for how long"),
                "give the time in seconds, or the speed that was driven",
            );
        }
    }
}
