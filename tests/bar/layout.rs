//! Laying out a bar without a window: every tool pressed, moved, released and cancelled, and the commands that plumb
//! a whole bar.

use equirow::plan::{CheckValve, Manifold, MeteringOrifice};
use std::collections::BTreeSet;

use equirow::files;
use equirow::geometry::{Bounds, Point2, Point3, polyline_length};
use equirow::hydraulics::connectivity::ConnectionProblem;
use equirow::hydraulics::{NoNumbers, NotFed, RowState, SupplyState};
use equirow::plan::routing_geometry::run_between;
use equirow::plan::validate::validate;
use equirow::plan::{
    BarPoint, Edit, ElementItem, End, EntryKey, FittingItem, FittingKey, FoldPosition, FoldedBar, Item, Part,
    PartId, PartItem, PartKey, Port, PortRef, Project, Routing, RoutingGeometry, RowId, Run, RunId,
    SectionId, StockItem, StockKey, Subject,
};

use equirow::quantities::Length;
use equirow::session::commands::{self, Command, CommandDone, TABLE};
use equirow::session::properties::{Property, PropertyValue};
use equirow::session::row_sharing::Share;
use equirow::session::rows;
use equirow::session::snap::{SnapSettings, SnapTo};
use equirow::session::{Gesture, Handle, Refusal, Remark, Reply, Scope, Session, Side, Tool};

/// How near the pointer must be, metres.
const REACH: f64 = 0.15;

fn demo() -> Session {
    Session::new(files::demo(), None)
}

/// The demo's second routing: manifolds with their inlet in the middle.
fn star() -> Session {
    let mut session = demo();
    session.step_routing(1);
    session
}

fn large() -> Session {
    Session::new(files::open("examples/twenty-four-metre-bar.ron".as_ref()).unwrap(), None)
}

fn bare(project: Project) -> Session {
    Session::new(
        Project { supply: project.supply, ..Project::new(project.bar, files::generic_catalogue()) },
        None,
    )
}

fn part(session: &Session, tag: &str) -> PartId {
    session.routing().parts.iter().find(|part| part.tag == tag).unwrap().id
}

fn run(session: &Session, tag: &str) -> Run {
    session.routing().runs.iter().find(|run| run.tag == tag).unwrap().clone()
}

fn port(session: &Session, tag: &str, port: Port) -> PortRef {
    PortRef { part: part(session, tag), port }
}

fn port_place(session: &Session, port: PortRef) -> Point2 {
    session.geometry().anchors.port(port).unwrap().place.flat()
}

fn middle(session: &Session, tag: &str) -> Point2 {
    let found = session.routing().part(part(session, tag)).unwrap();
    session.geometry().anchors.part(found.id).unwrap().at.flat()
}

fn length(session: &Session, run: &Run) -> f64 {
    session.geometry().run(run.id).unwrap().length.si()
}

fn set_bore(session: &mut Session, runs: &[RunId], stock: &str) {
    let hoses: Vec<Subject> = runs.iter().copied().map(Subject::Run).collect();
    session.set(Property::Bore, &hoses, PropertyValue::Entry(EntryKey::new(stock))).unwrap();
}

fn set_fittings(session: &mut Session, run: RunId, fitting: &str) {
    let fitting = PropertyValue::Entry(EntryKey::new(fitting));
    session.set(Property::Fittings, &[Subject::Run(run)], fitting).unwrap();
}

fn over(session: &Session, place: Point3) -> BarPoint {
    BarPoint::over(&session.project().bar, place)
}

fn path(session: &Session, run: &Run) -> Vec<Point3> {
    run_between(session.project(), &session.geometry().anchors, run).unwrap().places()
}

fn hose() -> StockKey {
    StockKey::new("hose-19")
}

fn click(session: &mut Session, at: Point2, hit: Option<Subject>) {
    clicked(session, at, hit).unwrap();
}

/// The same; what comes of it.
fn clicked(session: &mut Session, at: Point2, hit: Option<Subject>) -> Reply {
    let pressed = session.press(at, hit, REACH, false)?;
    Ok(session.release()?.or(pressed))
}

fn drag(session: &mut Session, from: Point2, hit: Option<Subject>, to: Point2) {
    session.press(from, hit, REACH, false).unwrap();
    for step in 1..=4 {
        let t = f64::from(step) / 4.0;
        session
            .drag(Point2::new(from.x + (to.x - from.x) * t, from.y + (to.y - from.y) * t), None, 0.01)
            .unwrap();
    }
}

fn sound(session: &Session) {
    let broken = validate(session.project());
    assert!(broken.is_empty(), "{broken:?}");
}

/// Ends a gesture in each way: cancelled it leaves no trace; released it is one step, which undo takes back to the
/// byte and redo does again.
fn each_way(mut session: Session, name: &str, gesture: impl Fn(&mut Session)) -> Session {
    let start = files::write_text(session.project()).unwrap();
    for end in [Session::cancel, |session: &mut Session| drop(session.undo())] {
        gesture(&mut session);
        assert_ne!(*session.gesture(), Gesture::None, "{name}");
        // A hose that is drawn steps back by a waypoint for each Esc.
        while *session.gesture() != Gesture::None {
            end(&mut session);
        }
        assert_eq!(files::write_text(session.project()).unwrap(), start, "{name}");
        assert_eq!(session.undo_name(), None, "{name}");
        assert!(!session.is_changed(), "{name}");
    }
    gesture(&mut session);
    session.release().unwrap();
    assert_eq!(session.undo_name(), Some(name));
    assert!(session.is_changed());
    sound(&session);
    let after = session.project().clone();
    session.undo();
    assert_eq!(files::write_text(session.project()).unwrap(), start, "{name}");
    assert!(!session.is_changed(), "undone back to what was saved");
    session.redo();
    assert_eq!(*session.project(), after);
    session
}

#[test]
fn a_part_is_dragged() {
    let at = middle(&demo(), "M2");
    let session = each_way(demo(), "Move M2", |session| {
        let hit = Subject::Part(part(session, "M2"));
        drag(session, at, Some(hit), Point2::new(at.x + 0.4, at.y));
    });
    // Its gauge, if it had one, and its hoses come along: a hose ends where the port is.
    let moved = middle(&session, "M2");
    assert!((moved.x - at.x - 0.4).abs() <= REACH, "{moved:?}");
}

#[test]
fn several_parts_are_dragged_with_the_hoses_between_them() {
    let mut before = demo();
    let ids: Vec<Subject> = ["M2", "M3"].map(|tag| Subject::Part(part(&before, tag))).to_vec();
    before.select(ids.iter().copied());
    before.set_snapping(SnapSettings { on: false, ..before.snapping() });
    let at = middle(&before, "M2");
    let between: Vec<Run> = before
        .routing()
        .runs
        .iter()
        .filter(|run| {
            [run.from, run.to]
                .iter()
                .all(|end| end.port().is_some_and(|port| ids.contains(&Subject::Part(port.part))))
        })
        .cloned()
        .collect();
    let (first, second) = (middle(&before, "M2"), middle(&before, "M3"));
    let session = each_way(before, "Move 2 parts", |session| {
        drag(session, at, Some(ids[0]), Point2::new(at.x + 0.1, at.y + 0.2));
    });
    for (tag, was) in [("M2", first), ("M3", second)] {
        let now = middle(&session, tag);
        assert!(now.distance(Point2::new(was.x + 0.1, was.y + 0.2)) < 0.011, "{tag}: {was:?} {now:?}");
    }
    for old in &between {
        let new = session.routing().run(old.id).unwrap();
        for (a, b) in old.line.waypoints.iter().zip(&new.line.waypoints) {
            assert!(
                (b.place.x - a.place.x - 0.1).abs() < 0.011 && (b.place.y - a.place.y - 0.2).abs() < 0.011
            );
        }
    }
    // A click on one of several selected things selects that one alone.
    let mut session = session;
    let now = middle(&session, "M2");
    click(&mut session, now, Some(ids[0]));
    assert_eq!(*session.selection(), [ids[0]].into());
}

#[test]
fn a_hose_is_bent_its_waypoint_moved_and_taken_out() {
    let mut session = demo();
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let hose = run(&session, "H1");
    let way = path(&session, &hose);
    let grab = way[0].towards(way[1], 0.5).flat();
    let aside = Point2::new(grab.x + 0.5, grab.y + 0.3);
    let mut session =
        each_way(session, "Bend H1", |session| drag(session, grab, Some(Subject::Run(hose.id)), aside));
    let bent = run(&session, "H1");
    assert_eq!(bent.line.waypoints.len(), hose.line.waypoints.len() + 1);
    assert!(bent.line.waypoints[0].place.flat().distance(aside) < 0.011);
    // Now it is selected, its waypoints can be dragged.
    assert_eq!(session.handle_at(aside, REACH), Some((Subject::Run(hose.id), Handle::Waypoint(0))));
    let back = Point2::new(aside.x - 0.2, aside.y);
    drag(&mut session, aside, Some(Subject::Run(hose.id)), back);
    session.release().unwrap();
    assert_eq!(session.undo_name(), Some("Move a waypoint of H1"));
    let moved = run(&session, "H1");
    assert_eq!(moved.line.waypoints.len(), bent.line.waypoints.len());
    // A double click takes it out, another puts one in.
    session.double_click(back, Some(Subject::Run(hose.id)), REACH).unwrap();
    assert_eq!(run(&session, "H1"), hose);
    session.double_click(grab, Some(Subject::Run(hose.id)), REACH / 10.0).unwrap();
    assert_eq!(run(&session, "H1").line.waypoints.len(), hose.line.waypoints.len() + 1);
    session.undo();
    session.undo();
    session.undo();
    session.undo();
    assert_eq!(run(&session, "H1"), hose);
}

/// Half a metre above the right wing another one folds onto it: over the same ground lie two sections.
#[test]
fn over_two_sections_a_point_keeps_the_one_it_rides_on() {
    let mut project = files::demo();
    let lower =
        project.bar.sections.iter().find(|section| section.name == "outer wing right").unwrap().clone();
    let mut upper = lower.clone();
    upper.id = SectionId(90);
    upper.name = "upper wing".to_owned();
    for end in upper.members.iter_mut().flat_map(|member| [&mut member.from, &mut member.to]) {
        end.z += 0.5;
    }
    project.bar.sections.push(upper);
    let mut session = bare(project);
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let (left, right) = (lower.left.si(), lower.right.si());
    let at = |share: f64| Point2::new(left + share * (right - left), 0.0);
    let high = lower.members[0].from.z + 0.6;
    let riding = |flat: Point2| BarPoint { place: Point3::new(flat.x, flat.y, high), section: SectionId(90) };
    let (from, to) = (End::Loose(riding(at(0.1))), End::Loose(riding(at(0.9))));
    session.join_through(&hose(), from, vec![riding(at(0.5))], to).unwrap();
    let id = session.routing().runs[0].id;
    let waypoints = |session: &Session| session.routing().run(id).unwrap().line.waypoints.clone();
    let height = |point: &BarPoint| (point.place.z - high).abs();
    // Dragged along the wing it stays on it; a point that is put in rides on what its neighbours do.
    session.select([Subject::Run(id)]);
    drag(&mut session, at(0.5), Some(Subject::Run(id)), at(0.6));
    session.release().unwrap();
    session.insert_waypoint(id, Point3::new(at(0.3).x, 0.0, 1.0)).unwrap();
    assert_eq!(waypoints(&session).len(), 2);
    for point in waypoints(&session) {
        assert_eq!(point.section, SectionId(90), "{point:?}");
        assert!(height(&point) < 1e-9, "{point:?}");
    }
    assert_eq!(session.geometry().run(id).unwrap().hinges, []);
    // So does a part in the hose, also after it was moved along.
    session.split_run(id, at(0.75), None).unwrap();
    let tee = session.selected_part().unwrap();
    let carrier = |session: &Session| session.routing().part(tee).unwrap().section;
    assert_eq!(carrier(&session), SectionId(90));
    session.set(Property::Right, &[Subject::Part(tee)], PropertyValue::Number(at(0.7).x)).unwrap();
    assert_eq!(carrier(&session), SectionId(90));
    // Over the section further in, which the wing does not reach, it rides on that.
    let inner = lower.hinge.unwrap().parent;
    session.select([Subject::Run(id)]);
    drag(&mut session, at(0.3), Some(Subject::Run(id)), Point2::new(left - 1.0, 0.0));
    session.release().unwrap();
    assert_eq!(waypoints(&session)[0].section, inner);
    assert_eq!(session.geometry().run(id).unwrap().hinges.len(), 2, "there and back");
    assert_eq!(session.routing().run(id).unwrap().line.crossings.len(), 2);
    sound(&session);
}

#[test]
fn an_end_is_dragged_to_another_port_or_left_loose() {
    let mut session = demo();
    let hose = run(&session, "H2");
    session.select([Subject::Run(hose.id)]);
    let end = session.end_place(&hose.to).unwrap().flat();
    let far = Point2::new(end.x, end.y + 3.0);
    let session = each_way(session, "Reconnect H2", |session| {
        session.select([Subject::Run(hose.id)]);
        drag(session, end, None, far);
    });
    assert!(matches!(run(&session, "H2").to, End::Loose(end) if end.place.flat().distance(far) < 1e-9));
    // Back onto the port it came from, which is free now.
    let mut session = session;
    session.select([Subject::Run(hose.id)]);
    drag(&mut session, far, None, Point2::new(end.x + 0.02, end.y));
    assert_eq!(session.snapped().unwrap().to, vec![SnapTo::Port(hose.to.port().unwrap())]);
    session.release().unwrap();
    assert_eq!(run(&session, "H2").to, hose.to);
    // A port that is taken is not offered.
    let taken = run(&session, "H1").to;
    let taken_at = session.end_place(&taken).unwrap().flat();
    session.select([Subject::Run(hose.id)]);
    drag(&mut session, end, None, taken_at);
    session.release().unwrap();
    assert_ne!(run(&session, "H2").to, taken);
}

#[test]
fn a_hose_is_drawn_by_clicks_and_steps_back() {
    let mut session = bare(files::demo());
    session.place(&PartKey::new("manifold-6-middle"), Point2::new(-0.5, -0.3), REACH).unwrap();
    session.place(&PartKey::new("tee-19"), Point2::new(0.8, 0.3), REACH).unwrap();
    while session.undo_name().is_some() && session.routing().parts.len() > 2 {
        session.undo();
    }
    let start = port_place(&session, port(&session, "T1", Port::In));
    let goal = port_place(&session, port(&session, "M1", Port::In));
    session.take(Tool::Join { stock: hose() });
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    click(&mut session, start, None);
    let (one, two) = (Point2::new(0.4, 1.0), Point2::new(-0.2, 1.0));
    click(&mut session, one, None);
    click(&mut session, two, None);
    // The length is there while it is drawn: the way with 3 % slack.
    let (way, long) = session.joining_way(goal, REACH).unwrap();
    let straight: f64 = way.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    assert!((long.unwrap().si() - straight * 1.03).abs() < 1e-12);
    session.cancel();
    assert!(matches!(session.gesture(), Gesture::Joining { waypoints, .. } if waypoints.len() == 1));
    click(&mut session, goal, None);
    let drawn = run(&session, "H1");
    assert_eq!(
        (drawn.from, drawn.to),
        (End::Port(port(&session, "T1", Port::In)), End::Port(port(&session, "M1", Port::In)))
    );
    assert_eq!(drawn.line.waypoints.len(), 1);
    assert_eq!(session.undo_name(), Some("Join with H1"));
    // Enter ends it loose where it was clicked last; so does a double click.
    for double in [false, true] {
        session.undo();
        session.take(Tool::Join { stock: hose() });
        click(&mut session, start, None);
        click(&mut session, one, None);
        click(&mut session, two, None);
        if double {
            click(&mut session, two, None);
            session.double_click(two, None, REACH).unwrap();
        } else {
            session.finish().unwrap();
        }
        let drawn = run(&session, "H1");
        assert!(matches!(drawn.to, End::Loose(end) if end.place.flat().distance(two) < 0.011), "{drawn:?}");
        assert_eq!(drawn.line.waypoints.len(), 1);
    }
    // Esc leaves it, then the tool.
    session.undo();
    session.take(Tool::Join { stock: hose() });
    click(&mut session, start, None);
    click(&mut session, one, None);
    for expected in [1, 0] {
        assert!(
            matches!(session.gesture(), Gesture::Joining { waypoints, .. } if waypoints.len() == expected)
        );
        session.cancel();
    }
    assert_eq!(*session.gesture(), Gesture::None);
    assert_eq!(*session.tool(), Tool::Join { stock: hose() });
    session.cancel();
    assert_eq!(*session.tool(), Tool::Select);
    // A hose does not end where it starts, and does not start in the air.
    session.take(Tool::Join { stock: hose() });
    click(&mut session, start, None);
    let refused = clicked(&mut session, start, None).unwrap_err();
    assert!(refused.to_string().contains("another port"));
    session.cancel();
    let refused = clicked(&mut session, Point2::new(3.0, 3.0), None).unwrap_err();
    assert!(refused.to_string().contains("nearer"));
}

/// The hose between two sections lies on the frame, crosses the hinges between them in order, and is at least as long
/// as the straight line and at most as long as going round (geometry).
#[test]
fn a_joined_hose_follows_the_frame_and_the_hinges_it_crosses() {
    let mut session = bare(files::demo());
    session.manifold_per_section().unwrap();
    let bar = session.project().bar.clone();
    let order: Vec<PartId> = session.routing().parts.iter().map(|part| part.id).collect();
    let x = |session: &Session, id: &PartId| session.routing().part(*id).unwrap().position.x;
    let tip = *order.iter().min_by(|a, b| x(&session, a).total_cmp(&x(&session, b))).unwrap();
    let centre = *order.iter().min_by(|a, b| x(&session, a).abs().total_cmp(&x(&session, b).abs())).unwrap();
    let ends = [centre, tip].map(|part| End::Port(PortRef { part, port: Port::In }));
    session.join(&hose(), ends[0], ends[1]).unwrap();
    let drawn = run(&session, "H1");
    let sections = [centre, tip].map(|id| session.routing().part(id).unwrap().section);
    let crossed: Vec<_> = drawn.line.crossings.iter().map(|one| one.section).collect();
    let between: BTreeSet<_> = bar.hinges_between(sections[0], sections[1]).into_iter().collect();
    assert_eq!(crossed.iter().copied().collect::<BTreeSet<_>>(), between);
    assert_eq!(crossed.len(), 2, "inner and outer wing");
    let way = path(&session, &drawn);
    let long: f64 = way.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    assert!(long >= way[0].distance(way[way.len() - 1]) && long < way[0].distance(way[way.len() - 1]) + 2.5);
    // Every waypoint is on the frame, or on a hinge.
    for point in &drawn.line.waypoints {
        let members = bar.sections.iter().flat_map(|section| &section.members);
        let away = members
            .map(|member| point.place.flat().distance_to_piece(member.from.flat(), member.to.flat()))
            .fold(f64::INFINITY, f64::min);
        let hinges = bar.sections.iter().filter_map(|section| section.hinge);
        let hinge = hinges.map(|hinge| (hinge.point.x - point.place.x).abs()).fold(f64::INFINITY, f64::min);
        assert!(away < 1e-9 || hinge < 1e-9, "{point:?}");
        assert!((0.7..=1.3).contains(&point.place.z), "{point:?}");
    }
    // Straightened and laid again it is the same.
    session.lay_straight(&[drawn.id]).unwrap();
    assert!(run(&session, "H1").line.waypoints.is_empty());
    session.follow_frame(&[drawn.id], &[]).unwrap();
    assert_eq!(run(&session, "H1"), drawn);
    // A part that is moved takes it along the frame; onto another section, other hinges are crossed.
    let at = session.routing().part(tip).unwrap().position.flat();
    drag(&mut session, at, Some(Subject::Part(tip)), Point2::new(-2.5, at.y));
    session.release().unwrap();
    let moved = run(&session, "H1");
    assert_eq!(moved.line.crossings.len(), 1);
    let way = session.frame_way(&moved.from, &moved.to).unwrap();
    // In the plan to a tenth of a millimetre.
    assert_eq!(way.waypoints.len(), moved.line.waypoints.len());
    for (way, point) in way.waypoints.iter().zip(&moved.line.waypoints) {
        assert_eq!(way.section, point.section);
        assert!(way.place.distance(point.place) < 1e-4, "{way:?} {point:?}");
    }
    assert_eq!(way.hinges, moved.line.crossings.iter().map(|one| one.section).collect::<Vec<_>>());
}

#[test]
fn an_entered_allowance_stays_while_its_hinge_is_crossed() {
    let mut session = demo();
    let crossing = |session: &Session| {
        session.routing().runs.iter().find(|run| !run.line.crossings.is_empty()).unwrap().clone()
    };
    let mut changed = crossing(&session);
    changed.line.crossings[0].entered = Some(Length::metres(0.4));
    let (routing, id) = (session.routing().id, changed.id);
    session.edit("Allowance", [Edit::PutRun(routing, changed.clone())]).unwrap();
    let at = path(&session, &changed)[0].towards(path(&session, &changed)[1], 0.5);
    session.insert_waypoint(id, Point3::new(at.x, at.y + 0.1, at.z)).unwrap();
    assert_eq!(session.routing().run(id).unwrap().line.crossings, changed.line.crossings);
}

/// Both pieces and the tee's body are as long as the hose was, in flat country; what was measured stays exactly.
#[test]
fn a_split_keeps_the_length() {
    for measured in [None, Some(Length::metres(9.0))] {
        let mut session = star();
        let longest =
            session.routing().runs.iter().max_by(|a, b| length(&session, a).total_cmp(&length(&session, b)));
        let hose = longest.unwrap().clone();
        let value = measured.map_or(PropertyValue::Nothing, |one| PropertyValue::Number(one.si()));
        session.set(Property::MeasuredLength, &[Subject::Run(hose.id)], value).unwrap();
        let hose = session.routing().run(hose.id).unwrap().clone();
        let way = path(&session, &hose);
        let leg = (0..way.len() - 1)
            .max_by(|a, b| way[*a].distance(way[*a + 1]).total_cmp(&way[*b].distance(way[*b + 1])))
            .unwrap();
        let at = way[leg].towards(way[leg + 1], 0.4).flat();
        session.take(Tool::Split { tee: None });
        click(&mut session, at, Some(Subject::Run(hose.id)));
        let tee = session.selected_part().expect("the tee is selected");
        sound(&session);
        let on = |port| End::Port(PortRef { part: tee, port });
        let runs = &session.routing().runs;
        let first = runs.iter().find(|run| run.to == on(Port::In)).unwrap();
        let second = runs.iter().find(|run| run.from == on(Port::Out)).unwrap();
        assert_eq!((first.id, first.from, second.to), (hose.id, hose.from, hose.to));
        let sum = length(&session, first) + length(&session, second);
        // The body of the tee is 12 cm, and the hose had its slack there too.
        let body = if measured.is_some() { 0.0 } else { 0.12 * (1.0 + hose.line.slack.si()) };
        let laid = run_between(session.project(), &session.geometry().anchors, &hose);
        let was = laid.unwrap().length.si();
        assert!((sum + body - was).abs() < 1e-9, "{sum} + {body} against {was}");
        let allowances = first.line.crossings.len() + second.line.crossings.len();
        assert_eq!(allowances, hose.line.crossings.len());
        // The branch is free: nothing else was joined to it.
        assert!(session.routing().on_port(PortRef { part: tee, port: Port::Branch }).is_empty());
        session.undo();
        assert_eq!(session.routing().run(hose.id), Some(&hose));
    }
}

#[test]
fn a_hose_too_short_for_a_tee_is_not_split() {
    let mut session = demo();
    let hose = run(&session, "H1");
    let (at, routing) = (session.end_place(&hose.from).unwrap(), session.routing().id);
    let to = End::Loose(over(&session, Point3::new(at.x + 0.1, at.y, at.z)));
    let mut line = hose.line.clone();
    line.waypoints.clear();
    session.edit("Shorten", [Edit::PutRun(routing, Run { to, line, ..hose.clone() })]).unwrap();
    let said = session.split_run(hose.id, at.flat(), None).unwrap_err().to_string();
    assert!(said.contains("H1") && said.contains("apart"), "{said}");
}

#[test]
fn bore_slack_and_measured_length_of_many_hoses_change_in_one_step() {
    let mut session = star();
    let runs: Vec<RunId> = session.routing().runs.iter().map(|run| run.id).collect();
    let before = session.project().clone();
    let hoses: Vec<Subject> = runs.iter().copied().map(Subject::Run).collect();
    set_bore(&mut session, &runs, "hose-25");
    session.set(Property::Slack, &hoses, PropertyValue::Number(0.05)).unwrap();
    session.set(Property::MeasuredLength, &hoses, PropertyValue::Number(2.0)).unwrap();
    for run in &session.routing().runs {
        assert_eq!(run.line.stock, StockKey::new("hose-25"));
        assert_eq!(length(&session, run), 2.0);
    }
    let refused = session.set(Property::Slack, &hoses, PropertyValue::Number(-0.05)).unwrap_err();
    assert_eq!(refused.to_string(), "Slack: −5 % is out of range; type 0 % to 200 %");
    for _ in 0..3 {
        session.undo();
    }
    assert_eq!(*session.project(), before);
}

#[test]
fn things_snap_to_ports_frame_middles_and_rows() {
    let mut session = demo();
    let manifold = PartKey::new("manifold-6-middle");
    let bar = session.project().bar.clone();
    let section = &bar.sections[0];
    let rail = section.members[0];
    // The middle of the centre section, on its first rail.
    session.take(Tool::Place(manifold.clone()));
    let middle = f64::midpoint(section.left.si(), section.right.si());
    let near = Point2::new(middle + 0.05, rail.from.y + 0.06);
    let ghost = session.ghosts(near, REACH).remove(0);
    assert!(ghost.snap.to.contains(&SnapTo::Frame(section.id)), "{:?}", ghost.snap);
    assert_eq!(ghost.place.y, rail.from.y);
    assert_eq!(ghost.place.z, rail.from.z + 0.1, "on the frame");
    assert!(session.snap_text(&ghost.snap).unwrap().contains("frame of centre"));
    // A row, far from ports.
    let row = bar.rows.first().unwrap();
    let snap = session.snap_point(Point2::new(row.x.si() + 0.03, 2.0), REACH);
    assert_eq!((snap.place.x, snap.to), (row.x.si(), vec![SnapTo::Row(row.id)]));
    // The grid only where there is nothing better; nothing at all when switched off.
    session.set_snapping(SnapSettings { grid: Some(Length::metres(0.25)), ..session.snapping() });
    let snap = session.snap_point(Point2::new(9.06, 2.3), REACH);
    assert_eq!((snap.place.x, snap.place.y, snap.to), (9.0, 2.25, vec![SnapTo::Grid]));
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let snap = session.snap_point(Point2::new(row.x.si() + 0.031, 2.0), REACH);
    assert!((snap.place.x - row.x.si() - 0.03).abs() < 0.0051 && snap.to.is_empty(), "to the centimetre");
    // A gauge catches a port whatever else is near, snapping or not.
    let gauge = PartKey::new("gauge-6");
    session.take(Tool::Place(gauge.clone()));
    let free = port(&session, "M1", Port::Gauge);
    let at = port_place(&session, free);
    let ghost = session.ghosts(Point2::new(at.x + 0.01, at.y + 0.01), REACH).remove(0);
    assert_eq!(ghost.mount, Some(free));
    click(&mut session, at, None);
    let placed = session.selected_part().unwrap();
    assert_eq!(session.routing().part(placed).unwrap().mount, Some(free));
    assert_eq!(
        session.routing().part(placed).unwrap().section,
        session.routing().part(free.part).unwrap().section
    );
}

#[test]
fn parts_are_turned_while_placing_and_after() {
    let mut session = bare(files::demo());
    session.take(Tool::Place(PartKey::new("tee-19")));
    commands::run(&mut session, Command::Turn).unwrap();
    assert!((session.ghosts(Point2::default(), REACH)[0].turn.si().to_degrees() - 90.0).abs() < 1e-9);
    click(&mut session, Point2::new(0.5, 0.0), None);
    click(&mut session, Point2::new(1.0, 0.0), None);
    for placed in &session.routing().parts {
        assert!((placed.turn.si().to_degrees() - 90.0).abs() < 1e-9);
    }
    session.take(Tool::Select);
    session.select_all();
    let before = session.project().clone();
    for _ in 0..4 {
        commands::run(&mut session, Command::Turn).unwrap();
    }
    assert_eq!(session.project().routings, before.routings, "four quarters are none");
    commands::run(&mut session, Command::TurnBack).unwrap();
    assert!(session.routing().parts.iter().all(|part| part.turn.si().abs() < 1e-12));
}

#[test]
fn arrow_keys_move_in_one_step_until_something_else_is_done() {
    let mut session = demo();
    let at = middle(&session, "M2");
    session.select([Subject::Part(part(&session, "M2"))]);
    for _ in 0..5 {
        commands::run(&mut session, Command::NudgeRight).unwrap();
    }
    commands::run(&mut session, Command::NudgeForwardFar).unwrap();
    let now = middle(&session, "M2");
    assert!((now.x - at.x - 0.05).abs() < 1e-9 && (now.y - at.y - 0.1).abs() < 1e-9, "{now:?}");
    session.undo();
    assert_eq!(middle(&session, "M2"), at);
    assert_eq!(session.undo_name(), None);
    // Undo in between ends the step.
    session.redo();
    commands::run(&mut session, Command::NudgeLeft).unwrap();
    session.undo();
    assert_eq!(middle(&session, "M2"), now);
    // There and back again is no change.
    session.undo();
    commands::run(&mut session, Command::NudgeLeft).unwrap();
    assert!(session.is_changed());
    commands::run(&mut session, Command::NudgeRight).unwrap();
    assert!((middle(&session, "M2").x - at.x).abs() < 1e-9);
    let manifold = [Subject::Part(part(&session, "M2"))];
    let moved = session.set(Property::Right, &manifold, PropertyValue::Number(500.0)).unwrap_err();
    assert_eq!(moved.to_string(), "Right of centre: 500 m is out of range; type −200 m to 200 m");
}

#[test]
fn a_box_selects_what_lies_in_it() {
    let mut session = demo();
    let at = middle(&session, "M1");
    let around = |by: f64| Bounds::around([at]).grown(by);
    session.select_in(around(0.01), false);
    assert_eq!(*session.selection(), [Subject::Part(part(&session, "M1"))].into());
    let second = middle(&session, "M3");
    session.select_in(Bounds::around([second]).grown(0.01), true);
    assert!(session.selection().len() >= 2);
    // By pointer: Shift on an empty place.
    session.select([]);
    session.press(Point2::new(at.x - 0.2, at.y - 0.2), None, REACH, true).unwrap();
    session.drag(Point2::new(at.x + 0.2, at.y + 0.2), None, 0.0).unwrap();
    assert!(matches!(session.gesture(), Gesture::Box { .. }));
    session.release().unwrap();
    assert!(session.selection().contains(&Subject::Part(part(&session, "M1"))));
    session.press(Point2::new(20.0, 20.0), None, REACH, true).unwrap();
    session.drag(Point2::new(-20.0, -20.0), None, 0.0).unwrap();
    session.cancel();
    assert_eq!(*session.gesture(), Gesture::None);
    // Across the openers alone: rows.
    let bar = session.project().bar.clone();
    let outlets = Bounds::around(bar.rows.iter().take(3).map(|row| bar.outlet(row).flat())).grown(0.01);
    session.select_in(outlets, false);
    assert!(
        session.selection().iter().all(|subject| matches!(subject, Subject::Row(_))),
        "{:?}",
        session.selection()
    );
    assert_eq!(session.undo_name(), None, "selecting is no step");
}

#[test]
fn kinds_and_sections_are_selected() {
    let mut session = star();
    session.select([Subject::Part(part(&session, "J1"))]);
    session.select_same_kind();
    let tees = session.routing().parts.iter().filter(|part| part.tag.starts_with('J')).count();
    assert_eq!(session.selection().len(), tees);
    session.select_all();
    let routing = session.routing();
    let all = routing.parts.len() + routing.runs.len() + routing.feeds.len();
    assert_eq!(session.selection().len(), all);
    let section = session.project().bar.sections[1].id;
    session.select_section(section, false);
    let bar = &session.project().bar;
    assert!(!session.selection().is_empty());
    for subject in session.selection() {
        match subject {
            Subject::Part(id) => assert_eq!(session.routing().part(*id).unwrap().section, section),
            Subject::Feed(id) => {
                for branch in &session.routing().feed(*id).unwrap().branches {
                    assert_eq!(bar.row(branch.row).unwrap().section, section);
                }
            }
            Subject::Run(_) | Subject::Row(_) => {}
        }
    }
}

/// In a chain everything beyond a manifold is downstream of it, solved or not; nothing before it is.
#[test]
fn downstream_is_what_would_run_dry() {
    let mut session = demo();
    let solved = session.downstream(&[part(&session, "M4")]);
    let tags: BTreeSet<String> = solved.iter().map(|subject| session.tag_of(*subject)).collect();
    assert!(tags.contains("M4") && tags.contains("M5"), "{tags:?}");
    for before in ["M1", "M2", "M3", "F1", "H1"] {
        assert!(!tags.contains(before), "{tags:?}");
    }
    let feeds = solved.iter().filter(|subject| matches!(subject, Subject::Feed(_))).count();
    let on = |tag: &str| rows::rows_of(session.project(), session.routing(), part(&session, tag)).len();
    assert_eq!(feeds, on("M4") + on("M5"));
    // Without a supply hose nothing is solved, and the same hangs behind it.
    let first = run(&session, "H1");
    session.select([Subject::Run(first.id)]);
    session.delete_selection().unwrap();
    assert_eq!(session.outcome().result, Err(NoNumbers::NothingFed));
    let cut = session.downstream(&[part(&session, "M4")]);
    assert_eq!(cut, solved);
    session.select([Subject::Part(part(&session, "F1"))]);
    session.select_downstream();
    assert!(session.selection().len() > solved.len());
}

#[test]
fn copies_take_hoses_and_feeds_along_under_fresh_tags() {
    let mut session = demo();
    let before = session.project().clone();
    session.select(["M4", "M5"].map(|tag| Subject::Part(part(&session, tag))));
    session.copy_selection().unwrap();
    session.paste().unwrap();
    click(&mut session, Point2::new(0.0, 2.5), None);
    sound(&session);
    let copies = session.selected_parts();
    assert_eq!(copies.len(), 2);
    let joined = |run: &&Run| {
        [run.from, run.to].iter().all(|end| end.port().is_some_and(|port| copies.contains(&port.part)))
    };
    assert_eq!(session.routing().runs.iter().filter(joined).count(), 1, "the hose between them");
    let tags: BTreeSet<&str> = session.routing().tags().collect();
    assert_eq!(tags.len(), session.routing().tags().count());
    // Each row is fed already: no feed is copied.
    assert_eq!(session.routing().feeds.len(), before.routings[0].feeds.len());
    session.undo();
    assert_eq!(*session.project(), before);
    // Where rows are free, feeds come along, shifted as the manifold is.
    let (manifold, other) = (part(&session, "M4"), part(&session, "M2"));
    let rows = rows::rows_of(session.project(), session.routing(), other);
    session.give_rows(other, &[]).unwrap();
    session.select([Subject::Part(manifold)]);
    session.copy_selection().unwrap();
    session.paste().unwrap();
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let shift = middle(&session, "M2").x - middle(&session, "M4").x;
    let at = Point2::new(middle(&session, "M4").x + shift, -0.8);
    click(&mut session, at, None);
    let copy = session.selected_part().unwrap();
    let fed = rows::rows_of(session.project(), session.routing(), copy);
    assert!(!fed.is_empty() && fed.iter().all(|row| rows.contains(row)), "{fed:?}");
    // Duplicate and cut.
    session.take(Tool::Select);
    session.duplicate().unwrap();
    assert_eq!(session.undo_name().unwrap().split(' ').next(), Some("Duplicate"));
    let count = session.routing().parts.len();
    commands::run(&mut session, Command::Cut).unwrap();
    assert_eq!(session.routing().parts.len(), count - 1);
    assert!(!session.copied().is_empty());
    sound(&session);
}

/// How many tees, row feeds and hoses a routing has, all tagged with these letters, and no tag twice.
fn tagged(session: &Session, [tee, feed, hose]: [char; 3]) -> [usize; 3] {
    let (catalogue, routing) = (&session.project().catalogue, session.routing());
    let is_tee = |part: &&Part| matches!(catalogue.item(&part.entry), Some(PartItem::Tee(_)));
    let tees: Vec<&str> = routing.parts.iter().filter(is_tee).map(|part| &*part.tag).collect();
    let feeds: Vec<&str> = routing.feeds.iter().map(|feed| &*feed.tag).collect();
    let hoses: Vec<&str> = routing.runs.iter().map(|run| &*run.tag).collect();
    for (letter, tags) in [(tee, &tees), (feed, &feeds), (hose, &hoses)] {
        assert!(tags.iter().all(|tag| tag.starts_with(letter)), "{letter}: {tags:?}");
    }
    let all: BTreeSet<&str> = routing.tags().collect();
    assert_eq!(all.len(), routing.tags().count(), "a tag is given twice");
    sound(session);
    [tees.len(), feeds.len(), hoses.len()]
}

/// A bar started anew and one of version 1, both added to by the tools, in the mirror, as a copy, and in another routing.
#[test]
fn what_is_added_is_tagged_with_the_letters_of_its_project() {
    let old = files::open("tests/data/version_1/twelve-metre-bar.ron".as_ref()).unwrap();
    for (session, letters) in
        [(bare(old.clone()), ['T', 'D', 'H']), (Session::new(old, None), ['J', 'T', 'H'])]
    {
        let mut session = session;
        session.set_snapping(SnapSettings { on: false, ..session.snapping() });
        session.add_routing(false).unwrap();
        let rows: Vec<RowId> = session.project().bar.rows.iter().map(|row| row.id).collect();
        let tee = format!("{}1", letters[0]);
        session.place(&PartKey::new("manifold-12-end"), Point2::new(-4.0, 0.6), REACH).unwrap();
        session.place(&PartKey::new("tee-19"), Point2::new(-2.6, 0.6), REACH).unwrap();
        session.give_rows(part(&session, "M1"), &rows[..4]).unwrap();
        session.take(Tool::Join { stock: hose() });
        for (tag, at) in [(&*tee, Port::In), ("M1", Port::In)] {
            let at = port_place(&session, port(&session, tag, at));
            click(&mut session, at, None);
        }
        session.take(Tool::Select);
        assert_eq!(tagged(&session, letters), [1, 4, 1], "tools");
        let hose = run(&session, "H1");
        let way = path(&session, &hose);
        session.split_run(hose.id, way[0].towards(way[1], 0.5).flat(), None).unwrap();
        assert_eq!(tagged(&session, letters), [2, 4, 2], "a tee into a hose");
        session.mirror(Side::Left).unwrap();
        assert_eq!(tagged(&session, letters), [4, 8, 4], "mirror");
        let pair = ["M1", &tee].map(|tag| Subject::Part(part(&session, tag)));
        session.select(pair);
        let (one, other) = (middle(&session, "M1"), middle(&session, &tee));
        let between = Point2::new(f64::midpoint(one.x, other.x), f64::midpoint(one.y, other.y));
        session.duplicate().unwrap();
        assert_eq!(tagged(&session, letters)[0], 5, "a copy in the same routing");
        session.undo();
        session.select(pair);
        session.copy_selection().unwrap();
        // Into a routing with the rows free, where the row feeds come along, and into the first one.
        session.add_routing(false).unwrap();
        session.paste().unwrap();
        click(&mut session, between, None);
        assert_eq!(tagged(&session, letters)[..2], [1, 4], "a copy in an empty routing");
        session.take(Tool::Select);
        session.show_routing(session.project().routings[0].id);
        let before = tagged(&session, letters);
        session.paste().unwrap();
        click(&mut session, between, None);
        assert_eq!(tagged(&session, letters)[0], before[0] + 1, "a copy in the first routing");
        session.take(Tool::Select);
        // A copy of a whole routing keeps its tags, and so does a file.
        session.add_routing(true).unwrap();
        session.share_rows(&session.scope(), Share::Nearest).unwrap();
        let outlets = session.routing().parts.iter().map(|placed| {
            match session.project().catalogue.item(&placed.entry) {
                Some(PartItem::Manifold(Manifold { outlets, .. })) => usize::from(*outlets),
                _ => 0,
            }
        });
        let fed = rows.len().min(outlets.sum());
        assert_eq!(tagged(&session, letters)[1], fed, "a copy of the routing, all rows given anew");
        let again = files::read_text(&files::write_text(session.project()).unwrap()).unwrap();
        assert_eq!(again, *session.project());
    }
}

#[test]
fn a_manifold_is_put_on_every_section_and_rows_go_to_the_nearest() {
    for (start, outlets) in [(bare(files::demo()), 44), (bare(large().project().clone()), 82)] {
        let mut session = start;
        let bar = session.project().bar.clone();
        commands::run(&mut session, Command::ManifoldPerSection).unwrap();
        let routing = session.routing().clone();
        assert_eq!(routing.parts.len(), bar.sections.len());
        let mut have = 0;
        for placed in &routing.parts {
            let section = bar.section(placed.section).unwrap();
            let rows = bar.rows.iter().filter(|row| row.section == section.id).count();
            let Some(PartItem::Manifold(Manifold { outlets, .. })) =
                session.project().catalogue.item(&placed.entry)
            else {
                panic!("{placed:?}")
            };
            have += usize::from(*outlets);
            assert!(usize::from(*outlets) >= rows);
            // No smaller one of the catalogue would do.
            let smaller = session.project().catalogue.entries.iter().any(|entry| {
                matches!(entry.item, equirow::plan::Item::Part(PartItem::Manifold(Manifold { outlets: other, .. }))
                    if usize::from(other) >= rows && other < *outlets)
            });
            assert!(!smaller);
            let middle = f64::midpoint(section.left.si(), section.right.si());
            assert!((placed.position.x - middle).abs() < 0.5 && section.spans(placed.position.x));
            assert_eq!(placed.position.z, 1.0);
        }
        assert!(have >= bar.rows.len() && have <= outlets, "{have}");
        assert!(session.manifold_per_section().unwrap_err().to_string().contains("already"));
        session.select([]);
        commands::run(&mut session, Command::NearestManifold).unwrap();
        for row in &bar.rows {
            let feed = session.routing().feed_of(row.id).expect("every row has a feed");
            let manifold = session.routing().part(feed.from.port().unwrap().part).unwrap();
            assert_eq!(manifold.section, row.section, "row {}", row.number);
        }
        no_crossing(&session);
        sound(&session);
        tubes_lie_on_the_frame(&session);
        // A manifold that is moved takes its tubes along the frame.
        let moved = session.routing().parts[1].clone();
        let at = moved.position.flat();
        drag(&mut session, at, Some(Subject::Part(moved.id)), Point2::new(at.x + 0.5, at.y));
        session.release().unwrap();
        assert_ne!(session.routing().part(moved.id), Some(&moved));
        tubes_lie_on_the_frame(&session);
    }
}

/// Every tube runs level along the frame and down to its opener, and is no shorter than the straight line (geometry).
fn tubes_lie_on_the_frame(session: &Session) {
    let (bar, routing) = (&session.project().bar, session.routing());
    for feed in &routing.feeds {
        let line = &feed.first_tube().unwrap().line;
        let from = session.end_place(&feed.from).unwrap();
        let outlet = bar.outlet(bar.row(feed.branches[0].row).unwrap());
        for point in &line.waypoints {
            assert!((point.place.z - 1.0).abs() < 1e-9, "{}: {point:?}", feed.tag);
        }
        if from.flat().distance(outlet.flat()) > 1.0 {
            let last = line.waypoints.last().expect("far rows are reached along the frame");
            // From the rail beside it a tube may hang over to its opener.
            assert!(last.place.flat().distance(outlet.flat()) < 1.0, "{}: {last:?} {outlet:?}", feed.tag);
        }
        let laid = session.geometry().feed(feed.id).unwrap();
        assert!(laid.tubes().next().unwrap().computed.si() >= from.distance(outlet));
    }
}

/// On each manifold, rows from left to right hang on outlets from left to right.
fn no_crossing(session: &Session) {
    for manifold in session.routing().parts.iter().filter(|part| session.is_manifold(part.id)) {
        let rows = rows::rows_of(session.project(), session.routing(), manifold.id);
        let places: Vec<f64> = rows
            .iter()
            .map(|row| {
                let from = session.routing().feed_of(*row).unwrap().from;
                session.end_place(&from).unwrap().x
            })
            .collect();
        assert!(places.windows(2).all(|pair| pair[0] <= pair[1] + 1e-9), "{}: {places:?}", manifold.tag);
    }
}

#[test]
fn rows_are_balanced_swapped_put_in_order_and_left_blank() {
    let mut session = demo();
    // As many rows on each manifold as its outlets are of all outlets, to one row.
    session.share_rows(&Scope::Bar, Share::ByOutlets).unwrap();
    let manifolds: Vec<_> =
        session.routing().parts.iter().filter(|part| session.is_manifold(part.id)).cloned().collect();
    let outlets = |entry: &PartKey| match session.project().catalogue.item(entry) {
        Some(PartItem::Manifold(Manifold { outlets, .. })) => f64::from(*outlets),
        _ => panic!("{entry}"),
    };
    let all: f64 = manifolds.iter().map(|part| outlets(&part.entry)).sum();
    let plugs = session.routing().parts.iter().filter(|part| part.tag.starts_with('B')).count() as f64;
    for part in &manifolds {
        let rows = rows::rows_of(session.project(), session.routing(), part.id).len() as f64;
        assert!((rows - 40.0 * outlets(&part.entry) / all).abs() <= 1.0 + plugs, "{}: {rows}", part.tag);
    }
    no_crossing(&session);
    session.share_rows(&Scope::Bar, Share::Nearest).unwrap();
    no_crossing(&session);
    sound(&session);
    // Two rows exchange their outlets, and back.
    let manifold = manifolds[1].id;
    let on = rows::rows_of(session.project(), session.routing(), manifold);
    let from = |session: &Session, row: RowId| session.routing().feed_of(row).unwrap().from;
    let (a, b) = (on[0], on[2]);
    let (was_a, was_b) = (from(&session, a), from(&session, b));
    let before = session.project().clone();
    session.select([Subject::Row(a), Subject::Row(b)]);
    commands::run(&mut session, Command::SwapOutlets).unwrap();
    assert_eq!((from(&session, a), from(&session, b)), (was_b, was_a));
    session.select([Subject::Part(manifold)]);
    commands::run(&mut session, Command::RenumberOutlets).unwrap();
    assert_eq!(session.project().routings, before.routings);
    // An outlet is left blank where the manifold has one to spare, and only there.
    let full = session.leave_blank(on[0]);
    if let Err(why) = &full {
        assert!(why.to_string().contains("no outlet free"), "{why}");
        session.give_rows(manifold, &on[1..]).unwrap();
        session.leave_blank(on[1]).unwrap();
    }
    let plug = session.routing().parts.last().unwrap();
    assert!(plug.mount.is_some_and(|mount| mount.part == manifold));
    assert!(session.routing().feeds.iter().all(|feed| feed.from.port() != plug.mount));
    no_crossing(&session);
    sound(&session);
    let unfed = session.swap_outlets(on[0], RowId(9999)).unwrap_err().to_string();
    assert!(unfed.contains("connect it first"), "{unfed}");
}

/// The mirrored wing gets what the original gets: on the flat every row its opposite row's flow.
#[test]
fn a_mirrored_wing_is_symmetrical() {
    for from in [Side::Left, Side::Right] {
        let mut project = large().project().clone();
        // The bar itself must be symmetrical: openers of opposite rows in the same rank.
        let ranks: Vec<usize> = project.bar.rows.iter().map(|row| row.rank).collect();
        for (row, rank) in project.bar.rows.iter_mut().rev().zip(&ranks).take(40) {
            row.rank = *rank;
        }
        let mut session = Session::new(project, None);
        session.mirror(from).unwrap();
        sound(&session);
        assert_eq!(session.outcome().numbers().map(|one| one.supply), Some(SupplyState::AsAsked));
        let rows = session.outcome().rows();
        for (one, other) in rows.iter().zip(rows.iter().rev()) {
            assert!((one.x.si() + other.x.si()).abs() < 1e-9);
            let centre = session.project().bar.sections[0].id;
            if one.section == centre {
                continue;
            }
            let (a, b) = (one.flow.si(), other.flow.si());
            assert!((a / b - 1.0).abs() < 1e-9, "rows {} and {}: {a} {b}", one.number, other.number);
        }
        // Parts and hoses stand opposite each other.
        let routing = session.routing();
        let bar = &session.project().bar;
        for run in &routing.runs {
            for point in &run.line.waypoints {
                assert!(bar.section(point.section).unwrap().spans(point.place.x), "{}: {point:?}", run.tag);
            }
        }
        for part in routing.parts.iter().filter(|part| part.mount.is_none()) {
            let place = session.geometry().anchors.part(part.id).unwrap().at;
            let opposite = routing.parts.iter().any(|other| {
                let at = session.geometry().anchors.part(other.id).unwrap().at;
                other.entry == part.entry && at.distance(Point3::new(-place.x, place.y, place.z)) < 1e-9
            });
            assert!(opposite, "{}", part.tag);
        }
        assert_eq!(session.undo_name(), Some(&*format!("Mirror the {} wing", from.label())));
        session.undo();
        assert!(!session.is_changed());
    }
}

/// A chain of manifolds with end inlets: turned round, each stands opposite another, and the hose that led to the other wing
/// is left loose and told.
#[test]
fn a_mirrored_chain_stands_opposite_itself() {
    let mut session = demo();
    let remark = session.mirror(Side::Left).unwrap().unwrap().to_string();
    sound(&session);
    // The hose that led to the left wing leads back past the centre; on the right the tee's other end takes it.
    let ends = session
        .routing()
        .runs
        .iter()
        .filter(|run| matches!(run.to, End::Loose(_)) || matches!(run.from, End::Loose(_)));
    let loose: Vec<&Run> = ends.collect();
    for run in &loose {
        assert!(remark.contains(&run.tag));
    }
    let manifolds: Vec<_> =
        session.routing().parts.iter().filter(|part| session.is_manifold(part.id)).collect();
    assert_eq!(manifolds.len(), 5);
    for one in &manifolds {
        assert!(manifolds.iter().any(|other| (other.position.x + one.position.x).abs() < 1e-9));
    }
}

#[test]
fn a_mirror_says_what_it_can_not_do() {
    let mut session = bare(files::demo());
    let nothing = session.mirror(Side::Left).unwrap_err().to_string();
    assert!(nothing.contains("left wing") && nothing.contains("plumb it first"), "{nothing}");
    let mut project = files::demo();
    // A row without one opposite.
    project.bar.rows.last_mut().unwrap().left_out = true;
    let mut session = Session::new(project, None);
    let remark = session.mirror(Side::Left).unwrap().unwrap();
    assert!(remark.to_string().contains("Rows 1 "));
}

#[test]
fn routings_are_added_copied_named_moved_and_deleted() {
    let mut session = demo();
    let start = session.project().clone();
    session.select([Subject::Part(part(&session, "M1")), Subject::Row(RowId(3))]);
    let copy = session.add_routing(true).unwrap();
    assert_eq!((session.routing().id, session.routing().name.as_str()), (copy, "C"));
    // What was selected stays so in the copy, which has the same things.
    assert!(session.selection().contains(&Subject::Part(part(&session, "M1"))));
    assert_eq!(session.selection().len(), 2);
    session.rename_routing(copy, " Wide ").unwrap();
    assert_eq!(session.routing().name, "Wide");
    let clash = session.rename_routing(copy, "A").unwrap_err().to_string();
    assert!(clash.contains("name A"), "{clash}");
    assert!(session.rename_routing(copy, "").is_err());
    session.note_routing(copy, "Wider mains").unwrap();
    session.move_routing(copy, 0).unwrap();
    assert_eq!(session.routing_place(), 0);
    let empty = session.add_routing(false).unwrap();
    assert!(session.routing().parts.is_empty());
    session.remove_routing(empty).unwrap();
    assert!(session.project().routing(session.routing().id).is_some());
    session.show_routing(copy);
    session.remove_routing(copy).unwrap();
    assert_ne!(session.routing().id, copy);
    // Undoing a deletion shows the routing again.
    session.undo();
    assert_eq!(session.routing().id, copy);
    while session.undo_name().is_some() {
        session.undo();
    }
    assert_eq!(*session.project(), start);
    for routing in ["A", "B"] {
        let id = session.project().routing_named(routing).unwrap().id;
        let done = session.remove_routing(id);
        match routing {
            "A" => drop(done.unwrap()),
            _ => assert_eq!(done, Err(Refusal::LastRouting), "the last one stays"),
        }
    }
}

#[test]
fn a_distance_is_measured_without_a_step() {
    let mut session = demo();
    session.take(Tool::Measure);
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    session.press(Point2::new(0.0, 1.0), None, REACH, false).unwrap();
    session.drag(Point2::new(3.0, 5.0), None, 0.0).unwrap();
    session.release().unwrap();
    assert!((session.measured().unwrap().si() - 5.0).abs() < 1e-9);
    session.undo();
    assert!(session.measured().is_some(), "there is nothing to undo, and the measure stays to be read");
    session.cancel();
    assert_eq!(session.measured(), None);
}

/// Whatever the state, a command that is offered can be asked for, and one that is not changes nothing and says why.
#[test]
fn every_command_is_done_or_says_why_not() {
    for start in [
        demo,
        || bare(files::demo()),
        || {
            let mut all = star();
            all.select_all();
            all
        },
    ] {
        for entry in TABLE {
            let mut session = start();
            let before = session.project().clone();
            let obstacle = commands::obstacle(&session, entry.command);
            let done = commands::run(&mut session, entry.command);
            if let Some(why) = obstacle {
                assert_eq!(done, Err(Refusal::Obstacle(why)), "{}", entry.label);
            }
            if done.is_err() || done == Ok(CommandDone::LeftToWindow) {
                assert_eq!(*session.project(), before, "{}", entry.label);
            }
            sound(&session);
        }
    }
}

/// From an empty bar to eighty fed rows with what the commands offer: seven manifolds, one filter, one tee for each
/// hose that branches off, each hose by two clicks.
#[test]
fn an_eighty_row_bar_is_plumbed_from_nothing() {
    let mut session = bare(large().project().clone());
    let mut actions = 0;
    for command in [Command::ManifoldPerSection, Command::NearestManifold, Command::PlugOpen] {
        session.select([]);
        commands::run(&mut session, command).unwrap();
        actions += 1;
    }
    // The filter, and a chain of tees along the centre: supply, filter, tee, and from manifold to manifold outwards.
    session.place(&PartKey::new("filter-32-300"), Point2::new(0.0, 1.0), REACH).unwrap();
    session.place(&PartKey::new("tee-32"), Point2::new(0.0, 0.2), REACH).unwrap();
    actions += 4;
    let mut manifolds: Vec<_> =
        session.routing().parts.iter().filter(|part| session.is_manifold(part.id)).cloned().collect();
    manifolds.sort_by(|a, b| a.position.x.total_cmp(&b.position.x));
    let to = |index: usize, port| End::Port(PortRef { part: manifolds[index].id, port });
    let (filter, tee) = (part(&session, "F1"), part(&session, "T1"));
    let at = |part, port| End::Port(PortRef { part, port });
    let hoses = [
        (End::Supply, at(filter, Port::In)),
        (at(filter, Port::Out), to(3, Port::In)),
        (to(3, Port::Out), at(tee, Port::Branch)),
        (at(tee, Port::In), to(2, Port::In)),
        (at(tee, Port::Out), to(4, Port::In)),
        (to(2, Port::Out), to(1, Port::In)),
        (to(1, Port::Out), to(0, Port::In)),
        (to(4, Port::Out), to(5, Port::In)),
        (to(5, Port::Out), to(6, Port::In)),
    ];
    for (from, to) in hoses {
        session.join(&StockKey::new("hose-32"), from, to).unwrap();
        actions += 2;
    }
    sound(&session);
    // Nothing sprays: every port is taken, plugged, or comes closed.
    assert!(
        !session.outcome().problems.iter().any(|one| matches!(one, ConnectionProblem::OpenPorts(..))),
        "{:?}",
        session.outcome().problems
    );
    let again = commands::run(&mut session, Command::PlugOpen).unwrap();
    let step = "Plug open outlets".to_owned();
    assert_eq!(again, CommandDone::BySession(Some(Remark::AlreadySo { step })));
    let fed = session.outcome().rows().iter().filter(|row| row.state == RowState::Fed).count();
    assert_eq!(fed, 80, "{:?} {:?}", session.outcome().result, session.outcome().problems);
    assert!(session.outcome().result.is_ok());
    assert!(actions < 30, "{actions}");
    // Hoses step onto the frame aslant, and at a hinge the free piece takes the way across its corners.
    let tight = equirow::checks::bend_radius::tight_bends(session.project(), session.laid());
    let tags: Vec<&str> = tight.iter().map(|one| one.tag.as_str()).collect();
    assert_eq!(tags, [""; 0]);
    // Hoses on the wings cross their hinges, and those at the centre none.
    for run in &session.routing().runs {
        let sections = [run.from, run.to].map(|end| {
            end.port().and_then(|port| session.routing().part(port.part)).map(|part| part.section)
        });
        if let [Some(a), Some(b)] = sections {
            let between = session.project().bar.hinges_between(a, b);
            assert_eq!(run.line.crossings.len(), between.len(), "{}", run.tag);
        }
    }
}

/// The examples' hoses have a barb at each end, so a hose drawn beside them must lose as much and count as much.
#[test]
fn a_new_hose_has_fittings_like_those_that_are_there() {
    // On an empty bar the catalogue decides: the widest fitting that goes into the bore.
    let mut session = bare(files::demo());
    session.manifold_per_section().unwrap();
    let bar = session.project().bar.clone();
    let loose = |x: f64| End::Loose(BarPoint::over(&bar, Point3::new(x, 0.5, 1.0)));
    for (bore, barb) in [(8, "barb-8"), (12, "barb-12"), (19, "barb-19"), (32, "barb-32")] {
        session.join(&StockKey::new(format!("hose-{bore}")), loose(0.0), loose(1.0)).unwrap();
        let drawn = session.routing().runs.last().unwrap();
        assert_eq!(drawn.fittings, [FittingKey::new(barb), FittingKey::new(barb)], "{bore} mm");
    }
    // Another fitting in use there is taken up; a split gives both new ends theirs.
    let first = session.routing().runs.iter().find(|run| run.line.stock == hose()).unwrap().id;
    set_fittings(&mut session, first, "barb-16");
    session.join(&hose(), loose(2.0), loose(3.0)).unwrap();
    let drawn = session.routing().runs.last().unwrap().clone();
    assert_eq!(drawn.fittings, [FittingKey::new("barb-16"), FittingKey::new("barb-16")]);
    session.set_fitting(drawn.id, 1, Some(&FittingKey::new("barb-12"))).unwrap();
    session.split_run(drawn.id, Point2::new(2.5, 0.5), None).unwrap();
    let pieces: Vec<Vec<FittingKey>> =
        session.routing().runs.iter().rev().take(2).map(|run| run.fittings.clone()).collect();
    let of = |names: [&str; 2]| names.map(FittingKey::new).to_vec();
    assert!(pieces.contains(&of(["barb-16", "barb-12"])), "{pieces:?}");
    sound(&session);
    // They are added, changed and taken away one by one, each one step.
    session.add_fitting(first).unwrap();
    assert_eq!(session.routing().run(first).unwrap().fittings.len(), 3);
    session.set_fitting(first, 0, None).unwrap();
    session.undo();
    session.undo();
    assert_eq!(session.routing().run(first).unwrap().fittings.len(), 2);
}

#[test]
fn another_bore_takes_the_fittings_of_that_bore_and_leaves_chosen_ones() {
    let mut session = demo();
    let hose = run(&session, "H1");
    assert_eq!(hose.fittings, [FittingKey::new("barb-19"), FittingKey::new("barb-19")]);
    set_bore(&mut session, &[hose.id], "hose-25");
    assert_eq!(run(&session, "H1").fittings, [FittingKey::new("barb-25"), FittingKey::new("barb-25")]);
    session.undo();
    set_fittings(&mut session, hose.id, "barb-12");
    session
        .join(
            &StockKey::new("hose-19"),
            End::Loose(over(&session, Point3::new(0.0, 2.0, 1.0))),
            End::Loose(over(&session, Point3::default())),
        )
        .unwrap();
    session.undo();
    let lost = |session: &Session| session.outcome().run(hose.id).unwrap().loss.unwrap().si();
    let narrow = lost(&session);
    session.undo();
    assert!(narrow > lost(&session), "a narrower barb loses more");
}

#[test]
fn a_hose_goes_on_from_its_loose_end() {
    let mut session = bare(files::demo());
    session.place(&PartKey::new("manifold-6-middle"), Point2::new(-0.5, -0.3), REACH).unwrap();
    session.place(&PartKey::new("tee-19"), Point2::new(0.8, 0.3), REACH).unwrap();
    session.set_snapping(SnapSettings { on: false, ..session.snapping() });
    let start = port_place(&session, port(&session, "T1", Port::In));
    let goal = port_place(&session, port(&session, "M1", Port::In));
    session.take(Tool::Join { stock: hose() });
    click(&mut session, start, None);
    let (one, two, three) = (Point2::new(0.4, 1.0), Point2::new(0.0, 1.2), Point2::new(-0.4, 1.0));
    click(&mut session, one, None);
    click(&mut session, two, None);
    session.finish().unwrap();
    let loose = run(&session, "H1");
    assert!(matches!(loose.to, End::Loose(_)));
    // From the loose end, over another place, to the manifold.
    click(&mut session, two, None);
    assert!(
        matches!(session.gesture(), Gesture::Joining { goes_on: Some((id, false)), .. } if *id == loose.id)
    );
    click(&mut session, three, None);
    let (way, _) = session.joining_way(goal, REACH).unwrap();
    assert_eq!(way.len(), 5, "the whole hose is shown");
    click(&mut session, goal, None);
    let whole = run(&session, "H1");
    assert_eq!(session.routing().runs.len(), 1, "it is the same hose");
    assert_eq!((whole.id, whole.from), (loose.id, loose.from));
    assert_eq!(whole.to, End::Port(port(&session, "M1", Port::In)));
    let flat: Vec<Point2> = whole.line.waypoints.iter().map(|point| point.place.flat()).collect();
    for (at, wanted) in flat.iter().zip([one, two, three]) {
        assert!(at.distance(wanted) < 0.011, "{flat:?}");
    }
    assert_eq!(session.undo_name(), Some("Continue H1"));
    session.undo();
    assert_eq!(run(&session, "H1"), loose);
    sound(&session);
}

#[test]
fn a_row_feed_is_led_to_another_outlet_and_to_another_row() {
    let mut session = star();
    let feed = |session: &Session, row: u32| {
        let id = session.project().bar.rows.iter().find(|one| one.number == row).unwrap().id;
        session.routing().feed_of(id).unwrap().clone()
    };
    let outlet = |session: &Session, row: u32| {
        let row = session.project().bar.rows.iter().find(|one| one.number == row).unwrap();
        session.project().bar.outlet(row).flat()
    };
    let (third, fourth) = (feed(&session, 3), feed(&session, 4));
    let at = |end: &End, session: &Session| session.end_place(end).unwrap().flat();
    // Onto an outlet that is taken: both are exchanged, in one step.
    let (from, to) = (at(&third.from, &session), at(&fourth.from, &session));
    let session_after = each_way(session, "Reconnect T3", |session| {
        session.select([Subject::Feed(third.id)]);
        session.press(from, None, 0.02, false).unwrap();
        session.drag(to, None, 0.0).unwrap();
    });
    session = session_after;
    assert_eq!(feed(&session, 3).from, fourth.from);
    assert_eq!(feed(&session, 4).from, third.from);
    sound(&session);
    session.undo();
    // To another row: again exchanged, each row keeps one feed.
    let (from, to) = (outlet(&session, 3), outlet(&session, 6));
    session.select([Subject::Feed(third.id)]);
    drag(&mut session, from, None, to);
    session.release().unwrap();
    assert_eq!(feed(&session, 6).id, third.id);
    assert_ne!(feed(&session, 3).id, third.id);
    assert!(session.project().bar.rows.iter().all(|row| session.routing().feed_of(row.id).is_some()));
    sound(&session);
    session.undo();
    // Beside every row it stays where it was, and off its outlet it hangs loose.
    session.select([Subject::Feed(third.id)]);
    let from = outlet(&session, 3);
    drag(&mut session, from, None, Point2::new(-3.0, 5.0));
    session.release().unwrap();
    assert_eq!(feed(&session, 3), third);
    session.select([Subject::Feed(third.id)]);
    let from = at(&third.from, &session);
    drag(&mut session, from, None, Point2::new(-3.0, 5.0));
    session.release().unwrap();
    assert!(matches!(feed(&session, 3).from, End::Loose(_)));
    assert_eq!(session.outcome().connections[2].connected, Err(NotFed::FeedLoose));
}

#[test]
fn what_would_lie_over_another_part_is_told_and_still_placed() {
    let mut session = star();
    let key = PartKey::new("manifold-6-middle");
    session.take(Tool::Place(key.clone()));
    let at = middle(&session, "M3");
    let ghosts = session.ghosts(at, REACH);
    assert_eq!(ghosts[0].over, ["M3"]);
    let aside = session.ghosts(Point2::new(at.x, at.y - 0.9), REACH);
    assert_eq!(aside[0].over, Vec::<String>::new());
    let before = session.routing().parts.len();
    let remark = clicked(&mut session, at, None).unwrap().unwrap();
    assert_eq!(session.routing().parts.len(), before + 1);
    assert!(remark.to_string().contains("lies over M3"));
}

#[test]
fn a_hose_is_split_where_an_outlet_covers_it_and_leads_to_another_part() {
    let mut session = star();
    let hose = run(&session, "H1");
    let way = path(&session, &hose);
    let at = way[0].towards(way[1], 0.5).flat();
    let row = session.project().bar.rows[0].id;
    session.take(Tool::Split { tee: None });
    click(&mut session, at, Some(Subject::Row(row)));
    assert_eq!(session.undo_name(), Some("Split H1 with J5"));
    // A gauge port takes no hose, and a hose does not end on the part it starts from.
    let mut session = bare(files::demo());
    session.place(&PartKey::new("manifold-6-middle"), Point2::new(-0.5, -0.3), REACH).unwrap();
    let gauge = port_place(&session, port(&session, "M1", Port::Gauge));
    assert_ne!(
        session.nearest_end(gauge, 0.2).and_then(|end| end.port()).map(|port| port.port),
        Some(Port::Gauge)
    );
    session.take(Tool::Join { stock: hose.line.stock });
    let (inlet, far) = (port(&session, "M1", Port::In), port(&session, "M1", Port::Out));
    let (inlet, far) = (port_place(&session, inlet), port_place(&session, far));
    click(&mut session, inlet, None);
    let refused = clicked(&mut session, far, None).unwrap_err();
    assert!(session.routing().runs.is_empty());
    assert!(refused.to_string().contains("another part"));
}

/// Everything that a new row feed starts from by itself must stand: metering by the rule of the project's own limit
/// at the slowest speed, computed by hand from the orifice equation.
#[test]
fn first_choices_fit_the_bar() {
    let mut session = bare(files::demo());
    session.manifold_per_section().unwrap();
    let y: BTreeSet<i64> =
        session.routing().parts.iter().map(|part| (part.position.y * 1000.0).round() as i64).collect();
    assert_eq!(y.len(), 1, "both wings alike: {y:?}");
    session.share_rows(&Scope::Bar, Share::Nearest).unwrap();
    let project = session.project();
    let feed = &session.routing().feeds[0];
    let item = |kind: &str| {
        let element = feed.elements().find(|one| one.kind() == kind).unwrap();
        *project.catalogue.any_item(element.entry()).unwrap()
    };
    let (
        Item::Element(ElementItem::CheckValve(CheckValve { cracking, closing, .. })),
        Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. })),
    ) = (item("check valve"), item("metering orifice"))
    else {
        panic!("a check valve and an orifice")
    };
    let asked = project.duties.first();
    let flow = asked.rate.si() * asked.slowest.si() * project.bar.row_spacing.si();
    let density = project.duties.first().liquid.at(asked.temperature).unwrap().density.si();
    let drop = |bore: f64| {
        let area = std::f64::consts::PI / 4.0 * bore * bore;
        density / 2.0 * (flow / (cd * area)).powi(2)
    };
    let enough = cracking.si() * project.limits.metering_over_cracking.si();
    assert!(drop(bore.si()) >= enough);
    // Of the check valves that hold the tank's liquid with the pump off, the one that opens first; but none whose
    // metering, five times its cracking pressure at the slowest speed, needs more at the fastest than the supply has.
    let lowest = project.bar.rows.iter().map(|row| row.outlet_height.si()).fold(f64::INFINITY, f64::min);
    let standing = density * 9.80665 * (project.supply.tank_surface.si() - lowest);
    let faster = (asked.fastest.si() / asked.slowest.si()).powi(2);
    assert!(cracking.si() + drop(bore.si()) * faster < 4e5, "the demo's pressure limit");
    for entry in &project.catalogue.entries {
        if let Item::Element(ElementItem::CheckValve(CheckValve {
            cracking: other, closing: shuts, ..
        })) = entry.item
        {
            let bores = project.catalogue.entries.iter().filter_map(|entry| match entry.item {
                Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, .. })) => {
                    Some(drop(bore.si()))
                }
                _ => None,
            });
            let enough = other.si() * project.limits.metering_over_cracking.si();
            let metering = bores.filter(|drop| *drop >= enough).min_by(f64::total_cmp);
            let too_much = metering.is_none_or(|drop| other.si() + drop * faster > 0.8 * 4e5);
            let worse = if closing.si() > standing { other >= cracking } else { shuts <= closing };
            assert!(worse || too_much || shuts.si() <= standing, "{} would do", entry.key);
        }
    }
    // The next wider one of the catalogue would take too little.
    let wider = project.catalogue.entries.iter().filter_map(|entry| match entry.item {
        Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore: other, .. })) if other > bore => {
            Some(other.si())
        }
        _ => None,
    });
    assert!(wider.min_by(f64::total_cmp).is_none_or(|wider| drop(wider) < enough));
    // The first hose and tee are as wide as the filter.
    session.place(&PartKey::new("filter-25-300"), Point2::new(0.0, 1.3), REACH).unwrap();
    assert_eq!(session.usual_hose(), Some(StockKey::new("hose-25")));
    assert_eq!(session.usual_entry(|item| matches!(item, PartItem::Tee(_))), Some(PartKey::new("tee-25")));
    session.place(&PartKey::new("tee-12"), Point2::new(0.5, 1.3), REACH).unwrap();
    assert_eq!(session.usual_entry(|item| matches!(item, PartItem::Tee(_))), Some(PartKey::new("tee-12")));
}

/// In every list that parts, hoses and row feeds are chosen from.
#[test]
fn no_two_entries_of_the_generic_catalogue_read_alike() {
    let catalogue = files::generic_catalogue();
    type Fits = fn(&Item) -> bool;
    let lists: [Fits; 10] = [
        |item| matches!(item, Item::Part(PartItem::InletFilter(_))),
        |item| matches!(item, Item::Part(PartItem::Tee(_))),
        |item| matches!(item, Item::Part(PartItem::SectionValve(_))),
        |item| matches!(item, Item::Part(PartItem::Manifold(_))),
        |item| matches!(item, Item::Part(PartItem::Gauge(_))),
        |item| matches!(item, Item::Stock(StockItem::Hose(_) | StockItem::Tube(_))),
        |item| {
            matches!(
                item,
                Item::Element(ElementItem::MeteringOrifice(_)) | Item::Stock(StockItem::MeteringTube(_))
            )
        },
        |item| matches!(item, Item::Element(ElementItem::CheckValve(_))),
        |item| matches!(item, Item::Fitting(FittingItem::Fitting(_))),
        |item| matches!(item, Item::Part(_)),
    ];
    for units in equirow::quantities::UnitSystem::ALL {
        for fits in lists {
            let offered = catalogue.offered::<EntryKey>(units, fits);
            let texts: BTreeSet<&str> = offered.iter().map(|(_, text)| text.as_str()).collect();
            assert_eq!(texts.len(), offered.len(), "{offered:?}");
            assert!(!offered.is_empty());
        }
    }
}

/// A rail at y = 0.3 with a hose along it, cut by a tee whose branch is joined forward.
fn teed() -> Session {
    let mut session = bare(files::demo());
    let bar = session.project().bar.clone();
    let loose = |x: f64| End::Loose(BarPoint::over(&bar, Point3::new(x, 0.5, 1.0)));
    session.join_through(&hose(), loose(-2.0), Vec::new(), loose(2.0)).unwrap();
    let drawn = session.routing().runs[0].id;
    session.split_run(drawn, Point2::new(0.0, 0.5), None).unwrap();
    sound(&session);
    session
}

/// The ends of a hose that are on ports of a part, as places.
fn places_at(session: &Session, id: PartId) -> Vec<Point3> {
    let ends = session.routing().runs.iter().flat_map(|run| [run.from, run.to]);
    let on = ends.filter(|end| end.port().is_some_and(|port| port.part == id));
    on.map(|end| session.end_place(&end).unwrap()).collect()
}

#[test]
fn a_tees_branch_goes_to_the_other_side_and_the_run_stays() {
    let mut session = teed();
    let tee = session.selected_part().unwrap();
    let (runs, before) = (places_at(&session, tee), port_place(&session, port(&session, "T1", Port::Branch)));
    let lengths: Vec<f64> = session.routing().runs.iter().map(|run| length(&session, run)).collect();
    commands::run(&mut session, Command::BranchOver).unwrap();
    assert_eq!(session.undo_name(), Some("Branch to the other side of T1"));
    let after = port_place(&session, port(&session, "T1", Port::Branch));
    assert!((after.y - 0.5 + (before.y - 0.5)).abs() < 1e-9 && before.y > 0.5, "{before:?} {after:?}");
    for (was, now) in runs.iter().zip(places_at(&session, tee)) {
        assert!(was.distance(now) < 1e-9, "{was:?} {now:?}");
    }
    let now: Vec<f64> = session.routing().runs.iter().map(|run| length(&session, run)).collect();
    assert!(lengths.iter().zip(&now).all(|(a, b)| (a - b).abs() < 1e-9));
    sound(&session);
    // It is no command for anything else.
    session.select([Subject::Run(session.routing().runs[0].id)]);
    let refused = commands::run(&mut session, Command::BranchOver).unwrap_err();
    assert_eq!(refused.to_string(), "Select a tee first");
}

/// Turned by quarters to the other side, no hose lies across the tee: each end stays on the side it came from.
#[test]
fn turning_a_tee_round_crosses_no_hoses() {
    for quarters in [1, -1] {
        let mut session = teed();
        let tee = session.selected_part().unwrap();
        let before = places_at(&session, tee);
        session.turn_by_quarters(quarters).unwrap();
        session.turn_by_quarters(quarters).unwrap();
        let after = places_at(&session, tee);
        assert!(before.iter().zip(&after).all(|(a, b)| a.distance(*b) < 1e-9), "{before:?} {after:?}");
        let branch = port_place(&session, port(&session, "T1", Port::Branch));
        assert!(branch.y < 0.5 - 0.05, "{branch:?}");
        sound(&session);
        session.undo();
        session.undo();
        assert_eq!(places_at(&session, tee), before);
    }
}

#[test]
fn a_hose_end_dragged_onto_a_taken_port_changes_places_with_the_hose_there() {
    let session = {
        let mut session = teed();
        // The second hose hangs on the branch instead.
        let branch = End::Port(port(&session, "T1", Port::Branch));
        let second = session.routing().runs[1].id;
        session.reconnect(second, true, branch).unwrap();
        let (routing, parts) = (session.project().clone(), session.selected_part());
        assert!(parts.is_some());
        Session::new(routing, None)
    };
    let (first, second) = (session.routing().runs[0].clone(), session.routing().runs[1].clone());
    let (from, to) = (first.to.port().unwrap(), second.from.port().unwrap());
    assert_eq!((from.port, to.port), (Port::In, Port::Branch));
    let mut session = each_way(session, "Reconnect H1", |session| {
        session.select([Subject::Run(first.id)]);
        let (at, there) = (port_place(session, from), port_place(session, to));
        drag(session, at, Some(Subject::Run(first.id)), there);
    });
    assert_eq!(session.routing().run(first.id).unwrap().to, End::Port(to));
    assert_eq!(session.routing().run(second.id).unwrap().from, End::Port(from));
    sound(&session);
    // Dragged past a taken port and on, nothing but the dragged end has changed.
    session.undo();
    session.select([Subject::Run(first.id)]);
    let (at, past) = (port_place(&session, from), port_place(&session, to));
    session.press(at, Some(Subject::Run(first.id)), REACH, false).unwrap();
    session.drag(past, None, 0.01).unwrap();
    session.drag(Point2::new(past.x, past.y + 1.0), None, 0.01).unwrap();
    session.release().unwrap();
    assert!(matches!(session.routing().run(first.id).unwrap().to, End::Loose(_)));
    assert_eq!(*session.routing().run(second.id).unwrap(), second);
}

/// A way laid along the frame is laid anew by whatever moves its part, and never runs back on itself.
#[test]
fn what_follows_the_frame_follows_however_a_part_is_moved() {
    type Move = fn(&mut Session, PartId);
    let by_field: Move = |session, id| {
        session.set(Property::Right, &[Subject::Part(id)], PropertyValue::Number(4.0)).unwrap();
    };
    let by_turn: Move = |session, id| {
        session.select([Subject::Part(id)]);
        session.turn_by_quarters(2).unwrap();
    };
    let by_keys: Move = |session, id| {
        session.select([Subject::Part(id)]);
        session.nudge(0.2, -0.3).unwrap();
    };
    let by_size: Move = |session, id| {
        let size = PropertyValue::Entry(EntryKey::new("manifold-12-middle"));
        session.set(Property::Size, &[Subject::Part(id)], size).unwrap();
    };
    for change in [by_field, by_turn, by_keys, by_size] {
        let mut session = star();
        let manifold = part(&session, "M3");
        let at = |end: End| end.port().is_some_and(|port| port.part == manifold);
        let runs: Vec<RunId> = session
            .routing()
            .runs
            .iter()
            .filter(|run| at(run.from) || at(run.to))
            .map(|run| run.id)
            .collect();
        let feeds: Vec<_> = session.routing().feeds.iter().filter(|feed| at(feed.from)).collect();
        let feeds: Vec<_> = feeds.into_iter().map(|feed| feed.id).collect();
        assert!(!runs.is_empty() && !feeds.is_empty());
        session.follow_frame(&runs, &feeds).unwrap();
        change(&mut session, manifold);
        let laid = session.project().clone();
        session.follow_frame(&runs, &feeds).unwrap();
        assert_eq!(*session.project(), laid);
        sound(&session);
    }
}

#[test]
fn a_valve_dropped_on_a_hose_goes_into_it_and_deleting_it_heals_the_hose() {
    let mut session = star();
    let longest = session
        .routing()
        .runs
        .iter()
        .max_by(|a, b| length(&session, a).total_cmp(&length(&session, b)))
        .unwrap()
        .clone();
    let way = path(&session, &longest);
    let leg = (0..way.len() - 1)
        .max_by(|a, b| way[*a].distance(way[*a + 1]).total_cmp(&way[*b].distance(way[*b + 1])))
        .unwrap();
    let at = way[leg].towards(way[leg + 1], 0.4).flat();
    let aside = Point2::new(at.x + 0.02, at.y - 0.02);
    for (key, tag) in [("valve-19", "V"), ("tee-19", "J"), ("filter-80", "F")] {
        let Some(entry) = session
            .project()
            .catalogue
            .first::<PartKey>(|item| tag.starts_with(session.project().tag_letters.part(item.item_kind())))
        else {
            panic!("{key}")
        };
        let whole = session.project().clone();
        session.take(Tool::Place(entry.clone()));
        let ghost = session.ghosts(aside, REACH)[0].clone();
        assert_eq!(ghost.snap.to, vec![SnapTo::Hose(longest.id)]);
        click(&mut session, aside, Some(Subject::Run(longest.id)));
        let name = session.undo_name().unwrap().to_owned();
        assert!(name.starts_with(&format!("Put {tag}")) && name.ends_with(&longest.tag), "{name}");
        let placed = session.selected_part().unwrap();
        let on = |session: &Session, port| session.routing().on_port(PortRef { part: placed, port }).len();
        assert_eq!((on(&session, Port::In), on(&session, Port::Out)), (1, 1));
        let found = session.routing().part(placed).unwrap();
        assert!(found.position.distance(ghost.place) < 1e-9 && found.turn == ghost.turn);
        sound(&session);
        // Both pieces leave it straight: neither runs back over it.
        for end in places_at(&session, placed) {
            let (a, b) = (way[leg], way[leg + 1]);
            let sum = a.distance(end) + end.distance(b);
            assert!((sum - a.distance(b)).abs() < 1e-6, "{end:?} is not on the hose");
        }
        session.take(Tool::Select);
        session.select([Subject::Part(placed)]);
        session.delete_selection().unwrap();
        let healed = session.routing().run(longest.id).unwrap();
        assert_eq!((healed.from, healed.to), (longest.from, longest.to));
        assert_eq!(healed.fittings, longest.fittings);
        assert_eq!(healed.line.waypoints.len(), longest.line.waypoints.len());
        assert!((length(&session, healed) - length(&session, &longest)).abs() < 1e-6);
        assert_eq!(session.routing().runs.len(), whole.routings[1].runs.len());
        sound(&session);
        session.undo();
        assert!(session.routing().part(placed).is_some());
        session.undo();
        assert_eq!(*session.project(), whole);
    }
}

/// A tee that feeds something by its branch can't be healed, nor one between two kinds of hose.
#[test]
fn a_tee_with_a_branch_in_use_leaves_loose_ends() {
    for branch in [true, false] {
        let mut session = teed();
        let tee = session.selected_part().unwrap();
        if branch {
            let port = End::Port(port(&session, "T1", Port::Branch));
            session
                .join_through(
                    &hose(),
                    port,
                    Vec::new(),
                    End::Loose(over(&session, Point3::new(0.0, 1.5, 1.0))),
                )
                .unwrap();
        } else {
            let second = session.routing().runs[1].id;
            set_bore(&mut session, &[second], "hose-12");
        }
        let count = session.routing().runs.len();
        session.select([Subject::Part(tee)]);
        session.delete_selection().unwrap();
        assert_eq!(session.routing().runs.len(), count);
        sound(&session);
    }
}

/// Nothing flows into a plugged branch: its tee is removed and the hose is whole again, the plug gone with it. A gauge
/// there is kept, and the hose stays in two.
#[test]
fn a_tee_with_a_plugged_branch_is_healed_and_one_with_a_gauge_is_not() {
    for (kind, runs, left) in [("blanking plug", 1, 0), ("gauge", 2, 1)] {
        let mut session = teed();
        let tee = session.selected_part().unwrap();
        let branch = port(&session, "T1", Port::Branch);
        let entry = session.project().catalogue.first(|item: &PartItem| item.kind() == kind).unwrap();
        session.take(Tool::Place(entry));
        let at = port_place(&session, branch);
        click(&mut session, at, None);
        session.take(Tool::Select);
        assert_eq!(session.routing().parts[1].mount, Some(branch), "the {kind} is not on the branch");
        session.select([Subject::Part(tee)]);
        session.delete_selection().unwrap();
        assert_eq!(session.routing().runs.len(), runs, "the {kind}");
        assert_eq!(session.routing().parts.len(), left, "the {kind} is left alone or goes with the tee");
        sound(&session);
    }
}

/// The branch is on the side that the turn in hand asks for, whichever end of the hose was drawn first.
#[test]
fn a_tee_goes_into_a_hose_with_its_branch_where_it_is_turned_to() {
    let middle = Point2::new(0.3, 0.5);
    let (forward, left) = (Point2::new(0.0, 1.0), Point2::new(-1.0, 0.0));
    let back = |way: Point2| Point2::new(-way.x, -way.y);
    let right = back(left);
    let rearward = back(forward);
    for (along, sides) in
        [(right, [forward, forward, rearward, rearward]), (forward, [right, left, left, right])]
    {
        for half in [0.5, -0.5] {
            for (quarters, side) in (0i8..).zip(sides) {
                let mut session = bare(files::demo());
                let loose = |half: f64| {
                    let at = Point3::new(middle.x + along.x * half, middle.y + along.y * half, 1.0);
                    End::Loose(BarPoint { place: at, section: SectionId(1) })
                };
                session.join_through(&hose(), loose(-half), Vec::new(), loose(half)).unwrap();
                let drawn = session.routing().runs[0].id;
                session.take(Tool::Place(PartKey::new("tee-19")));
                session.turn_by_quarters(quarters).unwrap();
                click(&mut session, middle, Some(Subject::Run(drawn)));
                assert_eq!(session.routing().runs.len(), 2);
                let branch = port_place(&session, port(&session, "T1", Port::Branch));
                let wanted = Point2::new(middle.x + 0.06 * side.x, middle.y + 0.06 * side.y);
                assert!(
                    branch.distance(wanted) < 1e-9,
                    "along {along:?}, {half}, {quarters} quarters: {branch:?}, not {wanted:?}"
                );
                // Neither hose lies across the tee, which takes 0.12 m of the way.
                let paths = session.routing().runs.iter().map(|run| path(&session, run));
                let together: f64 = paths.map(|path| path[0].distance(path[path.len() - 1])).sum();
                assert!((together - 0.88).abs() < 1e-9, "along {along:?}, {half}, {quarters}: {together}");
                sound(&session);
            }
        }
    }
}

#[test]
fn what_is_placed_over_the_bar_is_numbered_from_left_to_right() {
    let mut session = bare(files::demo());
    let entry = session.project().catalogue.first(|item| matches!(item, PartItem::Manifold(_))).unwrap();
    session.take(Tool::Place(entry));
    commands::run(&mut session, Command::ManifoldPerSection).unwrap();
    assert_eq!(*session.tool(), Tool::Select);
    let in_order = |session: &Session| {
        let mut parts: Vec<(f64, String)> = session
            .routing()
            .parts
            .iter()
            .map(|part| (middle(session, &part.tag).x, part.tag.clone()))
            .collect();
        parts.sort_by(|a, b| a.0.total_cmp(&b.0));
        parts.into_iter().map(|one| one.1).collect::<Vec<_>>()
    };
    let tags: Vec<String> = (1..=session.routing().parts.len()).map(|number| format!("M{number}")).collect();
    assert_eq!(in_order(&session), tags);
    commands::run(&mut session, Command::NearestManifold).unwrap();
    let bar = session.project().bar.clone();
    let mut feeds: Vec<(f64, String)> = session
        .routing()
        .feeds
        .iter()
        .map(|feed| (bar.row(feed.branches[0].row).unwrap().x.si(), feed.tag.clone()))
        .collect();
    feeds.sort_by(|a, b| a.0.total_cmp(&b.0));
    let tubes: Vec<String> = (1..=feeds.len()).map(|number| format!("D{number}")).collect();
    assert_eq!(feeds.into_iter().map(|one| one.1).collect::<Vec<_>>(), tubes);
}

/// A filter screwed by its stem onto a manifold's inlet, and the hose on its other side: the manifold gets its liquid
/// through what is screwed onto it, and hangs on the filter.
#[test]
fn what_liquid_comes_to_through_a_mounted_part_is_downstream_of_it() {
    let mut project = files::demo();
    let routing = &mut project.routings[0];
    let id = |routing: &Routing, tag: &str| routing.parts.iter().find(|one| one.tag == tag).unwrap().id;
    let (filter, manifold) = (id(routing, "F1"), id(routing, "M1"));
    let (on_inlet, stem) =
        (PortRef { part: manifold, port: Port::In }, PortRef { part: filter, port: Port::In });
    // The hose into the manifold goes; the supply hose comes to the filter's outlet.
    routing.runs.retain(|run| run.from != End::Port(on_inlet) && run.to != End::Port(on_inlet));
    routing.runs.retain(|run| run.from.port().is_none_or(|port| port.part != filter));
    for run in &mut routing.runs {
        if run.to == End::Port(stem) {
            run.to = End::Port(PortRef { part: filter, port: Port::Out });
        }
    }
    routing.parts.iter_mut().find(|one| one.id == filter).unwrap().mount = Some(on_inlet);
    let session = Session::new(project, None);
    assert!(session.downstream(&[filter]).contains(&Subject::Part(manifold)));
    assert!(!session.downstream(&[manifold]).contains(&Subject::Part(filter)));
}

/// What no machine can change: a hose is as long in every position of the fold, and ends where its ends are carried.
#[test]
fn a_hose_that_is_computed_keeps_its_length_through_the_fold() {
    let mut bent = 0;
    for example in files::Example::ALL {
        let project = example.project();
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        for laid in geometry.runs().iter().flatten().filter(|laid| !laid.crossings.is_empty()) {
            let free: f64 = laid
                .crossings
                .iter()
                .filter_map(|one| one.computed())
                .map(|one| (one.free - one.way).si())
                .sum();
            for share in [0.1, 0.4, 0.7, 1.0] {
                let position = FoldPosition::share(share);
                let folded = FoldedBar::at(&project.bar, position);
                let places = laid.folded(&project.bar, &folded, position);
                let length = polyline_length(&places);
                assert!((length - laid.drawn.si() - free).abs() < 0.01, "{share}: {length} {free} {laid:?}");
                assert!(places[0].distance(folded.place(laid.from())) < 1e-9);
                assert!(places[places.len() - 1].distance(folded.place(laid.to())) < 1e-9);
                bent += 1;
            }
        }
    }
    assert!(bent >= 40, "{bent}");
}
