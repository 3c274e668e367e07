//! The fitting steps of one routing, in an order worked out from the routing itself.
//!
//! What carries comes before what is carried, from the pump outwards; what lies beneath before what lies over it;
//! parts before what is cut to lie between them; both sides of a hinge before the loop between them; the flush and the test with the outlets closed before any
//! metering goes in. Every piece of the parts list goes in during one step, which counts it (`FittingStep::items`). Steps say
//! neither lengths nor places that lists and drawings hold: pieces are known by their marks. Intervals and habits of the
//! trade are common practice, no source.

mod flush;
mod hinges;
mod hoses;
mod order;
mod preparing;
mod pressure_test;
mod rows;
mod watch;
mod water;
mod work;

use crate::plan::{Duty, LaidRouting, Project};
use crate::sheets::basis::Basis;
use crate::sheets::cautions;
use crate::sheets::document::{Block, Document, Steps};
use order::laid_run;
use work::Work;

/// The heading of the test with the outlets closed.
const CLOSED_TEST: &str = "Pressure test, outlets closed";

/// The fitting steps as a paper.
pub fn fitting_steps(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing) = (basis.project, basis.routing);
    let mut document = Document::new("Fitting steps", basis);
    if routing.parts.is_empty() && routing.runs.is_empty() && routing.feeds.is_empty() {
        document.blocks.push(Block::Paragraph("Nothing is placed on this routing yet.".to_owned()));
        document.blocks.extend(cautions::blocks());
        return document;
    }
    if !basis.release().is_released() {
        document.blocks.push(Block::Paragraph(
            "Do not order, cut or fit by these papers: change the design until it is released, and print them again."
                .to_owned(),
        ));
    }
    let work = Work {
        project,
        routing,
        duty: basis.duty,
        items: basis.items(),
        pieces: &basis.cut_plan().pieces,
        cuts: &basis.cut_plan().cuts,
        from_pump: routing.geometry.connections.steps_from_pump(),
        ways_from_pump: basis.ways_from_pump(),
        runs: routing.runs.iter().map(|run| laid_run(routing, run)).collect(),
        outcomes: basis.outcomes(),
        water: basis.water_outcomes(),
        of_all_duties: basis.all_outcomes(),
        findings: basis.findings(),
        test: basis.closed_test(),
        leak_check: basis.leak_check(),
        is_water: basis.is_water(),
        water_differs: basis.water_differs(),
        extras: basis.extras(),
        holding: basis.holding(),
        flushing: basis.flushing(),
    };
    document.blocks.extend(cautions::at_the_front(|hazard| work.applies(hazard)));
    document.blocks.push(Block::Heading("In every step".to_owned()));
    document.blocks.push(Block::Facts(work.in_every_step()));
    let stages = [
        ("Prepare", work.prepare()),
        ("Mount the parts", work.mount()),
        ("Cut to length", work.cut().into_iter().collect()),
        ("Lay the hoses", work.hoses()),
        ("Flush hoses and manifolds", work.flush()),
        (CLOSED_TEST, work.closed_test()),
        ("Fit the delivery tubes", work.tubes()),
        ("Fit the rows", work.rows()),
        ("Leak check with the rows open, and catch test", work.open_test()),
        ("Fill with the liquid", work.first_fill()),
        ("Storage and handing over", work.afterwards()),
    ];
    let mut first = 1;
    let mut stopped = None;
    for (heading, mut steps) in stages {
        if steps.is_empty() {
            continue;
        }
        if heading == CLOSED_TEST {
            stopped = work.is_stopped().then_some(first);
        } else if let Some(test) = stopped {
            Work::put_off(&mut steps, test);
        }
        document.blocks.push(Block::Heading(heading.to_owned()));
        let count = steps.len();
        document.blocks.push(Block::Steps(Steps { first, steps }));
        first += count;
    }
    document
}
