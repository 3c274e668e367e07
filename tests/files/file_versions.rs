//! Files of version 1 are read as what they mean today, and nobody is left to find out by himself that a file has become
//! one which an older program can't open.

use std::fs;
use std::path::{Path, PathBuf};

use equirow::files::marks::Kind;
use equirow::files::output::{self, Output};
use equirow::files::{self, NotKept};
use equirow::plan::edit::apply;
use equirow::plan::project::FIRST_DUTY;
use equirow::plan::{
    Catalogue, Control, Duties, Duty, Edit, ElementItem, ElementKey, ElementKind, Entry, EntryKey,
    FeedElement, FittingForm, FittingItem, Hinge, Item, ItemKind, PartKey, PartKind, Project, ReliefValve,
    RowFeed, TagLetters,
};
use equirow::quantities::{Angle, Length, Pressure};
use equirow::session::Session;

/// The examples as they were saved before version 2.
const BEFORE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/version_1");
const TODAY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples");

/// Every file of version 1, with the example of the same name.
fn pairs() -> Vec<(PathBuf, PathBuf)> {
    let names = fs::read_dir(BEFORE).unwrap().map(|entry| entry.unwrap().file_name());
    let mut names: Vec<_> =
        names.filter(|name| Path::new(name).extension().is_some_and(|e| e == "ron")).collect();
    names.sort();
    names.into_iter().map(|name| (Path::new(BEFORE).join(&name), Path::new(TODAY).join(&name))).collect()
}

fn is_catalogue(path: &Path) -> bool {
    path.ends_with("generic-catalogue.ron")
}

/// Today's catalogue without what came later: kinds, gauges and fittings that version 1 did not have, materials, and
/// ratings of fittings and orifices.
fn as_then(mut today: Catalogue, before: &Catalogue) -> Catalogue {
    let (known, later): (Vec<_>, Vec<_>) =
        today.entries.into_iter().partition(|entry| before.entry(&entry.key).is_some());
    let new = [ItemKind::Part(PartKind::FlowMeter), ItemKind::Element(ElementKind::FlowIndicator)];
    let gauges = ["gauge-2.5", "gauge-4"].map(EntryKey::new);
    // Elbows, and barbs with other threads than their hose's.
    let is_new = |entry: &Entry| {
        new.contains(&entry.item.item_kind())
            || gauges.contains(&entry.key)
            || entry.key.0.contains("-thread-")
    };
    assert!(later.iter().all(is_new));
    today.entries = known;
    for entry in &mut today.entries {
        entry.materials.clear();
        match &mut entry.item {
            Item::Element(ElementItem::MeteringOrifice(orifice)) => orifice.rated = None,
            Item::Fitting(FittingItem::SmallTee(tee)) => tee.rated = None,
            Item::Fitting(FittingItem::Fitting(fitting)) => fitting.rated = None,
            _ => {}
        }
    }
    today
}

/// How far forward the mains of the widest bar lie, metres, and lay then.
const MAINS: f64 = 0.13;
const MAINS_THEN: f64 = 0.2;

/// Today's bar with what was fitted then: the examples took the metering, check valves, gauges and pressure limits that the
/// program's own studies and findings advise.
fn fitted_then(today: &mut Project) {
    let (orifices, limit) = match today.title.number.as_str() {
        "EX-12" => (Some(("orifice-0.8", "orifice-0.9")), 4.0),
        "EX-24" => (Some(("orifice-0.9", "orifice-1.0")), 5.0),
        _ => (None, 4.0),
    };
    today.supply.control = Control::Metered { limit: Pressure::bar(limit) };
    let gauges = ["gauge-2.5", "gauge-4"].map(PartKey::new);
    let (own_valve, then_valve) = (ElementKey::new("check-valve-0.10"), ElementKey::new("check-valve-0.20"));
    for routing in &mut today.routings {
        for part in routing.parts.iter_mut().filter(|part| gauges.contains(&part.entry)) {
            part.entry = PartKey::new("gauge-6");
        }
        for element in routing.feeds.iter_mut().flat_map(RowFeed::elements_mut) {
            let FeedElement::Piece(_, entry) = element else { continue };
            if *entry == own_valve {
                *entry = then_valve.clone();
            }
            if let Some((_, then)) = orifices.filter(|(own, _)| *entry == ElementKey::new(*own)) {
                *entry = ElementKey::new(then);
            }
        }
        // Nobody looked how low mains hang at the hinges: they lay where the openers of the front rank trip to.
        if today.title.number == "EX-24" {
            let parts = routing.parts.iter_mut().map(|part| &mut part.position.y);
            for y in parts.filter(|y| **y == MAINS) {
                *y = MAINS_THEN;
            }
            for point in routing.points_mut().filter(|point| point.place.y == MAINS) {
                point.place.y = MAINS_THEN;
            }
        }
    }
}

/// Today's bar with the hinges of then: the lowest angle at work let the right wings up, the inner wings of the widest bar
/// turned about the middle of their frame, and its middle ones folded onto each other: nobody looked yet.
fn folded_then(today: &mut Project) {
    for hinge in today.bar.sections.iter_mut().filter_map(|section| section.hinge.as_mut()) {
        if hinge.is_upright() {
            hinge.point.y = 0.0;
        } else {
            hinge.lowest = Angle::degrees(-5.0);
        }
    }
    if today.title.number != "EX-24" {
        return;
    }
    for section in &mut today.bar.sections {
        let is_left = section.left.si() < 0.0;
        let (height, right) = match section.name.split_once(' ') {
            Some(("middle", _)) => (1.15, -175.0),
            Some(("outer", _)) => (0.75, 175.0),
            _ => continue,
        };
        if let Some(hinge) = &mut section.hinge {
            hinge.point.z = height;
            hinge.folded = Angle::degrees(if is_left { -right } else { right });
        }
    }
}

#[test]
fn the_examples_of_version_1_open_as_todays() {
    assert_eq!(pairs().len(), 5, "four bars and the catalogue");
    for (before, today) in pairs() {
        assert!(fs::read_to_string(&before).unwrap().contains("\n  version: 1,\n"), "{}", before.display());
        assert!(fs::read_to_string(&today).unwrap().contains("\n  version: 2,\n"), "{}", today.display());
        if is_catalogue(&before) {
            let open = |path: &Path| files::open_catalogue(path).unwrap();
            let before = open(&before);
            assert_eq!(before, as_then(open(&today), &before));
        } else {
            let (mut before, mut today) = (files::open(&before).unwrap(), files::open(&today).unwrap());
            // Coordinates were not rounded then; the first edit does it.
            for routing in before.routings.clone() {
                apply(&mut before, Edit::PutRouting(Box::new(routing))).unwrap();
            }
            assert_eq!(before.duties.count(), 1, "{}", before.title.title);
            // A project of version 1 had one duty, without a name.
            let mut first = Duty { name: FIRST_DUTY.to_owned(), ..today.duties.first().clone() };
            first.liquid.attacks.clear();
            today.duties = Duties::new(first);
            // Nor did it know in which order wings fold, and relief valves.
            for hinge in today.bar.sections.iter_mut().filter_map(|section| section.hinge.as_mut()) {
                hinge.step = Hinge::FIRST_STEP;
            }
            folded_then(&mut today);
            today.supply.relief_valve = ReliefValve::NotSaid;
            // Two hinges had a length of their own, which nobody has to enter any more.
            let lines = before.routings.iter_mut().flat_map(|routing| &mut routing.runs);
            for crossing in lines.flat_map(|run| &mut run.line.crossings) {
                if crossing.entered == Some(Length::metres(0.32)) {
                    crossing.entered = None;
                }
            }
            today.catalogue = as_then(today.catalogue, &before.catalogue);
            fitted_then(&mut today);
            assert!(before == today, "{} differs from its example", before.title.title);
        }
    }
}

/// What hangs on a bar already keeps its letters.
#[test]
fn a_project_of_version_1_keeps_its_letters_and_version_2_says_which() {
    let before = Path::new(BEFORE).join("six-metre-trial-bar.ron");
    let project = files::open(&before).unwrap();
    assert_eq!(project.tag_letters, TagLetters::TeesJRowFeedsT);
    let text = files::write_text(&project).unwrap();
    let said = "\n    tag_letters: TeesJRowFeedsT,\n";
    assert_eq!(files::read_text(&text).unwrap().tag_letters, project.tag_letters);
    let new = text.replacen("TeesJRowFeedsT", "TeesTRowFeedsD", 1);
    assert_eq!(files::read_text(&new).unwrap().tag_letters, TagLetters::TeesTRowFeedsD);
    let without = files::read_text(&text.replacen(said, "\n", 1)).unwrap_err().to_string();
    assert!(without.contains("tag_letters"), "{without}");
    let new = Project::new(project.bar, project.catalogue);
    assert_eq!(new.tag_letters, TagLetters::TeesTRowFeedsD);
}

/// Version 1 did not say on which section a point rides.
#[test]
fn a_point_of_version_1_rides_on_the_section_it_lies_over_or_is_nearest_to() {
    let text = fs::read_to_string(Path::new(BEFORE).join("six-metre-trial-bar.ron")).unwrap();
    let beside = text.replacen("(x: -2.0, y: 0.35, z: 1.0)", "(x: -40.0, y: 0.35, z: 1.0)", 1);
    assert_ne!(text, beside);
    let project = files::read_text(&beside).unwrap();
    let section = |name: &str| project.bar.sections.iter().find(|one| one.name == name).unwrap().id;
    let (centre, left) = (section("centre"), section("wing left"));
    let hose =
        project.routings[0].runs.iter().find(|run| run.line.waypoints.iter().any(|at| at.place.x < -30.0));
    let rides: Vec<_> = hose.unwrap().line.waypoints.iter().map(|at| (at.place.x, at.section)).collect();
    assert_eq!(rides, [(-0.85, centre), (-1.15, left), (-40.0, left)]);
}

/// Version 1 did not say which fittings are elbows either: the words of an entry did, or its key.
#[test]
fn a_fitting_of_version_1_is_an_elbow_where_its_words_say_so_and_straight_elsewhere() {
    let text = fs::read_to_string(Path::new(BEFORE).join("generic-catalogue.ron")).unwrap();
    let changed = text
        .replacen("Hose barb for 10 mm hose, 8 mm bore", "Elbow for 10 mm hose, 8 mm bore", 1)
        .replacen("\"barb-12\"", "\"elbow-12\"", 1);
    let catalogue = files::read_catalogue(&changed).unwrap();
    let form = |key: &str| match catalogue.entry(&EntryKey(key.to_owned())).map(|entry| entry.item) {
        Some(Item::Fitting(FittingItem::Fitting(fitting))) => fitting.form,
        other => unreachable!("{key}: {other:?}"),
    };
    assert_eq!(form("barb-10"), FittingForm::Elbow, "its description says so");
    assert_eq!(form("elbow-12"), FittingForm::Elbow, "its key says so");
    assert_eq!(form("barb-8"), FittingForm::Straight);
    assert_eq!(form("barb-16"), FittingForm::Straight);
}

/// Each field on a line of its own gets a name that nothing has.
#[test]
fn a_field_that_is_not_known_is_named_in_either_version() {
    for (before, today) in pairs()
        .into_iter()
        .filter(|(before, _)| is_catalogue(before) || before.ends_with("six-metre-trial-bar.ron"))
    {
        for path in [before, today] {
            let text = fs::read_to_string(&path).unwrap();
            let mut seen = std::collections::BTreeSet::new();
            for line in text.lines() {
                let Some((name, _)) = line.trim_start().split_once(": ") else { continue };
                let is_name = !name.is_empty() && name.chars().all(|c| c.is_ascii_lowercase() || c == '_');
                if !is_name || name == "version" || !seen.insert(name.to_owned()) {
                    continue;
                }
                let changed = text.replacen(line, &line.replacen(name, &format!("{name}_of_tomorrow"), 1), 1);
                let error = if is_catalogue(&path) {
                    files::read_catalogue(&changed).unwrap_err()
                } else {
                    files::read_text(&changed).unwrap_err()
                };
                let said = error.to_string();
                assert!(
                    said.contains("_of_tomorrow") || name == "project" || name == "catalogue",
                    "{}, {name}: {said}",
                    path.display()
                );
            }
            assert!(seen.len() > 5, "{}: {seen:?}", path.display());
        }
    }
}

#[test]
fn saving_over_a_file_of_version_1_is_said_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    fs::copy(Path::new(BEFORE).join("nine-metre-bar.ron"), &path).unwrap();
    let mut session = Session::open(&path).unwrap();
    let notes = session.save(&path).unwrap();
    let version = NotKept::Version { before: 1, now: 2 };
    assert_eq!(notes.iter().collect::<Vec<_>>(), [(path.as_path(), &version)]);
    assert!(notes.to_string().contains("version 2 now, which an older Equirow can't open"), "{notes}");
    assert!(session.save(&path).unwrap().is_empty(), "it is of version 2 already");
    assert!(session.save(&folder.path().join("new.ron")).unwrap().is_empty(), "nothing was there");
}

#[test]
fn a_catalogue_that_takes_the_place_of_one_of_version_1_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("catalogue.ron");
    fs::copy(Path::new(BEFORE).join("generic-catalogue.ron"), &path).unwrap();
    let write = || {
        let text = files::write_catalogue(&files::generic_catalogue()).unwrap();
        let permit = output::look(vec![Output::alone(&path, Kind::Catalogue)]).unwrap().replace();
        permit.write(vec![text.into_bytes()]).unwrap().notes
    };
    let version = NotKept::Version { before: 1, now: 2 };
    assert_eq!(write().iter().map(|note| note.1.clone()).collect::<Vec<_>>(), [version]);
    assert!(write().is_empty());
}
