//! Catch tests of a bar whose metering is off as a whole: worn, crusted, or all of another size. The faulty bar is the plan
//! edited so and solved whole, and beside the engine stands the closed form of an orifice.

use equirow::hydraulics::faulty::Fault;
use equirow::hydraulics::resistance::VariedQuantity;
use equirow::hydraulics::solve;
use equirow::hydraulics::variation::{ElementId, Parameter};
use equirow::plan::{CauseKind, Control, ElementItem, Entry, EntryKey, FeedElement, Item, Project, Routing};
use equirow::quantities::Pressure;
use equirow::studies::catch_test::explain::{Candidate, CauseGroup, CauseSize, Explanation};

use super::studies_catch_causes::{Bar, metering, with_faults};

/// All orifices of the first routing, with their entries.
fn orifices(routing: &Routing) -> Vec<(ElementId, EntryKey)> {
    let of = |feed: usize| {
        let id = metering(routing, feed);
        (id, routing.feeds[feed].branches[0].elements[id.index()].entry().clone())
    };
    (0..routing.feeds.len()).map(of).collect()
}

fn bore(id: ElementId) -> Parameter {
    Parameter::Element(id, VariedQuantity::Bore)
}

fn all_times(project: &Project, times: f64) -> Vec<Fault> {
    orifices(&project.routings[0]).iter().map(|one| Fault::Times(bore(one.0), times)).collect()
}

/// The plan with every orifice's entry edited.
fn edited(project: &Project, times: f64) -> Project {
    let used: Vec<EntryKey> = orifices(&project.routings[0]).into_iter().map(|one| one.1).collect();
    let mut edited = project.clone();
    for entry in edited.catalogue.entries.iter_mut().filter(|entry| used.contains(&entry.key)) {
        let Item::Element(ElementItem::MeteringOrifice(orifice)) = &mut entry.item else {
            panic!("no orifice")
        };
        orifice.bore = orifice.bore * times;
    }
    edited
}

fn of_kind(group: &CauseGroup, kind: CauseKind) -> Option<&Candidate> {
    group.members.iter().find(|one| one.cause.kind == kind && one.and.is_none())
}

fn first(found: &Explanation) -> Vec<CauseKind> {
    found.groups[0].members.iter().map(|one| one.cause.kind).collect()
}

/// The fault is the plan edited so, and solved whole. What an orifice passes goes by `q ~ Cd d² sqrt(dp)` (the form of ISO
/// 5167-2, with a coefficient that stays and a bore far smaller than its tube), whatever the rest of the bar does.
#[test]
fn all_metering_alike_is_the_edited_plan_and_its_flows_go_by_the_closed_form() {
    let bar = Bar::new(24, 3);
    let metered = bar.project.clone();
    let mut held = bar.project.clone();
    held.supply.control = Control::Held { pressure: Pressure::bar(1.2) };
    for (project, is_held) in [(metered, false), (held, true)] {
        let point = project.duties.first().usual_point();
        let sound = solve(&project, &project.routings[0], &point);
        for times in [0.84, 1.1] {
            let worn = edited(&project, times);
            let then = solve(&worn, &worn.routings[0], &point);
            let shown = with_faults(&project, &bar.gauges, |solver| {
                solver.solve(&all_times(&project, times)).unwrap()
            });
            for (row, flow) in then.rows().iter().zip(&shown.rows) {
                assert!((flow / row.flow.si() - 1.0).abs() < 1e-7, "row {}", row.number);
            }
            let ids = orifices(&project.routings[0]);
            let mut most = 0.0_f64;
            for (id, _) in &ids {
                let of = |outcome: &equirow::hydraulics::Outcome| {
                    let is_it = |one: &&equirow::hydraulics::outcome::ElementOutcome| {
                        (one.feed, one.branch, one.index) == (id.feed(), id.branch(), id.index())
                    };
                    let one = outcome.elements().iter().find(is_it).copied().unwrap();
                    (one.flow.unwrap().si(), one.drop.unwrap().si())
                };
                let ((flow, drop), (flow_then, drop_then)) = (of(&sound), of(&then));
                let closed_form = times * times * (drop_then / drop).sqrt();
                assert!((flow_then / flow / closed_form - 1.0).abs() < 1e-4, "{id:?} {times} {is_held}");
                most = most.max((flow_then / flow - 1.0).abs());
            }
            // A controller keeps the rows, a held pressure shifts them all.
            assert!(if is_held { most > 0.05 } else { most < 0.01 }, "{most} {is_held}");
        }
    }
}

/// Worn and crusted show at a gauge alone where a controller meters the total, beside a gauge that is wrong; without a gauge
/// nobody can see it, and that is said. A blocked row beside a crusted set is told with it.
#[test]
fn a_worn_and_a_crusted_set_are_named_with_their_size() {
    let bar = Bar::new(24, 3);
    for (kind, share) in [(CauseKind::AllMeteringWorn, 0.2), (CauseKind::AllMeteringBlocked, 0.3)] {
        let area: f64 = if kind == CauseKind::AllMeteringWorn { 1.0 + share } else { 1.0 - share };
        let found = bar.explained(&all_times(&bar.project, area.sqrt()), true);
        let one = of_kind(&found.groups[0], kind).unwrap_or_else(|| panic!("{:?}", first(&found)));
        let size = one.cause.size.number().unwrap();
        assert!((size - share).abs() < 0.05, "{}: {size} of {share}", one.what);
        assert!(one.to_do.contains("whole set"), "{}", one.to_do);
        // Crusted, the gauge shows twice as much: more than a gauge that is wrong.
        let may_be_gauge = first(&found).contains(&CauseKind::GaugeWrong);
        assert_eq!(may_be_gauge, kind == CauseKind::AllMeteringWorn, "{:?}", first(&found));
    }
    let hidden = bar.explained(&all_times(&bar.project, 1.1), false);
    assert!(hidden.is_sound(), "{:?}", first(&hidden));
    assert!(
        hidden.cautions.iter().any(|one| one.contains("crusted") && one.contains("read ")),
        "{:?}",
        hidden.cautions
    );

    let mut both = all_times(&bar.project, 0.7_f64.sqrt());
    let id = metering(&bar.project.routings[0], 6);
    both.push(Fault::Times(bore(id), 0.5_f64.sqrt()));
    let row = bar.project.routings[0].feeds[6].branches[0].row;
    let found = bar.explained(&both, true);
    let is_both = |one: &Candidate| {
        let causes = [Some(&one.cause), one.and.as_ref()];
        let kinds: Vec<CauseKind> = causes.iter().flatten().map(|one| one.kind).collect();
        kinds.contains(&CauseKind::AllMeteringBlocked)
            && causes.iter().flatten().any(|one| one.kind == CauseKind::MeteringBlocked && one.rows == [row])
    };
    let members = &found.groups[0].members;
    assert!(members.iter().any(is_both), "{:?}", members.iter().map(|one| &one.what).collect::<Vec<_>>());
}

/// Somebody ordered the neighbouring size: the set of an entry is that of another one of the catalogue.
#[test]
fn a_set_of_the_neighbouring_size_is_named_by_its_entry() {
    let bar = Bar::new(24, 3);
    let all = orifices(&bar.project.routings[0]);
    let of = |key: &EntryKey| -> (f64, f64) {
        let Some(Item::Element(ElementItem::MeteringOrifice(one))) = bar.project.catalogue.any_item(key)
        else {
            panic!()
        };
        (one.bore.si(), one.cd)
    };
    let own = &all[0].1;
    assert!(all.iter().all(|one| one.1 == *own), "one size on the whole bar");
    let is_wider = |entry: &&Entry| {
        matches!(entry.item, Item::Element(ElementItem::MeteringOrifice(_))) && of(&entry.key).0 > of(own).0
    };
    let next = bar
        .project
        .catalogue
        .entries
        .iter()
        .filter(is_wider)
        .min_by(|a, b| of(&a.key).0.total_cmp(&of(&b.key).0))
        .unwrap();
    let (bore_then, cd) = of(&next.key);
    let faults: Vec<Fault> = all
        .iter()
        .flat_map(|(id, _)| {
            [
                Fault::Number(bore(*id), bore_then),
                Fault::Number(Parameter::Element(*id, VariedQuantity::DischargeCoefficient), cd),
            ]
        })
        .collect();
    // The plan edited so, solved whole.
    let mut other = bar.project.clone();
    for feed in &mut other.routings[0].feeds {
        for element in &mut feed.branches[0].elements {
            if let FeedElement::Piece(kind, key) = element
                && *kind == equirow::plan::ElementKind::MeteringOrifice
            {
                *key = equirow::plan::ElementKey::new(next.key.0.clone());
            }
        }
    }
    let then = solve(&other, &other.routings[0], &other.duties.first().usual_point());
    let shown = with_faults(&bar.project, &bar.gauges, |solver| solver.solve(&faults).unwrap());
    for (row, flow) in then.rows().iter().zip(&shown.rows) {
        assert!((flow / row.flow.si() - 1.0).abs() < 1e-7, "row {}", row.number);
    }
    let found = bar.explained(&faults, true);
    let one = of_kind(&found.groups[0], CauseKind::AllMeteringOtherSize);
    let one = one.unwrap_or_else(|| panic!("{:?}", first(&found)));
    assert_eq!(one.cause.size, CauseSize::Entry(next.key.clone()), "{}", one.what);
    assert_eq!(one.cause.rows.len(), 24);
    assert!(one.what.starts_with("metering of rows 1 to 24 all of another size, "), "{}", one.what);
}

/// At a held pressure all rows shift alike, as where all amounts are written down wrongly: these can't be told apart by rows.
#[test]
fn at_a_held_pressure_a_worn_set_looks_like_amounts_written_down_wrongly() {
    let mut bar = Bar::new(24, 3);
    bar.project.supply.control = Control::Held { pressure: Pressure::bar(1.2) };
    let found = bar.explained(&all_times(&bar.project, 1.15_f64.sqrt()), false);
    let kinds = first(&found);
    assert!(
        kinds.contains(&CauseKind::AllMeteringWorn) && kinds.contains(&CauseKind::AllMisread),
        "{kinds:?}"
    );
}
