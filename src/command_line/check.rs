//! `equirow check PROJECT ...`: all findings of a routing, for people and for scripts.

use std::fmt::Write as _;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::arguments::{Format, OneRouting, conditions, duty_name};
use super::{ANSWER_IS_NO, Ended, print, print_json, solved};
use crate::checks::{self, ClosedTest, Finding, FindingSubject, Release, Severity};
use crate::hydraulics::{self, Outcome};
use crate::plan::{FoldPosition, OperatingPoint, Project, Routing, RoutingGeometry};
use crate::session::Session;
use crate::session::remedy_trial::RemedyTrial;

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
    let mut reports: Vec<CheckFinding> =
        findings.iter().map(|finding| report(&project, routing, finding)).collect();
    try_others(&project, routing, &point, &findings, &mut reports);
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
    /// Other ways to put it right, each solved for every duty.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    others: Vec<OtherWay>,
    dismissed: bool,
    reason: Option<String>,
}

/// Another way to put a finding right, with what comes of it.
#[derive(Serialize)]
struct OtherWay {
    what: String,
    /// What is still found of what it is for.
    leaves: Vec<String>,
    /// Errors and warnings that are there only with it.
    brings: Vec<String>,
}

/// Solves the other ways of every finding that has some, as the window does before it offers them; what can't be carried
/// out is left away.
fn try_others(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    findings: &[Finding],
    reports: &mut [CheckFinding],
) {
    if findings.iter().all(|finding| finding.others.is_empty()) {
        return;
    }
    let mut session = Session::new(project.clone(), None);
    session.show_routing(routing.id);
    session.look_at_duty(point.duty);
    for (finding, report) in findings.iter().zip(reports) {
        report.others = finding
            .others
            .iter()
            .filter_map(|way| {
                let RemedyTrial { leaves, brings, .. } = session.try_out(way).ok()?;
                Some(OtherWay { what: session.remedy_detail(way), leaves, brings })
            })
            .collect();
    }
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
        others: Vec::new(),
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
        let _ = writeln!(text, "\n{:<8} {}: {}", report.severity, finding.place, report.message);
        for line in &report.each {
            let _ = writeln!(text, "{:<10}{line}", "");
        }
        let _ = writeln!(text, "{:<8} try: {}", "", report.advice);
        for way in &report.others {
            let came: Vec<String> = [("leaves", &way.leaves), ("brings", &way.brings)]
                .into_iter()
                .flat_map(|(word, lines)| lines.iter().map(move |line| format!("{word} {line}")))
                .collect();
            let came = if came.is_empty() {
                "puts it right and brings no other harm".to_owned()
            } else {
                came.join("; ")
            };
            let _ = writeln!(text, "{:<8} or:  {}: {came}", "", way.what);
        }
        if let Some(reason) = &report.reason {
            let _ = writeln!(text, "{:<8} hidden: {reason}", "");
        }
    }
    text
}
