//! `equirow check PROJECT ...`: all findings of a routing, for people and for scripts.

use std::fmt::Write as _;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::arguments::{Format, OneRouting, conditions, duty_name};
use super::{ANSWER_IS_NO, Ended, print, print_json, solved};
use crate::checks::{self, ClosedTest, Finding, FindingSubject, Release, Severity};
use crate::hydraulics::{self, Outcome};
use crate::plan::{FoldPosition, Project, Routing, RoutingGeometry};

/// The subcommand.
const NAME: &str = "check";

#[derive(Args)]
#[command(
    after_help = "Exit code 1 if one of the findings is an error. An error can't be hidden, so each counts; warnings and \
                        notes, hidden or shown, do not."
)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
}

/// Runs the subcommand: at the duty's three speeds, each finding at the speed where it is worst.
///
/// Exit codes: 0 no finding is an error; 1 one is; 2 wrong usage, also a routing or a duty that does not exist; 3 the file can't be
/// read or understood.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.of.open()?;
    let routing = arguments.of.choose(&project, NAME)?;
    let point = arguments.of.duty(&project, NAME)?.usual_point();
    let geometry = RoutingGeometry::working(&project, routing);
    let laid = geometry.with(routing);
    let (outcome, range) = solved(&project, laid, &point);
    let findings = checks::all_findings(&project, laid, &outcome, &range.outcomes);
    // What is pressed in the test has to bear every duty.
    let others = project.duties.iter().filter(|duty| duty.id != point.duty);
    let of_others: Vec<Outcome> = others
        .flat_map(|duty| duty.speeds().map(|speed| hydraulics::solve(&project, routing, &duty.at(speed))))
        .collect();
    let test = ClosedTest::of(&project, laid, range.outcomes.iter().chain(&of_others));
    let release = Release::of(&project, &findings, &range.outcomes, test.as_ref()).words(project.units);
    let answer_is_no = findings.iter().any(|finding| finding.severity == Severity::Error);
    let code = if answer_is_no { ExitCode::from(ANSWER_IS_NO) } else { ExitCode::SUCCESS };
    let reports = findings.iter().map(|finding| report(&project, routing, finding)).collect();
    Ok(match arguments.format {
        Format::Json => print_json(
            &CheckReport { duty: duty_name(&project, point.duty), release, findings: reports },
            code,
        ),
        Format::Table => {
            let mut text = format!(
                "{:<12}{}\n{:<12}{}\n{:<12}{}\n{:<12}{release}\n",
                "Project",
                project.title.title,
                "Routing",
                routing.name,
                "Conditions",
                conditions(&project, &point, project.units),
                "Release"
            );
            text.push_str(&table(&reports, &findings));
            print(&text, code)
        }
    })
}

/// What the JSON holds.
#[derive(Serialize)]
struct CheckReport {
    #[serde(skip_serializing_if = "Option::is_none")]
    duty: Option<String>,
    release: String,
    findings: Vec<CheckFinding>,
}

#[derive(Serialize)]
struct CheckFinding {
    rule: String,
    severity: &'static str,
    #[serde(rename = "where")]
    place: Vec<String>,
    speed_km_h: Option<f64>,
    fold_percent: Option<f64>,
    message: String,
    /// Of several things a line each.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    each: Vec<String>,
    #[serde(rename = "try")]
    advice: String,
    dismissed: bool,
    reason: Option<String>,
}

fn report(project: &Project, routing: &Routing, finding: &Finding) -> CheckFinding {
    let hidden_by = checks::hidden_by(project, finding);
    let mut reasons: Vec<&str> = Vec::new();
    for one in &hidden_by {
        if !reasons.contains(&one.reason.as_str()) {
            reasons.push(&one.reason);
        }
    }
    CheckFinding {
        rule: finding.kind.rule.clone(),
        severity: finding.severity.name(),
        place: tags(project, routing, finding),
        speed_km_h: finding.speed.map(|speed| speed.as_kilometres_per_hour()),
        fold_percent: finding.fold.map(FoldPosition::percent),
        message: finding.what.clone(),
        each: finding.each.clone(),
        advice: finding.advice.clone(),
        dismissed: !hidden_by.is_empty(),
        reason: (!hidden_by.is_empty()).then(|| reasons.join("; ")),
    }
}

/// The tags and rows that a finding is about; what is about none of them says where in words.
fn tags(project: &Project, routing: &Routing, finding: &Finding) -> Vec<String> {
    let tag = |subject: &FindingSubject| match *subject {
        FindingSubject::Row(id) => project.bar.row(id).map(|row| format!("row {}", row.number)),
        FindingSubject::Part(id) => routing.part(id).map(|part| part.tag.clone()),
        FindingSubject::Run(id) => routing.run(id).map(|run| run.tag.clone()),
        FindingSubject::Feed(id) => routing.feed(id).map(|feed| feed.tag.clone()),
        FindingSubject::Routing | FindingSubject::Project => None,
    };
    let tags: Vec<String> = finding.subjects.iter().filter_map(tag).collect();
    if tags.is_empty() { vec![finding.place.clone()] } else { tags }
}

fn table(reports: &[CheckFinding], findings: &[Finding]) -> String {
    let mut text = String::new();
    if reports.is_empty() {
        text.push_str("\nNo findings\n");
    }
    for (report, finding) in reports.iter().zip(findings) {
        let folded = finding.fold.map_or_else(String::new, |at| format!(" ({})", at.words()));
        let _ = writeln!(text, "\n{:<8} {}{folded}: {}", report.severity, finding.place, report.message);
        for line in &report.each {
            let _ = writeln!(text, "{:<10}{line}", "");
        }
        let _ = writeln!(text, "{:<8} try: {}", "", report.advice);
        if let Some(reason) = &report.reason {
            let _ = writeln!(text, "{:<8} hidden: {reason}", "");
        }
    }
    text
}
