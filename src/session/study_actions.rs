//! What a study recommends, carried out: one step, for all rows, those of a section, or what is selected.

use std::collections::BTreeMap;

use super::changes::changes;
use super::in_hand::Session;
use super::refusal::{Refusal, Remark, Reply};
use crate::plan::feed::with_tube;
use crate::plan::{
    Edit, ElementKey, ElementKind, FeedId, Metering, Project, Routing, RowId, RunId, SectionId,
};
use crate::studies::metering::with_stock;
use crate::studies::report::{Lines, StudyAction};

/// What an action of a study is carried out on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ActionScope {
    /// All that it names.
    AllRows,
    /// What of it belongs to a section: its rows, and the hoses to parts on it.
    Section(SectionId),
    /// What of it is selected; of metering also the rows of selected row feeds.
    Selection,
}

/// Which rows, row feeds and hoses an action is carried out on; none of them where all are.
#[derive(Debug, Clone, Default)]
struct Within {
    rows: Option<Vec<RowId>>,
    feeds: Option<Vec<FeedId>>,
    runs: Option<Vec<RunId>>,
}

/// The edits that carry an action out on all that it names: for whoever has no session.
pub fn edits_of(project: &Project, routing: &Routing, action: &StudyAction) -> Vec<Edit> {
    edits_within(project, routing, action, &Within::default())
}

fn edits_within(project: &Project, routing: &Routing, action: &StudyAction, within: &Within) -> Vec<Edit> {
    let meant = |row: RowId| within.rows.as_ref().is_none_or(|rows| rows.contains(&row));
    match action {
        StudyAction::LookAt(_) => Vec::new(),
        StudyAction::Together(all) => {
            let (mut next, mut any) = (routing.clone(), false);
            for action in all {
                for edit in edits_within(project, &next, action, within) {
                    any = true;
                    put(&mut next, edit);
                }
            }
            if any { vec![Edit::PutRouting(Box::new(next))] } else { Vec::new() }
        }
        StudyAction::UseMetering { metering, valve } => {
            metered(routing, valve.as_ref(), |row| meant(row).then(|| metering.clone()))
        }
        StudyAction::UseRowMetering { rows, valve } => {
            let of: BTreeMap<RowId, &Metering> =
                rows.iter().map(|(row, metering)| (*row, metering)).collect();
            metered(routing, valve.as_ref(), |row| {
                of.get(&row).filter(|_| meant(row)).map(|one| (*one).clone())
            })
        }
        StudyAction::UseStock { lines: Lines::Hoses(runs), stock } => {
            let meant = |id: &RunId| within.runs.as_ref().is_none_or(|runs| runs.contains(id));
            let changed =
                routing.runs.iter().filter(|run| runs.contains(&run.id) && meant(&run.id)).map(|run| {
                    let mut run = run.clone();
                    with_stock(&project.catalogue, &mut run, stock);
                    Edit::PutRun(routing.id, run)
                });
            changed.collect()
        }
        StudyAction::UseStock { lines: Lines::Tubes(feeds), stock } => {
            let meant = |id: &FeedId| within.feeds.as_ref().is_none_or(|feeds| feeds.contains(id));
            let changed = routing.feeds.iter().filter(|feed| feeds.contains(&feed.id) && meant(&feed.id));
            changed.map(|feed| Edit::PutFeed(routing.id, with_tube(feed, stock))).collect()
        }
    }
}

/// Puts what an action changes into a routing, so that the next action begins with it.
fn put(routing: &mut Routing, edit: Edit) {
    match edit {
        Edit::PutRun(_, run) => {
            routing.runs.iter_mut().filter(|one| one.id == run.id).for_each(|one| one.clone_from(&run));
        }
        Edit::PutFeed(_, feed) => {
            routing.feeds.iter_mut().filter(|one| one.id == feed.id).for_each(|one| one.clone_from(&feed));
        }
        Edit::PutRouting(next) => *routing = *next,
        _ => {}
    }
}

/// The row feeds of all rows that get metering, with the check valve that goes with it.
fn metered(
    routing: &Routing,
    valve: Option<&ElementKey>,
    of: impl Fn(RowId) -> Option<Metering>,
) -> Vec<Edit> {
    let meant =
        routing.feeds.iter().filter(|feed| feed.branches.iter().any(|branch| of(branch.row).is_some()));
    let changed = meant.map(|feed| {
        let mut feed = feed.clone();
        feed.meter(&of);
        if let Some(valve) = valve {
            feed.put_piece(ElementKind::CheckValve, valve);
        }
        Edit::PutFeed(routing.id, feed)
    });
    changed.collect()
}

const fn nothing_there(scope: ActionScope) -> &'static str {
    match scope {
        ActionScope::AllRows => "in this routing any more; ask the study again",
        ActionScope::Section(_) => "in that section; choose another, or all rows",
        ActionScope::Selection => "selected; select rows or hoses of it, or choose all rows",
    }
}

impl Session {
    /// Carries out what a study recommends, as one step.
    ///
    /// # Errors
    /// Nothing of what it names belongs to the section or is selected, or the plan refuses it.
    pub fn carry_out_study(&mut self, action: &StudyAction, scope: ActionScope) -> Reply {
        match action {
            StudyAction::LookAt(condition) => return self.look_at_condition(condition.clone()),
            StudyAction::UseMetering { .. }
            | StudyAction::UseRowMetering { .. }
            | StudyAction::UseStock { .. }
            | StudyAction::Together(_) => {}
        }
        let within = self.within(scope);
        let edits = edits_within(self.project(), self.routing(), action, &within);
        if edits.is_empty() {
            return Err(Refusal::NothingOfStudyThere(nothing_there(scope)));
        }
        let (catalogue, units) = (&self.project().catalogue, self.project().units);
        let step = match action {
            StudyAction::LookAt(_) => String::new(),
            StudyAction::Together(_) => "Use what is recommended".to_owned(),
            StudyAction::UseMetering { metering, .. } => format!("Fit {}", metering.words(catalogue, units)),
            StudyAction::UseRowMetering { .. } => "Fit metering row by row".to_owned(),
            StudyAction::UseStock { lines, stock } => {
                let size =
                    catalogue.any_item(stock).map_or_else(|| stock.to_string(), |item| item.size(units));
                let what = if matches!(lines, Lines::Hoses(_)) { "hoses" } else { "tubes" };
                format!("Use {size} {what}")
            }
        };
        let before = self.routing().clone();
        let said = self.edit_unless_so::<Refusal>(&step, Ok(edits))?;
        Ok(said.or_else(|| changes(self.project(), &before, self.routing()).map(Remark::Changed)))
    }

    /// What an action would change of hoses and tubes, in words; none where nothing.
    pub fn study_changes(&self, action: &StudyAction, scope: ActionScope) -> Option<String> {
        let mut next = self.routing().clone();
        for edit in edits_within(self.project(), self.routing(), action, &self.within(scope)) {
            put(&mut next, edit);
        }
        changes(self.project(), self.routing(), &next)
    }

    fn within(&self, scope: ActionScope) -> Within {
        match scope {
            ActionScope::AllRows => Within::default(),
            ActionScope::Section(section) => {
                let rows = self.project().bar.rows.iter().filter(|row| row.section == section);
                let rows: Vec<RowId> = rows.map(|row| row.id).collect();
                let routing = self.routing();
                let leads_there = |run: &&crate::plan::Run| {
                    [&run.from, &run.to].into_iter().any(|end| routing.carrier(end) == Some(section))
                };
                let runs = routing.runs.iter().filter(leads_there).map(|run| run.id).collect();
                Within { feeds: Some(routing.feeds_to(&rows)), runs: Some(runs), rows: Some(rows) }
            }
            ActionScope::Selection => {
                let chosen = self.chosen();
                let of_feeds = chosen.feeds.iter().filter_map(|id| self.routing().feed(*id));
                let rows = of_feeds.flat_map(|feed| feed.branches.iter().map(|branch| branch.row));
                // A selected row means itself alone, a selected feed all its rows.
                let feeds_selected = self.selected_feeds();
                let rows: Vec<RowId> = rows
                    .filter(|row| {
                        let own = self.routing().feed_of(*row).map(|feed| feed.id);
                        chosen.rows.contains(row) || own.is_some_and(|feed| feeds_selected.contains(&feed))
                    })
                    .collect();
                Within { rows: Some(rows), feeds: Some(chosen.feeds), runs: Some(chosen.runs) }
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::files;
    use crate::plan::Subject;
    use crate::plan::{FeedElement, Key as _, StockKey};
    use crate::quantities::Length;

    fn tube(millimetres: f64) -> Metering {
        let stock = StockKey::of_entry(crate::plan::EntryKey::new("metering-tube-1.5"));
        Metering::Tube { stock, length: Length::millimetres(millimetres), coil: None }
    }

    fn metered_by(session: &Session, metering: &Metering) -> Vec<RowId> {
        let rows = session.project().bar.rows.iter().map(|row| row.id);
        rows.filter(|row| session.routing().metering_of(*row).as_ref() == Some(metering)).collect()
    }

    #[test]
    fn metering_goes_into_all_rows_a_section_or_the_selection_as_one_step() {
        let mut session = Session::new(files::demo(), None);
        let before = session.snapshot();
        let metering = tube(600.0);
        let action = StudyAction::UseMetering { metering: metering.clone(), valve: None };
        session.carry_out_study(&action, ActionScope::AllRows).unwrap();
        assert_eq!(metered_by(&session, &metering).len(), 40);
        session.undo();
        assert_eq!(*session.project(), *before);
        let section = session.project().bar.rows[0].section;
        session.carry_out_study(&action, ActionScope::Section(section)).unwrap();
        let of_section = session.project().bar.rows.iter().filter(|row| row.section == section).count();
        assert_eq!(metered_by(&session, &metering).len(), of_section);
        session.undo();
        assert_eq!(*session.project(), *before);
        let rows = [session.project().bar.rows[3].id, session.project().bar.rows[17].id];
        session.select(rows.map(Subject::Row));
        session.carry_out_study(&action, ActionScope::Selection).unwrap();
        assert_eq!(metered_by(&session, &metering), rows);
        session.undo();
        session.select([]);
        assert!(session.carry_out_study(&action, ActionScope::Selection).is_err(), "nothing is selected");
        assert_eq!(*session.project(), *before);
    }

    #[test]
    fn rows_get_metering_of_their_own_and_the_valve_that_goes_with_it() {
        let mut session = Session::new(files::demo(), None);
        let rows: Vec<(RowId, Metering)> = session
            .project()
            .bar
            .rows
            .iter()
            .map(|row| row.id)
            .zip((100..).map(|at| tube(f64::from(at))))
            .collect();
        let valve = ElementKey::new("check-valve-0.35");
        let action = StudyAction::UseRowMetering { rows: rows.clone(), valve: Some(valve.clone()) };
        session.carry_out_study(&action, ActionScope::AllRows).unwrap();
        assert!(
            rows.iter().all(|(row, metering)| session.routing().metering_of(*row).as_ref() == Some(metering))
        );
        let mut valves =
            session.routing().feeds.iter().flat_map(|feed| feed.elements()).filter_map(|one| match one {
                FeedElement::Piece(ElementKind::CheckValve, entry) => Some(entry),
                _ => None,
            });
        assert!(valves.all(|one| *one == valve));
    }

    /// A narrow hose and metering for it, then a wide hose: all are carried out, each on what the one before left.
    #[test]
    fn all_that_is_recommended_is_one_step() {
        let mut session = Session::new(files::demo(), None);
        let before = session.snapshot();
        let runs: Vec<RunId> = session.routing().runs.iter().map(|run| run.id).collect();
        let stock = StockKey::of_entry(crate::plan::EntryKey::new("hose-25"));
        let metering = tube(600.0);
        let actions = [
            StudyAction::UseStock { lines: Lines::Hoses(runs[..2].to_vec()), stock: stock.clone() },
            StudyAction::UseStock { lines: Lines::Hoses(vec![runs[2]]), stock: stock.clone() },
            StudyAction::UseMetering { metering: metering.clone(), valve: None },
        ];
        let together = StudyAction::Together(actions.to_vec());
        let told = session.study_changes(&together, ActionScope::AllRows).unwrap();
        let said = session.carry_out_study(&together, ActionScope::AllRows).unwrap().unwrap().to_string();
        assert_eq!(said, format!("Changed: {told}"), "the same before and after");
        let tags: Vec<&str> = before.routings[0].runs[..3].iter().map(|run| run.tag.as_str()).collect();
        assert!(told.contains(&format!(" to {}", tags[2])) || told.contains(tags[2]), "{told}");
        assert!(told.contains("to 25 mm") && told.contains("of rows 1 to 40"), "{told}");
        assert!(runs[..3].iter().all(|run| session.routing().run(*run).unwrap().line.stock == stock));
        assert_eq!(metered_by(&session, &metering).len(), 40);
        session.undo();
        assert_eq!(*session.project(), *before);
        let together = StudyAction::Together(actions.to_vec());
        session.select([]);
        assert!(session.carry_out_study(&together, ActionScope::Selection).is_err(), "nothing is selected");
        let nothing = StudyAction::Together(Vec::new());
        assert!(session.carry_out_study(&nothing, ActionScope::AllRows).is_err());
    }

    #[test]
    fn hoses_and_tubes_get_other_stock_with_fittings_of_their_size() {
        let mut session = Session::new(files::demo(), None);
        let before = session.snapshot();
        let run = session.routing().runs[0].clone();
        let stock = session
            .project()
            .catalogue
            .of::<StockKey>()
            .map(|(key, _)| key)
            .find(|key| *key != run.line.stock)
            .unwrap();
        let action = StudyAction::UseStock { lines: Lines::Hoses(vec![run.id]), stock: stock.clone() };
        session.carry_out_study(&action, ActionScope::AllRows).unwrap();
        let changed = session.routing().run(run.id).unwrap();
        assert_eq!(changed.line.stock, stock);
        let barb = crate::plan::joints::barb_for(&session.project().catalogue, &stock);
        assert!(changed.fittings.iter().all(|fitting| barb.as_ref() == Some(fitting)));
        session.undo();
        assert_eq!(*session.project(), *before, "one step");
    }
}
