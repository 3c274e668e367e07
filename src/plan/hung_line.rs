//! Hoses and tubes with what they bear between two ties.

use super::bar::Bar;
use super::feed::FeedElement;
use super::frame_graph::FREE_TUBE;
use super::held::HeldLine;
use super::open_air::{FreeSpan, FreeStretch, HungPath, Tie, free_stretches, longest_free_span};
use super::routing_geometry::{LaidRouting, LineGeometry};
use super::{End, Project, RowId, StockKey, Subject};
use crate::quantities::Length;

/// What a tube may hang farther than [`FREE_TUBE`], metres: the last tie sits on a bracket (common practice, no source).
const BRACKET: f64 = 0.1;

/// A span that is longer by less than this is none, metres.
pub(super) const EXACT: f64 = 1e-6;

/// A hose or tube of a routing with what it bears between two ties.
#[derive(Debug, Clone)]
pub struct HungLine<'a> {
    /// Which it is.
    pub held: HeldLine,
    /// Its outside diameter.
    pub outside: Length,
    /// How it lies.
    pub laid: &'a LineGeometry,
    /// It may hang free so far.
    pub most: Length,
    pub(super) ends_on_bar: [bool; 2],
    /// Its end moves with an opener.
    pub(super) ends_at_opener: bool,
    /// The free pieces at hinges, along its way.
    pub(super) clamped: Vec<[f64; 2]>,
}

impl HungLine<'_> {
    pub(super) fn path(&self) -> HungPath<'_> {
        HungPath { path: &self.laid.path, ends_on_bar: self.ends_on_bar, clamped: &self.clamped }
    }

    /// The longest stretch on which it hangs free, where that is more than it may.
    pub fn hanging(&self, bar: &Bar) -> Option<FreeSpan> {
        longest_free_span(bar, self.path()).filter(|span| span.length > self.most.si() + EXACT)
    }

    /// The stretches on which it hangs farther than it may beside these.
    pub(super) fn stretches(&self, ties: &[Tie]) -> Vec<FreeStretch> {
        let mut found = Vec::new();
        free_stretches(ties, self.path(), |stretch| {
            if stretch.length > self.most.si() + EXACT {
                found.push(stretch);
            }
        });
        found
    }
}

/// The free pieces of a line at its hinges, along the way through its points: between the clamps where these are computed,
/// otherwise from the last point on one section to the first on the next.
fn clamped(laid: &LineGeometry) -> Vec<[f64; 2]> {
    let computed = laid.crossings.iter().filter_map(|one| one.computed());
    let mut found: Vec<[f64; 2]> = computed.map(|one| [one.span.0.si(), one.span.1.si()]).collect();
    let mut way = 0.0;
    for pair in laid.path.windows(2) {
        let ends = way + pair[0].place.distance(pair[1].place);
        if pair[0].section != pair[1].section && !found.iter().any(|one| one[0] <= ends && one[1] >= way) {
            found.push([way, ends]);
        }
        way = ends;
    }
    found
}

/// Every hose and tube of a routing that lies somewhere, in the order of the routing.
pub fn hung_lines<'a>(project: &'a Project, routing: LaidRouting<'a>) -> Vec<HungLine<'a>> {
    let outside = |key: &StockKey| project.catalogue.stock(key).map(|stock| stock.outside);
    let mut lines = Vec::new();
    for run in &routing.routing.runs {
        let (Some(laid), Some(outside)) = (routing.geometry.run(run.id), outside(&run.line.stock)) else {
            continue;
        };
        lines.push(HungLine {
            held: HeldLine { of: Subject::Run(run.id), tag: run.tag.clone() },
            outside,
            laid,
            most: outside * project.limits.hose_supports.si(),
            ends_on_bar: [run.from, run.to].map(|end| end != End::Supply),
            ends_at_opener: false,
            clamped: clamped(laid),
        });
    }
    for feed in &routing.routing.feeds {
        let Some(geometry) = routing.geometry.feed(feed.id) else { continue };
        let all: Vec<RowId> = feed.branches.iter().map(|branch| branch.row).collect();
        let rows =
            std::iter::repeat_n(&all[..], feed.trunk.len()).chain(feed.branches.iter().flat_map(|branch| {
                std::iter::repeat_n(std::slice::from_ref(&branch.row), branch.elements.len())
            }));
        let mut pieces = 0;
        for ((element, lies), rows) in feed.elements().zip(geometry.elements()).zip(rows) {
            pieces += usize::from(element.is_cut());
            let (FeedElement::Tube(tube), Some(laid)) = (element, &lies.tube) else { continue };
            let Some(outside) = outside(&tube.line.stock) else { continue };
            lines.push(HungLine {
                held: HeldLine { of: Subject::Feed(feed.id), tag: feed.piece_tag(pieces) },
                outside,
                laid,
                most: Length::metres(FREE_TUBE + BRACKET),
                ends_on_bar: [true; 2],
                ends_at_opener: rows.iter().any(|row| {
                    let outlet = routing.geometry.anchors.outlet(*row);
                    outlet.is_some_and(|outlet| outlet.place.distance(laid.to().place) < EXACT)
                }),
                clamped: clamped(laid),
            });
        }
    }
    lines
}
