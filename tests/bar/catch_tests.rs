//! Catch tests of a project: kept with the bar as it was, put and removed by edits, whole whatever becomes of the plan.

use std::sync::Arc;

use equirow::files::{self, Example};
use equirow::plan::catch_test::tested_bar;
use equirow::plan::edit::apply;
use equirow::plan::validate::validate;
use equirow::plan::{
    Catch, CatchSpan, CatchTest, CatchTestId, CaughtAmount, Control, Drive, Edit, EditError, GaugeReading,
    Item, PartItem, Project, RowId, TableDoubt, TestedBarId,
};
use equirow::quantities::{Angle, Length, Mass, Pressure, Ratio, Speed, Volume};
use equirow::studies::catch_test::since::changed_since;

fn test(project: &Project, name: &str) -> CatchTest {
    CatchTest {
        name: name.to_owned(),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
        span: CatchSpan::Seconds(40.0),
        catches: vec![Catch {
            row: project.bar.rows[0].id,
            amount: CaughtAmount::Volume(Volume::millilitres(300.0)),
            span: None,
            spoiled: None,
        }],
        date: "2026-11-30".to_owned(),
        ..project.catch_tests.empty_at(&project.duties.first().usual_point())
    }
}

/// Puts a test on a routing as it is now.
fn put(project: &mut Project, routing: usize, name: &str) -> Result<CatchTestId, EditError> {
    let test = test(project, name);
    let id = test.id;
    let bar = tested_bar(project, project.routings[routing].id, test.duty).unwrap();
    apply(project, Edit::PutCatchTestOn(Box::new(test), Arc::new(bar)))?;
    Ok(id)
}

#[test]
fn tests_of_one_state_share_its_bar_and_the_last_takes_it_along() {
    let mut project = Example::TwelveMetre.project();
    let first = put(&mut project, 0, "Spring").unwrap();
    let second = put(&mut project, 0, "Spring again").unwrap();
    assert_eq!((project.catch_tests.tests.len(), project.catch_tests.bars.len()), (2, 1));
    let other = put(&mut project, 1, "The other routing").unwrap();
    let mut limits = project.limits;
    limits.hinge_slack = limits.hinge_slack * 2.0;
    apply(&mut project, Edit::SetLimits(limits)).unwrap();
    let later = put(&mut project, 0, "Later").unwrap();
    assert_eq!(project.catch_tests.bars.len(), 3);
    let bar = &project.catch_tests.bars[0].project;
    assert_eq!((bar.routings.len(), bar.duties.count()), (1, 1));
    assert!(bar.catalogue.entries.len() < project.catalogue.entries.len(), "only what it uses");
    assert!(validate(&project).is_empty(), "{}", validate(&project));
    for (id, bars) in [(first, 3), (other, 2), (later, 1), (second, 0)] {
        apply(&mut project, Edit::RemoveCatchTest(id)).unwrap();
        assert_eq!(project.catch_tests.bars.len(), bars, "{id:?}");
    }
    assert_eq!(
        apply(&mut project, Edit::RemoveCatchTest(first)),
        Err(EditError::Missing("that catch test".to_owned()))
    );
}

#[test]
fn a_test_stays_whole_whatever_becomes_of_the_plan_and_of_the_file() {
    let mut project = Example::TwelveMetre.project();
    put(&mut project, 0, "Spring").unwrap();
    let kept = project.catch_tests.clone();
    let row = project.bar.rows[0].id;
    let routing = project.routings[0].id;
    for edit in [Edit::RemoveRow(row), Edit::RemoveRouting(routing)] {
        apply(&mut project, edit).unwrap();
        assert_eq!(project.catch_tests, kept);
    }
    let mut bar = project.bar.clone();
    bar.rows.truncate(10);
    apply(&mut project, Edit::Reshape(Box::new(bar))).unwrap();
    assert_eq!(project.catch_tests, kept);
    let text = files::write_text(&project).unwrap();
    assert!(text.contains("version: 2"), "the same version of the format");
    assert_eq!(files::read_text(&text).unwrap(), project);
    // A project without tests says nothing of them.
    assert!(!files::write_text(&Example::TwelveMetre.project()).unwrap().contains("catch_tests"));
}

#[test]
fn what_a_test_may_not_hold_is_refused_in_words() {
    type Change = fn(&mut CatchTest);
    let mut project = Example::TwelveMetre.project();
    put(&mut project, 0, "Spring").unwrap();
    assert!(matches!(put(&mut project, 0, "Spring"), Err(EditError::InUse { .. })), "the name is taken");
    let before = project.clone();
    let changes: [(&str, Change); 19] = [
        ("its name is empty", |test| test.name = " ".to_owned()),
        ("is not a row of the bar it was made on", |test| test.catches[0].row = RowId(999)),
        ("what was caught at row 1 is -1000000 mL", |test| {
            test.catches[0].amount = CaughtAmount::Volume(Volume::from_si(-1.0));
        }),
        ("what was caught at row 1 is 3000000 g", |test| {
            test.catches[0].amount = CaughtAmount::Mass(Mass::from_si(3000.0));
        }),
        ("what was caught at row 1 is 1e-303 mL", |test| {
            test.catches[0].amount = CaughtAmount::Volume(Volume::from_si(1e-309));
        }),
        ("a doubt about a table is of a row that its bar has not", |test| {
            test.doubts = vec![TableDoubt {
                row: Some(RowId(999)),
                lines: 1,
                no_verdict: None,
                says: "line 3".to_owned(),
            }];
        }),
        ("how long it was caught is 1e-300 s", |test| test.span = CatchSpan::Seconds(1e-300)),
        ("how long it was caught is 0 s", |test| test.span = CatchSpan::Seconds(0.0)),
        ("how long it was caught is 4000 s", |test| test.span = CatchSpan::Seconds(4000.0)),
        ("how far it was caught is -1 m", |test| test.span = CatchSpan::Distance(Length::metres(-1.0))),
        ("over a distance while a pressure was held", |test| {
            test.span = CatchSpan::Distance(Length::metres(50.0));
            test.drive = Drive::HeldPressure(Pressure::bar(1.0));
        }),
        ("its ground speed is 0 km/h", |test| test.drive = Drive::Speed(Speed::ZERO)),
        ("the scatter of an amount, as a part of it is 150 %", |test| {
            test.scatter.amount = Ratio::from_si(1.5);
        }),
        ("the scatter of a time is 61 s", |test| test.scatter.seconds = 61.0),
        ("the scatter of the supply, as a part of what it is asked for is 60 %", |test| {
            test.scatter.supply = Ratio::from_si(0.6);
        }),
        ("the scatter of F1 is ", |test| {
            test.gauges = vec![GaugeReading {
                part: equirow::plan::PartId(1),
                pressure: Pressure::bar(1.0),
                sd: Some(Pressure::bar(-1.0)),
            }];
        }),
        ("is not kept", |test| test.bar = TestedBarId(77)),
        ("is not that of its bar", |test| test.duty = equirow::plan::DutyId(77)),
        ("is not a part of the routing that was tested", |test| {
            test.gauges = vec![GaugeReading {
                part: equirow::plan::PartId(999),
                pressure: Pressure::bar(1.0),
                sd: None,
            }];
        }),
    ];
    for (says, change) in changes {
        let mut test = project.catch_tests.tests[0].clone();
        change(&mut test);
        let mut broken = project.clone();
        broken.catch_tests.tests[0] = test.clone();
        let said = apply(&mut project, Edit::PutCatchTest(Box::new(test))).unwrap_err().to_string();
        assert!(said.contains(says), "{says}: {said}");
        assert_eq!(project, before, "{says}");
        let problems = validate(&broken).to_string();
        assert!(problems.contains(says), "{says}: {problems}");
    }
    // A bar that holds tests itself, and one that is no sound project.
    let mut nested = project.clone();
    let inner = nested.catch_tests.clone();
    Arc::make_mut(&mut nested.catch_tests.bars[0].project).catch_tests = inner;
    assert!(validate(&nested).to_string().contains("it holds catch tests itself"));
    let mut unsound = project.clone();
    Arc::make_mut(&mut unsound.catch_tests.bars[0].project).catalogue.entries.clear();
    let said = validate(&unsound).to_string();
    assert!(said.contains("tested bar with id 1, routing A"), "{said}");
}

#[test]
fn an_old_test_says_what_changed_since() {
    let mut project = Example::TwelveMetre.project();
    let id = put(&mut project, 0, "Spring").unwrap();
    let since = |project: &Project| changed_since(project, project.catch_tests.get(id).unwrap());
    assert_eq!(since(&project), Vec::<String>::new());
    // What is no part of the bar is no change.
    let mut limits = project.limits;
    limits.row_deviation = limits.row_deviation * 2.0;
    apply(&mut project, Edit::SetLimits(limits)).unwrap();
    assert_eq!(since(&project), Vec::<String>::new());
    let says = |edit: Edit, says: &str| {
        let mut changed = project.clone();
        apply(&mut changed, edit).unwrap();
        let said = since(&changed);
        assert!(said.iter().any(|one| one.contains(says)), "{says}: {said:?}");
    };
    let mut row = project.bar.rows[4].clone();
    row.left_out = true;
    says(Edit::PutRow(row), "row 5: left out of use now");
    says(Edit::RemoveRow(project.bar.rows[2].id), "row 3: gone");
    let mut supply = project.supply.clone();
    supply.control = Control::Held { pressure: Pressure::bar(2.0) };
    says(Edit::SetSupply(supply), "the supply is held at 2.00 bar instead of metered");
    let mut duty = project.duties.first().clone();
    duty.rate = duty.rate * 1.5;
    says(Edit::PutDuty(Box::new(duty)), "the rate is ");
    let routing = &project.routings[0];
    says(Edit::RemoveRun(routing.id, routing.runs[0].id), &format!("hose {} removed", routing.runs[0].tag));
    says(Edit::RemoveRouting(routing.id), "routing A is gone");
    let mut entry = project
        .catalogue
        .entries
        .iter()
        .find(|entry| {
            routing.entries().any(|used| *used == entry.key)
                && matches!(entry.item, Item::Part(PartItem::Gauge(_)) | Item::Stock(_))
        })
        .unwrap()
        .clone();
    let numbers = entry.item.numbers();
    let (field, value) = numbers[0];
    entry.item = Item::from_numbers(entry.item.kind(), |one| {
        numbers
            .iter()
            .find(|(of, _)| *of == one)
            .map(|(_, number)| if one == field { value * 1.01 } else { *number })
    })
    .unwrap();
    says(Edit::PutEntry(entry), " instead of ");
}

/// What is in doubt of a row is settled by what is taken down there; more doubts than a test may hold are counted in the last.
#[test]
fn doubts_about_tables_are_settled_by_row_and_counted() {
    let project = Example::TwelveMetre.project();
    let mut test = test(&project, "Spring");
    let row = project.bar.rows[3].id;
    let doubt = |row, at: u32| TableDoubt {
        row,
        lines: 1,
        no_verdict: None,
        says: format!("line {at}: \"full\" is no amount"),
    };
    test.add_doubts(vec![doubt(Some(row), 1), doubt(None, 2), doubt(None, 2)]);
    assert_eq!(test.lines_missing(), 2, "each sentence once");
    test.settle_row(row);
    assert_eq!(test.lines_missing(), 1);
    test.add_doubts((3..503).map(|at| doubt(None, at)).collect());
    assert_eq!((test.lines_missing(), test.doubts.len()), (501, 100));
}
