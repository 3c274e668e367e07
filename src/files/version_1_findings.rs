//! Hidden findings of version 1: texts of rule, routing and words, parted by `/`, which are brought up to what they name
//! where that can be told. Tags and numbers of rows are read as the program of that time wrote them.

use std::collections::BTreeSet;

use crate::plan::dismissal::{Dismissal, FindingKind, FindingSubject};
use crate::plan::{Project, Routing};

/// Why they were hidden, nobody was asked then.
const REASON: &str = "hidden before reasons were asked for";

/// The rules of version 1, by the names they had then.
const RULES: [&str; 37] = [
    "Reynolds zone",
    "assumed liquid",
    "at limit",
    "bend radius",
    "closing pressure",
    "flows backwards",
    "gauge range",
    "hinge slack",
    "hose velocity",
    "left out but plumbed",
    "liquid outside table",
    "loose end",
    "mean deviation",
    "measured length",
    "mesh",
    "metering over cracking",
    "negative pressure",
    "not fed",
    "not solved",
    "not supplied",
    "open port",
    "orifice zone",
    "over rated pressure",
    "port taken twice",
    "pump reserve",
    "range of speeds",
    "row deviation",
    "row off its section",
    "salt-out",
    "shared without metering",
    "short hose",
    "straight tube assumed",
    "turn at a port",
    "uneven",
    "uneven spacing",
    "unmetered",
    "valve stays shut",
];

/// Brings hidden findings into a project that has everything else; what was hidden by those that can't be told any more
/// is shown again, and returned.
pub(super) fn bring_up(project: &mut Project, old: Vec<String>) -> Vec<String> {
    let (mut known, mut lost) = (Vec::new(), Vec::new());
    for key in old {
        match read(project, &key) {
            Some(one) => known.push(one),
            None => lost.push(key),
        }
    }
    project.dismissed = known;
    lost
}

fn read(project: &Project, key: &str) -> Option<Dismissal> {
    let (rule, rest) = key.split_once('/')?;
    if !RULES.contains(&rule) {
        return None;
    }
    // Names may hold a stroke, and one may begin like another.
    let named = project.routings.iter().filter_map(|routing| {
        let words = rest.strip_prefix(routing.name.as_str())?.strip_prefix('/')?;
        Some((routing, words))
    });
    let (routing, words) = named.max_by_key(|(routing, _)| routing.name.len())?;
    let (case, subjects) = case_and_subjects(project, routing, rule, words)?;
    let kind = FindingKind { rule: rule.to_owned(), case: case.to_owned() };
    let hidden =
        Dismissal { kind, routing: routing.id, subjects, reason: REASON.to_owned(), by: String::new() };
    (!hidden.subjects.is_empty()).then_some(hidden)
}

fn case_and_subjects<'a>(
    project: &Project,
    routing: &Routing,
    rule: &str,
    words: &'a str,
) -> Option<(&'a str, Vec<FindingSubject>)> {
    let all_rows = || project.bar.rows.iter().map(|row| FindingSubject::Row(row.id)).collect();
    let one = |case, subject| Some((case, vec![subject]));
    match (rule, words) {
        ("assumed liquid" | "range of speeds", _) => one("", FindingSubject::Project),
        ("pump reserve", "supply") => one("reserve", FindingSubject::Project),
        (
            "pump reserve" | "over rated pressure" | "salt-out" | "liquid outside table" | "mean deviation",
            case,
        ) => one(case, FindingSubject::Project),
        ("uneven", case) => one(case, FindingSubject::Routing),
        ("mesh", "no filter") => Some((words, all_rows())),
        ("straight tube assumed" | "uneven spacing", _) => Some(("", all_rows())),
        ("bend radius" | "turn at a port", "hoses") => {
            Some(("", routing.runs.iter().map(|run| FindingSubject::Run(run.id)).collect()))
        }
        ("bend radius", "tubes") => {
            Some(("", routing.feeds.iter().map(|feed| FindingSubject::Feed(feed.id)).collect()))
        }
        ("mesh", tag) => Some(("opening", vec![tagged(routing, tag)?])),
        // A gauge was hidden whatever it read: the note is the one that people hide.
        ("gauge range", tag) => Some(("low", vec![tagged(routing, tag)?])),
        // "less than ... of its ends, H1 and H2": the tags stand last.
        ("measured length", words) => {
            let tags = words.split_once("drawn, ").or_else(|| words.split_once("ends, "))?.1;
            Some(("", listed(tags).map(|tag| tagged(routing, tag)).collect::<Option<_>>()?))
        }
        (_, words) => match rows(project, words) {
            Some((case, rows)) => Some((case, rows)),
            None => Some(("", listed(words).map(|tag| tagged(routing, tag)).collect::<Option<_>>()?)),
        },
    }
}

/// `A, B and C`, one after the other.
fn listed(words: &str) -> impl Iterator<Item = &str> {
    words.split(", ").flat_map(|piece| piece.split(" and "))
}

/// What has this tag.
fn tagged(routing: &Routing, tag: &str) -> Option<FindingSubject> {
    let run = routing.runs.iter().find(|one| one.tag == tag).map(|one| FindingSubject::Run(one.id));
    let part = || routing.parts.iter().find(|one| one.tag == tag).map(|one| FindingSubject::Part(one.id));
    let feed = || routing.feeds.iter().find(|one| one.tag == tag).map(|one| FindingSubject::Feed(one.id));
    run.or_else(part).or_else(feed)
}

/// `at work, rows 1, 3 and 7 to 9`: what stands before the rows, and the rows; none where they were cut short.
fn rows<'a>(project: &Project, words: &'a str) -> Option<(&'a str, Vec<FindingSubject>)> {
    let (case, numbers) = match words.strip_prefix("row") {
        Some(numbers) => ("", numbers),
        None => words.split_once(", row")?,
    };
    let numbers = numbers.strip_prefix('s').unwrap_or(numbers).trim_start();
    let mut found = BTreeSet::new();
    for piece in listed(numbers) {
        let (first, last) = piece.split_once(" to ").unwrap_or((piece, piece));
        let (first, last): (u32, u32) = (first.parse().ok()?, last.parse().ok()?);
        let within = project.bar.rows.iter().filter(|row| (first..=last).contains(&row.number));
        found.extend(within.map(|row| FindingSubject::Row(row.id)));
    }
    (!found.is_empty()).then(|| (case, found.into_iter().collect()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{PartId, RunId};

    /// A finding that names another rule than those there are would hide nothing, and stay in the file.
    #[test]
    fn every_rule_of_version_1_goes_by_a_name_of_today() {
        for name in RULES {
            assert!(crate::checks::RULES.iter().any(|rule| rule.name == name), "{name}");
        }
        for made_up in ["straight tube/A/8", "salt out/A/below"] {
            assert!(read(&crate::files::demo(), made_up).is_none(), "{made_up}");
        }
    }

    #[test]
    fn what_a_text_named_is_what_is_hidden_now() {
        let mut project = crate::files::demo();
        let routing = &project.routings[0];
        let (name, id) = (routing.name.clone(), routing.id);
        let (first, second) = (&routing.runs[0], &routing.runs[1]);
        let gauge = routing.parts.iter().find(|part| part.tag == "G1").map(|part| part.id);
        let (runs, tags) = ([first.id, second.id], format!("{} and {}", first.tag, second.tag));
        let row = |number: u32| project.bar.row_numbered(number).map(|row| FindingSubject::Row(row.id));
        let rows: Vec<FindingSubject> = [1, 3, 4, 5].into_iter().filter_map(row).collect();
        let all: Vec<FindingSubject> =
            project.bar.rows.iter().map(|row| FindingSubject::Row(row.id)).collect();
        let cases: [(String, &str, Vec<FindingSubject>); 8] = [
            (format!("straight tube assumed/{name}/tubes"), "", all),
            (format!("salt-out/{name}/below"), "below", vec![FindingSubject::Project]),
            (
                format!("hose velocity/{name}/{tags}"),
                "",
                runs.map(|run: RunId| FindingSubject::Run(run)).to_vec(),
            ),
            (format!("closing pressure/{name}/at work, rows 1 and 3 to 5"), "at work", rows.clone()),
            (format!("metering over cracking/{name}/rows 1, 3 and 4 to 5"), "", rows),
            (
                format!("gauge range/{name}/G1"),
                "low",
                gauge.map(|part: PartId| FindingSubject::Part(part)).into_iter().collect(),
            ),
            (format!("assumed liquid/{name}/UAN/28"), "", vec![FindingSubject::Project]),
            (format!("uneven/{name}/good"), "good", vec![FindingSubject::Routing]),
        ];
        let keys: Vec<String> = cases.iter().map(|(key, ..)| key.clone()).collect();
        let gone = [
            "hose velocity/no such routing/H1".to_owned(),
            format!("hose velocity/{name}/H1, H2, H3, H4, H5 and 12 more"),
            format!("metering over cracking/{name}/rows 1, 3 and 5 more (40 rows)"),
            "nonsense".to_owned(),
        ];
        let lost = bring_up(&mut project, keys.iter().cloned().chain(gone.clone()).collect());
        assert_eq!(lost, gone);
        assert_eq!(project.dismissed.len(), cases.len());
        for ((key, case, subjects), one) in cases.iter().zip(&project.dismissed) {
            assert_eq!((one.kind.case.as_str(), &one.subjects, one.routing), (*case, subjects, id), "{key}");
            assert!(key.starts_with(&one.kind.rule) && !one.reason.is_empty());
        }
        assert!(crate::plan::validate::validate(&project).is_empty());
    }
}
