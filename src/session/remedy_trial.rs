//! What a remedy brings, tried on a copy of the project before it is offered: a button that says it puts something right
//! must not leave it, nor break something else unsaid.

use std::time::Duration;

use super::changes::changes;
use super::refusal::Refusal;
use super::solved::findings_at;
use super::task::Task;
use super::{Reply, Session};
use crate::checks::{Finding, Remedy, Severity};
use crate::plan::{OperatingPoint, Project, RoutingId};

/// What comes of a remedy, by the findings after it against those before.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RemedyTrial {
    /// What is still found of what it is offered for, in words.
    pub leaves: Vec<String>,
    /// Errors and warnings that are there only with it, in words; those of another duty than the one looked at name it.
    pub brings: Vec<String>,
    /// What it changes of hoses and tubes, in words.
    pub changes: Option<String>,
}

impl RemedyTrial {
    /// It puts right what it is offered for and breaks nothing.
    pub const fn is_plain(&self) -> bool {
        self.leaves.is_empty() && self.brings.is_empty()
    }

    /// What it leaves and brings, each in words.
    pub fn harm(&self) -> impl Iterator<Item = String> + use<'_> {
        let leaves = self.leaves.iter().map(|line| format!("leaves {line}"));
        leaves.chain(self.brings.iter().map(|line| format!("brings {line}")))
    }
}

/// What is known of a remedy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tried {
    /// Nothing yet: it is being tried, or waits for another.
    NotYet,
    /// It can't be carried out.
    Impossible,
    /// What came of it.
    Done(RemedyTrial),
}

/// What came of remedies, each tried once for each state of a session, one after the other on a thread.
#[derive(Debug, Default)]
pub struct RemedyTrials {
    of: Option<(u64, RoutingId, OperatingPoint)>,
    made: Vec<(Remedy, Tried)>,
    under_way: Option<(Remedy, Task<Tried>)>,
}

impl RemedyTrials {
    /// What is known of a remedy of a session. Where nothing is and no other is being tried, it is begun, and waited for
    /// no longer than this; `wake` is called from the thread when it is done.
    pub fn of(
        &mut self,
        session: &Session,
        remedy: &Remedy,
        patience: Duration,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> Tried {
        let state = (session.revision(), session.routing().id, *session.point());
        if self.of != Some(state) {
            *self = Self { of: Some(state), ..Self::default() };
        }
        self.take(Duration::ZERO);
        if self.under_way.is_none() && self.known(remedy).is_none() {
            let (twin, wanted) = (session.twin(), remedy.clone());
            let try_out =
                move |session: &Session| session.try_out(&wanted).map_or(Tried::Impossible, Tried::Done);
            let task = Task::start(wake, move |teller| teller.tell(try_out(&twin)));
            self.under_way = Some((remedy.clone(), task));
            self.take(patience);
        }
        self.known(remedy).cloned().unwrap_or(Tried::NotYet)
    }

    fn known(&self, remedy: &Remedy) -> Option<&Tried> {
        self.made.iter().find(|(made, _)| made == remedy).map(|(_, tried)| tried)
    }

    /// Takes what has come of the one under way; a thread that ended without a word has found nothing that can be done.
    fn take(&mut self, patience: Duration) {
        let Some((remedy, mut task)) = self.under_way.take() else { return };
        let tried = task.next_within(patience);
        if tried.is_none() && !task.has_ended() {
            self.under_way = Some((remedy, task));
        } else {
            self.made.push((remedy, tried.unwrap_or(Tried::Impossible)));
        }
    }
}

impl Session {
    /// Carries a remedy out on a copy, and compares what is found there for every duty with what is found here.
    ///
    /// # Errors
    ///
    /// If it can't be carried out.
    pub fn try_out(&self, remedy: &Remedy) -> Result<RemedyTrial, Refusal> {
        let routing = self.routing().id;
        let mut copy = Self::new(self.project().clone(), None);
        copy.show_routing(routing);
        copy.solved.look_at(copy.document.project(), *self.point());
        copy.carry_out(remedy)?;
        let is_for = |finding: &&Finding| {
            let all = finding.remedy.iter().chain(&finding.others);
            all.into_iter().any(|own| remedy.with(own).as_ref() == Some(remedy))
        };
        let meant: Vec<&Finding> = self.findings().iter().filter(is_for).collect();
        let words = |finding: &Finding| format!("{}: {}", finding.place, finding.what);
        let left = copy.findings().iter().filter(|after| meant.iter().any(|before| is_same(before, after)));
        let changes = changes(self.project(), self.routing(), copy.routing());
        let mut trial = RemedyTrial { leaves: left.map(words).collect(), brings: Vec::new(), changes };
        trial.brings.extend(new_harm(self.findings(), copy.findings()).map(words));
        for duty in self.project().duties.iter().filter(|duty| duty.id != self.point().duty) {
            let at = |project: &Project| findings_at(project, routing, &duty.usual_point());
            let (before, after) = (at(self.project()), at(copy.project()));
            let named = |finding| format!("duty {}: {}", duty.name, words(finding));
            trial.brings.extend(new_harm(&before, &after).map(named));
        }
        Ok(trial)
    }

    /// Carries a remedy out if it does no harm.
    ///
    /// # Errors
    ///
    /// If it does harm or can't be carried out.
    pub fn carry_out_without_harm(&mut self, remedy: &Remedy) -> Reply {
        let trial = self.try_out(remedy)?;
        if trial.is_plain() {
            self.carry_out(remedy)
        } else {
            Err(Refusal::NotWithoutHarm(trial.harm().collect()))
        }
    }

    /// What a remedy fits, with its sizes.
    pub fn remedy_detail(&self, remedy: &Remedy) -> String {
        remedy.detail_in(self.project(), self.routing())
    }

    /// What the button of a remedy says, with the hoses that it is about.
    pub fn remedy_words(&self, remedy: &Remedy) -> String {
        remedy.label_in(self.project(), self.routing())
    }
}

/// The same is found at one and the same thing.
fn is_same(before: &Finding, after: &Finding) -> bool {
    before.kind == after.kind && before.subjects.iter().any(|subject| after.subjects.contains(subject))
}

/// Errors and warnings that were not there before, or were less serious.
fn new_harm<'a>(before: &'a [Finding], after: &'a [Finding]) -> impl Iterator<Item = &'a Finding> {
    let is_harm = |finding: &&Finding| finding.severity <= Severity::Warning;
    after.iter().filter(is_harm).filter(|after| {
        !before.iter().any(|before| is_same(before, after) && before.severity <= after.severity)
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::files;
    use crate::plan::{Edit, ElementKind, StockItem, StockKey};

    fn remedy(session: &Session, rule: &str) -> Remedy {
        let mut of_rule = session.findings().iter().filter(|one| one.kind.rule == rule);
        of_rule.find_map(|one| one.remedy.clone()).unwrap()
    }

    #[test]
    fn what_puts_a_finding_right_and_breaks_nothing_is_plain_and_names_its_hose() {
        let mut session = Session::new(files::demo(), None);
        let narrowest = {
            let hoses = session.project().catalogue.of::<StockKey>();
            let hoses = hoses.filter_map(|(key, item)| match item {
                StockItem::Hose(hose) => Some((hose.bore.si(), key)),
                _ => None,
            });
            hoses.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap().1
        };
        let run = session.routing().runs[0].clone();
        session.set_stock("Narrow", &[run.id], &narrowest).unwrap();
        let remedy = remedy(&session, "hose velocity");
        let before = session.snapshot();
        let trial = session.try_out(&remedy).unwrap();
        assert_eq!(trial.leaves, Vec::<String>::new());
        assert_eq!(*session.project(), *before, "a trial changes nothing");
        let words = session.remedy_words(&remedy);
        assert!(words.starts_with("Fit a wider hose: ") && words.contains(&run.tag), "{words}");
    }

    /// On a thread as at once; what is known of one state is forgotten in the next.
    #[test]
    fn remedies_are_tried_beside_one_after_the_other_for_each_state() {
        const LONG: Duration = Duration::from_mins(10);
        let mut project = files::demo();
        for feed in &mut project.routings[0].feeds {
            feed.meter(|_| Some(crate::plan::Metering::Orifice(crate::plan::ElementKey::new("orifice-1.2"))));
        }
        let mut session = Session::new(project, None);
        let finding =
            session.findings().iter().find(|one| one.kind.rule == "metering over cracking").cloned();
        let finding = finding.unwrap();
        let ways: Vec<&Remedy> = finding.remedy.iter().chain(&finding.others).collect();
        let mut trials = RemedyTrials::default();
        assert_eq!(trials.of(&session, ways[0], Duration::ZERO, || {}), Tried::NotYet);
        assert_eq!(trials.of(&session, ways[1], Duration::ZERO, || {}), Tried::NotYet, "waits for the first");
        trials.take(LONG);
        for way in &ways {
            let at_once = Tried::Done(session.try_out(way).unwrap());
            assert_eq!(trials.of(&session, way, LONG, || {}), at_once);
        }
        session.carry_out(ways[0]).unwrap();
        let again = trials.of(&session, ways[1], Duration::ZERO, || {});
        assert_eq!(again, Tried::NotYet, "known of what the bar was before");
    }

    #[test]
    fn what_is_pressed_before_it_was_tried_is_done_only_if_it_does_no_harm() {
        let mut harmful = 0;
        for example in files::Example::ALL {
            let session = Session::new(example.project(), None);
            for remedy in session.findings().iter().filter_map(|one| one.remedy.as_ref()) {
                let (Ok(trial), mut pressed) = (session.try_out(remedy), session.twin()) else { continue };
                let done = pressed.carry_out_without_harm(remedy);
                assert_eq!(done.is_ok(), trial.is_plain(), "{remedy:?}");
                if let Err(refusal) = done {
                    assert_eq!(pressed.project(), session.project());
                    assert!(refusal.to_string().contains(&trial.harm().next().unwrap()), "{refusal}");
                    harmful += 1;
                }
            }
        }
        assert!(harmful > 0, "no example has a remedy with harm");
    }

    /// Orifices so wide that they take too little beside their check valves: every other way that is offered was solved, one at
    /// least puts it right, and each is what carrying it out brings.
    #[test]
    fn metering_that_takes_too_little_has_several_ways_each_solved() {
        let mut project = files::demo();
        for feed in &mut project.routings[0].feeds {
            feed.meter(|_| Some(crate::plan::Metering::Orifice(crate::plan::ElementKey::new("orifice-1.2"))));
        }
        let session = Session::new(project, None);
        let of_rule = |session: &Session| {
            let mut all = session.findings().iter();
            all.find(|one| one.kind.rule == "metering over cracking").cloned()
        };
        let finding = of_rule(&session).unwrap();
        let ways: Vec<&Remedy> = finding.remedy.iter().chain(&finding.others).collect();
        assert!(ways.len() >= 3, "{ways:?}");
        let mut names: Vec<String> = ways.iter().map(|way| session.remedy_detail(way)).collect();
        let (mut right, all) = (0, names.len());
        for way in ways {
            let trial = session.try_out(way).unwrap();
            let mut copy = Session::new(session.project().clone(), None);
            copy.carry_out(way).unwrap();
            assert_eq!(of_rule(&copy).is_none(), trial.leaves.is_empty(), "{way:?}: {trial:?}");
            right += usize::from(trial.leaves.is_empty());
        }
        assert!(right > 0);
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all, "told apart by their sizes: {names:?}");
        assert!(names.iter().any(|name| name.contains(" mm") && name.ends_with("in 40 rows")), "{names:?}");
    }

    /// Metering far too narrow in place of what is there: the pump can't press what is asked through it.
    #[test]
    fn what_breaks_something_else_says_so_for_every_duty() {
        let mut project = files::demo();
        let mut narrow = project
            .catalogue
            .entries
            .iter()
            .find(|one| one.item.kind() == "metering orifice")
            .unwrap()
            .clone();
        narrow.key = crate::plan::EntryKey::new("narrow");
        narrow.description = "narrow".to_owned();
        if let crate::plan::Item::Element(crate::plan::ElementItem::MeteringOrifice(orifice)) =
            &mut narrow.item
        {
            orifice.bore = orifice.bore * 0.2;
        }
        project.catalogue.entries.push(narrow);
        let duty = crate::plan::Duty {
            id: project.duties.free_id(),
            name: "Autumn".to_owned(),
            ..project.duties.first().clone()
        };
        let mut session = Session::new(project, None);
        session.edit("Add", [Edit::PutDuty(Box::new(duty))]).unwrap();
        let rows = session.project().bar.rows.iter().map(|row| row.id).collect();
        let key = crate::plan::ElementKey::new("narrow");
        let trial =
            session.try_out(&Remedy::FitPieces(rows, vec![(ElementKind::MeteringOrifice, key)])).unwrap();
        assert!(!trial.is_plain());
        assert!(trial.brings.iter().any(|one| one.starts_with("Pump: ")), "{trial:?}");
        assert!(trial.brings.iter().any(|one| one.starts_with("duty Autumn: Pump: ")), "{trial:?}");
    }
}
