//! Tolerance: derivatives against closed forms and each other, built bars against edited ones, and the two ways against
//! each other.

use std::num::NonZeroUsize;
use std::path::Path;
use std::sync::atomic::{AtomicU32, Ordering};

use equirow::files;
use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use equirow::hydraulics::prepared::KeptSolver;
use equirow::hydraulics::resistance::VariedQuantity;
use equirow::hydraulics::solver::Solver;
use equirow::hydraulics::solver::response::EquationChange;
use equirow::hydraulics::variation::{LiquidQuantity, Parameter, SupplyQuantity};
use equirow::plan::{
    Control, Edit, Project, Routing, RoutingGeometry, RoutingId, Shape, Spread, SpreadKind, Spreads, edit,
};
use equirow::quantities::{Flow, Pressure, Ratio};
use equirow::studies::tolerance::{
    BuiltBars, MOST_SAMPLES, ToleranceOptions, ToleranceStudy, built_at_speed, first_order, report, study,
};
use equirow::studies::{NoAnswer, Studied, Study, StudyOptions, Unwatched, Waiting, answer};
use petgraph::graph::{DiGraph, EdgeIndex};

fn example(name: &str) -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    files::open(&folder.join(name)).unwrap()
}

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn studied(
    project: &Project,
    routing: &Routing,
    options: ToleranceOptions,
) -> Result<ToleranceStudy, NoAnswer> {
    let geometry = RoutingGeometry::working(project, routing);
    let of =
        Studied { project, routing: geometry.with(routing), point: project.duties.first().usual_point() };
    study(&of, &options, &Unwatched)
}

/// Bars at the usual speed alone.
fn built(project: &Project, samples: u32) -> BuiltBars {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let of =
        Studied { project, routing: geometry.with(routing), point: project.duties.first().usual_point() };
    built_at_speed(&of, &bars(samples), &Unwatched).unwrap()
}

fn bars(samples: u32) -> ToleranceOptions {
    ToleranceOptions { samples, ..ToleranceOptions::default() }
}

/// No spread but these.
fn only(project: &mut Project, kinds: &[(SpreadKind, f64)]) {
    for kind in SpreadKind::ALL {
        let usual = kind.entry().usual;
        let sd = kinds.iter().find(|one| one.0 == kind).map_or(0.0, |one| one.1);
        kind.entry().set(&mut project.spreads, Spread { sd, ..usual });
    }
}

/// `q = Cd A √(2 Δp/ρ)`: `dq/dd = 2 q/d`, `dq/dCd = q/Cd`, `dq/dΔp = q/(2 Δp)`. Two orifices of their own behind one held
/// pressure: neither feels the other.
#[test]
fn derivatives_of_an_orifice_are_those_of_its_closed_form() {
    let (pressure, density) = (150_000.0, 1280.0);
    let mut graph = DiGraph::new();
    let mut node = |name: &str, pressure| {
        let boundary = Boundary::Pressure(pressure);
        graph.add_node(Node { name: name.into(), elevation_m: 0.0, boundary })
    };
    let (from, one, other) = (node("from", pressure), node("one", 0.0), node("other", 0.0));
    let sizes = [(0.001, 0.62), (0.0015, 0.7)];
    for ((diameter_m, cd), to) in sizes.into_iter().zip([one, other]) {
        let kind = LinkKind::Orifice { diameter_m, cd, creeping_thickness_m: None };
        graph.add_edge(from, to, Link { name: format!("{diameter_m}"), kind, closed: false });
    }
    let fluid = Fluid { density_kg_m3: density, viscosity_pa_s: 0.003 };
    let network = Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() };
    let mut solver = Solver::new(&network).unwrap();
    solver.solve(&network).unwrap();
    let mut linear = solver.linearised();
    for (place, (diameter, cd)) in sizes.into_iter().enumerate() {
        let flow = cd * std::f64::consts::FRAC_PI_4 * diameter * diameter * (2.0 * pressure / density).sqrt();
        let links = [EdgeIndex::new(0), EdgeIndex::new(1)];
        let mut by_loss = |loss: f64| {
            let change =
                EquationChange { losses: vec![(EdgeIndex::new(place), loss)], ..EquationChange::default() };
            linear.link_flows(&change, &links)
        };
        // Of the loss at a flow that stays: `Δp` goes with d⁻⁴ and Cd⁻².
        for (loss, wanted) in
            [(-4.0 * pressure / diameter, 2.0 * flow / diameter), (-2.0 * pressure / cd, flow / cd)]
        {
            let found = by_loss(loss);
            assert!((found[place] / wanted - 1.0).abs() < 1e-9, "{found:?} against {wanted}");
            assert_eq!(found[1 - place], 0.0);
        }
        let change = EquationChange { held: Some((from, 1.0)), ..EquationChange::default() };
        let found = linear.link_flows(&change, &links)[place];
        assert!((found / (flow / (2.0 * pressure)) - 1.0).abs() < 1e-9, "{found}");
    }
}

/// The quick derivatives are those that `variation.rs` proves by full solves, for every kind of number.
#[test]
fn derivatives_of_rows_alone_are_those_of_all() {
    for name in EXAMPLES {
        let project = example(name);
        let point = project.duties.first().usual_point();
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let mut kept = KeptSolver::default();
            let mut prepared = kept.prepare(&project, geometry.with(routing));
            let mut few: Vec<Parameter> = prepared.parameters().into_iter().step_by(17).collect();
            few.extend([LiquidQuantity::Density, LiquidQuantity::Viscosity].map(Parameter::Liquid));
            few.push(Parameter::Supply(SupplyQuantity::MeteredFlow));
            let all = prepared.derivatives(&point, &few).unwrap();
            let (_, quick) = prepared.row_sensitivities(&point, &few).unwrap();
            assert_eq!(all.len(), few.len());
            for (one, rows) in all.iter().zip(&quick.by_number) {
                for (row, quick) in project.bar.rows.iter().zip(rows.as_ref().unwrap()) {
                    assert_eq!(one.row(row.id).unwrap().rising(), *quick, "{name}: {:?}", one.parameter);
                }
            }
        }
    }
}

/// A bar built of given parts flows as the plan whose numbers are those, whatever was solved before.
#[test]
fn a_built_bar_flows_as_one_with_these_numbers() {
    for name in EXAMPLES {
        let project = example(name);
        let point = project.duties.first().usual_point();
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(&project, geometry.with(routing));
        let given: Vec<Parameter> = prepared
            .parameters()
            .into_iter()
            .filter(|one| {
                matches!(
                    one.quantity(),
                    Some(VariedQuantity::Bore | VariedQuantity::Length | VariedQuantity::CrackingPressure)
                )
            })
            .step_by(3)
            .collect();
        let planned: Vec<f64> = given.iter().map(|one| prepared.value(*one, &point).unwrap()).collect();
        let (outcome, mut solver) = prepared.row_solver(&point, &given).unwrap();
        let liquid = solver.planned_liquid();
        let mut flows = Vec::new();
        solver.solve(liquid, &planned, &mut flows).unwrap();
        near(&flows, &outcome.rows().iter().map(|row| row.flow).collect::<Vec<Flow>>(), name);
        let other = |bar: usize| -> Vec<f64> {
            let off = |place: usize| 1.0 + 0.04 * ((bar * 7 + place * 13) % 11) as f64 / 11.0;
            planned.iter().enumerate().map(|(place, value)| value * off(place)).collect()
        };
        let thick = Fluid { viscosity_pa_s: liquid.viscosity_pa_s * 1.3, ..liquid };
        solver.solve(thick, &other(1), &mut flows).unwrap();
        let first = flows.clone();
        for (parameter, value) in given.iter().zip(other(1)) {
            prepared.set(*parameter, value).unwrap();
        }
        prepared.set(Parameter::Liquid(LiquidQuantity::Viscosity), thick.viscosity_pa_s).unwrap();
        let wanted: Vec<Flow> = prepared.solve(&point).rows().iter().map(|row| row.flow).collect();
        near(&flows, &wanted, name);
        solver.solve(liquid, &other(2), &mut flows).unwrap();
        assert!(flows != first);
        solver.solve(thick, &other(1), &mut flows).unwrap();
        assert_eq!(flows, first, "{name}: the same bits after another bar");
    }
}

#[track_caller]
fn near(found: &[Flow], wanted: &[Flow], what: &str) {
    assert_eq!(found.len(), wanted.len());
    for (one, other) in found.iter().zip(wanted) {
        assert!((one.si() - other.si()).abs() <= 1e-8 * other.si().abs(), "{what}: {one:?} {other:?}");
    }
}

/// Root mean square CV and the rows' standard deviations, within 3 %; a row's own within what so many bars tell besides
/// (a standard deviation of `n` normal values is known within 1/√(2 n)).
#[test]
fn derivatives_and_built_bars_agree_within_three_percent() {
    // What the CV scatters by is rougher where few causes are common to many rows: two kinds of metering on the trial bar.
    for (name, samples, rough) in [
        ("six-metre-trial-bar.ron", 3000, 0.25),
        ("twelve-metre-bar.ron", 1500, 0.08),
        ("twenty-four-metre-bar.ron", 1000, 0.08),
    ] {
        let project = example(name);
        let found = built(&project, samples);
        assert_eq!((found.unsolved, found.dry, found.within.of), (0, 0, samples), "{name}");
        assert!(found.ways_apart().si().abs() < 0.03, "{name}: {:?}", found.ways_apart());
        let noise = 4.0 / (2.0 * f64::from(samples)).sqrt();
        let mut mean = 0.0;
        for row in &found.rows {
            let apart = row.sd.si() / row.first_order_sd.si() - 1.0;
            assert!(apart.abs() < 0.03 + noise, "{name}, row {}: {apart}", row.number);
            mean += apart / found.rows.len() as f64;
        }
        assert!(mean.abs() < 0.03, "{name}: {mean}");
        // What the CV of one bar scatters by.
        let (cv, wanted) = (&found.cv, found.first_order.cv_sd().si());
        let sd = (cv.rms.si().powi(2) - cv.mean.si().powi(2)).sqrt();
        assert!((sd / wanted - 1.0).abs() < rough, "{name}: {sd} against {wanted}");
    }
}

/// `CV² = CV_hyd² + CV_part²` (common practice of independent causes): on a bar whose rows differ by design, and of one cause
/// after the other.
#[test]
fn squares_of_coefficients_of_variation_add_up() {
    let mut project = example("twelve-metre-bar.ron");
    let routing = project.routings[0].clone();
    let causes = [(SpreadKind::OrificeBore, 0.01), (SpreadKind::CrackingPressure, 0.1)];
    let mut squares = Vec::new();
    for kinds in [&causes[..], &causes[..1], &causes[1..]] {
        only(&mut project, kinds);
        let found = built(&project, 800);
        let planned = found.first_order.planned_cv.si().powi(2);
        let built = found.cv.rms.si().powi(2);
        let parts = found.first_order.parts_cv().si().powi(2);
        assert!((built / (planned + parts) - 1.0).abs() < 0.06, "{built} {planned} {parts}");
        squares.push(built - planned);
        if kinds.len() == 2 {
            // What it would be without one, at the speed where it is worst.
            for cause in &studied(&project, &routing, bars(500)).unwrap().causes {
                let (first, left) = (cause.first_order_share.si(), cause.share.unwrap().si());
                assert!((first - left).abs() < 0.05, "{cause:?}");
            }
        }
    }
    assert!((squares[0] / (squares[1] + squares[2]) - 1.0).abs() < 0.06, "{squares:?}");
}

#[test]
fn what_is_common_to_all_changes_no_evenness() {
    let mut project = example("twelve-metre-bar.ron");
    let routing = project.routings[0].clone();
    let geometry = RoutingGeometry::working(&project, &routing);
    let point = project.duties.first().usual_point();
    let parts =
        |project: &Project| first_order(project, geometry.with(&routing), &point).unwrap().parts_cv().si();
    only(&mut project, &[(SpreadKind::OrificeBore, 0.01)]);
    // The bore of an orifice counts twice.
    let each = parts(&project);
    assert!((0.012..0.021).contains(&each), "{each}");
    project.spreads.orifice_bore.common = true;
    let common = parts(&project);
    assert!(common < 0.2 * each, "{common} {each}");
}

#[test]
fn any_number_of_threads_gives_the_same_bars_and_a_seed_others() {
    let project = example("six-metre-trial-bar.ron");
    let routing = &project.routings[0];
    let with = |threads: usize, seed: u64| {
        let options = ToleranceOptions { samples: 150, seed, threads: NonZeroUsize::new(threads) };
        let found = studied(&project, routing, options).unwrap();
        ToleranceStudy { options: bars(150), ..found }
    };
    let one = with(1, 7);
    for threads in [2, 3, 8] {
        assert_eq!(with(threads, 7), one, "{threads} threads");
    }
    assert_ne!(with(1, 8).asked.cv, one.asked.cv);
}

#[test]
fn a_held_supply_lets_all_rows_scatter_with_what_is_common() {
    let mut project = example("twelve-metre-bar.ron");
    project.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
    only(&mut project, &[(SpreadKind::OrificeCoefficient, 0.02)]);
    let found = built(&project, 400);
    // Flow goes with Cd where the pressure is held, less behind hoses, tubes and valves.
    for row in &found.rows {
        let part = row.first_order_sd.si() / (1.0 + row.planned.si()) / 0.02;
        assert!((0.5..1.0).contains(&part), "{row:?}");
        assert!((row.sd.si() / row.first_order_sd.si() - 1.0).abs() < 0.15, "{row:?}");
    }
}

struct StopsAt(u32, AtomicU32);

impl Waiting for StopsAt {
    fn so_far(&self, _part: f32) {
        self.1.fetch_add(1, Ordering::Relaxed);
    }

    fn has_stopped(&self) -> bool {
        self.1.load(Ordering::Relaxed) >= self.0
    }
}

#[test]
fn what_cannot_be_answered_is_said() {
    let project = example("six-metre-trial-bar.ron");
    let routing = &project.routings[0];
    for samples in [0, MOST_SAMPLES + 1] {
        let why = studied(&project, routing, bars(samples)).unwrap_err().to_string();
        assert!(why.contains(&samples.to_string()) && why.contains("1000000"), "{why}");
    }
    let why = studied(&project, &Routing::empty(RoutingId(9), "B"), bars(10)).unwrap_err().to_string();
    assert!(why.contains("routing B"), "{why}");
    let geometry = RoutingGeometry::working(&project, routing);
    let of = Studied {
        project: &project,
        routing: geometry.with(routing),
        point: project.duties.first().usual_point(),
    };
    let stopped = study(&of, &bars(5000), &StopsAt(3, AtomicU32::new(0)));
    assert_eq!(stopped, Err(NoAnswer::Stopped));
}

/// A spread of 100 % would make parts that no one builds in.
#[test]
fn a_spread_out_of_range_is_refused_with_what_is_taken() {
    let mut project = example("six-metre-trial-bar.ron");
    let before = project.clone();
    let spread = Spread { sd: 1.0, shape: Shape::Normal, common: false };
    let spreads = Spreads { orifice_bore: spread, ..Spreads::default() };
    let why = edit::apply(&mut project, Edit::SetSpreads(Box::new(spreads))).unwrap_err().to_string();
    assert!(why.contains("Bore of orifices") && why.contains("0.2 (20 %)"), "{why}");
    let one = Spread { common: false, ..Spreads::default().temperature };
    let spreads = Spreads { temperature: one, ..Spreads::default() };
    let why = edit::apply(&mut project, Edit::SetSpreads(Box::new(spreads))).unwrap_err().to_string();
    assert!(why.contains("there is one liquid"), "{why}");
    assert_eq!(project, before);
    let most = Spread { sd: 0.2, ..spread };
    let spreads = Spreads { orifice_bore: most, ..Spreads::default() };
    edit::apply(&mut project, Edit::SetSpreads(Box::new(spreads))).unwrap();
    let found = built(&project, 40);
    assert!(found.within.of + found.unsolved == 40 && found.within.count == 0);
}

/// Check valves scatter most where they get least: each speed is judged by the same bars, and the worst one decides and is
/// named.
#[test]
fn every_speed_is_judged_and_the_worst_decides() {
    let mut project = example("nine-metre-bar.ron");
    let routing = project.routings[0].clone();
    let duty = project.duties.first().clone();
    let found = studied(&project, &routing, bars(64)).unwrap();
    let speeds: Vec<_> = found.at_speeds().iter().map(|bars| bars.speed).collect();
    assert_eq!(speeds, duty.speeds());
    assert_eq!(found.asked.speed, duty.usual);
    assert_eq!(found.asked, built(&project, 64));
    let shares: Vec<Ratio> = found.at_speeds().iter().map(|bars| bars.within.share()).collect();
    assert_eq!(found.worst().speed, duty.slowest);
    assert!(shares[0] < shares[1] && shares[0] < shares[2], "{shares:?}");
    // What is asked lies between: good at the usual speed, and no at the slowest.
    project.limits.bars_within = shares[1];
    assert!(!found.is_good(&project.limits));
    let geometry = RoutingGeometry::working(&project, &routing);
    let of = Studied { project: &project, routing: geometry.with(&routing), point: duty.usual_point() };
    let said = report(&found, &of);
    assert!(said.answer[0].contains(" at 7 km/h: only "), "{:?}", said.answer);
    assert_eq!(said.tables[0].rows.len(), 3);
    assert_eq!(said.tables[2].rows.len(), 3 * project.bar.rows.len());
    project.limits.bars_within = shares[0];
    assert!(found.is_good(&project.limits));
}

/// A few bars leave the chance open: the sentence says between what, and that they are few.
#[test]
fn few_bars_are_said_to_be_few() {
    let mut project = example("nine-metre-bar.ron");
    let routing = project.routings[0].clone();
    let geometry = RoutingGeometry::working(&project, &routing);
    let verdict = |project: &Project, samples: u32| {
        let point = project.duties.first().usual_point();
        let of = Studied { project, routing: geometry.with(&routing), point };
        report(&study(&of, &bars(samples), &Unwatched).unwrap(), &of).answer.remove(0)
    };
    // As far as the worst row of about half of the bars.
    project.limits.row_deviation = Ratio::percent(3.2);
    project.limits.bars_within = Ratio::from_si(0.6);
    let few = verdict(&project, 8);
    assert!(few.starts_with("Too few bars to tell: at 7 km/h ") && few.contains(" of 8 bars"), "{few}");
    project.limits.bars_within = Ratio::from_si(0.99);
    let few = verdict(&project, 32);
    assert!(few.contains("with 95 % confidence, as 32 bars tell no more"), "{few}");
    // So many that the chance is known within ten points.
    let many = verdict(&project, 448);
    assert!(many.contains("with 95 % confidence;"), "{many}");
}

/// What is said of some rows does not hold for the bar: no study says anything good before it names the rows that get nothing.
#[test]
fn rows_without_liquid_come_before_anything_good() {
    let mut project = example("twenty-four-metre-bar.ron");
    let taken = project.routings[0].feeds.remove(6);
    let row = project.bar.row(taken.branches[0].row).unwrap().number;
    let routing = project.routings[0].clone();
    let geometry = RoutingGeometry::working(&project, &routing);
    let point = project.duties.first().usual_point();
    let of = Studied { project: &project, routing: geometry.with(&routing), point };
    let options = StudyOptions { bars: Some(8), ..StudyOptions::default() };
    let named =
        format!("Feed all rows first, what follows is of the others alone: row {row} is not connected");
    for asked in [Study::Tolerance, Study::Conditions, Study::Equalise, Study::Prime] {
        let said = answer(asked, &of, &options, &Unwatched).unwrap().answer;
        assert!(said[0].starts_with(&named), "{asked:?}: {said:?}");
        assert!(!said.iter().any(|line| line.starts_with("Build it")), "{asked:?}: {said:?}");
    }
    let found = studied(&project, &routing, bars(8)).unwrap();
    project.limits.bars_within = Ratio::ZERO;
    assert!(!found.is_good(&project.limits), "a bar with a row that gets nothing keeps no limits");
}

/// Fewer bars within limits than asked for is a no.
#[test]
fn the_share_that_is_asked_for_decides() {
    let mut project = example("six-metre-trial-bar.ron");
    only(&mut project, &[(SpreadKind::OrificeBore, 0.01), (SpreadKind::MeteringBore, 0.01)]);
    let found = studied(&project, &project.routings[0], bars(60)).unwrap();
    let share = found.worst().within.share();
    project.limits.bars_within = Ratio::from_si(share.si());
    assert!(found.is_good(&project.limits));
    project.limits.bars_within = Ratio::from_si(share.si() + 1e-9);
    assert!(!found.is_good(&project.limits));
}

/// A file of a project whose spreads nobody changed has no word of them.
#[test]
fn usual_spreads_are_not_written() {
    let mut project = example("six-metre-trial-bar.ron");
    assert!(!files::write_text(&project).unwrap().contains("spreads"));
    project.spreads.tube_bore.sd = 0.03;
    let text = files::write_text(&project).unwrap();
    assert!(text.contains("spreads: (tube_bore: (sd: 0.03, shape: Normal, common: false))"), "{text}");
}
