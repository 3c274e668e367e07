//! Several duties of one bar: each number, finding and paper is of the duty that is looked at and says which, in the
//! session, on papers, on the command line and in the window.

use std::path::Path;
use std::process::{Command, Output};

use crate::support::{button, choose, fill, open_project, press, says};
use eframe::egui::{Key, Modifiers};
use equirow::checks::{self, Finding};
use equirow::files;
use equirow::hydraulics::solve;
use equirow::plan::dismissal::Dismissal;
use equirow::plan::{Duty, DutyId, Edit, OperatingPoint, Project, RoutingGeometry};
use equirow::quantities::{Angle, Speed, Temperature};
use equirow::session::Session;
use equirow::session::commands::{self, Command as Asked};
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::{Date, SheetOptions, sheet_set};

/// The embedded bar with a second duty, thicker, colder, and at half the rate.
fn two_duties() -> Project {
    let mut project = files::demo();
    let first = project.duties.first().clone();
    let mut second = Duty { id: DutyId(7), name: "Autumn".to_owned(), ..first };
    "Thick liquid".clone_into(&mut second.liquid.name);
    for point in &mut second.liquid.points {
        point.viscosity = point.viscosity * 8.0;
    }
    second.rate = second.rate * 0.5;
    second.slowest = Speed::kilometres_per_hour(5.0);
    second.usual = Speed::kilometres_per_hour(6.0);
    second.fastest = Speed::kilometres_per_hour(7.5);
    second.temperature = Temperature::from_si(4.0);
    project.duties.put(second);
    project
}

/// The same bar as a project of its second duty alone.
fn second_alone() -> Project {
    let mut project = two_duties();
    assert!(project.duties.remove(project.duties.first().id));
    project
}

#[test]
fn a_duty_among_others_gives_the_numbers_and_findings_it_gives_alone() {
    let (both, alone) = (two_duties(), second_alone());
    let mut session = Session::new(both.clone(), None);
    let before = session.outcome().clone();
    session.look_at_duty(DutyId(7));
    let by_itself = Session::new(alone, None);
    assert_eq!(session.outcome(), by_itself.outcome());
    assert_eq!(session.range(), by_itself.range());
    // What is advised serves all duties, so it may be another thing than for this one alone.
    let found = |session: &Session| {
        let one = |finding: &Finding| {
            (finding.kind.clone(), finding.severity, finding.place.clone(), finding.what.clone())
        };
        session.findings().iter().map(one).collect::<Vec<_>>()
    };
    assert_eq!(found(&session), found(&by_itself));
    assert_ne!(session.outcome().result, before.result);
    // Looking changes no project and leaves no step.
    assert!(!session.is_changed() && session.undo_name().is_none());
    assert_eq!(*session.project(), both);
    session.look_at_next_duty();
    assert_eq!(*session.outcome(), before, "after the last comes the first");
}

#[test]
fn a_point_of_a_duty_that_is_gone_is_solved_for_the_first_and_says_so() {
    let project = two_duties();
    let routing = &project.routings[0];
    let first = project.duties.first().usual_point();
    let gone = OperatingPoint { duty: DutyId(99), ..first };
    let outcome = solve(&project, routing, &gone);
    assert_eq!(outcome, solve(&project, routing, &first));
    assert_eq!(outcome.point.duty, project.duties.first().id);
}

#[test]
fn duties_are_added_renamed_changed_and_removed_in_steps_that_undo_takes_back_and_shows() {
    let mut session = Session::new(files::demo(), None);
    assert!(commands::obstacle(&session, Asked::NextDuty).is_some());
    assert!(session.remove_duty(session.duty().id).unwrap_err().to_string().contains("one duty at least"));
    session.look_at_side_slope(Angle::from_si(0.05));
    let second = session.add_duty().unwrap();
    assert_eq!((session.duty().id, session.duty().name.as_str()), (second, "Duty 2"));
    assert_eq!(session.point().side_slope, session.duty().side_slope, "as it is designed");
    assert!(
        session.rename_duty("Duty 1").unwrap_err().to_string().contains("another duty"),
        "the name of the first"
    );
    session.rename_duty(" Autumn ").unwrap();
    assert_eq!(session.duty().name, "Autumn");
    session.change_duty("Half the rate", |duty| duty.rate = duty.rate * 0.5).unwrap();
    assert_eq!(session.point().rate, session.duty().rate);
    assert_eq!(session.project().duties.first().rate, files::demo().duties.first().rate);

    // What undo changes is shown, whatever was looked at.
    session.look_at_next_duty();
    assert_eq!(session.duty().name, "Duty 1");
    session.undo();
    assert_eq!(session.duty().name, "Autumn");
    session.redo();

    let gone = session.duty().clone();
    session.remove_duty(second).unwrap();
    assert_eq!(session.duty().name, "Duty 1");
    assert_eq!(session.outcome().point.duty, session.duty().id);
    session.undo();
    assert_eq!(*session.duty(), gone);
    while session.undo_name().is_some() {
        session.undo();
    }
    assert_eq!(*session.project(), files::demo());
    assert_eq!(session.duty().name, "Duty 1");
    let said = session.take_remark().unwrap().to_string();
    assert!(said.contains("Duty 2") && said.contains("Duty 1"), "{said}");
}

#[test]
fn a_hidden_finding_is_hidden_in_all_duties() {
    let mut session = Session::new(two_duties(), None);
    let here: Vec<_> = session.findings().to_vec();
    session.look_at_duty(DutyId(7));
    let there: Vec<_> = session.findings().to_vec();
    let both = there
        .iter()
        .find(|one| {
            let same = |other: &&checks::Finding| other.kind == one.kind && other.subjects == one.subjects;
            one.severity != checks::Severity::Error && here.iter().any(|other| same(&other))
        })
        .unwrap();
    let hidden: Dismissal = both.dismissal("known", "");
    session.edit("Hide", [Edit::Dismiss(hidden)]).unwrap();
    for _ in 0..2 {
        let shown = |one: &checks::Finding| one.kind == both.kind && one.subjects == both.subjects;
        assert!(!session.findings().iter().any(shown), "{}", session.duty().name);
        session.look_at_next_duty();
    }
}

#[test]
fn papers_are_of_the_duty_asked_for_and_name_it_where_there_are_several() {
    let words = |project: &Project, duty: &Duty| {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(project, routing);
        let sheet = commissioning_sheet(project, geometry.with(routing), duty);
        let mut options = SheetOptions::all(project, Date::parse("2026-01-01").unwrap());
        options.duty = duty.id;
        let set = sheet_set(project, geometry.with(routing), &options).unwrap();
        (format!("{sheet:?}"), set)
    };
    let both = two_duties();
    let (first, first_set) = words(&both, both.duties.first());
    let (second, second_set) = words(&both, both.duty(DutyId(7)));
    // The other duty is named once, in a sentence of its own.
    let apart = |paper: &str| {
        let (before, rest) = paper.split_once("Paragraph(\"This paper is of duty ").unwrap();
        let (others, after) = rest.split_once("\"), ").unwrap();
        (others.to_owned(), format!("{before}{after}"))
    };
    let ((others, first), (_, second)) = (apart(&first), apart(&second));
    assert!(others.starts_with("Duty 1; the bar also works for Autumn (Thick liquid"), "{others}");
    assert!(first.contains("routing A, duty Duty 1") && !first.contains("Thick liquid"), "{first}");
    assert!(second.contains("routing A, duty Autumn") && second.contains("Thick liquid"));
    assert!(second_set.about.title.ends_with("duty Autumn"));
    for (set, name) in [(&first_set, "Duty 1"), (&second_set, "Autumn")] {
        for page in &set.pages {
            let says = |mark: &equirow::drawing::paper::Mark| format!("{mark:?}").contains(name);
            assert!(page.marks.iter().any(says), "{} does not say {name}", page.name);
        }
    }
    // A project of one duty prints the same numbers and does not speak of duties.
    let alone = second_alone();
    let (single, single_set) = words(&alone, alone.duties.first());
    // The pump is judged by the hardest duty, which here is the other one.
    let without_pump = |paper: &str| {
        let (before, rest) = paper.split_once("Text(\"Flow at the fastest speed").unwrap();
        let (pump, rest) = rest.split_once("notes: [").unwrap();
        let (_, after) = rest.split_once("] }").unwrap();
        (pump.to_owned(), format!("{before}{after}"))
    };
    let ((pump, single), (hardest, second)) = (without_pump(&single), without_pump(&second));
    assert!(hardest.contains("(duty Duty 1)") && !pump.contains("duty"), "{hardest}");
    assert_eq!(single, second.replace(", duty Autumn", ""));
    assert!(!format!("{:?}", single_set.pages).contains("Autumn"));
}

fn equirow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_equirow")).args(arguments).env_remove("DISPLAY").output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn json(arguments: &[&str]) -> serde_json::Value {
    let output = equirow(&[arguments, &["--format", "json"]].concat());
    serde_json::from_str(&out(&output)).unwrap_or_else(|error| panic!("{error}: {output:?}"))
}

#[test]
fn the_command_line_takes_a_duty_by_its_name_and_says_which() {
    let folder = tempfile::tempdir().unwrap();
    let save = |name: &str, project: &Project| {
        let path = folder.path().join(name);
        files::save(&path, project).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (both, alone) = (save("both.ron", &two_duties()), save("alone.ron", &second_alone()));
    let (both, alone) = (both.as_str(), alone.as_str());

    let mut of_both = json(&["solve", both, "--duty", "Autumn"]);
    assert_eq!(of_both["duty"], "Autumn");
    assert_eq!(json(&["solve", both])["duty"], "Duty 1");
    let of_alone = json(&["solve", alone]);
    assert!(of_alone.get("duty").is_none(), "there is one only");
    of_both.as_object_mut().unwrap().remove("duty");
    let without_advice = |mut found: serde_json::Value| {
        for finding in found["findings"].as_array_mut().unwrap() {
            // It serves all duties, and other ways are solved for all.
            for key in ["advice", "try", "others"] {
                finding.as_object_mut().unwrap().remove(key);
            }
        }
        found
    };
    assert_eq!(without_advice(of_both), without_advice(of_alone));
    let checked = without_advice(json(&["check", both, "--duty", "Autumn"]));
    assert_eq!(checked["findings"], without_advice(json(&["check", alone]))["findings"]);
    assert_eq!(json(&["check", both, "--duty", "Autumn"])["duty"], "Autumn");
    let compared = json(&["compare", both, "A", "B", "--duty", "Autumn"]);
    assert_eq!(compared["duty"], "Autumn");
    assert_eq!(compared["a"], json(&["compare", alone, "A", "B"])["a"]);
    assert!(compared["verdict"].as_str().unwrap().contains("For duty Autumn at "), "{compared}");
    for subcommand in ["solve", "check"] {
        let table = out(&equirow(&[subcommand, both, "--duty", "Autumn"]));
        assert!(table.contains("duty Autumn, "), "{table}");
        assert!(!out(&equirow(&[subcommand, alone])).contains("duty"));
    }

    let text = |path: &Path| String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
    let written = folder.path().join("out");
    for (subcommand, option, ending) in
        [("commissioning", "--out", "csv"), ("export", "--network", "json"), ("sheet", "--out", "svg")]
    {
        let path = written.with_extension(ending);
        let mut arguments = vec![subcommand, both, "--duty", "Autumn", option, path.to_str().unwrap()];
        if subcommand == "sheet" {
            arguments.extend(["--sheets", "layout", "--scale", "1:100", "--paper", "A3"]);
        }
        let output = equirow(&arguments);
        assert!(output.status.success(), "{output:?}");
        let path = if subcommand == "sheet" {
            out(&output).lines().next().map(std::path::PathBuf::from).unwrap()
        } else {
            path
        };
        let wanted = if subcommand == "commissioning" { "Thick liquid" } else { "uty Autumn" };
        assert!(text(&path).contains(wanted), "{subcommand}: {}", text(&path));
    }

    for subcommand in ["solve", "check"] {
        let output = equirow(&[subcommand, both, "--duty", "Spring"]);
        assert_eq!(output.status.code(), Some(2));
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("no duty \"Spring\"; it has Duty 1, Autumn"), "{said}");
    }
}

#[test]
fn the_window_shows_adds_renames_and_removes_duties() {
    let mut harness = open_project(two_duties());
    let duty = |harness: &crate::support::Window| harness.state().session.duty().name.clone();
    choose(&mut harness, "Duty", "Autumn");
    assert_eq!(duty(&harness), "Autumn");
    assert!(!harness.state().session.is_changed());
    assert!(says(&harness, "For duty Autumn"), "above the findings");
    press(&mut harness, Modifiers::SHIFT, Key::PageDown);
    assert_eq!(duty(&harness), "Duty 1");
    press(&mut harness, Modifiers::COMMAND | Modifiers::SHIFT, Key::D);
    assert_eq!(duty(&harness), "Duty 3");
    // In the window of the project's entries.
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    fill(&mut harness, "Name of the duty", "Trace");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(duty(&harness), "Trace");
    fill(&mut harness, "Name of the duty", "Autumn");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(duty(&harness), "Trace", "it is another one's name");
    assert!(says(&harness, "the name Autumn is still in use by another duty"));
    fill(&mut harness, "Name of the duty", "Trace elements");
    button(&mut harness, "Remove duty Trace");
    assert_eq!(harness.state().session.project().duties.count(), 2);
}

#[test]
fn what_was_typed_for_one_duty_is_not_taken_for_another() {
    let mut harness = open_project(two_duties());
    press(&mut harness, Modifiers::COMMAND, Key::Comma);
    button(&mut harness, "Application");
    fill(&mut harness, "Application rate", "123");
    choose(&mut harness, "Duty", "Autumn");
    let session = &harness.state().session;
    assert_eq!(session.duty().name, "Autumn");
    assert!((session.project().duties.first().rate.as_litres_per_hectare() - 123.0).abs() < 1e-9);
    assert!((session.duty().rate.as_litres_per_hectare() - 123.0).abs() > 1.0);
}
