//! Invented catch tests of the embedded bar: flows of the engine for a bar with a fault, with the scatter of a jug.
//!
//! They show what the window says; whether it is true of a bar in a yard they can't show.

#![allow(dead_code, reason = "shared by several test files; each uses its own part of it")]

use equirow::files;
use equirow::hydraulics::{KeptSolver, Outcome};
use equirow::plan::{
    Catch, CaughtAmount, Edit, Entry, EntryKey, GaugeReading, Item, Key as _, Project, RoutingGeometry,
    StockItem, StockKey,
};
use equirow::quantities::Volume;
use equirow::session::Session;

/// What is wrong with the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Story {
    /// Nothing.
    Sound,
    /// The metering of row 17 passes 62 % of what it should.
    BlockedOrifice,
    /// The hose to the outer right manifold has half its bore.
    CrushedMain,
    /// The liquid is three times as thick as its table says.
    ThickLiquid,
}

/// Seconds of a catch.
pub(crate) const SECONDS: f64 = 60.0;

/// The embedded bar, its even routing in hand, with a catch test of it.
pub(crate) fn session(story: Story) -> Session {
    let mut session = empty_test();
    let (flows, outcome) = truth(&session, story);
    let mut noise = Noise(7);
    let gauges: Vec<GaugeReading> = session
        .routing()
        .parts
        .iter()
        .filter(|part| part.tag.starts_with('G'))
        .filter_map(|part| {
            let pressure = outcome.part(part.id)?.pressure?;
            Some(GaugeReading { part: part.id, pressure: pressure * (1.0 + 0.004 * noise.next()), sd: None })
        })
        .collect();
    let rows: Vec<_> = session.project().bar.rows.iter().map(|row| row.id).collect();
    let catches = rows.into_iter().zip(flows).map(|(row, flow)| {
        let millilitres = (flow * SECONDS * 1e6 * (1.0 + 0.01 * noise.next())).round();
        let amount = CaughtAmount::Volume(Volume::from_si(millilitres * 1e-6));
        Catch { row, amount, span: None, spoiled: None }
    });
    let catches: Vec<Catch> = catches.collect();
    let done = session.change_catch_test("Fill in", |test| {
        test.catches = catches;
        test.gauges = gauges;
    });
    done.unwrap();
    session
}

/// The same with nothing caught yet.
pub(crate) fn empty_test() -> Session {
    let mut session = Session::new(files::demo(), None);
    let even = session.project().routings[1].id;
    session.show_routing(even);
    session.add_catch_test().unwrap();
    let done = session.change_catch_test("Fill in", |test| {
        test.span = equirow::plan::CatchSpan::Seconds(SECONDS);
        "2026-03-14".clone_into(&mut test.date);
        "A. Fitter".clone_into(&mut test.by);
        test.temperature = Some(equirow::quantities::Temperature::from_si(15.0));
    });
    done.unwrap();
    session
}

pub(crate) fn project(story: Story) -> Project {
    session(story).project().clone()
}

/// Flows of the rows in the bar's order, and what else the engine finds.
fn truth(session: &Session, story: Story) -> (Vec<f64>, Outcome) {
    let mut other = Session::new(session.project().clone(), None);
    other.show_routing(session.routing().id);
    match story {
        Story::Sound | Story::BlockedOrifice => {}
        Story::CrushedMain => {
            let run = other.routing().runs.last().unwrap().clone();
            let stock = other.project().catalogue.entry(run.line.stock.any()).unwrap().clone();
            let Item::Stock(StockItem::Hose(mut hose)) = stock.item else { panic!("a main is a hose") };
            hose.bore = hose.bore * 0.5;
            let key = EntryKey::new("crushed");
            let crushed = Entry { key: key.clone(), item: Item::Stock(StockItem::Hose(hose)), ..stock };
            let mut changed = run;
            changed.line.stock = StockKey::of_entry(key);
            let routing = other.routing().id;
            other.edit("Crush", [Edit::PutEntry(crushed), Edit::PutRun(routing, changed)]).unwrap();
        }
        Story::ThickLiquid => other
            .change_duty("Thicken", |duty| {
                for point in &mut duty.liquid.points {
                    point.viscosity = point.viscosity * 3.0;
                }
            })
            .unwrap(),
    }
    let project = other.project();
    let routing = other.routing();
    let geometry = RoutingGeometry::working(project, routing);
    let outcome = KeptSolver::default().prepare(project, geometry.with(routing)).solve(session.point());
    let mut flows: Vec<f64> = outcome.rows().iter().map(|row| row.flow.si()).collect();
    if story == Story::BlockedOrifice {
        let missing = flows[16] * 0.38;
        flows[16] -= missing;
        // A controller keeps its total: the others take what this one does not.
        let others = (flows.len() - 1) as f64;
        for flow in flows.iter_mut().enumerate().filter(|(at, _)| *at != 16).map(|(_, flow)| flow) {
            *flow += missing / others;
        }
    }
    (flows, outcome)
}

/// About normal, the same in every run.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let uniform = |state: &mut u64| {
            *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (*state >> 33) as f64 / f64::from(1u32 << 31)
        };
        (0..12).map(|_| uniform(&mut self.0)).sum::<f64>() - 6.0
    }
}
