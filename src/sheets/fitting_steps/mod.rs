//! The fitting steps of one routing, in an order worked out from the routing itself.
//!
//! What carries comes before what is carried, from the pump outwards; what lies beneath before what lies over it;
//! both sides of a hinge before the loop between them; the flush and the test with the outlets closed before any
//! metering goes in. Steps in which water or liquid runs stand in `water`. Intervals and habits of the trade are
//! common practice, no source.

mod hoses;
mod mounting;
mod order;
mod tubes;
mod water;
mod work;

use crate::plan::{Duty, LaidRouting, Project};
use crate::sheets::basis::Basis;
use crate::sheets::cautions;
use crate::sheets::document::{Block, Document, Steps};
use order::laid_run;
use work::Work;

/// The fitting steps as a paper.
pub fn fitting_steps(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing) = (basis.project, basis.routing);
    let mut document = Document::new("Fitting steps", basis);
    document.blocks.extend(cautions::blocks());
    if routing.parts.is_empty() && routing.runs.is_empty() && routing.feeds.is_empty() {
        document.blocks.push(Block::Paragraph("Nothing is placed on this routing yet.".to_owned()));
        return document;
    }
    let work = Work {
        project,
        routing,
        duty: basis.duty,
        items: basis.items(),
        pieces: &basis.cut_plan().pieces,
        from_pump: routing.geometry.connections.steps_from_pump(),
        ways_from_pump: routing
            .geometry
            .connections
            .ways_from_pump(|run| routing.geometry.run(run).map_or(0.0, |laid| laid.length.si().max(0.0))),
        runs: routing.runs.iter().map(|run| laid_run(routing, run)).collect(),
        outcomes: basis.outcomes(),
        water: basis.water_outcomes(),
        of_all_duties: basis.all_outcomes(),
        findings: basis.findings(),
        is_water: basis.is_water(),
    };
    document.blocks.push(Block::Heading("Each time".to_owned()));
    document.blocks.push(Block::Facts(work.each_time()));
    let stages = [
        ("Prepare", work.prepare()),
        ("Mount what carries", work.mount()),
        ("Lay the hoses of each section", work.hoses_within()),
        ("Join across the hinges", work.hoses_across()),
        ("Flush hoses and manifolds", work.flush_mains()),
        ("Test hoses and manifolds, outlets closed", work.closed_test()),
        ("Fit the delivery tubes", work.tubes()),
        ("Flush the tubes, then fit check valves, flow indicators and metering", work.metering()),
        ("Look again with the rows open, before the ground", work.open_test()),
        ("Fill with the liquid", work.first_fill()),
        ("After the test, and at the end of every season", work.afterwards()),
    ];
    let mut first = 1;
    for (heading, steps) in stages {
        if steps.is_empty() {
            continue;
        }
        document.blocks.push(Block::Heading(heading.to_owned()));
        let count = steps.len();
        document.blocks.push(Block::Steps(Steps { first, steps }));
        first += count;
    }
    document
}
