//! Carriers across open frame: which rails it takes so that no hose or tube hangs farther than it may.
//!
//! A carrier is straight: along a stretch that hangs or across its middle, from one frame member of its section (or carrier)
//! to the next, or standing out from one. Each time the one is taken that takes away most of what hangs too far for its
//! length, so that a rail under a bundle comes before one a tube. What counts is the same on both sides of the bar's middle,
//! so that halves that mirror each other get carriers that do. Its top is beneath all that it bears: what is thinner or lies
//! higher is tied down to it, or stands on a short upright. Start reading at [`carriers`].

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::SectionId;
use super::bar::{Bar, FrameMember};
use super::carrier_choices::{Choice, Key, choices_on};
use super::held::{Carrier, CarrierEnd, CarrierHold, InTheWay, Uncarried};
use super::hung_line::{EXACT, HungLine};
use super::open_air::{FreeStretch, TIED, Tie, beside_tie, is_steep};
use crate::geometry::{Bounds, Point3, distance_of_pieces};
use crate::quantities::Length;

/// A line is tied to a carrier whose top is so far beneath it at most, metres: an upright bracket (common practice, no source).
const UPRIGHT: f64 = 0.3;

/// Savings that differ by less are equal: those of mirrored carriers, but for rounding.
const ALIKE: f64 = 1e-6;

/// More carriers than this a line on average are those of a frame that nobody could build.
const MOST_FOR_A_LINE: usize = 16;

/// What it is worth.
struct Worth {
    /// What it takes from the stretches that hang too far, metres.
    saves: f64,
    /// The lines that it does something for.
    lines: Vec<usize>,
}

/// A line with what holds it.
struct Line<'a, 'b> {
    hung: &'b HungLine<'a>,
    bounds: Bounds,
    /// The frame members that may hold it, and the carriers that do.
    ties: Vec<Tie>,
    hanging: Vec<FreeStretch>,
}

impl<'a, 'b> Line<'a, 'b> {
    fn new(hung: &'b HungLine<'a>, frame: &[FrameMember]) -> Self {
        let path = &hung.laid.path;
        let bounds = Bounds::around(path.iter().map(|point| point.place.flat()));
        let near = bounds.grown(TIED);
        let members = frame.iter().filter(|one| {
            let own = Bounds::around([one.from.flat(), one.to.flat()]);
            own.meets(&near)
        });
        let mut this = Self { hung, bounds, ties: members.map(Tie::member).collect(), hanging: Vec::new() };
        // A line with no member near it hangs all along.
        if this.ties.is_empty() {
            this.ties.extend(frame.first().map(Tie::member));
        }
        this.hanging = this.stretches(None);
        this
    }

    fn stretches(&self, more: Option<Tie>) -> Vec<FreeStretch> {
        let ties: Vec<Tie> = self.ties.iter().copied().chain(more).collect();
        self.hung.stretches(&ties)
    }

    /// By how much these stretches are too long together, metres.
    fn excess(&self, stretches: &[FreeStretch]) -> f64 {
        stretches.iter().map(|one| one.length - self.hung.most.si()).sum()
    }
}

/// The carriers of these lines, so wide and high, in the order of their marks, and what hangs too far all the same; `in_the_way` says what keeps
/// one with these ends out. None on a bar whose frame is not drawn.
pub(super) fn carriers(
    bar: &Bar,
    lines: &[HungLine],
    size: Length,
    in_the_way: impl Fn(SectionId, &[CarrierEnd; 2]) -> Option<InTheWay>,
) -> (Vec<Carrier>, Vec<Uncarried>) {
    let frame: Vec<FrameMember> = bar.sections.iter().flat_map(|section| &section.members).copied().collect();
    if frame.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let mut known: Vec<Line> = lines.iter().map(|line| Line::new(line, &frame)).collect();
    let hung: Vec<bool> = known.iter().map(|line| !line.hanging.is_empty()).collect();
    let mut found: Vec<Choice> = Vec::new();
    // Of each the lines that it is taken for.
    let mut taken_for: Vec<Vec<usize>> = Vec::new();
    let mut refused: BTreeMap<Key, InTheWay> = BTreeMap::new();
    let mut worths: BTreeMap<Key, Worth> = BTreeMap::new();
    let mut tops: BTreeMap<Key, Vec<f64>> = BTreeMap::new();
    while found.len() < lines.len() * MOST_FOR_A_LINE {
        let mut choices: BTreeMap<Key, Choice> = BTreeMap::new();
        for line in known.iter().filter(|line| !line.hanging.is_empty()) {
            for choice in choices_for(bar, (line, size), &found, &refused) {
                let tops = tops.entry(choice.key()).or_insert_with(|| tops_of(&choice, &known, &hung));
                let mut lowered = tops.iter().map(|top| choice.with_top(*top));
                if let Some(choice) = lowered.find(|one| !refused.contains_key(&one.key())) {
                    choices.entry(choice.key()).or_insert(choice);
                }
            }
        }
        for (key, choice) in &choices {
            worths.entry(*key).or_insert_with(|| worth(choice, &known));
        }
        let saving = choices.iter().filter_map(|(key, choice)| {
            let saves = worths.get(key)?.saves;
            (saves > EXACT).then(|| (*key, (saves / choice.costs() / ALIKE).round()))
        });
        // Told by nothing that differs between the sides before it is told by the side.
        let place = |key: &Key| {
            let [[x, y, _], [to_x, to_y, _]] = key.1;
            ((x + to_x).abs(), -(y + to_y), x + to_x)
        };
        let best = saving.min_by(|a, b| b.1.total_cmp(&a.1).then_with(|| place(&a.0).cmp(&place(&b.0))));
        let Some((key, _)) = best else { break };
        let Some(choice) = choices.remove(&key) else { break };
        if let Some(why) = in_the_way(choice.section, &choice.ends) {
            // What takes its place is looked for before the next best.
            refused.insert(key, why);
            continue;
        }
        let changed = worths.remove(&key).map_or_else(Vec::new, |worth| worth.lines);
        for at in &changed {
            let line = &mut known[*at];
            line.ties.push(choice.as_tie());
            line.hanging = line.stretches(None);
        }
        worths.retain(|_, worth| !worth.lines.iter().any(|at| changed.contains(at)));
        found.push(choice);
        taken_for.push(changed);
    }
    let uncarried = known.iter().filter_map(|line| {
        let longest = line.hanging.iter().map(|one| one.length).reduce(f64::max)?;
        let why = line.hanging.iter().find_map(|one| refused_for(bar, (line, size), one, &found, &refused));
        let held = line.hung.held.clone();
        Some(Uncarried { line: held, span: Length::metres(longest), most: line.hung.most, why })
    });
    let uncarried = uncarried.collect();
    (marked(bar, &found, &taken_for, lines, &hung), uncarried)
}

/// A piece of a line over or beside a carrier: its underside at its lowest and at its highest, metres over the carrier's top.
struct Above {
    heights: [f64; 2],
    is_steep: bool,
}

fn above(line: &HungLine, choice: &Choice) -> Vec<Above> {
    let under = choice.top() + line.outside.si() / 2.0;
    let pieces = beside_tie(line.path(), &choice.as_tie()).into_iter();
    pieces.map(|one| Above { heights: one.heights.map(|z| z - under), is_steep: one.is_steep }).collect()
}

/// A line rests on a carrier or is tied to it from above, and reaches into it nowhere: what is steep passes beside it.
fn is_borne(line: &HungLine, choice: &Choice) -> bool {
    let reached = -EXACT..=UPRIGHT + EXACT;
    let pieces = above(line, choice);
    let sinks = |one: &Above| !one.is_steep && (-UPRIGHT..-EXACT).contains(&one.heights[0]);
    let rests = |one: &Above| match one.heights {
        [low, high] if one.is_steep => high >= *reached.start() && low <= *reached.end(),
        [low, _] => reached.contains(&low),
    };
    pieces.iter().any(rests) && !pieces.iter().any(sinks)
}

/// A line lies on a carrier, over or under it: it passes within its width, seen from above.
fn passes(line: &HungLine, choice: &Choice) -> bool {
    let flat = |at: Point3| Point3::new(at.x, at.y, 0.0);
    let reach = choice.size.si() / 2.0 + line.outside.si() / 2.0 + EXACT;
    let axis = choice.ends.map(|end| flat(end.at));
    line.laid.path.windows(2).any(|pair| {
        let [from, to] = [pair[0].place, pair[1].place];
        !is_steep(from, to) && distance_of_pieces(axis, [flat(from), flat(to)]) <= reach
    })
}

/// How high the top of a carrier may be, lowest first: beneath each of the lines that hang by it or lie across it, of which those
/// that lie lower are not borne, and last as high as it is.
fn tops_of(choice: &Choice, known: &[Line], hung: &[bool]) -> Vec<f64> {
    let near = choice.bounds();
    let met = known
        .iter()
        .zip(hung)
        .filter(|(line, hung)| line.bounds.meets(&near) && (**hung || passes(line.hung, choice)));
    let pieces = met.flat_map(|(line, _)| above(line.hung, choice)).filter(|one| !one.is_steep);
    let lower = pieces.map(|one| one.heights[0]).filter(|low| (-UPRIGHT..-EXACT).contains(low));
    let mut tops: Vec<f64> = lower.map(|low| choice.top() + low).collect();
    tops.sort_by(f64::total_cmp);
    tops.dedup_by(|a, b| (*a - *b).abs() < EXACT);
    tops.push(choice.top());
    tops
}

/// What a carrier takes from the stretches that hang too far.
fn worth(choice: &Choice, known: &[Line]) -> Worth {
    let near = choice.bounds();
    let mut worth = Worth { saves: 0.0, lines: Vec::new() };
    for (at, line) in known.iter().enumerate() {
        if line.hanging.is_empty() || !line.bounds.meets(&near) || !is_borne(line.hung, choice) {
            continue;
        }
        let saves = line.excess(&line.hanging) - line.excess(&line.stretches(Some(choice.as_tie())));
        if saves.abs() > EXACT {
            worth.saves += saves;
            worth.lines.push(at);
        }
    }
    worth
}

/// What keeps the first carrier out that would bear a stretch of a line.
fn refused_for(
    bar: &Bar,
    (line, size): (&Line, Length),
    stretch: &FreeStretch,
    found: &[Choice],
    refused: &BTreeMap<Key, InTheWay>,
) -> Option<InTheWay> {
    let mut choices = Vec::new();
    choices_on(bar, (line.hung, size), stretch, found, refused, &mut choices);
    choices.iter().find_map(|one| refused.get(&one.key()).cloned())
}

/// The carriers that might bear what hangs of a line.
fn choices_for(
    bar: &Bar,
    (line, size): (&Line, Length),
    found: &[Choice],
    refused: &BTreeMap<Key, InTheWay>,
) -> Vec<Choice> {
    let mut choices = Vec::new();
    for stretch in &line.hanging {
        choices_on(bar, (line.hung, size), stretch, found, refused, &mut choices);
    }
    choices
}

/// In the order of their marks, with what they bear: what they are taken for, and what else lies on them of what hung before there
/// were any; not what only leads away beside them.
fn marked(
    bar: &Bar,
    found: &[Choice],
    taken_for: &[Vec<usize>],
    lines: &[HungLine],
    hung: &[bool],
) -> Vec<Carrier> {
    let left = |section: SectionId| bar.section(section).map_or(0.0, |one| one.left.si());
    let mut order: Vec<usize> = (0..found.len()).collect();
    order.sort_by(|a, b| {
        let key = |at: &usize| {
            let [from, to] = found[*at].ends.map(|end| end.at);
            [left(found[*at].section), -f64::midpoint(from.y, to.y), f64::midpoint(from.x, to.x)]
        };
        let (a, b) = (key(a), key(b));
        a.iter().zip(&b).map(|(a, b)| a.total_cmp(b)).find(|one| one.is_ne()).unwrap_or(Ordering::Equal)
    });
    let rank: BTreeMap<usize, usize> = order.iter().enumerate().map(|(rank, at)| (*at, rank)).collect();
    let carrier = |(rank_of, at): (usize, &usize)| {
        let choice = &found[*at];
        let mut ends = choice.ends;
        for end in &mut ends {
            if let CarrierHold::Carrier(on) = &mut end.on {
                *on = rank.get(on).copied().unwrap_or(*on);
            }
        }
        let borne = lines.iter().zip(hung).enumerate().filter(|(number, (line, hung))| {
            taken_for[*at].contains(number) || **hung && passes(line, choice) && is_borne(line, choice)
        });
        Carrier {
            mark: format!("C{}", rank_of + 1),
            section: choice.section,
            ends,
            size: choice.size,
            bears: borne.map(|(_, (line, _))| line.held.clone()).collect(),
        }
    };
    order.iter().enumerate().map(carrier).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::held::HeldLine;
    use crate::plan::{BarPoint, LineGeometry, RowId, RunId, Section, Subject};

    fn h6() -> HeldLine {
        HeldLine { of: Subject::Run(RunId(6)), tag: "H6".into() }
    }

    /// The carriers of these lines, 40 mm wide and high.
    fn carriers(
        bar: &Bar,
        lines: &[HungLine],
        in_the_way: impl Fn(SectionId, &[CarrierEnd; 2]) -> Option<InTheWay>,
    ) -> (Vec<Carrier>, Vec<Uncarried>) {
        super::carriers(bar, lines, Length::millimetres(40.0), in_the_way)
    }

    /// One section with members from end to end, 1 m high, 0.1 m wide.
    fn bar(members: &[[(f64, f64); 2]]) -> Bar {
        let at = |(x, y): (f64, f64)| Point3::new(x, y, 1.0);
        let member = |[from, to]: &[(f64, f64); 2]| FrameMember {
            from: at(*from),
            to: at(*to),
            width: Length::metres(0.1),
        };
        let section = Section {
            id: SectionId(1),
            name: "centre".into(),
            hinge: None,
            left: Length::metres(-3.0),
            right: Length::metres(3.0),
            members: members.iter().map(member).collect(),
        };
        Bar { sections: vec![section], ..Bar::default() }
    }

    /// Rails 6 m long, so far forward.
    fn rails(forward: &[f64]) -> Bar {
        let all: Vec<_> = forward.iter().map(|y| [(-3.0, *y), (3.0, *y)]).collect();
        bar(&all)
    }

    fn laid(points: &[(f64, f64)]) -> LineGeometry {
        laid_at(1.1, points)
    }

    fn laid_at(height: f64, points: &[(f64, f64)]) -> LineGeometry {
        let point =
            |(x, y): &(f64, f64)| BarPoint { place: Point3::new(*x, *y, height), section: SectionId(1) };
        let path: Vec<BarPoint> = points.iter().map(point).collect();
        LineGeometry {
            path,
            hinges: Vec::new(),
            drawn: Length::ZERO,
            slack: Length::ZERO,
            crossings: Vec::new(),
            allowance: Length::ZERO,
            computed: Length::ZERO,
            length: Length::ZERO,
            moving_end: None,
        }
    }

    fn hung(number: usize, laid: &LineGeometry) -> HungLine<'_> {
        HungLine {
            held: HeldLine { of: Subject::Row(RowId(number as u32)), tag: format!("T{number}") },
            outside: Length::millimetres(8.0),
            laid,
            most: Length::metres(0.5),
            ends_on_bar: [true; 2],
            ends_at_opener: false,
            clamped: Vec::new(),
        }
    }

    fn lines(laid: &[LineGeometry]) -> Vec<HungLine<'_>> {
        (1..).zip(laid).map(|(number, one)| hung(number, one)).collect()
    }

    /// Each by its ends, left, right or front, rear, and what it bears.
    fn told(found: &[Carrier]) -> Vec<([f64; 4], Vec<&str>)> {
        let ends = |one: &Carrier| {
            let [a, b] = one.ends.map(|end| end.at);
            [a.x, a.y, b.x, b.y].map(|value| (value * 1000.0).round() / 1000.0)
        };
        found
            .iter()
            .map(|one| (ends(one), one.bears.iter().map(|line| line.tag.as_str()).collect()))
            .collect()
    }

    /// Rails 1 m apart: one carrier bears two tubes 0.1 m from each other, a third 1 m beside them takes its own; what lies on
    /// a rail takes none (geometry). Their tops are beneath the tubes, 4 mm below their middle.
    #[test]
    fn neighbours_share_a_carrier_and_the_frame_needs_none() {
        let ways = [
            &[(0.0, 0.0), (0.0, 1.0)][..],
            &[(0.1, 0.0), (0.1, 1.0)],
            &[(1.1, 0.0), (1.1, 1.0)],
            &[(-2.0, 1.0), (2.0, 1.0)],
        ];
        let ways: Vec<LineGeometry> = ways.iter().map(|way| laid(way)).collect();
        let (found, left) = carriers(&rails(&[0.0, 1.0]), &lines(&ways), |_, _| None);
        assert_eq!(
            told(&found),
            [([0.0, 1.0, 0.0, 0.0], vec!["T1", "T2"]), ([1.1, 1.0, 1.1, 0.0], vec!["T3"])]
        );
        assert_eq!(left, []);
        assert!((found[0].top().si() - 1.096).abs() < 1e-9);
        assert!((found[0].length(Length::ZERO, &found).si() - 1.0).abs() < 1e-9);
        let marks: Vec<&str> = found.iter().map(|one| one.mark.as_str()).collect();
        assert_eq!(marks, ["C1", "C2"]);
        assert_eq!(carriers(&rails(&[0.0, 0.5, 1.0]), &lines(&ways), |_, _| None).0, [], "0.5 m is borne");
    }

    /// By hand, of a tube of 8 mm and a hose of 34 mm side by side 1.1 m high: undersides at 1100 - 4 = 1096 mm and
    /// 1100 - 17 = 1083 mm, so that the top of what bears both is at 1083 mm; beside another tube whose middle is at 1060 mm,
    /// at 1056 mm. One 0.4 m lower hangs farther below than an upright bracket reaches, and changes nothing. Where something is in the
    /// way of a carrier so low, it is as high as the next needs and leaves out what lies lower.
    #[test]
    fn the_top_of_a_carrier_is_beneath_all_that_it_bears() {
        let at = |x: f64| [(x, 0.0), (x, 1.0)];
        let ways = [laid(&at(0.0)), laid(&at(0.1)), laid_at(1.06, &at(0.12)), laid_at(0.7, &at(0.05))];
        let frame = rails(&[0.0, 1.0]);
        let mut all = lines(&ways);
        all[1].outside = Length::millimetres(34.0);
        let of = |lines: &[HungLine]| carriers(&frame, lines, |_, _| None).0;
        let first = |found: &[Carrier]| (found[0].top().si() * 1e6).round() / 1e6;
        assert_eq!(first(&of(&all[..1])), 1.096);
        assert_eq!(first(&of(&all[..2])), 1.083);
        assert_eq!(told(&of(&all[..2]))[0].1, ["T1", "T2"]);
        assert_eq!(first(&of(&all[..3])), 1.056);
        let apart = of(&[all[0].clone(), all[1].clone(), all[3].clone()]);
        assert!(apart.iter().any(|one| first(std::slice::from_ref(one)) == 1.083), "{apart:?}");
        let low = |_, ends: &[CarrierEnd; 2]| (ends[0].at.z < 1.07).then(|| InTheWay::FreePiece(h6()));
        let (high, left) = carriers(&frame, &all[..3], low);
        assert!(high.iter().all(|one| first(std::slice::from_ref(one)) == 1.083), "{high:?}");
        assert_eq!(told(&high)[0].1, ["T1", "T2"]);
        assert_eq!(left.iter().map(|one| one.line.tag.as_str()).collect::<Vec<_>>(), ["T3"]);
    }

    /// Five tubes across a bay of 1 m between two cross members 2 m apart: one rail from cross member to cross member halves all
    /// of them, where one a tube would take five of 1 m (geometry).
    #[test]
    fn one_rail_across_bears_a_whole_row_of_tubes() {
        let bay = bar(&[
            [(-1.0, 0.0), (1.0, 0.0)],
            [(-1.0, 1.0), (1.0, 1.0)],
            [(-1.0, 0.0), (-1.0, 1.0)],
            [(1.0, 0.0), (1.0, 1.0)],
        ]);
        let ways: Vec<LineGeometry> =
            [-0.6, -0.3, 0.0, 0.3, 0.6].iter().map(|x| laid(&[(*x, 0.0), (*x, 1.0)])).collect();
        let (found, left) = carriers(&bay, &lines(&ways), |_, _| None);
        assert_eq!(told(&found), [([-1.0, 0.5, 1.0, 0.5], vec!["T1", "T2", "T3", "T4", "T5"])]);
        assert!(found[0].ends.iter().all(|end| matches!(end.on, CarrierHold::Member(_))), "{found:?}");
        assert_eq!(left, []);
    }

    /// From the rail out to an opener 1.2 m behind it: 0.5 m may hang, so the carrier stands out 0.7 m, and half its width for the
    /// tie. To a fixed end it goes all the way (geometry).
    #[test]
    fn a_carrier_stands_out_towards_an_opener_and_leaves_its_loop_free() {
        let ways = [laid(&[(0.0, 0.0), (0.0, -1.2)])];
        let ends_at_opener = HungLine { ends_at_opener: true, ..hung(1, &ways[0]) };
        let out = |line| told(&carriers(&rails(&[0.0]), &[line], |_, _| None).0)[0].0;
        assert_eq!(out(ends_at_opener), [0.0, 0.0, 0.0, -0.72]);
        assert_eq!(out(hung(1, &ways[0])), [0.0, 0.0, 0.0, -1.22]);
    }

    /// By hand: a tube leads 0.1 m beside the end of a carrier and needs none there, another lies along it: the carrier names the
    /// second alone. A hose 34 mm outside that lies on a rail at the carrier's end presses it down to its own underside, 1.083 m,
    /// whether it hangs or not.
    #[test]
    fn a_carrier_names_what_it_bears_and_lies_beneath_all() {
        let along = laid(&[(0.0, 0.0), (0.0, 1.0)]);
        let beside = laid(&[(0.3, 0.0), (0.1, 0.0), (0.1, -0.4)]);
        let all = [hung(1, &along), hung(2, &beside)];
        let (found, _) = carriers(&rails(&[0.0, 1.0]), &all, |_, _| None);
        assert_eq!(told(&found)[0].1, ["T1"]);
        assert!((found[0].top().si() - 1.096).abs() < 1e-9);
        let hose = laid(&[(-1.0, 0.01), (1.0, 0.01)]);
        let hose = HungLine { outside: Length::millimetres(34.0), ..hung(3, &hose) };
        let (found, _) = carriers(&rails(&[0.0, 1.0]), &[hung(1, &along), hose], |_, _| None);
        assert_eq!(told(&found)[0].1, ["T1"]);
        assert!((found[0].top().si() - 1.083).abs() < 1e-9, "{:?}", found[0].top());
    }

    /// Ways that mirror each other about the middle of the bar get carriers that do, whichever side comes first.
    #[test]
    fn mirrored_halves_get_mirrored_carriers() {
        let frame = bar(&[
            [(-2.0, 0.0), (2.0, 0.0)],
            [(-2.0, 1.0), (2.0, 1.0)],
            [(-2.0, 0.0), (-2.0, 1.0)],
            [(0.0, 0.0), (0.0, 1.0)],
            [(2.0, 0.0), (2.0, 1.0)],
        ]);
        let right = [
            vec![(0.3, 0.7), (0.7, 0.7), (0.7, 0.0)],
            vec![(0.3, 0.7), (1.1, 0.7), (1.1, 0.0)],
            vec![(0.3, 0.7), (1.6, 0.7), (1.6, 0.0)],
            vec![(0.0, 0.3), (1.8, 0.3)],
        ];
        let mirrored = |way: &Vec<(f64, f64)>| laid(&way.iter().map(|(x, y)| (-x, *y)).collect::<Vec<_>>());
        let rights = || right.iter().map(|way| laid(way));
        let lefts = || right.iter().map(mirrored);
        for ways in [rights().chain(lefts()).collect::<Vec<_>>(), lefts().chain(rights()).collect()] {
            let found = carriers(&frame, &lines(&ways), |_, _| None).0;
            let mut ends: Vec<[f64; 4]> = told(&found).iter().map(|one| one.0).collect();
            // Left to right across the bar, so that the ends change places.
            let mut other: Vec<[f64; 4]> = ends
                .iter()
                .map(
                    |[x, y, to_x, to_y]| {
                        if x == to_x { [-x, *y, -to_x, *to_y] } else { [-to_x, *to_y, -x, *y] }
                    },
                )
                .collect();
            let key = |a: &[f64; 4], b: &[f64; 4]| a.partial_cmp(b).unwrap_or(Ordering::Equal);
            ends.sort_by(key);
            other.sort_by(key);
            assert!(!ends.is_empty());
            assert_eq!(ends, other);
        }
    }

    /// A line that hangs free there keeps a rail out: the tube stays without one, and it is said why.
    #[test]
    fn what_no_carrier_can_bear_is_told_with_what_is_in_the_way() {
        let ways = [laid(&[(0.0, 0.0), (0.0, 1.0)])];
        let free = InTheWay::FreePiece(h6());
        let (found, left) = carriers(&rails(&[0.0, 1.0]), &lines(&ways), |_, _| Some(free.clone()));
        assert_eq!(found, []);
        let said: Vec<_> = left.iter().map(|one| (one.line.tag.as_str(), one.why.clone())).collect();
        assert_eq!(said, [("T1", Some(free))]);
        assert!((left[0].span.si() - 1.0).abs() < 1e-9);
    }

    /// A carrier that a hose passes over between its hinge clamps is not for that hose, though it hangs elsewhere.
    #[test]
    fn a_carrier_bears_nothing_of_what_hangs_free_at_a_hinge() {
        let ways = [laid(&[(0.0, 0.0), (0.0, 0.6)]), laid(&[(-2.0, 0.3), (2.0, 0.3)])];
        let mut all = lines(&ways);
        all[1].clamped = vec![[1.8, 2.2]];
        let (found, _) = carriers(&rails(&[0.0, 0.6]), &all, |_, _| None);
        let found = told(&found);
        assert!(found.contains(&([0.0, 0.6, 0.0, 0.0], vec!["T1"])), "{found:?}");
        assert!(found.iter().any(|one| one.1 == ["T2"]), "{found:?}");
    }
}
