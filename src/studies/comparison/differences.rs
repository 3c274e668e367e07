//! What one routing has and the other has not: parts, hoses and row feeds matched by tag and place.
//!
//! Two parts are the same thing if they are of one kind and share tag and place; else if they share the tag; else if
//! they share the place. A row feed is known by the rows it feeds, then by its tag. A hose is known by what it joins:
//! by the places of both its ends, then by the ports there, and only then by its tag, where one end is the same: a tag
//! that was given again does not make another hose the same. What is left over was added or removed. Everything is read
//! in the direction from the first to the second.

use std::collections::{BTreeMap, BTreeSet};

use crate::geometry::Point3;
use crate::plan::cutting::cut_length;
use crate::plan::{
    ElementGeometry, End, FeedElement, FeedGeometry, LaidRouting, Line, LineGeometry, Part, PartItem,
    Project, RowFeed, RowId, Run, Subject,
};
use crate::quantities::{Length, Measure, UnitSystem};

/// What became of a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// Only the first has it.
    Removed,
    /// Only the second has it.
    Added,
    /// It is the same, at another place or on another way.
    Moved,
    /// It is made, tagged or connected otherwise.
    Changed,
}

impl Change {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Removed => "removed",
            Self::Added => "added",
            Self::Moved => "moved",
            Self::Changed => "changed",
        }
    }
}

/// One thing that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemDifference {
    /// What became of it.
    pub change: Change,
    /// Its kind in plain words.
    pub kind: &'static str,
    /// Its tag; in the first routing where both have it.
    pub tag: String,
    /// In the first routing.
    pub a: Option<Subject>,
    /// In the second routing.
    pub b: Option<Subject>,
    /// What differs, second against first; empty for what only one has.
    pub what: String,
}

impl ItemDifference {
    /// In one line: `manifold M2 moved 0.35 m`, `hose H7 added`.
    pub fn text(&self) -> String {
        if self.what.is_empty() {
            format!("{} {} {}", self.kind, self.tag, self.change.word())
        } else {
            format!("{} {}: {}", self.kind, self.tag, self.what)
        }
    }
}

/// Nearer than this is the same place, metres.
const SAME_PLACE: f64 = 0.005;

/// All parts, hoses and row feeds that differ: parts first, then hoses, then feeds, each in the first routing's order
/// with what was added at the end.
pub fn items(project: &Project, a: LaidRouting, b: LaidRouting) -> Vec<ItemDifference> {
    let mut all = Vec::new();
    parts(project, a, b, &mut all);
    hoses(project, a, b, &mut all);
    feeds(project, a, b, &mut all);
    all
}

/// The lines a person reads: one for each part and hose, and one for all row feeds of which the same is to be said.
pub fn in_words(items: &[ItemDifference]) -> Vec<(Change, String)> {
    let is_feed = |item: &&ItemDifference| matches!(item.a.or(item.b), Some(Subject::Feed(_)));
    let mut lines: Vec<(Change, String)> =
        items.iter().filter(|item| !is_feed(item)).map(|item| (item.change, item.text())).collect();
    let mut groups: BTreeMap<(Change, &str), Vec<&ItemDifference>> = BTreeMap::new();
    for item in items.iter().filter(is_feed) {
        groups.entry((item.change, item.what.as_str())).or_default().push(item);
    }
    for ((change, what), feeds) in groups {
        let tags = match feeds.as_slice() {
            [one] => format!("row feed {}", one.tag),
            [first, second] => format!("row feeds {} and {}", first.tag, second.tag),
            [first, .., last] => format!("{} row feeds, {} to {}", feeds.len(), first.tag, last.tag),
            [] => continue,
        };
        let says = if what.is_empty() { format!(" {}", change.word()) } else { format!(": {what}") };
        lines.push((change, tags + &says));
    }
    lines
}

/// Pairs of indices, best rule first; then what only one list has.
fn matched(
    a: usize,
    b: usize,
    rules: &[&dyn Fn(usize, usize) -> bool],
) -> Vec<(Option<usize>, Option<usize>)> {
    let mut of_a: Vec<Option<usize>> = vec![None; a];
    let mut taken = vec![false; b];
    for rule in rules {
        for (one, found) in of_a.iter_mut().enumerate() {
            if found.is_none()
                && let Some(other) = (0..b).find(|other| !taken[*other] && rule(one, *other))
            {
                *found = Some(other);
                taken[other] = true;
            }
        }
    }
    let pairs = of_a.into_iter().enumerate().map(|(one, other)| (Some(one), other));
    pairs.chain((0..b).filter(|other| !taken[*other]).map(|other| (None, Some(other)))).collect()
}

/// A tag and what bears it.
type Named<'a> = (&'a str, Subject);

/// One difference, if there is one: `what` are its pieces, `moved` whether only the place differs.
fn difference(
    kind: &'static str,
    (a, b): (Option<Named<'_>>, Option<Named<'_>>),
    what: &[String],
    moved_only: bool,
) -> Option<ItemDifference> {
    let change = match (a, b) {
        (Some(_), None) => Change::Removed,
        (None, Some(_)) => Change::Added,
        _ if what.is_empty() => return None,
        _ if moved_only => Change::Moved,
        _ => Change::Changed,
    };
    let tag = a.or(b)?.0.to_owned();
    let what = what.join("; ");
    Some(ItemDifference { change, kind, tag, a: a.map(|one| one.1), b: b.map(|one| one.1), what })
}

fn instead(what: &str, a: &str, b: &str) -> String {
    format!("{what}{b} instead of {a}")
}

fn metres(project: &Project, length: f64) -> String {
    Measure::Distance.text(length, project.units)
}

/// The length of a hose or tube as the cut list has it, and as it is added up.
fn as_cut(project: &Project, length: Length) -> String {
    metres(project, cut_length(length, project.units, false).si())
}

fn size(project: &Project, entry: &crate::plan::EntryKey) -> String {
    let units: UnitSystem = project.units;
    match project.catalogue.any_item(entry).map(|item| (item, item.size(units))) {
        Some((_, size)) if !size.is_empty() => size,
        Some((item, _)) => item.kind().to_owned(),
        None => entry.to_string(),
    }
}

/// Sizes of two entries; their keys where the sizes read the same.
fn sizes(project: &Project, a: &crate::plan::EntryKey, b: &crate::plan::EntryKey) -> String {
    let (one, other) = (size(project, a), size(project, b));
    if one == other { instead("", &a.0, &b.0) } else { instead("", &one, &other) }
}

fn tags(a: &str, b: &str, what: &mut Vec<String>) {
    if a != b {
        what.push(instead("tagged ", a, b));
    }
}

fn parts(project: &Project, a: LaidRouting, b: LaidRouting, all: &mut Vec<ItemDifference>) {
    let catalogue = &project.catalogue;
    let kind = |part: &Part| catalogue.item(&part.entry).map_or("part", PartItem::kind);
    let places = |routing: LaidRouting| -> Vec<Point3> {
        routing.geometry.anchors.parts().iter().map(|part| part.at).collect()
    };
    let (at_a, at_b) = (places(a), places(b));
    let same_kind = |i: usize, j: usize| kind(&a.parts[i]) == kind(&b.parts[j]);
    let same_tag = |i: usize, j: usize| a.parts[i].tag == b.parts[j].tag;
    let near = |i: usize, j: usize| at_a[i].distance(at_b[j]) < SAME_PLACE;
    // A tee is what it joins: one elsewhere that bears the tag by chance is another one.
    let is_tee = |part: &Part| matches!(catalogue.item(&part.entry), Some(PartItem::Tee(_)));
    let joins_alike = |i: usize, j: usize| {
        let (one, other) = (neighbours(a, &a.parts[i]), neighbours(b, &b.parts[j]));
        let alike = one.intersection(&other).count();
        !is_tee(&a.parts[i]) || 2 * alike >= one.len().max(other.len())
    };
    let pairs = matched(
        at_a.len(),
        at_b.len(),
        &[
            &|i, j| same_tag(i, j) && same_kind(i, j) && near(i, j),
            &|i, j| same_tag(i, j) && same_kind(i, j) && joins_alike(i, j),
            &|i, j| near(i, j) && same_kind(i, j),
        ],
    );
    for (i, j) in pairs {
        let (one, other) = (i.map(|i| &a.parts[i]), j.map(|j| &b.parts[j]));
        let mut what = Vec::new();
        let mut moved_only = false;
        if let (Some(one), Some(other), Some(i), Some(j)) = (one, other, i, j) {
            tags(&one.tag, &other.tag, &mut what);
            if one.entry != other.entry {
                what.push(sizes(project, &one.entry, &other.entry));
            }
            let mount = |routing: LaidRouting, part: &Part| {
                part.mount.map(|port| end_words(routing, &End::Port(port)))
            };
            let mounts = (mount(a, one), mount(b, other));
            if mounts.0 != mounts.1 {
                let words = |mount: Option<String>| mount.unwrap_or_else(|| "nothing".to_owned());
                what.push(instead("on ", &words(mounts.0.clone()), &words(mounts.1.clone())));
            }
            if one.shut != other.shut {
                what.push(if other.shut { "shut" } else { "open" }.to_owned());
            }
            moved_only = what.is_empty();
            // What is screwed onto a part goes with it.
            let rides = mounts.0.is_some() && mounts.0 == mounts.1;
            if !near(i, j) && !rides {
                what.push(format!("moved {}", metres(project, at_a[i].distance(at_b[j]))));
            }
            if one.turn != other.turn && !rides {
                what.push("turned".to_owned());
            }
        }
        let named = |part: &Part| Subject::Part(part.id);
        let ends = (
            one.map(|part| (part.tag.as_str(), named(part))),
            other.map(|part| (part.tag.as_str(), named(part))),
        );
        let kind = one.or(other).map_or("part", kind);
        all.extend(difference(kind, ends, &what, moved_only));
    }
}

/// What the hoses on a part lead to, by tags.
fn neighbours(routing: LaidRouting, part: &Part) -> BTreeSet<String> {
    let is_on = |end: &End| end.port().is_some_and(|port| port.part == part.id);
    let beyond = routing.runs.iter().filter_map(|run| {
        let other = if is_on(&run.from) { &run.to } else { is_on(&run.to).then_some(&run.from)? };
        match other.port() {
            Some(port) => Some(routing.part(port.part)?.tag.clone()),
            None => Some(end_words(routing, other)),
        }
    });
    beyond.collect()
}

/// Where an end is, by tags: `M2 inlet`, `the pump`, `nothing`.
fn end_words(routing: LaidRouting, end: &End) -> String {
    match end {
        End::Supply => "the pump".to_owned(),
        End::Loose(_) => "nothing".to_owned(),
        End::Port(port) => {
            let tag = routing.part(port.part).map_or("?", |part| part.tag.as_str());
            routing.geometry.anchors.port_words(tag, *port)
        }
    }
}

/// The points of a hose and its length; of one with an end that is nowhere the points between.
struct Way {
    path: Vec<Point3>,
    length: Option<Length>,
}

impl Way {
    fn of(routing: LaidRouting, run: &Run) -> Self {
        let laid = routing.geometry.run(run.id);
        Self {
            path: laid.map_or_else(
                || run.line.waypoints.iter().map(|point| point.place).collect(),
                LineGeometry::places,
            ),
            length: laid.map(|laid| laid.length),
        }
    }
}

/// What differs in stock, length and way of two lines; true where the way does.
fn lines_differ(
    project: &Project,
    (a, b): (&Line, &Line),
    (way_a, way_b): (&Way, &Way),
    what: &mut Vec<String>,
) -> bool {
    if a.stock != b.stock {
        what.push(sizes(project, &a.stock, &b.stock));
    }
    let other_way = way_a.path.len() != way_b.path.len()
        || way_a.path.iter().zip(&way_b.path).any(|(one, other)| one.distance(*other) > SAME_PLACE);
    let (long_a, long_b) = (way_a.length.unwrap_or_default(), way_b.length.unwrap_or_default());
    if (long_a - long_b).abs().si() > SAME_PLACE && !other_way {
        let (old, new) = (as_cut(project, long_a), as_cut(project, long_b));
        // Less than a step of cutting is nothing that anybody sees.
        if old != new {
            what.push(format!("{new} long instead of {old}"));
        }
    }
    other_way
}

fn hoses(project: &Project, a: LaidRouting, b: LaidRouting, all: &mut Vec<ItemDifference>) {
    let ways =
        |routing: LaidRouting| -> Vec<Way> { routing.runs.iter().map(|run| Way::of(routing, run)).collect() };
    let (ways_a, ways_b) = (ways(a), ways(b));
    let same_tag = |i: usize, j: usize| a.runs[i].tag == b.runs[j].tag;
    let near = |i: usize, j: usize| match (&ways_a[i].path[..], &ways_b[j].path[..]) {
        ([from, .., to], [other_from, .., other_to]) => {
            from.distance(*other_from) < SAME_PLACE && to.distance(*other_to) < SAME_PLACE
        }
        _ => false,
    };
    // An end is the same where it is at the same place, or on the same port of a part that moved.
    let one_end = |i: usize, j: usize, end: fn(&Run) -> &End, place: fn(&[Point3]) -> Option<&Point3>| {
        let places = (place(&ways_a[i].path), place(&ways_b[j].path));
        let here = matches!(places, (Some(one), Some(other)) if one.distance(*other) < SAME_PLACE);
        let (one, other) = (end(&a.runs[i]), end(&b.runs[j]));
        here || one.port().is_some() && end_words(a, one) == end_words(b, other)
    };
    let from = |i, j| one_end(i, j, |run| &run.from, |path| path.first());
    let to = |i, j| one_end(i, j, |run| &run.to, |path| path.last());
    let pairs = matched(
        a.runs.len(),
        b.runs.len(),
        &[
            &|i, j| same_tag(i, j) && near(i, j),
            &near,
            &|i, j| same_tag(i, j) && from(i, j) && to(i, j),
            &|i, j| from(i, j) && to(i, j),
            &|i, j| same_tag(i, j) && (from(i, j) || to(i, j)),
        ],
    );
    for (i, j) in pairs {
        let (one, other) = (i.map(|i| &a.runs[i]), j.map(|j| &b.runs[j]));
        let mut what = Vec::new();
        let mut moved_only = false;
        if let (Some(one), Some(other), Some(i), Some(j)) = (one, other, i, j) {
            tags(&one.tag, &other.tag, &mut what);
            for (word, end, new_end) in [("from ", &one.from, &other.from), ("to ", &one.to, &other.to)] {
                let (old, new) = (end_words(a, end), end_words(b, new_end));
                if old != new {
                    what.push(instead(word, &old, &new));
                }
            }
            if one.fittings != other.fittings {
                let fittings = |run: &Run| run.fittings.len().to_string();
                let (old, new) = (fittings(one), fittings(other));
                what.push(if old == new {
                    "other fittings".to_owned()
                } else {
                    instead("fittings: ", &old, &new)
                });
            }
            let other_way =
                lines_differ(project, (&one.line, &other.line), (&ways_a[i], &ways_b[j]), &mut what);
            moved_only = what.is_empty();
            if other_way {
                let long = |length: Option<Length>| {
                    length.map_or_else(|| "–".to_owned(), |length| as_cut(project, length))
                };
                let (old, new) = (long(ways_a[i].length), long(ways_b[j].length));
                what.push(if old == new { "another way".to_owned() } else { instead("", &old, &new) });
            }
        }
        let named = |run: &Run| Subject::Run(run.id);
        let ends =
            (one.map(|run| (run.tag.as_str(), named(run))), other.map(|run| (run.tag.as_str(), named(run))));
        all.extend(difference("hose", ends, &what, moved_only));
    }
}

fn feeds(project: &Project, a: LaidRouting, b: LaidRouting, all: &mut Vec<ItemDifference>) {
    let rows = |feed: &RowFeed| -> Vec<RowId> { feed.branches.iter().map(|branch| branch.row).collect() };
    let rows_a: Vec<Vec<RowId>> = a.feeds.iter().map(rows).collect();
    let rows_b: Vec<Vec<RowId>> = b.feeds.iter().map(rows).collect();
    let same_tag = |i: usize, j: usize| a.feeds[i].tag == b.feeds[j].tag;
    let same_rows = |i: usize, j: usize| rows_a[i] == rows_b[j];
    // A feed is known by the rows it feeds: those are painted on the bar.
    let pairs = matched(
        rows_a.len(),
        rows_b.len(),
        &[&|i, j| same_tag(i, j) && same_rows(i, j), &same_rows, &same_tag],
    );
    for (i, j) in pairs {
        let (one, other) = (i.map(|i| &a.feeds[i]), j.map(|j| &b.feeds[j]));
        let mut what = Vec::new();
        let mut moved_only = false;
        if let (Some(one), Some(other), Some(i), Some(j)) = (one, other, i, j) {
            tags(&one.tag, &other.tag, &mut what);
            if rows_a[i] != rows_b[j] {
                what.push("other rows".to_owned());
            }
            let from = |routing: LaidRouting, feed: &RowFeed| end_words(routing, &feed.from);
            let (old, new) = (from(a, one), from(b, other));
            // Which outlet of a manifold matters little; which manifold is worth words.
            let part = |words: &str| words.split(' ').next().unwrap_or_default().to_owned();
            if part(&old) != part(&new) {
                what.push(instead("on ", &part(&old), &part(&new)));
            } else if old != new {
                what.push("on another outlet".to_owned());
            }
            made_otherwise(project, one, other, &mut what);
            moved_only = what.is_empty();
            let ways = (a.geometry.feed(one.id), b.geometry.feed(other.id));
            let (long_a, long_b) = (total(ways.0), total(ways.1));
            if !ends_alike(ways.0, ways.1) {
                let same_length = long_a - long_b;
                what.push(
                    if same_length.abs().si() < SAME_PLACE { "another way" } else { "another length" }
                        .to_owned(),
                );
            } else if (long_a - long_b).abs().si() > SAME_PLACE {
                what.push("another length".to_owned());
                moved_only = false;
            }
        }
        let named = |feed: &RowFeed| Subject::Feed(feed.id);
        let ends = (
            one.map(|feed| (feed.tag.as_str(), named(feed))),
            other.map(|feed| (feed.tag.as_str(), named(feed))),
        );
        all.extend(difference("row feed", ends, &what, moved_only));
    }
}

/// All tubes of a row feed.
fn total(feed: Option<&FeedGeometry>) -> Length {
    feed.into_iter().flat_map(FeedGeometry::tubes).map(|tube| tube.length).sum()
}

/// The elements of two row feeds start and end at the same places.
fn ends_alike(a: Option<&FeedGeometry>, b: Option<&FeedGeometry>) -> bool {
    let ends = |elements: &[ElementGeometry]| -> Vec<[Point3; 2]> {
        elements.iter().map(|one| [one.from.place, one.to.place]).collect()
    };
    let all = |feed: &FeedGeometry| -> Vec<Vec<[Point3; 2]>> {
        std::iter::once(&feed.trunk).chain(&feed.branches).map(|stretch| ends(stretch)).collect()
    };
    a.map(all) == b.map(all)
}

/// Pieces of two feeds, in order: their kinds, sizes and cut lengths.
fn made_otherwise(project: &Project, a: &RowFeed, b: &RowFeed, what: &mut Vec<String>) {
    let kinds = |feed: &RowFeed| -> Vec<&'static str> { feed.elements().map(FeedElement::kind).collect() };
    if kinds(a) != kinds(b) || a.split.is_some() != b.split.is_some() {
        what.push("other pieces or another order".to_owned());
        return;
    }
    let mut said: Vec<String> = Vec::new();
    for (one, other) in a.elements().zip(b.elements()) {
        if one.entry() != other.entry() {
            said.push(format!("{} {}", other.kind(), sizes(project, one.entry(), other.entry())));
        }
        if let (FeedElement::MeteringTube { length: old, .. }, FeedElement::MeteringTube { length: new, .. }) =
            (one, other)
            && old != new
        {
            let (old, new) = (metres(project, old.si()), metres(project, new.si()));
            said.push(instead("metering tube ", &old, &new));
        }
    }
    said.dedup();
    what.extend(said);
}
