//! What follows a part onto another section of the bar: parts mounted on it, and the hinges that its hoses and tubes cross.

use super::PartId;
use super::anchors::Anchors;
use super::bar::Bar;
use super::catalogue::Catalogue;
use super::routing::Routing;
use super::routing_geometry::{cross_feed, cross_run};
use super::run::End;
use super::supply::Supply;

impl Routing {
    /// After a part came onto another section: what is mounted on it rides along, and what is connected to any of
    /// them crosses other hinges.
    pub fn settle(&mut self, id: PartId, bar: &Bar, catalogue: &Catalogue, supply: &Supply) {
        let Some(section) = self.part(id).map(|part| part.section) else { return };
        let all = self.with_mounted(id);
        for part in self.parts.iter_mut().filter(|part| all.contains(&part.id)) {
            part.section = section;
        }
        let anchors = Anchors::new(bar, catalogue, supply, &self.parts);
        let on = |end: &End| end.port().is_some_and(|port| all.contains(&port.part));
        for run in self.runs.iter_mut().filter(|run| on(&run.from) || on(&run.to)) {
            cross_run(bar, &anchors, run);
        }
        for feed in self.feeds.iter_mut().filter(|feed| on(&feed.from)) {
            cross_feed(bar, &anchors, feed);
        }
    }
}
