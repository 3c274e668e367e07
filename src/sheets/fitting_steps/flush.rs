//! Flushing hoses and manifolds: what is flushed through what comes from the routing's graph.

use super::work::{Work, pumping, tags_of};
use crate::plan::flushing::FlushRound;
use crate::plan::{End, Part, PartId, PartItem, PortRef, RunId, words};
use crate::quantities::Length;
use crate::sheets::document::FittingStep;
use crate::sheets::places;

/// A hose shorter than this can't be held over a container beside its manifold (common practice, no source).
const SHORT: Length = Length::metres(0.4);

impl Work<'_> {
    fn tag(&self, part: PartId) -> String {
        self.routing.part(part).map_or_else(String::new, |part| part.tag.clone())
    }

    fn run_tag(&self, run: RunId) -> String {
        self.routing.run(run).map_or_else(String::new, |run| run.tag.clone())
    }

    /// What would let water out while it is flushed: loose ends of hoses, and ports that nothing is on.
    fn open_places(&self) -> Vec<String> {
        let reached = self.routing.geometry.connections.reached_without(&[]);
        let mut open = Vec::new();
        for run in self.routing.routing.runs.iter().filter(|run| reached.runs.contains(&run.id)) {
            if [run.from, run.to].iter().any(|end| matches!(end, End::Loose(_))) {
                open.push(format!("{} loose end", run.tag));
            }
        }
        for part in self.routing.routing.parts.iter().filter(|part| reached.parts.contains(&part.id)) {
            let Some(item) = self.item(&part.entry).filter(|item| !matches!(item, PartItem::Manifold(_)))
            else {
                continue;
            };
            if self.is_screwed_on(part) {
                continue;
            }
            let ports = item.ports().into_iter().map(|port| PortRef { part: part.id, port });
            let free = ports.filter(|port| self.routing.on_port(*port).is_empty());
            open.extend(free.map(|port| places::end(self.routing, &End::Port(port))));
        }
        open
    }

    /// One step a round: the hoses at their ends, then the manifolds that they are joined to.
    pub(super) fn flush(&self) -> Vec<FittingStep> {
        let mut steps: Vec<FittingStep> = Vec::new();
        let rounds = &self.flushing.rounds;
        let mut joined: Vec<String> = Vec::new();
        for (at, round) in rounds.iter().enumerate() {
            let mut details = Vec::new();
            if at == 0 {
                details.push(
                    "Clean water, the pump at its slowest and lowest setting, all valves open; catch all of it, none into \
                     ditch or drain"
                        .to_owned(),
                );
                let open = self.open_places();
                if !open.is_empty() {
                    details.push(format!("Close first: {}", words::list(&open)));
                }
            }
            if !round.ends.is_empty() {
                details.push(self.ends_words(round));
            }
            if !round.join.is_empty() {
                details.push(self.join_words(round, rounds.get(at + 1)));
            }
            let runs: Vec<String> = round.ends.iter().map(|end| self.run_tag(end.run)).collect();
            let join: Vec<String> = round.join.iter().map(|part| self.tag(*part)).collect();
            let what = match (runs.is_empty(), join.is_empty()) {
                (false, false) => format!("{}, then {}", words::tags(&runs), words::tags(&join)),
                (false, true) => words::tags(&runs),
                _ => words::tags(&join),
            };
            let through = if at == 0 {
                "from the pump".to_owned()
            } else {
                format!("through {}, outlets closed", words::tags(&joined))
            };
            steps.push(pumping(format!("Flush {what}: {through}"), details));
            joined.extend(join);
        }
        if let Some(last) = steps.last_mut() {
            last.details.extend(self.clean_screens());
            let far: Vec<String> = self.flushing.out_of_reach.iter().map(|part| self.tag(*part)).collect();
            if !far.is_empty() {
                last.details
                    .push(format!("Not flushed, nothing joins it to the pump: {}", words::tags(&far)));
            }
        }
        steps
    }

    /// What to do with a hose whose end reaches no container.
    fn short_words(&self, run: RunId) -> &'static str {
        let length = self.routing.geometry.run(run).map(|laid| laid.length);
        if length.is_some_and(|length| length < SHORT) {
            " (too short to be held aside: a tray and cloths beneath it)"
        } else {
            ""
        }
    }

    fn ends_words(&self, round: &FlushRound) -> String {
        let ends: Vec<String> = round
            .ends
            .iter()
            .map(|end| {
                let at = self.routing.part(end.port.part);
                let is_joined = !round.join.contains(&end.port.part);
                let plugged = if is_joined { ", that port plugged" } else { "" };
                let at = at.map_or_else(String::new, |part: &Part| part.tag.clone());
                format!("{} at {at}{plugged}{}", self.run_tag(end.run), self.short_words(end.run))
            })
            .collect();
        match ends.as_slice() {
            [one] => format!("Open the end of {one} over a container until it runs clear"),
            many => format!(
                "One end at a time open over a container until it runs clear, {} capped: {}",
                if many.len() == 2 {
                    "the other".to_owned()
                } else {
                    format!("the {} others", many.len() - 1)
                },
                words::list(&ends)
            ),
        }
    }

    fn join_words(&self, round: &FlushRound, next: Option<&FlushRound>) -> String {
        let parts: Vec<&Part> = round.join.iter().filter_map(|part| self.routing.part(*part)).collect();
        let tags = tags_of(&parts);
        let next: Vec<String> =
            next.into_iter().flat_map(|round| &round.ends).map(|end| self.run_tag(end.run)).collect();
        let capped = if next.is_empty() {
            String::new()
        } else {
            format!("; the open ends of {} capped", words::tags(&next))
        };
        format!(
            "Pump off, pressure off: join and clamp the hoses at {}, then flush {} through its outlets{}{capped}",
            words::tags(&tags),
            if tags.len() == 1 { "it" } else { "one after the other" },
            if tags.len() == 1 { "" } else { ", those of the others plugged" },
        )
    }
}
