//! What holds hoses and tubes on the examples, looked at with other means than it was worked out with.

use std::path::Path;

use equirow::files;
use equirow::geometry::{Point2, Point3};
use equirow::plan::held::CarrierHold;
use equirow::plan::holding::held;
use equirow::plan::hung_line::hung_lines;
use equirow::plan::{CrossedHinge, FoldPosition, FoldedBar, Project, RoutingGeometry};
use equirow::quantities::Length;

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn example(name: &str) -> Project {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    files::open(&path).unwrap()
}

/// Points of a straight piece, at most a centimetre apart.
fn along(from: Point3, to: Point3) -> impl Iterator<Item = Point3> {
    let many = (from.distance(to) / 0.01).ceil().max(1.0) as u32;
    (0..=many).map(move |at| from.towards(to, f64::from(at) / f64::from(many)))
}

fn beside(at: Point2, from: Point2, to: Point2) -> f64 {
    along(Point3::new(from.x, from.y, 0.0), Point3::new(to.x, to.y, 0.0))
        .map(|point| point.flat().distance(at))
        .fold(f64::INFINITY, f64::min)
}

/// Each end of a carrier is on a member of its section or on another carrier of it, or said to stand out; one at least is fixed
/// (a rail that nothing holds can't be built).
#[test]
fn carriers_are_fixed_to_members_of_their_section_or_to_carriers_on_it() {
    let mut many = 0;
    for name in EXAMPLES {
        let project = example(name);
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let held = held(&project, geometry.with(routing));
            for carrier in &held.carriers {
                let here = format!("{name} {}: {carrier:?}", routing.name);
                let members = &project.bar.section(carrier.section).unwrap().members;
                let mut fixed = 0;
                for end in &carrier.ends {
                    let (from, to) = match end.on {
                        CarrierHold::Free => continue,
                        CarrierHold::Member(member) => {
                            assert!(members.contains(&member), "{here}");
                            (member.from, member.to)
                        }
                        CarrierHold::Carrier(at) => {
                            let other = &held.carriers[at];
                            assert!(other.section == carrier.section && other != carrier, "{here}");
                            (other.ends[0].at, other.ends[1].at)
                        }
                    };
                    // Points are looked at a centimetre apart.
                    assert!(beside(end.at.flat(), from.flat(), to.flat()) < 0.006, "{here}");
                    fixed += 1;
                }
                assert!(fixed > 0 && !carrier.bears.is_empty(), "{here}");
                many += 1;
            }
        }
    }
    assert!(many > 20, "{many}");
}

/// No carrier comes to what hangs free at a hinge, in any of 26 positions of the fold, point by point: at work it stands
/// beside it seen from above, since loops sag, and later it is apart from it.
#[test]
fn no_carrier_stands_where_a_free_piece_moves() {
    for name in EXAMPLES {
        let project = example(name);
        let bar = &project.bar;
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let held = held(&project, geometry.with(routing));
            let crossings: Vec<_> = geometry
                .lines()
                .flat_map(|line| &line.crossings)
                .filter_map(CrossedHinge::computed)
                .collect();
            for step in 0..=25 {
                let position = FoldPosition::share(f64::from(step) / 25.0);
                let folded = FoldedBar::at(bar, position);
                for crossing in &crossings {
                    let Some(points) = crossing.bent(bar, &folded, position) else { continue };
                    for carrier in &held.carriers {
                        let motion = folded.motion(carrier.section);
                        let is_beside = crossing.clamps.iter().any(|one| one.at.section == carrier.section);
                        if !is_beside {
                            continue;
                        }
                        let [from, to] = carrier.ends.map(|end| motion.place(end.at));
                        for at in along(from, to) {
                            for point in &points {
                                let apart = if position.is_working() {
                                    point.flat().distance(at.flat())
                                } else {
                                    point.distance(at)
                                };
                                assert!(
                                    apart > 0.02,
                                    "{name} {}: {} in the way of a free piece, {}",
                                    routing.name,
                                    carrier.mark,
                                    position.words()
                                );
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A rail fixed at both ends is longer than from middle to middle by two overlaps, one that stands out by one (a sum); one that
/// is butted against another at its height, or too low to lie on a member, ends at that one's side, half a width short of its
/// middle where they stand square; two in one line can't both lap over the member between them, and meet over its middle.
#[test]
fn carriers_are_cut_longer_by_their_overlap_at_each_fixed_end() {
    let project = example("twenty-four-metre-bar.ron");
    let geometry = RoutingGeometry::working(&project, &project.routings[0]);
    let overlap = Length::millimetres(70.0);
    let mut seen = [0; 6];
    let all = &held(&project, geometry.with(&project.routings[0])).carriers;
    for carrier in all {
        let [from, to] = carrier.ends.map(|end| end.at);
        let mut wanted = from.distance(to);
        for end in &carrier.ends {
            let (kind, by) = match end.on {
                CarrierHold::Free => (0, 0.0),
                // The example's members lie level: 40 mm of carrier over the top of one has room, less has not.
                CarrierHold::Member(member)
                    if carrier.top().si() - member.from.z < member.width.si() / 2.0 + 0.0395 =>
                {
                    assert!((member.from.z - member.to.z).abs() < 1e-9, "{carrier:?}");
                    let ((x, y), (to_x, to_y)) = ((from.x, from.y), (to.x, to.y));
                    let own = (to_y - y).atan2(to_x - x);
                    let other = (member.to.y - member.from.y).atan2(member.to.x - member.from.x);
                    (4, -member.width.si() / 2.0 / (own - other).sin().abs())
                }
                // Nobody's end but that of the next in line is within half an overlap of this one.
                CarrierHold::Member(_)
                    if all.iter().filter(|one| *one != carrier).any(|one| {
                        one.ends.iter().any(|other| other.on == end.on && other.at.distance(end.at) < 0.035)
                    }) =>
                {
                    (5, 0.0)
                }
                CarrierHold::Member(_) => (1, 0.07),
                CarrierHold::Carrier(at) if (all[at].top() - carrier.top()).si().abs() < 0.0399 => {
                    let way = |ends: [Point3; 2]| {
                        let [from, to] = ends;
                        (to.y - from.y).atan2(to.x - from.x)
                    };
                    let angle = way([from, to]) - way(all[at].ends.map(|end| end.at));
                    (2, -0.02 / angle.sin().abs())
                }
                CarrierHold::Carrier(_) => (3, 0.07),
            };
            seen[kind] += 1;
            wanted += by;
        }
        assert!((carrier.length(overlap, all).si() - wanted).abs() < 1e-9, "{carrier:?}");
    }
    assert!(seen[1] > 0 && seen[2] + seen[3] > 0 && seen[4] > 0 && seen[5] > 1, "{seen:?}");
}

/// Whatever a carrier bears lies beside it between its ends as it is cut, within reach of a short bracket (150 mm, common practice,
/// no source), looked at point by point; at an end that stands out free the carrier goes on beyond the middle of what it bears by
/// half its width, so that a tie has room.
#[test]
fn what_a_carrier_bears_lies_between_its_ends() {
    let mut seen = 0;
    for name in EXAMPLES {
        let project = example(name);
        let limits = &project.limits;
        for routing in &project.routings {
            let geometry = RoutingGeometry::working(&project, routing);
            let laid = geometry.with(routing);
            let all = &held(&project, laid).carriers;
            let lines = hung_lines(&project, laid);
            for carrier in all {
                // Where it is butted against another one the rest is over that.
                let cut = carrier.cut_ends(limits.carrier_overlap, all).map(|end| end.flat());
                let [from, to] = carrier.ends.map(|end| end.at.flat());
                let long = from.distance(to);
                let way = |at: Point2| {
                    ((at.x - from.x) * (to.x - from.x) + (at.y - from.y) * (to.y - from.y)) / long
                };
                let short = carrier.ends.each_ref().map(|end| match end.on {
                    CarrierHold::Free => limits.carrier_size.si() / 2.0,
                    CarrierHold::Member(_) | CarrierHold::Carrier(_) => 0.0,
                });
                let (begins, ends) = (way(cut[0]).min(0.0) + short[0], way(cut[1]).max(long) - short[1]);
                for borne in &carrier.bears {
                    seen += 1;
                    let line = lines.iter().find(|one| one.held == *borne).unwrap();
                    let lies = line.laid.path.windows(2).any(|pair| {
                        along(pair[0].place, pair[1].place).any(|point| {
                            let at = way(point.flat());
                            let beside = from.towards(to, at / long).distance(point.flat());
                            beside <= 0.15 && (begins - 0.005..=ends + 0.005).contains(&at)
                        })
                    });
                    assert!(
                        lies,
                        "{name} {}: {} bears {borne:?}, which lies beyond it",
                        routing.name, carrier.mark
                    );
                }
            }
        }
    }
    assert!(seen > 100, "{seen}");
}
