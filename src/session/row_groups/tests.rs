use super::*;
use crate::files;
use crate::plan::{ElementKind, PartItem, PartKey};
use crate::session::row_sharing::Share;

/// The demo, and its rows from left to right.
fn demo() -> (Session, Vec<RowId>) {
    let session = Session::new(files::demo(), None);
    let rows: Vec<RowId> = session.project().bar.rows.iter().map(|row| row.id).collect();
    let rows = from_left(session.project(), &rows);
    (session, rows)
}

fn fed(session: &Session) -> usize {
    session.outcome().rows().iter().filter(|row| row.flow.si() > 0.0).count()
}

fn kinds(elements: &[FeedElement]) -> Vec<&'static str> {
    elements.iter().map(FeedElement::kind).collect()
}

#[test]
fn a_pair_hangs_on_one_outlet_and_each_row_is_metered_below_the_tee() {
    let (mut session, rows) = demo();
    let before = session.project().clone();
    let (first, second) = (
        session.routing().feed_of(rows[2]).unwrap().clone(),
        session.routing().feed_of(rows[3]).unwrap().clone(),
    );
    let remark = session.join_rows(&[rows[3], rows[2]]).unwrap();
    assert_eq!(remark, Some(Remark::OutletsFree(1)));
    let feed = session.routing().feed_of(rows[2]).unwrap().clone();
    assert_eq!(session.routing().feeds.len(), before.routings[0].feeds.len() - 1);
    assert_eq!(
        (feed.id, &feed.tag, feed.from),
        (first.id, &first.tag, first.from),
        "it hangs where the left row hung"
    );
    assert_eq!(kinds(&feed.trunk), ["tube"]);
    assert_eq!(feed.branches.iter().map(|one| one.row).collect::<Vec<_>>(), [rows[2], rows[3]]);
    for (branch, own) in feed.branches.iter().zip([&first, &second]) {
        assert_eq!(kinds(&branch.elements), kinds(&own.branches[0].elements), "its own valve and metering");
        assert!(branch.elements.iter().any(FeedElement::is_metering));
    }
    // The tee sits between its outlets and above them; the tube to it lies along the frame.
    let at = feed.split.as_ref().unwrap().position.place;
    let bar = &session.project().bar;
    let outlets = [rows[2], rows[3]].map(|row| bar.outlet(bar.row(row).unwrap()));
    assert!((at.x - f64::midpoint(outlets[0].x, outlets[1].x)).abs() < 1e-9);
    assert!(at.z > outlets[0].z && at.z > outlets[1].z);
    assert!(!feed.first_tube().unwrap().line.waypoints.is_empty());
    assert_eq!(fed(&session), 40);
    session.undo();
    assert_eq!(*session.project(), before, "one step");
}

#[test]
fn parting_gives_each_row_back_what_it_had() {
    let (mut session, rows) = demo();
    let group = [rows[10], rows[11], rows[12]];
    let before: Vec<RowFeed> =
        group.iter().map(|row| session.routing().feed_of(*row).unwrap().clone()).collect();
    session.join_rows(&group).unwrap();
    assert_eq!(session.routing().feed_of(rows[12]).unwrap().branches.len(), 3);
    session.part_rows(&group).unwrap();
    for (row, old) in group.iter().zip(&before) {
        let now = session.routing().feed_of(*row).unwrap();
        assert!(!now.is_shared());
        assert_eq!(now.from, old.from, "the same outlets");
        let entries = |feed: &RowFeed| feed.elements().map(|one| one.entry().clone()).collect::<Vec<_>>();
        assert_eq!(entries(now), entries(old));
    }
    assert_eq!(fed(&session), 40);
}

#[test]
fn one_row_that_leaves_a_group_leaves_the_others_on_it() {
    let (mut session, rows) = demo();
    session.join_rows(&rows[10..13]).unwrap();
    session.part_rows(&[rows[12]]).unwrap();
    assert_eq!(session.routing().feed_of(rows[10]).unwrap().branches.len(), 2);
    assert!(!session.routing().feed_of(rows[12]).unwrap().is_shared());
    // A row of a pair joins another: what is left of the pair has its tube alone.
    session.join_rows(&[rows[11], rows[12]]).unwrap();
    assert!(!session.routing().feed_of(rows[10]).unwrap().is_shared());
    assert!(session.are_on_one_tube(&[rows[11], rows[12]]));
    assert_eq!(fed(&session), 40);
    assert!(matches!(session.join_rows(&[rows[11], rows[12]]), Ok(Some(Remark::AlreadySo { .. }))));
}

/// 40 rows on five manifolds of eight rows each: 20 pairs, and no row beside another that has none.
#[test]
fn all_rows_go_in_pairs_within_their_section_and_groups_stay() {
    let (mut session, rows) = demo();
    session.join_rows(&rows[0..3]).unwrap();
    session.pair_rows(&Scope::Bar).unwrap();
    let routing = session.routing();
    assert_eq!(routing.feed_of(rows[0]).unwrap().branches.len(), 3, "the group stays");
    let bar = &session.project().bar;
    for feed in routing.feeds.iter().filter(|feed| feed.is_shared()) {
        let sections: BTreeSet<_> =
            feed.branches.iter().filter_map(|one| bar.row(one.row)).map(|row| row.section).collect();
        assert_eq!(sections.len(), 1);
    }
    let single = routing.feeds.iter().filter(|feed| !feed.is_shared()).count();
    assert!(single <= 5, "at most one a manifold: {single}");
    let all: usize = routing.feeds.iter().map(|feed| feed.branches.len()).sum();
    assert_eq!((all, fed(&session)), (40, 40));
}

#[test]
fn rows_without_tubes_are_paired_first_and_given_to_manifolds_then() {
    let (mut session, rows) = demo();
    let routing = session.routing().id;
    let edits: Vec<Edit> =
        session.routing().feeds.iter().map(|feed| Edit::RemoveFeed(routing, feed.id)).collect();
    session.edit("Bare", edits).unwrap();
    session.pair_rows(&Scope::Rows(rows[..8].to_vec())).unwrap();
    assert!(session.routing().feeds.iter().all(|feed| matches!(feed.from, End::Loose(_))));
    session.share_rows(&Scope::Rows(rows[..8].to_vec()), Share::Nearest).unwrap();
    assert_eq!(session.routing().feeds.len(), 4);
    for feed in &session.routing().feeds {
        assert!(feed.from.port().is_some());
        assert!(feed.branches.iter().all(|one| one.elements.iter().any(FeedElement::is_metering)));
        assert!(
            feed.branches.iter().all(|one| one.elements.iter().any(|one| one.is(ElementKind::CheckValve)))
        );
    }
    assert_eq!(fed(&session), 8);
}

#[test]
fn rows_are_not_parted_without_outlets_for_them() {
    let (mut session, rows) = demo();
    session.join_rows(&rows[..2]).unwrap();
    session.plug_open(&session.manifolds_meant()).unwrap();
    // A plug gives way, a gauge that somebody screwed in there does not.
    let gauge: PartKey =
        session.project().catalogue.first(|item| matches!(item, PartItem::Gauge(_))).unwrap();
    let mut next = session.routing().clone();
    for part in &mut next.parts {
        if part.mount.is_some_and(|port| matches!(port.port, Port::Outlet(_))) {
            part.entry = gauge.clone();
        }
    }
    session.edit("Gauges on outlets", [Edit::PutRouting(Box::new(next))]).unwrap();
    let before = session.project().clone();
    let refused = session.part_rows(&rows[..2]).unwrap_err().to_string();
    assert!(refused.contains("lacks 1 free outlet for"), "{refused}");
    assert_eq!(*session.project(), before);
}
