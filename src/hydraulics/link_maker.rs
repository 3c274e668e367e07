//! What a link of a routing is made of, looked up once: made again with other numbers, it is the link of the edited plan.

use petgraph::graph::EdgeIndex;

use super::assembly::{Assembly, LinkSource};
use super::network::LinkKind;
use super::resistance::{self, VariedQuantity};
use super::variation::{ElementId, Parameter};
use crate::plan::kinds::Passage;
use crate::plan::{FeedElement, FeedId, FittingItem, HoseStock, Item, LaidRouting, PartId, Project, RunId};
use crate::quantities::Length;

/// Where the numbers of a link come from.
#[derive(Debug, Clone)]
enum Making<'a> {
    Run { length: Length, stock: &'a HoseStock, fittings: Vec<&'a FittingItem> },
    Passage(Passage),
    Element { element: &'a FeedElement, item: &'a Item, length: Option<Length> },
    SmallTee(&'a FittingItem),
}

/// Whose numbers they are.
#[derive(Debug, Clone, Copy)]
enum Owner {
    Run(RunId),
    Part(PartId),
    Element(ElementId),
    SmallTee(FeedId),
}

/// What makes a link of its numbers.
#[derive(Debug, Clone)]
pub(super) struct LinkMaker<'a> {
    making: Making<'a>,
    owner: Owner,
}

impl<'a> LinkMaker<'a> {
    /// Of a link of an assembly; none where the catalogue lacks what it needs.
    pub(super) fn of(
        project: &'a Project,
        laid: LaidRouting<'a>,
        assembly: &Assembly,
        link: EdgeIndex,
    ) -> Option<Self> {
        let (routing, catalogue) = (laid.routing, &project.catalogue);
        Some(match assembly.sources[link.index()] {
            LinkSource::Run(place) => {
                let run = &routing.runs[place];
                let making = Making::Run {
                    length: assembly.runs[place].0?,
                    stock: catalogue.stock(&run.line.stock)?,
                    fittings: run.fittings.iter().filter_map(|key| catalogue.item(key)).collect(),
                };
                Self { making, owner: Owner::Run(run.id) }
            }
            LinkSource::Part(place, passage) => {
                Self { making: Making::Passage(passage), owner: Owner::Part(routing.parts[place].id) }
            }
            LinkSource::Element(place) => {
                let one = assembly.elements[place];
                let id = ElementId { feed: one.feed, branch: one.branch, index: one.index };
                let feed = routing.feed(one.feed)?;
                let list = match one.branch {
                    None => &feed.trunk,
                    Some(branch) => &feed.branches.get(branch)?.elements,
                };
                let element: &FeedElement = list.get(one.index)?;
                let item = catalogue.item(element.entry())?;
                let making = Making::Element { element, item, length: one.length };
                Self { making, owner: Owner::Element(id) }
            }
            LinkSource::SmallTee(place) => {
                let feed = &routing.feeds[place];
                let making = Making::SmallTee(catalogue.item(&feed.split.as_ref()?.entry)?);
                Self { making, owner: Owner::SmallTee(feed.id) }
            }
        })
    }

    /// The name of one of its numbers.
    pub(super) const fn parameter(&self, quantity: VariedQuantity) -> Parameter {
        match self.owner {
            Owner::Run(id) => Parameter::Run(id, quantity),
            Owner::Part(id) => Parameter::Part(id, quantity),
            Owner::Element(id) => Parameter::Element(id, quantity),
            Owner::SmallTee(id) => Parameter::SmallTee(id, quantity),
        }
    }

    /// The link, each of its numbers as `vary` makes it of the plan's.
    pub(super) fn kind(&self, vary: &mut dyn FnMut(VariedQuantity, f64) -> f64) -> Option<LinkKind> {
        match &self.making {
            Making::Run { length, stock, fittings } => {
                Some(resistance::run(*length, stock, fittings.iter().copied(), vary))
            }
            Making::Passage(passage) => Some(resistance::passage(passage, vary)),
            Making::Element { element, item, length } => resistance::element(element, item, *length, vary),
            Making::SmallTee(item) => Some(resistance::small_tee(item, vary)),
        }
    }
}
