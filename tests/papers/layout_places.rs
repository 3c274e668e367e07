//! Words and balloons of the layout keep off each other, leaders off both balloons and symbols: of each example on each paper, by what lies on
//! the pages and by nothing that placed it there.

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::Paper;
use equirow::geometry::{Bounds, Point2};

use crate::layout_pages::layout_pages;

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

/// A hair of overlap is none, millimetres.
const HAIR: f64 = 0.25;

/// So near its end a leader may meet what lies beside what it leads to, millimetres.
const AT_END: f64 = 1.6;

struct Seen<'a> {
    words: Vec<(&'a str, Bounds)>,
    /// What is drawn of parts, of what sits in hoses and tubes, of outlets, and the pins of hinges.
    symbols: Vec<(PaperLayer, Bounds)>,
    balloons: Vec<(Point2, f64)>,
    leaders: Vec<[Point2; 2]>,
}

fn seen(page: &Page) -> Seen<'_> {
    let mut seen = Seen { words: Vec::new(), symbols: Vec::new(), balloons: Vec::new(), leaders: Vec::new() };
    for mark in &page.marks {
        match (&mark.kind, mark.layer) {
            (MarkKind::Words(words), _) => seen.words.push((&words.text, words.bounds())),
            (MarkKind::Line { points, .. }, PaperLayer::Leader) => {
                assert_eq!(points.len(), 2, "{}", page.name);
                seen.leaders.push([points[0], points[1]]);
            }
            (MarkKind::Circle { centre, radius, .. }, PaperLayer::Notes) if *radius > 3.0 => {
                seen.balloons.push((*centre, *radius));
            }
            (MarkKind::Circle { .. }, PaperLayer::Hinge) => {
                seen.symbols.push((mark.layer, mark.kind.bounds()));
            }
            (MarkKind::Line { .. }, _) => {}
            (_, PaperLayer::Part | PaperLayer::Row | PaperLayer::Tube | PaperLayer::Hose) => {
                seen.symbols.push((mark.layer, mark.kind.bounds()));
            }
            _ => {}
        }
    }
    seen
}

fn over(a: &Bounds, b: &Bounds, x: f64, y: f64) -> bool {
    a.max.x.min(b.max.x) - a.min.x.max(b.min.x) > x && a.max.y.min(b.max.y) - a.min.y.max(b.min.y) > y
}

/// Points of a piece, 0.2 mm apart.
fn along([from, to]: [Point2; 2]) -> impl Iterator<Item = Point2> {
    let many = (from.distance(to) / 0.2).ceil().max(1.0) as u32;
    (0..=many).map(move |at| from.towards(to, f64::from(at) / f64::from(many)))
}

fn cross([a, b]: [Point2; 2], [c, d]: [Point2; 2]) -> bool {
    let side = |p: Point2, q: Point2, r: Point2| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
    side(a, b, c) * side(a, b, d) < -1e-9 && side(c, d, a) * side(c, d, b) < -1e-9
}

/// All that lies on something else, in words.
fn clashes(page: &Page) -> Vec<String> {
    let Seen { words, symbols, balloons, leaders } = seen(page);
    let mut found = Vec::new();
    for (index, (text, a)) in words.iter().enumerate() {
        // Descenders of one line and tops of the next.
        let others = words[index + 1..].iter().filter(|(_, b)| over(a, b, 0.3, 0.7));
        found.extend(others.map(|(other, _)| format!("words \"{text}\" on \"{other}\"")));
        let in_balloon = balloons.iter().filter(|(centre, radius)| {
            // Its own number stands in its middle.
            a.nearest(*centre).distance(*centre) < radius - HAIR && a.centre().distance(*centre) > 0.8
        });
        found.extend(in_balloon.map(|_| format!("words \"{text}\" in a balloon")));
    }
    for (index, (a, radius)) in balloons.iter().enumerate() {
        for (b, other) in &balloons[index + 1..] {
            if a.distance(*b) < radius + other {
                found.push(format!("balloons {a:?} and {b:?}"));
            }
        }
        let about = Bounds { min: *a, max: *a }.grown(radius * 0.7);
        let on = symbols.iter().find(|(_, b)| over(&about, b, HAIR, HAIR));
        found.extend(on.map(|(layer, _)| format!("a balloon on a symbol of {layer:?}, {a:?}")));
    }
    for (index, leader) in leaders.iter().enumerate() {
        let [from, to] = *leader;
        for other in &leaders[index + 1..] {
            if cross(*leader, *other) {
                found.push(format!("leaders {leader:?} and {other:?} cross"));
            }
        }
        let points: Vec<Point2> = along(*leader).collect();
        let through = |bounds: &Bounds| {
            let inner = bounds.grown(-HAIR);
            let is_met = |at: &&Point2| {
                inner.min.x < at.x && at.x < inner.max.x && inner.min.y < at.y && at.y < inner.max.y
            };
            // What it leads to, and what lies close by that.
            let is_own = bounds.grown(AT_END).contains(to)
                && points.iter().filter(is_met).all(|at| at.distance(to) < AT_END)
                || bounds.contains(to);
            !is_own && points.iter().any(|at| is_met(&at))
        };
        found.extend(
            symbols
                .iter()
                .filter(|(_, b)| through(b))
                .map(|(layer, b)| format!("a leader through a symbol of {layer:?} {b:?}: {leader:?}")),
        );
        let others = balloons.iter().filter(|(centre, radius)| {
            let own = [from, to].iter().any(|end| end.distance(*centre) < radius + HAIR);
            !own && points.iter().any(|at| at.distance(*centre) < radius - HAIR)
        });
        found.extend(others.map(|_| format!("a leader through a balloon: {leader:?}")));
    }
    found
}

/// No words over words or balloons, no balloon over another or a symbol, no leader across another one, through symbols or balloons.
#[test]
fn nothing_that_is_written_lies_on_anything_else() {
    let (mut all, mut leaders) = (Vec::new(), 0);
    for name in EXAMPLES {
        for paper in Paper::ALL {
            let pages = layout_pages(name, paper);
            for page in pages.get().unwrap().iter().filter(|page| page.name != "Rows in figures") {
                leaders += seen(page).leaders.len();
                all.extend(
                    clashes(page).into_iter().map(|one| format!("{name} {paper:?} {}: {one}", page.name)),
                );
            }
        }
    }
    assert!(all.is_empty(), "{}:\n{}", all.len(), all.join("\n"));
    assert!(leaders > 200, "{leaders}");
}

/// Each kind of clash is seen where one is put onto a page.
#[test]
fn a_clash_is_noticed() {
    let pages = layout_pages("twelve-metre-bar.ron", Paper::A3);
    let page = pages.get().unwrap().iter().find(|page| page.name.ends_with("centre")).unwrap();
    let before = clashes(page).len();
    for layer in [PaperLayer::Part, PaperLayer::Row, PaperLayer::Notes] {
        let mut spoiled = page.clone();
        let target = page.marks.iter().find(|mark| {
            mark.layer == layer
                && match &mark.kind {
                    MarkKind::Circle { radius, .. } => layer != PaperLayer::Notes || *radius > 3.0,
                    MarkKind::Area { .. } => layer == PaperLayer::Part,
                    MarkKind::Words(_) | MarkKind::Line { .. } => false,
                }
        });
        let at = target.unwrap().kind.bounds().centre();
        let mut leader = page.marks.iter().find(|mark| mark.layer == PaperLayer::Leader).unwrap().clone();
        let MarkKind::Line { points, .. } = &mut leader.kind else { panic!("{leader:?}") };
        *points = [-20.0, 20.0].map(|by| Point2::new(at.x + by, at.y + by * 0.3)).to_vec();
        spoiled.marks.push(leader);
        assert!(clashes(&spoiled).len() > before, "{layer:?}");
    }
}
