//! The lengths at the hinges that a line crosses: each brought into the plane across its hinge, solved there, and back.

use std::sync::Arc;

use super::crossed::{Awaited, Clamp, CrossedHinge, Crossing, CrossingBasis, HINGE_ALLOWANCE, Hang};
use super::not_computed::NotComputed;
use super::parts::{PARTS, parts};
use super::places::{Place, candidates};
use super::search::{self, Arm, LOAD_PARTS, Problem, Station};
use super::stretch::{SAME_WAY, Stretch, nearest_to_axis, stretch};
use super::way::{HingeWay, OnWay};
use crate::geometry::Point3;
use crate::plan::SectionId;
use crate::plan::bar::{Bar, Hinge};
use crate::plan::bar_point::BarPoint;
use crate::plan::fold::{FoldSweep, FoldedBar};
use crate::plan::hinge_crossing::{ClampPlaces, HingeCrossing};
use crate::plan::open_air::carries_clamp;
use crate::plan::run::Line;
use crate::plan::stock_bending::Known;
use crate::quantities::{Angle, BendingStiffness, Length, Ratio};

/// What is known of a stock and asked of a crossing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoseBend {
    /// Least bend radius of the stock.
    pub radius: Length,
    /// Its outside diameter.
    pub outside: Length,
    /// Slack that a crossing keeps.
    pub slack: Ratio,
    /// Its weight over its stiffness, per cubic metre: filled, and empty.
    pub loads: [f64; 2],
    /// One of both is assumed.
    pub is_assumed: bool,
    /// Its stiffness.
    pub stiffness: Known<BendingStiffness>,
}

/// What happens to a crossing that nobody has asked for yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    /// It is computed at once: some 50 ms.
    Compute,
    /// It is left to somebody who has the time ([`Awaited::compute`]), and assumed until then.
    Leave,
}

/// Clamps that are not in one plane by less than this are in it, metres.
const IN_PLANE: f64 = 0.02;
/// The share of its weight that acts across the plane of the clamps at most where it is left out, and what hangs is told: a
/// plane that is 10° off upright (common practice, no source).
const ACROSS: f64 = 0.17;

/// What a line through these points needs at each hinge that it crosses, in order.
pub fn crossings(
    bar: &Bar,
    line: &Line,
    path: &[BarPoint],
    hose: Option<HoseBend>,
    unknown: Unknown,
) -> Vec<CrossedHinge> {
    let mut chosen: Vec<HingeCrossing> = line.crossings.clone();
    let mut found = Vec::new();
    let path = &with_halves(bar, path);
    for (at, pair) in path.windows(2).enumerate().filter(|(_, pair)| pair[0].section != pair[1].section) {
        let hinges = bar.hinges_between(pair[0].section, pair[1].section);
        for section in &hinges {
            let place = chosen.iter().position(|one| one.section == *section);
            let own = place.map_or(HingeCrossing::computed(*section), |place| chosen.remove(place));
            let mut awaited = None;
            let computed = match (hose, hinges.len()) {
                (None, _) => Err(NotComputed::NoStock),
                (Some(hose), 1) => compute(bar, path, at, *section, own.clamps, hose, |problem| {
                    if unknown == Unknown::Compute {
                        return search::answer(problem);
                    }
                    search::known(problem).unwrap_or_else(|| {
                        awaited = Some(Box::new(Awaited(problem.clone())));
                        Err(NotComputed::BeingComputed)
                    })
                }),
                (Some(_), _) => Err(NotComputed::SeveralHinges),
            };
            let (extra, basis) = match (own.entered, computed) {
                (Some(entered), computed) => {
                    let laid = |mut crossing: Crossing| {
                        crossing.lies = crossing.way * (1.0 + line.slack.si()) + entered;
                        if let Some(hose) = hose {
                            crossing.hangs = hangs_as_laid(bar, &crossing, hose.outside);
                        }
                        Box::new(crossing)
                    };
                    (entered, CrossingBasis::Entered(computed.map(laid)))
                }
                (None, Ok(crossing)) => {
                    (crossing.extra(line.slack), CrossingBasis::Computed(Box::new(crossing)))
                }
                (None, Err(why)) => (HINGE_ALLOWANCE, CrossingBasis::Assumed(why)),
            };
            let from_tip = bar.to_centre(pair[0].section).contains(section);
            found.push(CrossedHinge { section: *section, from_tip, extra, basis, awaited });
        }
    }
    found
}

/// The same line with a point half-way to the hinge on either side of each that it crosses: a piece that goes straight over a section
/// from one hinge to the next begins on a point that rides on another section, and half of it is there for the clamps of each.
fn with_halves(bar: &Bar, path: &[BarPoint]) -> Vec<BarPoint> {
    let mut points = Vec::with_capacity(path.len() + 4);
    for pair in path.windows(2) {
        let [from, to] = [pair[0], pair[1]];
        points.push(from);
        if let [section] = bar.hinges_between(from.section, to.section)[..]
            && let Some(hinge) = bar.section(section).and_then(|section| section.hinge)
            && let Some(axis) = hinge.axis.unit()
        {
            let middle = nearest_to_axis(from.place, to.place, hinge.point, axis);
            points.extend([from, to].map(|end| BarPoint { place: middle.towards(end.place, 0.5), ..end }));
        }
    }
    points.extend(path.last());
    points
}

fn compute(
    bar: &Bar,
    path: &[BarPoint],
    at: usize,
    section: SectionId,
    clamps: Option<ClampPlaces>,
    hose: HoseBend,
    solve: impl FnOnce(&Problem) -> Result<search::Answer, NotComputed>,
) -> Result<Crossing, NotComputed> {
    let hinge = bar.section(section).and_then(|section| section.hinge).ok_or(NotComputed::NoAxis)?;
    let axis = hinge.axis.unit().ok_or(NotComputed::NoAxis)?;
    let (before, behind) = path.split_at(at + 1);
    let (Some(last), Some(first)) = (before.last(), behind.first()) else {
        return Err(NotComputed::NoPlaceForClamps);
    };
    let middle = nearest_to_axis(last.place, first.place, hinge.point, axis);
    let start = stretch(middle, before.iter().rev()).ok_or(NotComputed::NoPlaceForClamps)?;
    let end = stretch(middle, behind.iter()).ok_or(NotComputed::NoPlaceForClamps)?;
    let squarely = |side: &Stretch| side.along.dot(axis).abs() <= SAME_WAY;
    // What is off the plane goes round with the hinge, and turns a hose about itself by its share of that at most.
    let off_plane = [&start, &end].map(|side| side.along.dot(axis).abs()).into_iter().fold(0.0, f64::max);
    let turned_by = hinge.folded.si().abs().max(hinge.lowest.si().abs());
    let apart = (end.begins - start.begins).dot(axis).abs();
    if !squarely(&start) || !squarely(&end) || apart > IN_PLANE {
        return Err(NotComputed::NotInOnePlane);
    }
    // Along the hose, and to the left of it seen along the axis from behind.
    let along = (start.along - axis * start.along.dot(axis)).unit().ok_or(NotComputed::NotInOnePlane)? * -1.0;
    let aside = axis.cross(along);
    let flat = |point: Point3| ((point - hinge.point).dot(along), (point - hinge.point).dot(aside));
    let (turn_x, turn_y) = (end.along.dot(along), end.along.dot(aside));
    let turn = turn_y.atan2(turn_x);
    let (sin, cos) = turn.sin_cos();
    let behind_at = |point: Point3| {
        let (x, y) = flat(point);
        (x * cos + y * sin, y * cos - x * sin)
    };
    let (start_near, start_aside) = (-flat(start.begins).0, flat(start.begins).1);
    let (end_near, end_aside) = behind_at(end.begins);
    let room = hose.outside.si();
    let arm = |side: &Stretch, on: SectionId, (near, aside): (f64, f64), chosen: Option<Length>| {
        let places = match chosen.map(|one| one.si()) {
            Some(one) if one < near - 1e-4 || one > near + side.length + 1e-4 => {
                return Err(NotComputed::ClampOffTheLine);
            }
            Some(one) => vec![Place { at: parts(one), is_carried: true }],
            None => candidates(bar, on, side, near, room),
        };
        Ok(Arm { aside: parts(aside), places })
    };
    let turns_start = last.section == section;
    let sense = if turns_start { -1.0 } else { 1.0 };
    let way_of_hinge = HingeWay::of(bar, section).ok_or(NotComputed::NoAxis)?;
    let station = |at: &OnWay| {
        let down = at.down(turns_start);
        Station { angle: parts(at.turned * sense), down: (parts(down.dot(along)), parts(down.dot(aside))) }
    };
    // A hose lies wherever it is laid: how steep its plane stands is asked at every position.
    let across =
        way_of_hinge.stations.iter().map(|at| at.down(turns_start).dot(axis).abs()).fold(0.0, f64::max);
    let problem = Problem {
        start: arm(&start, last.section, (start_near, start_aside), clamps.map(|one| one.before))?,
        end: arm(&end, first.section, (end_near, end_aside), clamps.map(|one| one.behind))?,
        turn: parts(turn),
        stations: way_of_hinge.stations.iter().map(station).collect(),
        working: way_of_hinge.working,
        loads: hose.loads.map(|one| (one * LOAD_PARTS).round() as i64),
        radius: parts(hose.radius.si()),
        slack: parts(hose.slack.si()),
        frame: bar.underside(&[last.section, first.section]).map(|one| parts(hinge.point.z - one.si())),
    };
    if let Some(chosen) = clamps
        && problem.nearest_at_work((chosen.before.si(), chosen.behind.si())) < room - 1e-4
    {
        return Err(NotComputed::ClampsTooClose);
    }
    let answer = solve(&problem).map_err(|why| match (why, clamps) {
        (NotComputed::NoLengthServes, Some(_)) => NotComputed::NoLengthBetweenThese,
        (why, _) => why,
    })?;
    let position = |angle: f64| bar.position_of(section, Angle::from_si(angle * sense));
    let clamp = |side: &Stretch, near: f64, place: f64, on: SectionId, sense: f64| {
        let at = side.begins + side.along * (place - near);
        let off = (at - hinge.point) - axis * (at - hinge.point).dot(axis);
        let at = BarPoint { place: at, section: on };
        Clamp {
            at,
            needs_carrier: !carries_clamp(bar, at),
            stretch: (Length::metres(near.max(0.0)), Length::metres(near + side.length)),
            along: side.along * sense,
            from_hinge: Length::metres(place),
            from_axis: Length::metres(off.dot(off).sqrt()),
        }
    };
    let reach_before = start.before + (answer.clamps.0 - start_near);
    let way = reach_before + end.before + (answer.clamps.1 - end_near);
    let walked: f64 = before.windows(2).map(|pair| pair[0].place.distance(pair[1].place)).sum();
    let at_middle = walked + last.place.distance(middle);
    let clamps_at = [
        clamp(&start, start_near, answer.clamps.0, last.section, -1.0),
        clamp(&end, end_near, answer.clamps.1, first.section, 1.0),
    ];
    let free = Length::metres(answer.to_cut());
    let hangs = if across > ACROSS {
        Hang::OutOfPlane
    } else {
        hang(bar, &hinge, &answer.hangs, &clamps_at, (problem.frame, hose.outside))
    };
    Ok(Crossing {
        clamps: clamps_at,
        is_placed: clamps.is_some(),
        free,
        lies: free,
        hangs,
        is_assumed: hose.is_assumed,
        stiffness: hose.stiffness,
        way: Length::metres(way),
        span: (Length::metres(at_middle - reach_before), Length::metres(at_middle + way - reach_before)),
        longest: (Length::metres(answer.longest.0), position(answer.longest.1)),
        tightest: (Length::metres(answer.tightest.0), way_of_hinge.position(answer.tightest.1)),
        twist: Angle::from_si(off_plane * turned_by),
        problem: Arc::new(problem),
        turns: way_of_hinge,
        plane: (along, axis),
        hinge: section,
        turns_start,
    })
}

/// How low a free piece hangs at work that lies as long as was entered; nothing else where it does not hang in its plane.
fn hangs_as_laid(bar: &Bar, crossing: &Crossing, outside: Length) -> Hang {
    let hinge = bar.section(crossing.hinge).and_then(|section| section.hinge);
    let (Hang::Computed { .. }, Some(hinge)) = (crossing.hangs, hinge) else { return crossing.hangs };
    let below_axis = search::hangs_at(&crossing.problem, crossing.places_of_clamps(), crossing.lies.si());
    hang(bar, &hinge, &below_axis, &crossing.clamps, (crossing.problem.frame, outside))
}

/// How low a free piece hangs at work, from how far its middle line does below the axis there and at the lowest angles of work,
/// metres; from how far below it the underside of the frame is, in parts; and from how thick it is.
fn hang(
    bar: &Bar,
    hinge: &Hinge,
    below_axis: &[f64],
    clamps: &[Clamp; 2],
    (frame, outside): (Option<i64>, Length),
) -> Hang {
    let half = outside / 2.0;
    let sweep = FoldSweep::of(bar);
    let working = FoldedBar::default();
    let (mut height, mut below) = (f64::INFINITY, f64::NEG_INFINITY);
    for (folded, hangs) in [&working, sweep.lowest()].into_iter().zip(below_axis) {
        let axis = folded.motion(hinge.parent).place(hinge.point).z;
        let lowest_clamp = clamps.iter().map(|clamp| folded.place(clamp.at).z).fold(f64::INFINITY, f64::min);
        height = height.min(axis - hangs);
        below = below.max(lowest_clamp - (axis - hangs));
    }
    let level =
        working.motion(hinge.parent).place(hinge.point).z - below_axis.first().copied().unwrap_or(0.0);
    let lowest = below_axis.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Hang::Computed {
        height: Length::metres(height) - half,
        level: Length::metres(level) - half,
        below_clamps: Length::metres(below),
        // The frame beside the hinge turns with what hangs there: it is as far below the axis in all positions of work.
        below_frame: frame.map(|frame| Length::metres(lowest - frame as f64 / PARTS) + half),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::fold::{FoldPosition, FoldedBar};
    use crate::plan::{Hinge, Section, StockKey};

    /// A centre from -3 to 0 m and a wing to 3 m that folds about a line along y at x 0, `height` above the ground.
    fn bar(height: f64, axis: Point3, degrees: f64) -> Bar {
        let section = |id, left, right, hinge| Section {
            id: SectionId(id),
            name: format!("section {id}"),
            hinge,
            left: Length::metres(left),
            right: Length::metres(right),
            members: Vec::new(),
        };
        let hinge = Hinge {
            parent: SectionId(1),
            point: Point3::new(0.0, 0.0, height),
            axis,
            lowest: Angle::ZERO,
            folded: Angle::degrees(degrees),
            step: Hinge::FIRST_STEP,
        };
        Bar {
            sections: vec![section(1, -3.0, 0.0, None), section(2, 0.0, 3.0, Some(hinge))],
            ..Bar::default()
        }
    }

    const ALONG: Point3 = Point3::new(0.0, 1.0, 0.0);

    fn hose(radius: f64) -> HoseBend {
        HoseBend {
            radius: Length::metres(radius),
            outside: Length::millimetres(20.0),
            slack: Ratio::percent(5.0),
            loads: [0.0; 2],
            is_assumed: false,
            stiffness: Known { value: BendingStiffness::from_si(1.0), is_assumed: false },
        }
    }

    fn point(x: f64, y: f64, section: u32) -> BarPoint {
        BarPoint { place: Point3::new(x, y, 1.0), section: SectionId(section) }
    }

    fn line() -> Line {
        Line { slack: Ratio::ZERO, ..Line::straight(StockKey::new("hose")) }
    }

    fn level() -> Vec<BarPoint> {
        vec![point(-2.0, 0.0, 1), point(2.0, 0.0, 2)]
    }

    fn crossing(bar: &Bar, line: &Line, path: &[BarPoint], radius: f64) -> Crossing {
        let found = crossings(bar, line, path, Some(hose(radius)), Unknown::Compute);
        let [one] = &found[..] else { unreachable!("{found:?}") };
        one.computed().unwrap_or_else(|| unreachable!("{one:?}")).clone()
    }

    fn placed(before: f64, behind: f64) -> Line {
        let clamps = ClampPlaces { before: Length::metres(before), behind: Length::metres(behind) };
        Line {
            crossings: vec![HingeCrossing { clamps: Some(clamps), ..HingeCrossing::computed(SectionId(2)) }],
            ..line()
        }
    }

    /// Brute force, at ten times as many positions of the fold and lengths than the search looks at: the free piece keeps
    /// radius and slack at every length that it may have, and one that is 5 % shorter keeps one of them not.
    #[test]
    fn the_free_piece_is_the_shortest_that_is_neither_stretched_nor_kinked() {
        for (height, degrees) in [(1.0, -90.0), (1.15, -175.0), (0.75, -175.0), (0.95, 90.0), (1.0, -180.0)] {
            let bar = bar(height, ALONG, degrees);
            let crossing = crossing(&bar, &line(), &level(), 0.1);
            let places = (crossing.clamps[0].from_hinge.si(), crossing.clamps[1].from_hinge.si());
            let serves = |free: f64| {
                let least = (free - search::CUT_SHORT) * (1.0 - search::SHORTER);
                let most = (free + search::CUT_LONG) * (1.0 + search::LONGER);
                // Straight distance by turning a point about the hinge, without the program's plane.
                let apart = (0..=900).map(|step| {
                    let angle = (degrees * f64::from(step) / 900.0).to_radians();
                    let behind = crate::geometry::rotate_about(
                        Point3::new(places.1, 0.0, 1.0),
                        Point3::new(0.0, 0.0, height),
                        ALONG,
                        angle,
                    );
                    behind.distance(Point3::new(-places.0, 0.0, 1.0))
                });
                let longest = apart.fold(0.0, f64::max);
                let kinked = (0..=20).any(|step| {
                    let length = least + (most - least) * f64::from(step) / 20.0;
                    let found = crossing.problem.tightest(places, length, 0.0);
                    found.is_none_or(|(radius, _)| radius < 0.1 * 0.985)
                });
                least >= longest * 1.05 - 1e-6 && !kinked
            };
            assert!(serves(crossing.free.si()), "{height} {degrees}: {crossing:?}");
            assert!(!serves(crossing.free.si() * 0.95), "{height} {degrees}: {crossing:?}");
            assert!((crossing.way.si() - places.0 - places.1).abs() < 1e-6);
        }
    }

    /// Folded by 180 degrees with clamps that then lie side by side: the free piece is Peirce's loop, 10.769 radii long
    /// (J. Text. Inst. 21 T377), and may still be 4 % and 5 mm shorter than meant; farther apart less serves.
    #[test]
    fn clamps_that_fold_onto_each_other_need_the_pear_loop() {
        let bar = bar(1.0, ALONG, -180.0);
        let crossing = crossing(&bar, &placed(0.1, 0.1), &level(), 0.1);
        let transport = crossing.problem.stations[..1].to_vec();
        let folded = Problem { stations: transport, working: 0, ..Problem::clone(&crossing.problem) };
        let (radius, _) = folded.tightest((0.1, 0.1), 0.1 * 10.769, 0.0).unwrap();
        assert!((radius / 0.1 - 1.0).abs() < 0.01, "{radius}");
        assert!(crossing.is_placed && crossing.free.si() > (0.1 * 10.769 + 0.005) / 0.96, "{crossing:?}");
        let suggested = self::crossing(&bar, &line(), &level(), 0.1);
        assert!(suggested.free < crossing.free, "{suggested:?}");
    }

    #[test]
    fn a_wing_on_the_other_side_and_a_hose_drawn_the_other_way_need_the_same() {
        let one = crossing(&bar(0.9, ALONG, -120.0), &line(), &level(), 0.1);
        let upside_down = crossing(&bar(1.1, ALONG, 120.0), &line(), &level(), 0.1);
        assert_eq!((one.free, one.longest.0), (upside_down.free, upside_down.longest.0));
        let mut back = level();
        back.reverse();
        let other = crossing(&bar(0.9, ALONG, -120.0), &line(), &back, 0.1);
        assert!((one.free.si() - other.free.si()).abs() < 0.01, "{one:?} {other:?}");
    }

    /// The bent piece ends in its clamps, which go where the sections carry them.
    #[test]
    fn the_bent_piece_is_drawn_from_clamp_to_clamp() {
        for path in [level(), level().into_iter().rev().collect()] {
            let bar = bar(0.8, ALONG, -150.0);
            let crossing = crossing(&bar, &line(), &path, 0.08);
            for share in [0.0, 0.3, 1.0] {
                let position = FoldPosition::share(share);
                let folded = FoldedBar::at(&bar, position);
                let points = crossing.bent(&bar, &folded, position).unwrap();
                let [before, behind] = crossing.clamps.map(|clamp| folded.place(clamp.at));
                assert!(points[0].distance(before) < 2e-3, "{share}: {:?} {before:?}", points[0]);
                let last = points[points.len() - 1];
                assert!(last.distance(behind) < 2e-3, "{share}: {last:?} {behind:?}");
            }
        }
    }

    /// Straight over a wing of 3 m from its own hinge to that of the next: the points at the hinges ride on the section towards the
    /// centre, as the frame leads hoses, and the wing between has none of its own. Both pieces are as long as with one half-way.
    #[test]
    fn a_hose_that_goes_straight_over_a_section_is_clamped_on_it_at_both_hinges() {
        let mut bar = bar(1.0, ALONG, -90.0);
        let hinge = Hinge {
            parent: SectionId(2),
            point: Point3::new(3.0, 0.0, 1.0),
            ..bar.sections[1].hinge.unwrap()
        };
        bar.sections.push(Section {
            id: SectionId(3),
            hinge: Some(hinge),
            left: Length::metres(3.0),
            right: Length::metres(6.0),
            ..bar.sections[1].clone()
        });
        let path = [point(-2.0, 0.0, 1), point(0.0, 0.0, 1), point(3.0, 0.0, 2), point(5.0, 0.0, 3)];
        for back in [false, true] {
            let turned = |mut path: Vec<BarPoint>| {
                if back {
                    path.reverse();
                }
                crossings(&bar, &line(), &path, Some(hose(0.1)), Unknown::Compute)
            };
            let found = turned(path.to_vec());
            let mut with_point = path.to_vec();
            with_point.insert(2, point(1.5, 0.0, 2));
            let same = turned(with_point);
            assert_eq!(found.len(), 2);
            for (one, other) in found.iter().zip(&same) {
                let (one, other) = (one.computed().unwrap(), other.computed().unwrap());
                assert!(
                    (one.free - other.free).abs() < Length::millimetres(10.0),
                    "{back}: {one:?} {other:?}"
                );
                assert!(one.clamps.iter().all(|clamp| clamp.from_hinge <= clamp.stretch.1));
            }
        }
    }

    #[test]
    fn what_can_not_be_computed_says_why_and_keeps_the_usual_length() {
        let why = |bar: &Bar, line: &Line, path: &[BarPoint], hose: Option<HoseBend>| {
            let found = crossings(bar, line, path, hose, Unknown::Compute);
            assert_eq!((found.len(), found[0].extra), (1, HINGE_ALLOWANCE));
            match &found[0].basis {
                CrossingBasis::Assumed(why) => *why,
                other => unreachable!("{other:?}"),
            }
        };
        let up = bar(1.0, ALONG, -90.0);
        let usual = Some(hose(0.1));
        assert_eq!(why(&up, &line(), &level(), None), NotComputed::NoStock);
        assert_eq!(why(&bar(1.0, Point3::default(), 90.0), &line(), &level(), usual), NotComputed::NoAxis);
        let aslant = [point(-2.0, 0.0, 1), point(2.0, 1.0, 2)];
        assert_eq!(why(&up, &line(), &aslant, usual), NotComputed::NotInOnePlane);
        let short = [point(-0.05, 0.0, 1), point(2.0, 0.0, 2)];
        assert_eq!(why(&up, &line(), &short, usual), NotComputed::NoPlaceForClamps);
        assert_eq!(why(&up, &placed(2.5, 0.3), &level(), usual), NotComputed::ClampOffTheLine);
        // 20 mm thick: at work 18 mm apart, and 22 mm.
        assert_eq!(why(&up, &placed(0.009, 0.009), &level(), usual), NotComputed::ClampsTooClose);
        let apart = crossings(&up, &placed(0.011, 0.011), &level(), usual, Unknown::Compute);
        assert!(!matches!(apart[0].basis, CrossingBasis::Assumed(NotComputed::ClampsTooClose)), "{apart:?}");
        let entered =
            HingeCrossing { entered: Some(Length::metres(0.4)), ..HingeCrossing::computed(SectionId(2)) };
        let entered = Line { crossings: vec![entered], ..line() };
        let found = crossings(&up, &entered, &level(), usual, Unknown::Compute);
        assert_eq!(found[0].extra, Length::metres(0.4));
        assert!(matches!(found[0].basis, CrossingBasis::Entered(Ok(_))));
    }

    /// What is left is said to be under way, assumed until then, and the same as at once when it was computed elsewhere.
    #[test]
    fn what_is_left_is_computed_elsewhere_and_taken_from_there() {
        // A radius that no other test asks for: answers are kept for the run of the program.
        let (bar, hose) = (bar(0.9, ALONG, -90.0), Some(hose(0.0973)));
        let left = crossings(&bar, &line(), &level(), hose, Unknown::Leave);
        assert_eq!((left[0].extra, left[0].computed()), (HINGE_ALLOWANCE, None));
        assert!(matches!(left[0].basis, CrossingBasis::Assumed(NotComputed::BeingComputed)), "{left:?}");
        let awaited = left[0].awaited.clone().unwrap();
        awaited.compute();
        let taken = crossings(&bar, &line(), &level(), hose, Unknown::Leave);
        assert_eq!(taken, crossings(&bar, &line(), &level(), hose, Unknown::Compute));
        assert!(taken[0].awaited.is_none() && taken[0].computed().is_some(), "{taken:?}");
    }
}
