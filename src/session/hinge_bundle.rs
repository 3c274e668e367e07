//! Hoses and tubes that cross one hinge side by side, clamped together: a bundle.

use std::collections::BTreeSet;

use super::bulk::Common;
use super::properties::{geometry_of, line_of};
use super::{Refusal, Session};
use crate::plan::{ClampPlaces, CrossedHinge, Edit, HingeCrossing, SectionId, Subject, Towards};
use crate::quantities::Length;

/// The first crossing of a hinge by a hose, or by the first tube of a row feed: what was chosen there, and what is known of it.
fn crossing_of(session: &Session, of: Subject, hinge: SectionId) -> Option<(&HingeCrossing, &CrossedHinge)> {
    let line = line_of(session, of)?;
    let at = line.crossings.iter().position(|one| one.section == hinge)?;
    Some((line.crossings.get(at)?, geometry_of(session, of)?.crossing_of(line, at)?))
}

impl Session {
    /// What is bundled with some hoses and row feeds: all hoses, or row feeds, with a line of the same stock over a hinge that
    /// one of them crosses; they themselves among them.
    pub fn bundled(&self, with: impl IntoIterator<Item = Subject>) -> BTreeSet<Subject> {
        let routing = self.routing();
        let runs = routing.runs.iter().map(|run| Subject::Run(run.id));
        let all: Vec<Subject> = runs.chain(routing.feeds.iter().map(|feed| Subject::Feed(feed.id))).collect();
        let is_run = |of: &Subject| matches!(of, Subject::Run(_));
        let mut found = BTreeSet::new();
        for one in with {
            let Some(line) = line_of(self, one) else { continue };
            found.insert(one);
            let beside = |other: &&Subject| {
                is_run(other) == is_run(&one)
                    && line_of(self, **other).is_some_and(|other| {
                        let crosses = |hinge: &HingeCrossing| {
                            line.crossings.iter().any(|own| own.section == hinge.section)
                        };
                        other.stock == line.stock && other.crossings.iter().any(crosses)
                    })
            };
            found.extend(all.iter().filter(beside).copied());
        }
        found
    }

    /// Selects what is bundled with the selected hoses and row feeds at the hinges that they cross.
    pub fn select_bundle(&mut self) {
        let found = self.bundled(self.selection().iter().copied());
        if !found.is_empty() {
            self.select(found);
        }
    }

    /// How far the clamp of some hoses and row feeds on one side of a hinge is from beside it, where somebody placed it.
    pub fn clamp_together(
        &self,
        of: &[Subject],
        hinge: SectionId,
        towards: Towards,
    ) -> Common<Option<Length>> {
        Common::of(of.iter().filter_map(|one| {
            let (chosen, crossed) = crossing_of(self, *one, hinge)?;
            Some(chosen.clamps.map(|clamps| clamps.of(towards.side(crossed.from_tip))))
        }))
    }

    /// Clamps some hoses and row feeds in one place on one side of a hinge, each other clamp staying where it is; or takes both
    /// back to where they are suggested. In one step.
    pub fn set_clamp_together(
        &mut self,
        of: &[Subject],
        hinge: SectionId,
        (towards, from_hinge): (Towards, Option<Length>),
    ) -> Result<(), Refusal> {
        let places = |one: Subject| -> Option<Option<ClampPlaces>> {
            let (chosen, crossed) = crossing_of(self, one, hinge)?;
            let Some(from_hinge) = from_hinge else { return Some(None) };
            let both = ClampPlaces { before: from_hinge, behind: from_hinge };
            let known = chosen.clamps.or_else(|| Some(crossed.computed()?.places())).unwrap_or(both);
            Some(Some(known.with(towards.side(crossed.from_tip), from_hinge)))
        };
        let clamp = |one: &Subject| {
            let clamps = places(*one)?;
            self.line_edit(*one, |line| {
                if let Some(own) = line.crossings.iter_mut().find(|own| own.section == hinge) {
                    own.clamps = clamps;
                }
            })
        };
        let edits: Vec<Edit> = of.iter().filter_map(clamp).collect();
        let count = self.counted(of);
        let step = match from_hinge {
            Some(_) => format!("Move a clamp of {count}"),
            None => format!("Suggest the clamps of {count}"),
        };
        self.edit(&step, edits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files;

    /// All hoses of a stock over a hinge are one bundle: their clamps move together, each to its own side of the hose, in one step
    /// that undoes as one, and are taken back together.
    #[test]
    fn clamps_of_a_bundle_move_together() {
        let mut session = Session::new(files::demo(), None);
        let crossing = |session: &Session| {
            let runs = session.routing().runs.iter();
            runs.filter(|run| !run.line.crossings.is_empty()).map(|run| run.id).collect::<Vec<_>>()
        };
        let first = crossing(&session)[0];
        let hinge = session.routing().run(first).unwrap().line.crossings[0].section;
        let bundle: Vec<Subject> = session.bundled([Subject::Run(first)]).into_iter().collect();
        assert!(bundle.contains(&Subject::Run(first)));
        for one in &bundle {
            let line = line_of(&session, *one).unwrap();
            assert_eq!(line.stock, session.routing().run(first).unwrap().line.stock);
        }
        let before = session.project().clone();
        let at = Length::millimetres(310.0);
        session.set_clamp_together(&bundle, hinge, (Towards::Tip, Some(at))).unwrap();
        assert_eq!(session.clamp_together(&bundle, hinge, Towards::Tip), Common::Same(Some(at)));
        let laid = session.geometry().run(first).unwrap().crossings[0].clone();
        if let Some(computed) = laid.computed() {
            assert!((computed.clamp(Towards::Tip).from_hinge.si() - 0.31).abs() < 1e-9, "{computed:?}");
        }
        session.undo();
        assert_eq!(*session.project(), before);
        session.set_clamp_together(&bundle, hinge, (Towards::Centre, Some(at))).unwrap();
        session.set_clamp_together(&bundle, hinge, (Towards::Centre, None)).unwrap();
        assert_eq!(session.clamp_together(&bundle, hinge, Towards::Centre), Common::Same(None));
    }

    #[test]
    fn a_bundle_is_selected_from_one_of_it() {
        let mut session = Session::new(files::demo(), None);
        let all: Vec<_> =
            session.routing().runs.iter().filter(|run| !run.line.crossings.is_empty()).cloned().collect();
        session.select([Subject::Run(all[0].id)]);
        session.select_bundle();
        let same = all.iter().filter(|run| {
            let hinges = |one: &crate::plan::Run| {
                one.line.crossings.iter().map(|one| one.section).collect::<BTreeSet<_>>()
            };
            run.line.stock == all[0].line.stock && !hinges(run).is_disjoint(&hinges(&all[0]))
        });
        let same: BTreeSet<Subject> = same.map(|run| Subject::Run(run.id)).collect();
        assert_eq!(*session.selection(), same);
    }
}
