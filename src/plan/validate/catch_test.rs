//! Rules of catch tests and of the bars that they were made on.

use super::review::{Review, unique};
use crate::plan::bounds::Bound;
use crate::plan::catch_amount::{
    CATCH_METRES, CATCH_SECONDS, LEAST_CAUGHT, LEAST_CAUGHT_MASS, MOST_CAUGHT, MOST_CAUGHT_MASS,
};
use crate::plan::catch_test::{
    Catch, CatchTest, CatchTests, Drive, GAUGE_READS, GaugeReading, TableDoubt, TestedBar,
};
use crate::plan::problems::Problems;
use crate::plan::words::called;
use crate::plan::{CatchSpan, CaughtAmount};
use crate::quantities::Measure;

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
    review.bound(Bound::TableDoubts, "it", test.doubts.len());
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
    let supply = test.scatter.supply.si();
    review.number(
        "the scatter of the supply, as a part of what it is asked for",
        Measure::Percent,
        supply,
        0.0,
        0.5,
    );
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
        let what = format!("what was caught at {name}");
        let (measure, value, least, most) = match amount {
            CaughtAmount::Volume(volume) => {
                (Measure::Catch, volume.si(), LEAST_CAUGHT.si(), MOST_CAUGHT.si())
            }
            CaughtAmount::Mass(mass) => {
                (Measure::CaughtMass, mass.si(), LEAST_CAUGHT_MASS.si(), MOST_CAUGHT_MASS.si())
            }
        };
        if amount.is_less_than_a_drop() {
            review.number(&what, measure, value, least, most);
        } else {
            review.number(&what, measure, value, 0.0, most);
        }
        if let Some(own) = own {
            span(&mut review, &format!("a catch at {name}"), *own, test.drive);
        }
        if let Some(why) = spoiled {
            review.text(&format!("why a catch at {name} is spoiled"), why, Bound::Words);
        }
    }
    for TableDoubt { row, lines: _, no_verdict, says } in &test.doubts {
        for words in std::iter::once(says).chain(no_verdict) {
            review.text("what is in doubt of a table", words, Bound::Words);
        }
        review.claim(
            row.is_none_or(|row| bar.bar.row(row).is_some()),
            || "a doubt about a table is of a row that its bar has not".to_owned(),
            "remove that doubt",
        );
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
        let (least, most) = (*GAUGE_READS.start(), *GAUGE_READS.end());
        review.number(&format!("what {name} showed"), Measure::Pressure, pressure.si(), least, most);
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
            review.number(&name, Measure::Duration, seconds, *CATCH_SECONDS.start(), *CATCH_SECONDS.end());
        }
        CatchSpan::Distance(distance) => {
            let name = format!("how far {whose} was caught");
            let (least, most) = (*CATCH_METRES.start(), *CATCH_METRES.end());
            review.number(&name, Measure::Distance, distance.si(), least, most);
            review.claim(
                matches!(drive, Drive::Speed(_)),
                || format!("{whose} was caught over a distance while a pressure was held, so that nobody knows for how long"),
                "give the time in seconds, or the speed that was driven",
            );
        }
    }
}
