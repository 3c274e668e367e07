//! Tests of the properties: what is taken, what is refused, and in how many steps.

use super::*;
use crate::files;

/// Every one, a hinge allowance and a kind of piece for all of theirs.
const ALL: [Property; 25] = [
    Property::Tag,
    Property::Size,
    Property::Right,
    Property::Forward,
    Property::Height,
    Property::Shut,
    Property::FedRows,
    Property::Bore,
    Property::Fittings,
    Property::From,
    Property::To,
    Property::Slack,
    Property::HingeAllowance(0),
    Property::Clamp(ClampSide::Before, 0),
    Property::Clamp(ClampSide::Behind, 0),
    Property::MeasuredLength,
    Property::Tube,
    Property::Piece(ElementKind::CheckValve),
    Property::Piece(ElementKind::FlowIndicator),
    Property::Metering,
    Property::CutLength,
    Property::OutletHeight,
    Property::Share,
    Property::LeftOut,
    Property::FedFrom,
];

/// The demo with a section valve and with metering tubes in its first feeds.
fn demo() -> Session {
    let mut session = Session::new(files::demo(), None);
    let catalogue = session.project().catalogue.clone();
    let valve = catalogue.first::<PartKey>(|item| matches!(item, PartItem::SectionValve(_))).unwrap();
    session.place(&valve, crate::geometry::Point2::new(-2.0, 1.6), 0.01).unwrap();
    let tube = catalogue.first::<StockKey>(|item| matches!(item, StockItem::MeteringTube(_))).unwrap();
    let feeds: Vec<Subject> =
        session.routing().feeds.iter().take(3).map(|feed| Subject::Feed(feed.id)).collect();
    session.set(Property::Metering, &feeds, entry(&tube)).unwrap();
    session
}

fn everything(session: &Session) -> Vec<Subject> {
    let routing = session.routing();
    let parts = routing.parts.iter().map(|part| Subject::Part(part.id));
    let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
    let feeds = routing.feeds.iter().map(|feed| Subject::Feed(feed.id));
    let rows = session.project().bar.rows.iter().map(|row| Subject::Row(row.id));
    parts.chain(runs).chain(feeds).chain(rows).collect()
}

/// Both ends of a range are values that the project takes and that read back; what lies beyond is refused in the words of
/// a field, and changes nothing.
#[test]
fn a_number_is_taken_within_its_range_and_refused_beyond_in_the_words_of_its_field() {
    let session = demo();
    for property in ALL {
        let Input::Number(NumberInput { measure, range, .. }) = property.input() else { continue };
        // One of each kind of thing that has it.
        let mut on: Vec<Subject> =
            everything(&session).into_iter().filter(|one| property.can_be_set(&session, *one)).collect();
        on.dedup_by_key(|one| std::mem::discriminant(one));
        assert!(!on.is_empty(), "{property:?} is nowhere");
        for subject in on {
            for end in [*range.start(), *range.end()] {
                let mut changed = demo();
                changed.set(property, &[subject], PropertyValue::Number(end)).unwrap();
                let now = property.of(&changed, subject);
                let Common::Same(PropertyValue::Number(now)) = now else { panic!("{property:?}: {now:?}") };
                assert!((now - end).abs() < 1e-12, "{property:?}: {now}");
            }
            for beyond in [range.start() - 1.0, range.end() + 1.0] {
                let mut refused = demo();
                let before = refused.snapshot();
                let why = refused.set(property, &[subject], PropertyValue::Number(beyond)).unwrap_err();
                let field = measure.within(beyond, &range, None, before.units).unwrap_err();
                assert_eq!(why.to_string(), format!("{}: {field}", property.name()));
                assert_eq!(*refused.project(), *before);
            }
        }
    }
}

/// What can be set has a value, can be set to that, which is no step, and a list offers the value it has.
#[test]
fn what_a_thing_has_is_a_value_it_can_be_given() {
    let mut session = demo();
    for property in ALL {
        for subject in everything(&session) {
            if !property.can_be_set(&session, subject) {
                continue;
            }
            let value = match session.shared(property, &[subject]) {
                Common::Same(value) => value,
                Common::Mixed => continue,
                Common::None => panic!("{property:?} of {} has no value", session.tag_of(subject)),
            };
            let steps = session.undo_name().map(str::to_owned);
            let choices = session.choices(property, &[subject]);
            let offered = choices.iter().any(|(one, _)| *one == value);
            assert_eq!(property.input() == Input::List, !choices.is_empty(), "{property:?}");
            assert!(choices.is_empty() || offered, "{property:?} of {}: {value:?}", session.tag_of(subject));
            if !matches!(property, Property::FedRows | Property::FedFrom) {
                session.set(property, &[subject], value.clone()).unwrap();
            }
            assert_eq!(
                session.undo_name().map(str::to_owned),
                steps,
                "{property:?} of {}",
                session.tag_of(subject)
            );
        }
    }
}

#[test]
fn many_are_set_in_one_step_that_is_named_after_them() {
    let mut session = demo();
    let steps = |session: &mut Session, property: Property, on: &[Subject], value: PropertyValue| {
        session.set(property, on, value).unwrap();
        let name = session.undo_name().unwrap().to_owned();
        session.undo();
        name
    };
    let hoses: Vec<Subject> = session.routing().runs.iter().map(|run| Subject::Run(run.id)).collect();
    let rows: Vec<Subject> =
        session.project().bar.rows.iter().take(2).map(|row| Subject::Row(row.id)).collect();
    let number = PropertyValue::Number;
    let tag = session.tag_of(hoses[0]);
    let cases = [
        (Property::Slack, &hoses[..], number(0.07), format!("Change the slack of {} hoses", hoses.len())),
        (Property::MeasuredLength, &hoses[..1], number(2.0), format!("Change the measured length of {tag}")),
        (Property::Share, &rows, number(0.5), "Change the share of 2 rows".to_owned()),
        (Property::LeftOut, &rows[..1], PropertyValue::Yes(true), "Leave out row 1".to_owned()),
    ];
    for (property, on, value, name) in cases {
        assert_eq!(steps(&mut session, property, on, value.clone()), name);
        session.set(property, on, value.clone()).unwrap();
        assert_eq!(session.shared(property, on), Common::Same(value));
        session.undo();
    }
    // A row's feed counts as its own; what is mixed is said.
    let three: Vec<Subject> =
        rows.iter().copied().chain([Subject::Row(session.project().bar.rows[9].id)]).collect();
    assert_eq!(session.shared(Property::Metering, &three), Common::Mixed);
    let orifice = session.shared(Property::Metering, &three[2..]).same().unwrap();
    session.set(Property::Metering, &three, orifice.clone()).unwrap();
    assert_eq!(session.shared(Property::Metering, &three), Common::Same(orifice));
}

/// A feed without its indicator and one with a valve alone get one ahead of the check valve; the rest keeps its order.
#[test]
fn a_piece_that_feeds_may_have_is_added_changed_and_taken_out_in_one_step_each() {
    let mut session = Session::new(files::demo(), None);
    let before = session.routing().clone();
    let indicator = Property::Piece(ElementKind::FlowIndicator);
    let feeds: Vec<Subject> = before.feeds.iter().take(6).map(|feed| Subject::Feed(feed.id)).collect();
    assert_eq!(session.shared(indicator, &feeds), Common::Same(PropertyValue::Nothing));
    let choices = session.choices(indicator, &feeds);
    assert_eq!(choices[0], (PropertyValue::Nothing, "none".to_owned()));
    let (small, large) = (choices[1].0.clone(), choices[2].0.clone());

    session.set(indicator, &feeds[..1], small.clone()).unwrap();
    assert_eq!(session.undo_name().unwrap(), format!("Change the flow indicator of {}", before.feeds[0].tag));
    assert_eq!(session.shared(indicator, &feeds), Common::Mixed);
    session.set(indicator, &feeds, large.clone()).unwrap();
    assert_eq!(session.undo_name(), Some("Change the flow indicator of 6 row feeds"));
    assert_eq!(session.shared(indicator, &feeds), Common::Same(large));
    for (feed, old) in session.routing().feeds.iter().zip(&before.feeds).take(6) {
        for (branch, old) in feed.branches.iter().zip(&old.branches) {
            let is = |one: &FeedElement| one.is(ElementKind::FlowIndicator);
            let at = branch.elements.iter().position(is).unwrap();
            assert!(
                branch.elements[at + 1].is(ElementKind::CheckValve),
                "{}: {:?}",
                feed.tag,
                branch.elements
            );
            let rest: Vec<_> = branch.elements.iter().filter(|one| !is(one)).collect();
            assert_eq!(rest, old.elements.iter().collect::<Vec<_>>());
        }
    }

    session.set(indicator, &feeds, PropertyValue::Nothing).unwrap();
    assert_eq!(session.undo_name(), Some("Take the flow indicator out of 6 row feeds"));
    assert_eq!(*session.routing(), before);
    session.undo();
    session.undo();
    assert_eq!(session.shared(indicator, &feeds[..1]), Common::Same(small));
    assert_eq!(session.shared(indicator, &feeds[1..]), Common::Same(PropertyValue::Nothing));
    session.undo();
    assert_eq!(*session.routing(), before);

    // A check valve goes back to where it was; what meters can't be taken out.
    let valve = Property::Piece(ElementKind::CheckValve);
    let was = session.shared(valve, &feeds).same().unwrap();
    session.set(valve, &feeds, PropertyValue::Nothing).unwrap();
    session.set(valve, &feeds, was).unwrap();
    assert_eq!(*session.routing(), before);
    assert!(session.set(Property::Metering, &feeds, PropertyValue::Nothing).is_err());
    assert_eq!(*session.routing(), before);
}

/// Rows that share a feed each get theirs; a piece in the shared stretch already serves them all.
#[test]
fn each_row_of_a_shared_feed_gets_its_own_piece() {
    let mut feed = files::demo().routings[0].feeds[0].clone();
    let branch = feed.branches[0].clone();
    feed.branches.push(branch);
    let catalogue = files::demo().catalogue;
    let kind = ElementKind::FlowIndicator;
    let key = catalogue.first::<ElementKey>(|one| one.item_kind() == kind).unwrap();
    let count = |feed: &RowFeed| feed.elements().filter(|one| one.is(kind)).count();
    let mut each = feed.clone();
    each.put_piece(kind, &key);
    assert_eq!(count(&each), 2);
    each.branches[1].elements.retain(|one| !one.is(kind));
    assert_eq!(Property::Piece(kind).of_feed(&each), Common::Mixed);
    feed.trunk = vec![FeedElement::Piece(kind, key.clone())];
    feed.put_piece(kind, &key);
    assert_eq!(count(&feed), 1);
    assert_eq!(Property::Piece(kind).of_feed(&feed), Common::Same(entry(&key)));
    feed.remove_pieces(kind);
    assert_eq!(count(&feed), 0);
}

#[test]
fn a_refused_tag_says_why() {
    let mut session = Session::new(files::demo(), None);
    let subject = [Subject::Part(session.routing().parts[1].id)];
    let taken = session.routing().parts[0].tag.clone();
    let mut rename = |tag: &str| session.set(Property::Tag, &subject, PropertyValue::Words(tag.to_owned()));
    assert!(rename(&taken).unwrap_err().to_string().contains("tag"));
    assert!(rename("  ").is_err());
    assert!(!session.is_changed());
}
