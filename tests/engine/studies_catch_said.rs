//! What is said of a catch test beside its causes: gauges that nobody read, what all rows share, signs that look alike.

use equirow::hydraulics::faulty::Fault;
use equirow::hydraulics::variation::{LiquidQuantity, Parameter};
use equirow::plan::{CauseKind, CauseWeights, PartId};
use equirow::quantities::Flow;
use equirow::studies::Unwatched;
use equirow::studies::catch_test::explain::{ExplainOptions, Explanation, NextLook, explain};
use equirow::studies::catch_test::readings::{CaughtFlow, RowReading, TestedRouting};

use super::studies_catch_causes::{Bar, with_faults, without_spreads};

/// A set of metering that is crusted as a whole changes nothing that a jug shows where a controller keeps the total: the gauge that
/// nobody has read is what to look at.
#[test]
fn a_gauge_that_nobody_read_is_the_next_look() {
    let bar = Bar::new(24, 3);
    let is_offered = |found: &Explanation| {
        let names = |look: &NextLook| look.outcomes.iter().any(|one| one.means.contains("all metering"));
        let mut looks = found.next.iter().filter(|look| look.what.starts_with("read the pressure at G"));
        looks.any(|look| look.action.key() == "read_pressure" && names(look) && look.outcomes.len() > 1)
    };
    let unread = bar.explained(&[], false);
    assert!(is_offered(&unread), "{:?}", unread.next);
    assert!(!is_offered(&bar.explained(&[], true)));
}

/// What all rows share is one chance, however many rows: of a supply within `σ` and jugs within `s` the mean of `n` rows scatters
/// by `v = σ² + s²/n` (the variance of a mean of correlated values), so that the odds of amounts that are written down as so many
/// times too much are those of one reading with that scatter. With the line's density 0.6/ln(150) between its ends,
/// `w_a/w_0 * sum p s^-n 0.6 s sqrt(2 pi v)/ln(150) / sum p s^-n exp(-d²/2 s² v)`; what the slips of a factor add is nothing here. As if
/// rows were so many chances, 4 % at 24 rows would be sixteen standard deviations.
#[test]
fn what_all_rows_share_is_one_chance() {
    let bar = without_spreads(24, 3);
    let mut weights = CauseWeights::default();
    for entry in &equirow::plan::cause_weights::TABLE {
        if !matches!(entry.kind, CauseKind::ScatterOnly | CauseKind::AllMisread) {
            entry.set(&mut weights, 0.0);
        }
    }
    let before = weights.of(CauseKind::AllMisread) / weights.of(CauseKind::ScatterOnly);
    let sound = with_faults(&bar.project, &[], |solver| solver.solve(&[]).unwrap());
    let count = sound.rows.len() as f64;
    for times in [1.04, 1.08, 1.12] {
        let found = bar.with(|of| {
            let rows = bar.project.bar.rows.iter().zip(&sound.rows);
            let rows = rows.map(|(row, flow)| RowReading {
                row: row.id,
                catches: vec![CaughtFlow {
                    flow: Flow::from_si(times * flow),
                    seconds: 60.0,
                    sd: Flow::from_si(0.01 * times * flow),
                }],
            });
            let tested =
                TestedRouting { studied: *of, rows: rows.collect(), gauges: Vec::new(), supply_sd: 0.03 };
            explain(&tested, &weights, &ExplainOptions::default(), &Unwatched).unwrap()
        });
        // Logarithms of shares with 0.02 added, and a drip of 0.002 that no jug shows.
        let counted = |sd: f64| sd * times / (times + 0.02);
        let v = counted(0.03).powi(2) + counted(0.01_f64.hypot(0.002 / times)).powi(2) / count;
        let d = ((times + 0.02) / 1.02_f64).ln();
        let (mut wrong, mut scattered) = (0.0, 0.0);
        for (scale, part) in [(0.7, 0.1), (1.0, 0.5), (1.4, 0.22), (2.0, 0.13), (2.8, 0.05)] {
            let factor = part * f64::powf(scale, -count);
            let line =
                0.6 * scale * (std::f64::consts::TAU * v).sqrt() / 150_f64.ln() * (times + 0.02) / times;
            wrong += before * factor * line;
            scattered += factor * (-0.5 * d * d / (v * scale * scale)).exp();
        }
        let wanted = wrong / (wrong + scattered);
        let all = found.in_order();
        let misread = all.iter().find(|one| one.1.cause.kind == CauseKind::AllMisread).map(|one| one.1);
        // Beside so likely a scatter it may show next to nothing and not be listed.
        let odds = misread.map_or_else(
            || found.groups.iter().filter(|one| !one.holds_scatter()).map(|one| one.odds).sum(),
            |one| one.odds,
        );
        assert!((odds - wanted).abs() < 0.01 + 0.1 * wanted, "times {times}: {odds} against {wanted}");
        if times == 1.04 {
            let scatter = all.iter().find(|one| one.1.cause.kind == CauseKind::ScatterOnly).unwrap().1;
            let said = scatter.why.split("in about ").nth(1).unwrap().split(' ').next().unwrap();
            let of_100: f64 = said.parse().unwrap();
            // One reading alone is so far off in 23 of 100, and looked at by itself and beside others in 41 at least; 24 that
            // are independent would be in 99.
            assert!((41.0..90.0).contains(&of_100), "{}", scatter.why);
        }
    }
}

/// Where flow is between laminar and turbulent a thicker liquid and a thinner one change the same rows the same way, and both
/// are said.
#[test]
fn both_signs_of_a_viscosity_that_look_alike_are_told() {
    let project = equirow::files::Example::SixMetre.project();
    let gauges: Vec<PartId> = project.routings[0].parts.iter().map(|part| part.id).take(1).collect();
    let bar = Bar { project, gauges };
    let viscosity = Parameter::Liquid(LiquidQuantity::Viscosity);
    let planned = with_faults(&bar.project, &bar.gauges, |solver| solver.planned(viscosity).unwrap());
    let mut told = Vec::new();
    for times in [0.5, 2.0, 3.0] {
        let found = bar.explained(&[Fault::Number(viscosity, times * planned)], false);
        let of =
            |kind| found.in_order().into_iter().find(|one| one.1.cause.kind == kind && one.1.and.is_none());
        let kind = if times > 1.0 { CauseKind::LiquidThicker } else { CauseKind::LiquidThinner };
        told.extend(of(kind).map(|one| one.1.why.clone()));
    }
    assert!(
        told.iter().any(|why| why.contains("the same way: where flow is between laminar and turbulent")),
        "{told:?}"
    );
}
