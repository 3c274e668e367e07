use super::*;
use crate::checks::Severity;
use crate::files;
use crate::plan::Manifold;
use crate::session::Scope;
use crate::session::row_sharing::Share;

const ALL: [MainHoses; 3] = [MainHoses::FromTees, MainHoses::InChain, MainHoses::OneAWing];

/// The demo without hoses and tees: filter, manifolds, tubes.
fn without_hoses() -> Session {
    let mut session = Session::new(files::demo(), None);
    let routing = session.routing().clone();
    let tees: Vec<PartId> =
        routing.parts.iter().map(|part| part.id).filter(|id| session.is_tee(*id)).collect();
    let runs = routing.runs.iter().map(|run| Edit::RemoveRun(routing.id, run.id));
    let edits: Vec<Edit> = runs.chain(tees.iter().map(|tee| Edit::RemovePart(routing.id, *tee))).collect();
    session.edit("Bare", edits).unwrap();
    session
}

fn tees(session: &Session) -> usize {
    session.routing().parts.iter().filter(|part| session.is_tee(part.id)).count()
}

fn fed(session: &Session) -> usize {
    session.outcome().rows().iter().filter(|row| row.flow.si() > 0.0).count()
}

#[test]
fn every_manifold_is_fed_in_one_step_by_each_way() {
    for (how, expected) in ALL.into_iter().zip([4, 0, 2]) {
        let mut session = without_hoses();
        let before = session.project().clone();
        let manifolds = session.manifolds_meant().len();
        assert_eq!(manifolds, 5);
        session.lay_main_hoses(how).unwrap();
        assert_eq!(fed(&session), 40, "{how:?}");
        // Five mains are told apart by four tees, three by two, one by none.
        assert_eq!(tees(&session), expected, "{how:?}");
        assert_eq!(session.routing().runs.len(), 1 + manifolds + tees(&session), "{how:?}");
        let errors: Vec<String> = session
            .findings()
            .iter()
            .filter(|one| one.severity == Severity::Error)
            .map(ToString::to_string)
            .collect();
        assert_eq!(errors, Vec::<String>::new(), "{how:?}");
        session.undo();
        assert_eq!(*session.project(), before, "one step");
    }
}

/// By hand: the narrowest hose of the catalogue in which the flow at the fastest speed stays below 1.5 m/s, where the rows
/// are even with that.
#[test]
fn hoses_are_as_wide_as_their_flow_needs() {
    for how in ALL {
        let mut session = without_hoses();
        let limits = crate::plan::Limits {
            cv_good: crate::quantities::Ratio::percent(40.0),
            ..session.project().limits
        };
        session.edit("Anything goes", [Edit::SetLimits(limits)]).unwrap();
        session.lay_main_hoses(how).unwrap();
        session.look_at_speed(session.duty().fastest);
        let catalogue = &session.project().catalogue;
        let mut bores: Vec<f64> = catalogue
            .of::<StockKey>()
            .filter_map(|(_, item)| match item {
                StockItem::Hose(hose) => Some(hose.bore.si()),
                _ => None,
            })
            .collect();
        bores.sort_by(f64::total_cmp);
        for run in &session.routing().runs {
            let flow = session.outcome().run(run.id).unwrap().flow.unwrap().si().abs();
            let bore = catalogue.stock(&run.line.stock).unwrap().bore.si();
            let velocity = |bore: f64| flow / (PI / 4.0 * bore * bore);
            assert!(velocity(bore) <= 1.5 * 1.02, "{how:?} {}: {}", run.tag, velocity(bore));
            // Rows that get a little more than asked for are not what the bore was chosen by.
            let narrower = bores.iter().rev().find(|one| **one < bore);
            assert!(narrower.is_none_or(|one| velocity(*one) > 1.5 * 0.98), "{how:?} {}", run.tag);
        }
    }
}

/// A liquid of 150 mPa·s, seven times as thick as any starter: with bores by velocity alone the rows at the ends of the
/// bar get far less than those in the middle.
#[test]
fn mains_of_a_thick_liquid_are_as_wide_as_evenness_needs() {
    for how in ALL {
        let laid = |good: f64, rows_first: bool| {
            let mut session = without_hoses();
            if !rows_first {
                let routing = session.routing().clone();
                let feeds = routing.feeds.iter().map(|feed| Edit::RemoveFeed(routing.id, feed.id));
                session.edit("No rows yet", feeds.collect::<Vec<_>>()).unwrap();
            }
            let mut duty = session.duty().clone();
            for point in &mut duty.liquid.points {
                point.viscosity = crate::quantities::Viscosity::from_si(0.15);
            }
            let limits = crate::plan::Limits {
                cv_good: crate::quantities::Ratio::percent(good),
                ..session.project().limits
            };
            session.edit("Thick", [Edit::PutDuty(Box::new(duty)), Edit::SetLimits(limits)]).unwrap();
            session.lay_main_hoses(how).unwrap();
            if !rows_first {
                assert!(session.routing().feeds.is_empty(), "the rows are left to whoever draws");
                session.share_rows(&Scope::Bar, Share::Nearest).unwrap();
            }
            assert_eq!(fed(&session), 40);
            let cv = session.range().outcomes.iter().map(|one| one.evenness().unwrap().cv.si());
            cv.fold(0.0, f64::max)
        };
        for rows_first in [true, false] {
            let (by_velocity, by_evenness) = (laid(99.0, rows_first), laid(3.0, rows_first));
            assert!(
                by_evenness < 0.7 * by_velocity,
                "{how:?}, rows first {rows_first}: {by_velocity} to {by_evenness}"
            );
        }
    }
}

#[test]
fn a_main_crosses_the_hinges_between_its_ends_with_an_allowance_each() {
    let mut session = without_hoses();
    session.lay_main_hoses(MainHoses::FromTees).unwrap();
    let bar = session.project().bar.clone();
    let mut crossing = 0;
    for run in &session.routing().runs {
        let (Some(from), Some(to)) =
            (session.routing().carrier(&run.from), session.routing().carrier(&run.to))
        else {
            continue;
        };
        let between: BTreeSet<_> = bar.hinges_between(from, to).into_iter().collect();
        let crossed: BTreeSet<_> = run.line.crossings.iter().map(|one| one.section).collect();
        assert_eq!(crossed, between, "{}", run.tag);
        crossing += usize::from(!between.is_empty());
    }
    assert_eq!(crossing, 4, "all but the one on the centre");
}

#[test]
fn one_way_takes_the_place_of_another_and_what_it_replaces_is_said() {
    let mut session = without_hoses();
    session.lay_main_hoses(MainHoses::FromTees).unwrap();
    let said = session.lay_main_hoses(MainHoses::InChain).unwrap();
    let said = said.unwrap().to_string();
    assert!(said.ends_with("; 9 hoses and 4 tees replaced, undo brings them back"), "{said}");
    // Which hose is how wide, the widest first.
    assert!(said.starts_with("Laid: 25 mm H") || said.starts_with("Laid: 19 mm H"), "{said}");
    assert_eq!((tees(&session), fed(&session)), (0, 40));
    assert_eq!(session.routing().runs.len(), 6, "the supply hose stays");
}

/// A filter behind the foremost member, in line with the pump in front of it: straight on the supply hose would go through the
/// member.
#[test]
fn the_supply_hose_is_led_round_members_and_parts() {
    let mut session = without_hoses();
    let routing = session.routing().clone();
    let at = |tag: &str, y: f64| {
        let part = routing.parts.iter().find(|part| part.tag == tag).unwrap().clone();
        Edit::PutPart(routing.id, Part { position: Point3 { x: 0.0, y, z: 1.0 }, ..part })
    };
    session.edit("In line", [at("F1", -0.15), at("M3", 0.55)]).unwrap();
    session.lay_main_hoses(MainHoses::FromTees).unwrap();
    let supply = session.routing().runs.iter().find(|run| run.from == End::Supply).unwrap();
    let path = session.geometry().run(supply.id).unwrap().places();
    let members = session.project().bar.sections.iter().flat_map(|section| &section.members);
    let through =
        |line: &[Point3]| members.clone().any(|one| crate::plan::through_frame::passes_through(one, line));
    assert!(through(&[path[0], *path.last().unwrap()]), "straight on there is a member");
    assert!(!through(&path), "{path:?}");
    let of_it = |one: &&crate::checks::Finding| {
        one.subjects.contains(&crate::checks::FindingSubject::Run(supply.id))
            && ["drawn through", "too tight"].iter().any(|words| one.what.contains(words))
    };
    assert_eq!(session.findings().iter().filter(of_it).count(), 0);
}

#[test]
fn other_parts_in_the_mains_are_never_taken_out() {
    let mut session = Session::new(files::demo(), None);
    session.lay_main_hoses(MainHoses::OneAWing).unwrap();
    let run = session
        .routing()
        .runs
        .iter()
        .find(|run| {
            run.to.port().is_some_and(|port| session.is_manifold(port.part)) && !run.line.waypoints.is_empty()
        })
        .unwrap()
        .id;
    let path = session.geometry().run(run).unwrap().places();
    let longest = path.windows(2).max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1]))).unwrap();
    let at = longest[0].towards(longest[1], 0.5).flat();
    let valve = session.project().catalogue.first(|item| matches!(item, PartItem::SectionValve(_))).unwrap();
    session.place(&valve, at, 0.2).unwrap();
    let before = session.project().clone();
    let refused = session.lay_main_hoses(MainHoses::InChain).unwrap_err().to_string();
    assert!(refused.starts_with("V1 "), "{refused}");
    assert_eq!(*session.project(), before);
}

#[test]
fn a_bar_of_manifolds_alone_is_fed_from_the_pump_and_one_without_is_refused() {
    let mut session = without_hoses();
    let routing = session.routing().id;
    let filter = session.routing().parts.iter().find(|part| part.tag == "F1").unwrap().id;
    session.edit("Bare", [Edit::RemovePart(routing, filter)]).unwrap();
    session.lay_main_hoses(MainHoses::InChain).unwrap();
    assert_eq!(session.routing().runs[0].from, End::Supply);
    assert_eq!(fed(&session), 40);
    session.add_routing(false).unwrap();
    let refused = session.lay_main_hoses(MainHoses::InChain).unwrap_err().to_string();
    assert!(refused.contains("no manifold"), "{refused}");
}

/// A manifold whose inlet is at its end, on the left wing, is passed through from the right: no hose turns back.
#[test]
fn a_chain_passes_through_each_manifold_the_way_it_goes_on() {
    let mut session = without_hoses();
    let end: Option<PartKey> = session.project().catalogue.first(|item| {
        matches!(
            item,
            PartItem::Manifold(Manifold { outlets: 8.., inlet: crate::plan::ManifoldInlet::End, .. })
        )
    });
    let end = end.unwrap();
    let routing = session.routing().clone();
    let edits: Vec<Edit> = routing
        .parts
        .iter()
        .filter(|part| session.is_manifold(part.id))
        .map(|part| Edit::PutPart(routing.id, Part { entry: end.clone(), ..part.clone() }))
        .collect();
    session.edit("Inlets at ends", edits).unwrap();
    session.share_rows(&Scope::Bar, Share::Nearest).unwrap();
    session.lay_main_hoses(MainHoses::OneAWing).unwrap();
    let anchors = &session.geometry().anchors;
    for run in &session.routing().runs {
        let (Some(from), Some(to)) = (run.from.port(), run.to.port()) else { continue };
        if session.is_manifold(from.part) && session.is_manifold(to.part) {
            let middle = |port: PortRef| anchors.part(port.part).unwrap().at.x;
            let apart = (middle(from) - middle(to)).abs();
            let ends = (anchors.port(from).unwrap().place.x - anchors.port(to).unwrap().place.x).abs();
            assert!(ends < apart, "{} leaves towards the next manifold", run.tag);
        }
    }
}
