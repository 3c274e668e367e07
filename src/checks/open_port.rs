//! Ports that would spray: nothing on them and no plug.

use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::Remedy;
use super::words::{is_or_are, list};
use super::{Context, Rule};
use crate::hydraulics::connectivity::ConnectionProblem;
use crate::plan::{PartId, Port, PortRef};

pub(super) const RULE: Rule = Rule {
    name: "open port",
    about: "An outlet or the leg of a small tee with neither a tube nor a plug on it, which would spray",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let problems = &here.outcome.problems;
    let no_supply = problems.contains(&ConnectionProblem::NoSupplyHose);
    let open = problems.iter().filter_map(|problem| match problem {
        ConnectionProblem::OpenPorts(part, ports) => Some((*part, ports)),
        _ => None,
    });
    let ports = open.map(|(part, ports)| {
        let supplied = !no_supply && !problems.contains(&ConnectionProblem::NotSupplied(part));
        Finding {
            severity: if supplied { Severity::Error } else { Severity::Warning },
            place: here.part_tag(part),
            what: format!("{} {} open", ports_in_words(here, part, ports), is_or_are(ports.len())),
            advice: if ports.iter().all(|port| matches!(port, Port::Outlet(_))) {
                "join a row feed, or close it with a blanking plug; the figures are those with it closed"
            } else {
                "join a hose, or close it with a blanking plug; the figures are those with it closed"
            }
            .to_owned(),
            remedy: ports
                .iter()
                .all(|port| matches!(port, Port::Outlet(_)))
                .then(|| Remedy::PlugOutlets(vec![part])),
            subjects: vec![FindingSubject::Part(part)],
            ..here.finding(RULE.name, "")
        }
    });
    ports.chain(tee_legs(here)).collect()
}

/// Small tees that a single row is left on. The solve takes their other leg as plugged.
fn tee_legs(here: &Context) -> impl Iterator<Item = Finding> {
    let free = here.routing.feeds.iter().filter(|feed| feed.split.is_some() && feed.branches.len() == 1);
    free.map(move |feed| {
        let rows: Vec<_> = feed.branches.iter().map(|branch| branch.row).collect();
        Finding {
            severity: Severity::Warning,
            place: feed.tag.clone(),
            what: "a leg of the small tee is free; the pressures are those with it plugged".to_owned(),
            advice: format!(
                "close it with a plug, or remove {} and give {} a row feed without a tee",
                feed.tag,
                here.row_words_inside(&rows)
            ),
            subjects: vec![FindingSubject::Feed(feed.id)],
            ..here.finding(RULE.name, "")
        }
    })
}

/// `outlets 5 to 8 and 11`, `inlet`.
fn ports_in_words(here: &Context, part: PartId, ports: &[Port]) -> String {
    let mut pieces: Vec<String> = Vec::new();
    let mut ranges: Vec<(u16, u16)> = Vec::new();
    for port in ports {
        match (port, ranges.last_mut()) {
            (Port::Outlet(number), Some(range)) if range.1 + 1 == *number => range.1 = *number,
            (Port::Outlet(number), _) => ranges.push((*number, *number)),
            (other, _) => {
                let port = PortRef { part, port: *other };
                pieces.push(here.routing.geometry.anchors.port_name(port));
            }
        }
    }
    let count = ports.iter().filter(|port| matches!(port, Port::Outlet(_))).count();
    let mut numbers: Vec<String> = ranges
        .into_iter()
        .map(|(first, last)| if first == last { first.to_string() } else { format!("{first} to {last}") })
        .collect();
    if let Some(first) = numbers.first_mut() {
        *first = format!("{} {first}", if count == 1 { "outlet" } else { "outlets" });
    }
    pieces.extend(numbers);
    list(&pieces)
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn an_outlet_without_a_plug_is_an_error_only_where_liquid_comes() {
        let mut sample = Sample::new();
        sample.routing.feeds.pop();
        sample.resolve();
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.what.as_str()), (Severity::Error, "outlet 4 is open"));
        sample.outcome.problems.push(ConnectionProblem::NoSupplyHose);
        assert_eq!(sample.only(RULE).severity, Severity::Warning);
    }

    #[test]
    fn a_small_tee_with_one_row_left_has_a_free_leg() {
        let mut sample = Sample::new();
        sample.share_first_two();
        let before = sample.of(RULE).len();
        sample.routing.feeds[0].branches.pop();
        sample.resolve();
        let findings = sample.of(RULE);
        assert_eq!(findings.len(), before + 1);
        let last = findings.last().unwrap();
        assert_eq!((last.severity, last.place.as_str()), (Severity::Warning, "T1"));
        assert!(
            last.advice.ends_with("remove T1 and give row 1 a row feed without a tee"),
            "{}",
            last.advice
        );
    }

    #[test]
    fn outlets_in_a_row_are_a_range() {
        let outlets = [5, 6, 7, 8, 11].map(Port::Outlet);
        let sample = Sample::new();
        let geometry = sample.geometry();
        let here = Context::new(&sample.project, geometry.with(&sample.routing), &sample.outcome);
        let words = |part, ports: &[Port]| ports_in_words(&here, part, ports);
        assert_eq!(words(super::super::sample::MANIFOLD, &outlets), "outlets 5 to 8 and 11");
        assert_eq!(words(super::super::sample::FILTER, &[Port::In, Port::Out]), "inlet and outlet");
    }
}
