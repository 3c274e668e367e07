//! Input that means harm or came from a damaged disk: every bound of a plan at and beyond it, every letter that can't be
//! seen in every field and every format, and readers fed with changed files.

use std::path::Path;
use std::sync::Arc;

use equirow::files::{self, epa_file, network_file, visible_path};
use equirow::geometry::Point3;
use equirow::hydraulics::prepared::solved_network;
use equirow::plan::bounds::Bound;
use equirow::plan::catch_test::tested_bar;
use equirow::plan::dismissal::{Dismissal, FindingKind, FindingSubject};
use equirow::plan::edit::apply;
use equirow::plan::letters::{Lines, SAMPLES, first_refused, is_refused, named};
use equirow::plan::problems::SHOWN;
use equirow::plan::validate::validate;
use equirow::plan::{
    BarPoint, Catch, CatchTest, CaughtAmount, ChangedLength, CurvePoint, Duty, DutyId, Edit, EditError,
    EntryKey, FeedElement, FeedId, GaugeReading, HingeCrossing, LiquidPoint, PartId, Port, PortRef, Project,
    Revision, RoutingGeometry, RoutingId, RowId, RunId, SectionId, TableDoubt, TestedBar,
};
use equirow::quantities::{Angle, Flow, Length, Pressure, Temperature, Volume};
use equirow::sheets::cut_list::cut_list;
use equirow::sheets::parts_list::parts_list;
use equirow::sheets::spreadsheet::csv;

#[path = "../reliability/mutations.rs"]
mod mutations;

/// A project's text without the promises that writing keeps.
fn raw_text(project: &Project) -> String {
    format!("(version: {}, project: {})", files::project_file::VERSION, ron::to_string(project).unwrap())
}

/// Copies of the last of a list until it has so many, each made different.
fn grow<T: Clone>(all: &mut Vec<T>, many: usize, mut apart: impl FnMut(usize, &mut T)) {
    let last = all.last().unwrap().clone();
    while all.len() < many {
        let mut one = last.clone();
        apart(all.len(), &mut one);
        all.push(one);
    }
    all.truncate(many);
}

/// A project in which exactly so many of something are, otherwise sound, and the edit that would make it so by hand.
fn holding(bound: Bound, many: usize) -> (Project, Edit) {
    let mut project = files::demo();
    project.routings.truncate(1);
    let before = project.clone();
    let routing = &mut project.routings[0];
    let id = routing.id;
    let new_id = |at: usize| 10_000 + at as u32;
    let edit = match bound {
        Bound::Name => {
            routing.parts[0].tag = "x".repeat(many);
            Edit::PutPart(id, routing.parts[0].clone())
        }
        Bound::Words => {
            project.catalogue.entries[0].connection = "ü".repeat(many);
            Edit::PutEntry(project.catalogue.entries[0].clone())
        }
        Bound::Note => {
            project.title.notes = "two\nlines,".chars().cycle().take(many).collect();
            Edit::SetTitle(project.title.clone())
        }
        Bound::Hidden => {
            let mut hidden = hidden(0);
            hidden.subjects = vec![FindingSubject::Project; many];
            project.dismissed = vec![hidden.clone()];
            Edit::Dismiss(hidden)
        }
        Bound::Rows => {
            grow(&mut project.bar.rows, many, |at, row| {
                row.id = RowId(new_id(at));
                row.number = new_id(at);
            });
            Edit::SetBar(Box::new(project.bar.clone()))
        }
        Bound::Ranks => {
            grow(&mut project.bar.ranks, many, |_, _| {});
            Edit::SetBar(Box::new(project.bar.clone()))
        }
        Bound::Sections => {
            grow(&mut project.bar.sections, many, |at, section| {
                section.id = SectionId(new_id(at));
                section.name = format!("section {at}");
            });
            Edit::SetBar(Box::new(project.bar.clone()))
        }
        Bound::Members => {
            grow(&mut project.bar.sections[0].members, many, |_, _| {});
            Edit::SetBar(Box::new(project.bar.clone()))
        }
        Bound::Duties => {
            let last = (1..many).fold(project.duties.first().clone(), |first, at| {
                let duty = Duty { id: DutyId(new_id(at)), name: format!("duty {at}"), ..first };
                project.duties.put(duty.clone());
                duty
            });
            project.duties.remove(last.id);
            return (project, Edit::PutDuty(Box::new(last)));
        }
        Bound::LiquidPoints => {
            let first = project.duties.first().liquid.points[0];
            project.duties.first_mut().liquid.points = (0..many)
                .map(|at| LiquidPoint { temperature: Temperature::from_si(at as f64), ..first })
                .collect();
            Edit::PutDuty(Box::new(project.duties.first().clone()))
        }
        Bound::CurvePoints => {
            project.supply.pump_curve = (0..many)
                .map(|at| CurvePoint {
                    flow: Flow::from_si(1e-4 * at as f64),
                    pressure: Pressure::from_si(1e6 - at as f64),
                })
                .collect();
            Edit::SetSupply(project.supply.clone())
        }
        Bound::Entries => {
            grow(&mut project.catalogue.entries, many, |at, entry| {
                entry.key = EntryKey(format!("entry {at}"));
            });
            Edit::PutEntries(project.catalogue.entries.clone())
        }
        Bound::AddedLines => {
            let lines: Vec<_> =
                (0..many).map(|at| equirow::plan::AddedLine::new(format!("Bracket {at}"))).collect();
            project.added_lines.clone_from(&lines);
            Edit::SetAddedLines(lines)
        }
        Bound::Revisions => {
            project.title.changes = vec![Revision::default(); many];
            Edit::SetTitle(project.title.clone())
        }
        Bound::ChangedLengths => {
            let length = ChangedLength { tag: "H1".to_owned(), was: None, is: Length::metres(1.0) };
            let lengths = vec![length; many];
            project.title.changes = vec![Revision { lengths, ..Revision::default() }];
            Edit::SetTitle(project.title.clone())
        }
        Bound::Routings => {
            grow(&mut project.routings, many, |at, routing| {
                routing.id = RoutingId(new_id(at));
                routing.name = format!("routing {at}");
            });
            Edit::PutRouting(Box::new(project.routings[many - 1].clone()))
        }
        Bound::Parts => {
            routing.parts.truncate(1);
            routing.runs.clear();
            routing.feeds.clear();
            grow(&mut routing.parts, many, |at, part| {
                part.id = PartId(new_id(at));
                part.tag = format!("P{at}");
            });
            Edit::PutRouting(Box::new(routing.clone()))
        }
        Bound::Hoses => {
            grow(&mut routing.runs, many, |at, run| {
                run.id = RunId(new_id(at));
                run.tag = format!("R{at}");
            });
            Edit::PutRouting(Box::new(routing.clone()))
        }
        Bound::Feeds => {
            grow(&mut routing.feeds, many, |at, feed| {
                feed.id = FeedId(new_id(at));
                feed.tag = format!("F{at}");
            });
            Edit::PutRouting(Box::new(routing.clone()))
        }
        Bound::Waypoints => {
            routing.runs[0].line.waypoints =
                vec![BarPoint { place: Point3::new(0.0, 0.0, 1.0), section: SectionId(1) }; many];
            Edit::PutRun(id, routing.runs[0].clone())
        }
        Bound::Allowances => {
            let section = project.bar.sections.iter().find(|section| section.hinge.is_some()).unwrap().id;
            routing.runs[0].line.crossings = vec![HingeCrossing::computed(section); many];
            Edit::PutRun(id, routing.runs[0].clone())
        }
        Bound::Fittings => {
            let fitting = routing.runs.iter().find_map(|run| run.fittings.first()).unwrap().clone();
            routing.runs[0].fittings = vec![fitting; many];
            Edit::PutRun(id, routing.runs[0].clone())
        }
        Bound::Branches => {
            let rows: Vec<RowId> = project.bar.rows.iter().map(|row| row.id).collect();
            let tee = project
                .catalogue
                .first(|item: &equirow::plan::FittingItem| item.kind() == "small tee")
                .unwrap();
            let feed = &mut routing.feeds[0];
            feed.split = Some(equirow::plan::Split {
                entry: tee,
                position: BarPoint { place: Point3::new(0.0, 0.0, 1.0), section: SectionId(1) },
            });
            grow(&mut feed.branches, many, |_, _| {});
            for (branch, row) in feed.branches.iter_mut().zip(rows) {
                branch.row = row;
            }
            Edit::PutFeed(id, feed.clone())
        }
        Bound::Elements => {
            let tube = routing.feeds[0].elements().next().unwrap().clone();
            assert!(matches!(tube, FeedElement::Tube(_)));
            routing.feeds[0].branches[0].elements = vec![tube; many];
            Edit::PutFeed(id, routing.feeds[0].clone())
        }
        Bound::Mounts => {
            // A chain of valves: the first is mounted on nothing.
            let valve = project
                .catalogue
                .first(|item: &equirow::plan::PartItem| item.kind() == "section valve")
                .unwrap();
            routing.runs.clear();
            routing.feeds.clear();
            routing.parts.truncate(1);
            routing.parts[0].mount = None;
            routing.parts[0].entry = valve;
            grow(&mut routing.parts, many + 1, |at, part| {
                part.mount = Some(PortRef {
                    part: if at == 1 { part.id } else { PartId(new_id(at - 1)) },
                    port: Port::In,
                });
                part.id = PartId(new_id(at));
                part.tag = format!("P{at}");
            });
            Edit::PutRouting(Box::new(routing.clone()))
        }
        Bound::Dismissed => {
            project.dismissed = (0..many).map(hidden).collect();
            let mut before = project.clone();
            let last = before.dismissed.pop().unwrap();
            return (before, Edit::Dismiss(last));
        }
        Bound::CatchTests => {
            for at in 0..many - 1 {
                let test = CatchTest { name: format!("Test {at}"), ..test(&project) };
                let edit = put(&project, test);
                apply(&mut project, edit).unwrap();
            }
            return (project.clone(), put(&project, test(&project)));
        }
        Bound::Catches => {
            let mut test = test(&project);
            grow(&mut test.catches, many, |_, _| {});
            return (project.clone(), put(&project, test));
        }
        Bound::TableDoubts => {
            let mut test = test(&project);
            grow(&mut test.doubts, many, |_, _| {});
            return (project.clone(), put(&project, test));
        }
        Bound::GaugeReadings => {
            let mut test = test(&project);
            grow(&mut test.gauges, many, |_, _| {});
            return (project.clone(), put(&project, test));
        }
    };
    if bound == Bound::Routings {
        let mut before = project.clone();
        before.routings.pop();
        return (before, edit);
    }
    (before, edit)
}

#[test]
fn every_bound_holds_at_it_and_not_beyond_it_when_read_and_when_typed() {
    for bound in Bound::ALL {
        let most = bound.most();
        let (mut project, edit) = holding(bound, most);
        apply(&mut project, edit).unwrap_or_else(|error| panic!("{bound:?}: {error}"));
        let problems = validate(&project);
        assert!(problems.is_empty(), "{bound:?}: {problems}");
        assert!(files::read_text(&raw_text(&project)).is_ok(), "{bound:?} at its bound can't be read");

        let (before, edit) = holding(bound, most + 1);
        let mut typed = before.clone();
        let Err(EditError::Invalid(said)) = apply(&mut typed, edit.clone()) else {
            panic!("{bound:?}: beyond the bound and not refused")
        };
        assert_eq!(typed, before, "{bound:?}: a refused edit changed something");
        assert!(said.to_string().contains(bound.advice()), "{bound:?}: {said}");
        assert!(said.what.contains(bound.what()), "{bound:?}: {said}");

        // The same in a file, in the same words.
        let project = broken(before, edit);
        let error = files::read_text(&raw_text(&project)).expect_err("beyond the bound and read");
        let same =
            error.problems.shown().iter().any(|one| one.what == said.what && one.advice == said.advice);
        assert!(same, "{bound:?}: {said} is not in {error}");
    }
}

/// What a project would be after an edit that is refused.
fn broken(mut project: Project, edit: Edit) -> Project {
    match edit {
        Edit::SetTitle(title) => project.title = title,
        Edit::SetBar(bar) => project.bar = *bar,
        Edit::PutDuty(duty) => project.duties.put(*duty),
        Edit::SetSupply(supply) => project.supply = supply,
        Edit::PutEntries(entries) => project.catalogue.entries = entries,
        Edit::PutEntry(entry) => {
            let at = project.catalogue.entries.iter().position(|one| one.key == entry.key);
            match at {
                Some(at) => project.catalogue.entries[at] = entry,
                None => project.catalogue.entries.push(entry),
            }
        }
        Edit::SetAddedLines(lines) => project.added_lines = lines,
        Edit::PutRouting(routing) => match project.routings.iter().position(|one| one.id == routing.id) {
            Some(at) => project.routings[at] = *routing,
            None => project.routings.push(*routing),
        },
        Edit::PutPart(_, part) => project.routings[0].parts[0] = part,
        Edit::PutRun(_, run) => project.routings[0].runs[0] = run,
        Edit::PutFeed(_, feed) => project.routings[0].feeds[0] = feed,
        Edit::Dismiss(key) => project.dismissed.push(key),
        Edit::PutCatchTestOn(mut test, bar) => {
            test.bar = project.catch_tests.id_for(&bar);
            if project.catch_tests.bar(test.bar).is_none() {
                project.catch_tests.bars.push(TestedBar { id: test.bar, project: bar });
            }
            project.catch_tests.tests.push(*test);
        }
        other => panic!("{other:?} is none of those here"),
    }
    project
}

/// A field that holds somebody's words.
type Field = (&'static str, Lines, fn(&mut Project, String) -> Edit);

const FIELDS: &[Field] = &[
    ("title", Lines::One, |project, text| in_title(project, |title| title.title = text)),
    ("owner", Lines::One, |project, text| in_title(project, |title| title.owner = text)),
    ("number", Lines::One, |project, text| in_title(project, |title| title.number = text)),
    ("revision", Lines::One, |project, text| in_title(project, |title| title.revision = text)),
    ("creator", Lines::One, |project, text| in_title(project, |title| title.creator = text)),
    ("approved by", Lines::One, |project, text| in_title(project, |title| title.approved_by = text)),
    ("notes", Lines::Several, |project, text| in_title(project, |title| title.notes = text)),
    ("section", Lines::One, |project, text| {
        project.bar.sections[0].name = text;
        Edit::SetBar(Box::new(project.bar.clone()))
    }),
    ("liquid", Lines::One, |project, text| {
        project.duties.first_mut().liquid.name = text;
        Edit::PutDuty(Box::new(project.duties.first().clone()))
    }),
    ("duty", Lines::One, |project, text| {
        project.duties.first_mut().name = text;
        Edit::PutDuty(Box::new(project.duties.first().clone()))
    }),
    ("key", Lines::One, |project, text| {
        // Of an entry that nothing is plumbed with.
        let entry = equirow::plan::Entry { key: EntryKey(text), ..project.catalogue.entries[0].clone() };
        project.catalogue.entries.push(entry.clone());
        Edit::PutEntry(entry)
    }),
    ("description", Lines::One, |project, text| in_entry(project, |entry| entry.description = text)),
    ("part number", Lines::One, |project, text| in_entry(project, |entry| entry.part_number = text)),
    ("connection", Lines::One, |project, text| in_entry(project, |entry| entry.connection = text)),
    ("routing name", Lines::One, |project, text| {
        project.routings[0].name = text;
        Edit::PutRouting(Box::new(project.routings[0].clone()))
    }),
    ("routing note", Lines::Several, |project, text| {
        project.routings[0].note = text;
        Edit::PutRouting(Box::new(project.routings[0].clone()))
    }),
    ("tag of a part", Lines::One, |project, text| {
        project.routings[0].parts[0].tag = text;
        Edit::PutPart(project.routings[0].id, project.routings[0].parts[0].clone())
    }),
    ("tag of a hose", Lines::One, |project, text| {
        project.routings[0].runs[0].tag = text;
        Edit::PutRun(project.routings[0].id, project.routings[0].runs[0].clone())
    }),
    ("tag of a feed", Lines::One, |project, text| {
        project.routings[0].feeds[0].tag = text;
        Edit::PutFeed(project.routings[0].id, project.routings[0].feeds[0].clone())
    }),
    ("rule of a hidden finding", Lines::One, |project, text| {
        in_hidden(project, |hidden| hidden.kind.rule = text)
    }),
    ("case of a hidden finding", Lines::One, |project, text| {
        in_hidden(project, |hidden| hidden.kind.case = text)
    }),
    ("reason of a hidden finding", Lines::One, |project, text| {
        in_hidden(project, |hidden| hidden.reason = text)
    }),
    ("who hid a finding", Lines::One, |project, text| in_hidden(project, |hidden| hidden.by = text)),
    ("catch test", Lines::One, |project, text| in_test(project, |test| test.name = text)),
    ("date of a test", Lines::One, |project, text| in_test(project, |test| test.date = text)),
    ("who made a test", Lines::One, |project, text| in_test(project, |test| test.by = text)),
    ("notes of a test", Lines::Several, |project, text| in_test(project, |test| test.notes = text)),
    ("doubt about a table", Lines::One, |project, text| in_test(project, |test| test.doubts[0].says = text)),
    ("why a catch is spoiled", Lines::One, |project, text| {
        in_test(project, |test| test.catches[0].spoiled = Some(text))
    }),
];

/// A test of the first routing with one catch and one reading.
fn test(project: &Project) -> CatchTest {
    CatchTest {
        name: "Yard".to_owned(),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
        catches: vec![Catch {
            row: project.bar.rows[0].id,
            amount: CaughtAmount::Volume(Volume::millilitres(300.0)),
            span: None,
            spoiled: None,
        }],
        gauges: vec![GaugeReading {
            part: project.routings[0].parts[0].id,
            pressure: Pressure::bar(1.0),
            sd: None,
        }],
        doubts: vec![TableDoubt {
            row: None,
            lines: 1,
            no_verdict: None,
            says: "line 3: no amount".to_owned(),
        }],
        ..project.catch_tests.empty_at(&project.duties.first().usual_point())
    }
}

/// Puts a test on the first routing as it is.
fn put(project: &Project, test: CatchTest) -> Edit {
    let bar = tested_bar(project, project.routings[0].id, test.duty).unwrap();
    Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))
}

fn in_test(project: &mut Project, set: impl FnOnce(&mut CatchTest)) -> Edit {
    let mut one = test(project);
    set(&mut one);
    let edit = put(project, one);
    *project = broken(project.clone(), edit.clone());
    edit
}

fn hidden(at: usize) -> Dismissal {
    Dismissal {
        kind: FindingKind { rule: format!("rule {at}"), case: String::new() },
        routing: files::demo().routings[0].id,
        subjects: vec![FindingSubject::Project],
        reason: "known".to_owned(),
        by: String::new(),
    }
}

fn in_hidden(project: &mut Project, set: impl FnOnce(&mut Dismissal)) -> Edit {
    let mut hidden = hidden(0);
    set(&mut hidden);
    project.dismissed.push(hidden.clone());
    Edit::Dismiss(hidden)
}

fn in_title(project: &mut Project, set: impl FnOnce(&mut equirow::plan::TitleBlock)) -> Edit {
    set(&mut project.title);
    Edit::SetTitle(project.title.clone())
}

fn in_entry(project: &mut Project, set: impl FnOnce(&mut equirow::plan::Entry)) -> Edit {
    set(&mut project.catalogue.entries[0]);
    Edit::PutEntry(project.catalogue.entries[0].clone())
}

#[test]
fn letters_that_cannot_be_seen_are_refused_in_every_field_when_read_and_when_typed() {
    let demo = files::demo();
    for &(name, lines, set) in FIELDS {
        for letter in SAMPLES {
            let mut hostile = demo.clone();
            let text = format!("a{letter}b");
            let edit = set(&mut hostile, text.clone());
            let typed = apply(&mut demo.clone(), edit);
            if first_refused(&text, lines).is_none() {
                assert!(letter == '\n' && typed.is_ok(), "{name}: {letter:?}");
                let read = files::read_text(&files::write_text(&hostile).unwrap()).unwrap();
                assert_eq!(read, hostile, "{name}");
                continue;
            }
            let Err(EditError::Invalid(said)) = typed else { panic!("{name}: {letter:?} was typed") };
            assert!(said.what.contains(&named(letter)), "{name}: {said}");
            let error = files::read_text(&raw_text(&hostile)).expect_err("it was read");
            let same = error.problems.shown().iter().any(|one| one.what == said.what);
            assert!(same, "{name}: {said} is not in {error}");
            for message in [said.to_string(), error.to_string()] {
                let shown = message.lines().all(|line| !line.contains(is_refused));
                assert!(shown, "{name}: {message:?}");
            }
            // What can't be read back is not written either.
            assert!(files::write_text(&hostile).is_err(), "{name}: {letter:?} was written");
        }
    }
}

/// A program that made a plan by other ways, or a fault in ours: the writers do not trust what they are given.
#[test]
fn no_field_puts_lines_or_unseen_letters_into_an_export() {
    let demo = files::demo();
    let exports = |project: &Project| -> Vec<(&'static str, String)> {
        let routing = &project.routings[0];
        let solved = solved_network(project, routing, &project.duties.first().usual_point()).unwrap();
        let (network, solution) = (&solved.assembly.network, &solved.solution);
        let notes = [format!("Project: {}; routing: {}", project.title.title, routing.name)];
        let list = |document| String::from_utf8(csv(&document).unwrap()).unwrap();
        vec![
            ("network", network_file::network_json(network, solution, &notes)),
            ("solution", network_file::solution_json(network, solution)),
            ("inp", epa_file::inp(network, solution, &notes)),
            (
                "parts",
                list(parts_list(
                    project,
                    RoutingGeometry::working(project, routing).with(routing),
                    project.duties.first(),
                )),
            ),
            (
                "cuts",
                list(cut_list(
                    project,
                    RoutingGeometry::working(project, routing).with(routing),
                    project.duties.first(),
                )),
            ),
            ("catalogue", files::catalogue_file::write_catalogue_csv(&project.catalogue)),
        ]
    };
    for &(name, _, set) in FIELDS {
        let every: String = SAMPLES.iter().filter(|letter| **letter != '\n').collect();
        let (mut plain, mut hostile) = (demo.clone(), demo.clone());
        set(&mut plain, format!("a{}b  ;[PIPES]", " ".repeat(every.chars().count())));
        set(&mut hostile, format!("a{every}\nb ;[PIPES]"));
        for ((format, clean), (_, found)) in exports(&plain).into_iter().zip(exports(&hostile)) {
            let breaks = |letter: char| {
                letter == '\n' || letter == '\r' && matches!(format, "parts" | "cuts" | "catalogue")
            };
            // A file may start with the mark of its encoding.
            let inside = found.trim_start_matches('\u{feff}');
            let unseen = inside.chars().find(|letter| is_refused(*letter) && !breaks(*letter));
            assert_eq!(unseen, None, "{name} in {format}");
            // A comment may be broken anew; what is none, and every line of JSON, stands as it did.
            let lines = |text: &str| text.lines().filter(|line| !line.starts_with(';')).count();
            if matches!(format, "network" | "solution" | "inp") {
                assert_eq!(lines(&found), lines(&clean), "{name} in {format}");
                assert!(!found.lines().skip(1).any(|line| line.starts_with("b ")), "{name} in {format}");
            }
        }
    }
}

/// Lines of a table are records: what stands in a cell adds none (a quoted cell may break its line).
#[test]
fn tables_keep_their_records_and_run_no_formula() {
    for words in ["=1+1", "+1", "-1", "@x", "\t=1", "a\nb\r\nc", "\"a\",\"b\"", "a\u{1b}[2J"] {
        let mut project = files::demo();
        project.routings[0].runs[0].tag = words.to_owned();
        for entry in &mut project.catalogue.entries {
            entry.description = words.to_owned();
        }
        let routing = &project.routings[0];
        for document in [
            parts_list(
                &project,
                RoutingGeometry::working(&project, routing).with(routing),
                project.duties.first(),
            ),
            cut_list(
                &project,
                RoutingGeometry::working(&project, routing).with(routing),
                project.duties.first(),
            ),
        ] {
            let table = document.tables().next().unwrap();
            let closing = [&document.assumed, &document.open, &document.release]
                .iter()
                .filter(|one| !one.is_empty())
                .count();
            let columns = table.in_files().columns.len() + closing;
            let rows = 1 + table.rows.len() + table.totals.len();
            let bytes = csv(&document).unwrap();
            let mut reader =
                ::csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(&bytes[3..]);
            let records: Vec<::csv::StringRecord> = reader.records().map(Result::unwrap).collect();
            assert_eq!(records.len(), rows, "{words:?}");
            for record in &records {
                assert_eq!(record.len(), columns, "{words:?}");
                for cell in record {
                    let number = cell.parse::<f64>().is_ok();
                    assert!(
                        number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                        "{words:?}: {cell:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn file_names_in_messages_hide_nothing_and_command_nothing() {
    assert_eq!(visible_path(Path::new("a\u{1b}]0;x\u{7}\nb.ron")), "a\\u{1b}]0;x\\u{7}\\nb.ron");
    let error = files::open(Path::new("/no/such\n\u{1b}[31m/file.ron")).unwrap_err().to_string();
    assert!(!error.contains(is_refused), "{error:?}");
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt as _;
        let name = std::ffi::OsStr::from_bytes(b"/no/such\xff\xfe/file.ron");
        let error = files::open(Path::new(name)).unwrap_err().to_string();
        assert!(error.contains("/no/such\\xFF\\xFE/file.ron"), "{error:?}");
    }
}

#[test]
fn of_very_many_problems_the_first_are_shown_and_the_rest_is_counted() {
    let mut project = files::demo();
    let feeds = project.routings.iter_mut().flat_map(|routing| &mut routing.feeds);
    let mut many = 0;
    for branch in feeds.flat_map(|feed| &mut feed.branches) {
        branch.row = RowId(90_000 + many);
        many += 1;
    }
    let many = many as usize;
    assert!(many > SHOWN);
    let error = files::read_text(&raw_text(&project)).unwrap_err();
    assert_eq!((error.problems.total(), error.problems.shown().len()), (many, SHOWN));
    assert!(error.to_string().ends_with(&format!("and {} more", many - SHOWN)), "{error}");

    // A table of a catalogue, each line with a fault of its own.
    let table = "Key,Kind\n".to_owned() + &"x,no such kind\n".repeat(5000);
    let error = files::catalogue_file::read_catalogue_csv(&table).unwrap_err();
    assert_eq!((error.problems.total(), error.problems.shown().len()), (5000, SHOWN));
}

#[test]
fn files_nested_too_deep_are_refused_with_the_place() {
    for text in [
        format!("(version: 2, project: {}", "(".repeat(100_000)),
        format!("(version: 2, project: (title: {}", "Some(".repeat(100_000)),
        format!("(version: 2, project: (title: {}", "[".repeat(100_000)),
        format!("(version: 2, project: (title: {}", "{\"a\":".repeat(100_000)),
        format!("(version: 2, project: (title: {}", "/*".repeat(100_000)),
    ] {
        let error = files::read_text(&text).unwrap_err();
        assert!(error.problems.shown()[0].place.contains("line 1"), "{error}");
        assert!(error.to_string().len() < 1000, "{error}");
    }
    let error = files::read_catalogue(&format!("(version: 2, catalogue: (entries: {}", "[".repeat(100_000)))
        .unwrap_err();
    assert!(!error.problems.is_empty());
    let network = "[".repeat(100_000);
    assert!(network_file::read(&network).unwrap_err().to_string().contains("nested deeper"));
}

/// How many changed files each reader is fed with; more by `EQUIROW_MUTATIONS`, or `tests/reliability/readers.rs`.
fn mutations_each() -> u64 {
    std::env::var("EQUIROW_MUTATIONS").ok().and_then(|count| count.parse().ok()).unwrap_or(500)
}

#[test]
fn no_changed_file_makes_a_reader_panic_or_keep_more_than_it_shows() {
    for target in &mutations::TARGETS {
        let mut last = 0;
        let report = mutations::run(target, 0..mutations_each(), 11, |case| last = case);
        assert_eq!(report.taken + report.refused, last + 1, "{}", target.name);
        println!("{}: {report:?}", target.name);
    }
}

#[test]
fn messages_stay_short_however_long_the_words_of_a_file_are() {
    for target in mutations::TARGETS.iter().filter(|target| target.name != "arguments") {
        let refused = mutations::with_long_words(target);
        assert!(refused > 0, "{}: {refused} refused, which proves nothing", target.name);
    }
}

/// What was refused with more than nobody reads, found among 30,000 changed files.
#[test]
fn a_network_is_refused_in_few_words() {
    let target = mutations::TARGETS.iter().find(|target| target.name == "network").unwrap();
    assert_eq!(mutations::run(target, 21_209..21_210, 8, |_| {}).refused, 1);
}

#[test]
fn messages_to_a_terminal_hold_nothing_that_commands_it() {
    let hostile = "x\u{1b}]0;owned\u{7}\u{9b}31m\u{202e}";
    for arguments in [
        vec!["solve", hostile],
        vec!["network", hostile],
        vec!["solve", "no-such-file.ron", "--routing", hostile, hostile],
        vec!["sheet", "no-such-file.ron", "--out", hostile],
        vec![hostile, hostile],
        vec!["export", "no-such-file.ron", "--no-such-option", hostile],
    ] {
        let output =
            std::process::Command::new(env!("CARGO_BIN_EXE_equirow")).args(&arguments).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        let unseen = said.chars().find(|letter| is_refused(*letter) && *letter != '\n');
        assert!(!said.is_empty() && unseen.is_none(), "{arguments:?}: {said:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn files_whose_names_are_no_utf8_are_read_and_written() {
    use std::os::unix::ffi::OsStrExt as _;
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &[u8]| folder.path().join(std::ffi::OsStr::from_bytes(name));
    let (project, list) = (file(b"bar\xff.ron"), file(b"list\xfe.csv"));
    files::save(&project, &files::demo()).unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_equirow"))
        .args(["parts".as_ref(), project.as_os_str(), "--out".as_ref(), list.as_os_str()])
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    assert!(list.is_file());
}
