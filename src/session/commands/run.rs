//! What stands in the way of a command, and doing those that need no window.

use super::names::Command;
use crate::plan::bounds::Bound;
use crate::plan::{Edit, PartKind, Subject};
use crate::quantities::UnitSystem;
use crate::session::obstacle::Obstacle;
use crate::session::placing::{LARGE_STEP, SMALL_STEP};
use crate::session::refusal::{Refusal, Remark};
use crate::session::row_sharing::Share;
use crate::session::tool::{Gesture, Tool};
use crate::session::{MainHoses, Session, Side};

/// Why a command can't be done now, in words; none if it can.
pub fn obstacle(session: &Session, command: Command) -> Option<Obstacle> {
    let runs = || session.selection().iter().any(|one| matches!(one, Subject::Run(_)));
    let parts = || session.selection().iter().any(|one| matches!(one, Subject::Part(_)));
    let place = matches!(session.tool(), Tool::Place(_) | Tool::Paste);
    let last = session.project().routings.len().saturating_sub(1);
    let manifold = || session.routing().parts.iter().any(|part| session.is_manifold(part.id));
    let unless = |holds: bool, why: Obstacle| (!holds).then_some(why);
    match command {
        Command::Undo => {
            let open = !matches!(session.gesture(), Gesture::None | Gesture::Measuring { .. });
            unless(open || session.undo_name().is_some(), Obstacle::NothingDone)
        }
        Command::Save | Command::SaveAs => unless(!session.is_in_step(), Obstacle::Held),
        Command::Redo => unless(session.redo_name().is_some(), Obstacle::NothingUndone),
        Command::Delete => unless(!session.selection().is_empty(), Obstacle::NothingSelected),
        Command::Cut
        | Command::Copy
        | Command::Duplicate
        | Command::NudgeLeft
        | Command::NudgeRight
        | Command::NudgeForward
        | Command::NudgeBack
        | Command::NudgeLeftFar
        | Command::NudgeRightFar
        | Command::NudgeForwardFar
        | Command::NudgeBackFar
        | Command::SelectDownstream => unless(parts(), Obstacle::NoPart),
        Command::BranchOver => {
            let tee = session.selected_parts().iter().any(|id| session.is_tee(*id));
            unless(tee, Obstacle::NoTee)
        }
        Command::Turn | Command::TurnBack => unless(place || parts(), Obstacle::NoPart),
        Command::Paste => unless(!session.copied().is_empty(), Obstacle::NothingCopied),
        Command::SelectSameKind | Command::SelectSection => {
            unless(!session.selection().is_empty(), Obstacle::NothingSelected)
        }
        Command::Confirm => unless(*session.gesture() != Gesture::None, Obstacle::NothingGoingOn),
        Command::SelectBundle | Command::FollowFrame => {
            unless(runs() || !session.selected_feeds().is_empty(), Obstacle::NoHoseOrRow)
        }
        Command::LayStraight => unless(runs(), Obstacle::NoHose),
        Command::SwapOutlets => unless(session.selected_rows().len() == 2, Obstacle::NotTwoRows),
        Command::LeaveBlank => match session.selected_rows()[..] {
            [row] => session.why_not_blank(row),
            _ => Some(Obstacle::NotOneRow),
        },
        Command::ManifoldPerSection => {
            unless(session.sections_without_manifold().next().is_some(), Obstacle::EverySectionHasManifold)
        }
        Command::MirrorToRight => {
            unless(session.can_mirror(Side::Left), Obstacle::NothingToMirror(Side::Left))
        }
        Command::MirrorToLeft => {
            unless(session.can_mirror(Side::Right), Obstacle::NothingToMirror(Side::Right))
        }
        Command::JoinRows => match session.rows_meant().len() {
            0 | 1 => Some(Obstacle::NoRows),
            count if count > Bound::Branches.most() => Some(Obstacle::TooManyRows),
            _ => unless(manifold(), Obstacle::NoManifold),
        },
        Command::PartRows => unless(session.share_a_tube(&session.rows_meant()), Obstacle::NoSharedTube),
        // A tube to several rows begins at an outlet: without one it would lie there with loose ends.
        Command::PairRows
        | Command::NearestManifold
        | Command::BalanceOutlets
        | Command::MainsFromTees
        | Command::MainsInChain
        | Command::MainsByWing => unless(manifold(), Obstacle::NoManifold),
        Command::RepeatCatchTest
        | Command::RemoveCatchTest
        | Command::PasteCatches
        | Command::ReadCatches
        | Command::CatchSheet => unless(session.catch_test().is_some(), Obstacle::NoCatchTest),
        Command::NextDuty => unless(session.project().duties.are_several(), Obstacle::NoOtherDuty),
        Command::RemoveDuty => unless(session.project().duties.are_several(), Obstacle::OnlyDuty),
        Command::RemoveRouting => unless(last > 0, Obstacle::OnlyRouting),
        Command::RoutingEarlier | Command::PreviousRouting => {
            unless(session.routing_place() > 0, Obstacle::FirstRouting)
        }
        Command::RoutingLater | Command::NextRouting => {
            unless(session.routing_place() < last, Obstacle::LastRouting)
        }
        _ => None,
    }
}

/// What came of a command that was not refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CommandDone {
    /// The session has done it; what it has to say besides.
    BySession(Option<Remark>),
    /// It needs a window: nothing was done yet.
    LeftToWindow,
}

/// Does a command that needs no window.
pub fn run(session: &mut Session, command: Command) -> Result<CommandDone, Refusal> {
    if let Some(obstacle) = obstacle(session, command) {
        return Err(obstacle.into());
    }
    let routing = session.routing().id;
    let place = session.routing_place();
    let (small, large) = (SMALL_STEP.si(), LARGE_STEP.si());
    let mut remark = None;
    match command {
        Command::Undo => remark = session.undo(),
        Command::Redo => remark = session.redo(),
        Command::Delete => session.delete_selection()?,
        Command::Cancel => session.cancel(),
        Command::Confirm => remark = session.finish()?,
        Command::Cut => {
            session.copy_selection()?;
            session.delete_selection()?;
        }
        Command::Copy => session.copy_selection()?,
        Command::Paste => session.paste()?,
        Command::Duplicate => session.duplicate()?,
        Command::Turn => session.turn_by_quarters(1)?,
        Command::TurnBack => session.turn_by_quarters(-1)?,
        Command::BranchOver => session.branch_to_other_side(&session.selected_parts())?,
        Command::NudgeLeft => remark = session.nudge(-small, 0.0)?,
        Command::NudgeRight => remark = session.nudge(small, 0.0)?,
        Command::NudgeForward => remark = session.nudge(0.0, small)?,
        Command::NudgeBack => remark = session.nudge(0.0, -small)?,
        Command::NudgeLeftFar => remark = session.nudge(-large, 0.0)?,
        Command::NudgeRightFar => remark = session.nudge(large, 0.0)?,
        Command::NudgeForwardFar => remark = session.nudge(0.0, large)?,
        Command::NudgeBackFar => remark = session.nudge(0.0, -large)?,
        Command::SelectAll => session.select_all(),
        Command::SelectParts => session.select_parts(|_| true),
        Command::SelectRuns => session.select_runs(),
        Command::SelectFeeds => session.select_feeds(),
        Command::SelectRows => session.select_rows(),
        Command::SelectSameKind => session.select_same_kind(),
        Command::SelectSection => session.select_sections(),
        Command::SelectDownstream => session.select_downstream(),
        Command::SelectBundle => session.select_bundle(),
        Command::SwitchSnapping => session.switch_snapping(),
        Command::SwitchUnits => {
            let units = match session.project().units {
                UnitSystem::Metric => UnitSystem::UsCustomary,
                UnitSystem::UsCustomary => UnitSystem::Metric,
            };
            session.edit("Switch units", [Edit::SetUnits(units)])?;
        }
        Command::Measure => session.take(Tool::Measure),
        Command::Select => session.take(Tool::Select),
        Command::Place(kind) => take_part(session, kind)?,
        Command::ManifoldPerSection => remark = session.manifold_per_section()?,
        Command::MirrorToRight => remark = session.mirror(Side::Left)?,
        Command::MirrorToLeft => remark = session.mirror(Side::Right)?,
        Command::JoinHose => {
            let stock = session.usual_hose().ok_or(Refusal::CatalogueLacks("hose"))?;
            session.take(Tool::Join { stock });
        }
        Command::MainsFromTees => remark = session.lay_main_hoses(MainHoses::FromTees)?,
        Command::MainsInChain => remark = session.lay_main_hoses(MainHoses::InChain)?,
        Command::MainsByWing => remark = session.lay_main_hoses(MainHoses::OneAWing)?,
        Command::FollowFrame => {
            remark = session.follow_frame(&session.selected_runs(), &session.selected_feeds())?;
        }
        Command::ComputeCrossings => remark = session.compute_crossings()?,
        Command::LayStraight => session.lay_straight(&session.selected_runs())?,
        Command::SplitRun => session.take(Tool::Split { tee: None }),
        Command::GiveRows => {
            let manifold = session.selected_part().filter(|id| session.is_manifold(*id));
            session.take(Tool::GiveRows { manifold });
        }
        Command::NearestManifold => remark = session.share_rows(&session.scope(), Share::Nearest)?,
        Command::BalanceOutlets => remark = session.share_rows(&session.scope(), Share::ByOutlets)?,
        Command::SwapOutlets => {
            if let [a, b] = session.selected_rows()[..] {
                remark = session.swap_outlets(a, b)?;
            }
        }
        Command::RenumberOutlets => remark = session.renumber_outlets(&session.manifolds_meant())?,
        Command::PlugOpen => remark = session.plug_open(&session.manifolds_meant())?,
        Command::LeaveBlank => {
            if let [row] = session.selected_rows()[..] {
                remark = session.leave_blank(row)?;
            }
        }
        Command::JoinRows => remark = session.join_rows(&session.rows_meant())?,
        Command::PairRows => remark = session.pair_rows(&session.scope())?,
        Command::PartRows => remark = session.part_rows(&session.rows_meant())?,
        Command::NewRouting => {
            session.add_routing(false)?;
            remark =
                Some(Remark::Did(format!("Routing {} added, with nothing placed", session.routing().name)));
        }
        Command::CopyRouting => {
            let from = session.routing().name.clone();
            session.add_routing(true)?;
            let name = &session.routing().name;
            remark = Some(Remark::Did(format!("Routing {name} added, a copy of {from}")));
        }
        Command::NewCatchTest => drop(session.add_catch_test()?),
        Command::RepeatCatchTest => drop(session.repeat_catch_test()?),
        Command::RemoveCatchTest => remark = session.remove_catch_test()?,
        Command::CatchSheet => {
            session.look_at_what_was_tested();
            return Ok(CommandDone::LeftToWindow);
        }
        Command::NewDuty => drop(session.add_duty()?),
        Command::NextDuty => session.look_at_next_duty(),
        Command::RemoveDuty => remark = session.remove_duty(session.duty().id)?,
        Command::RemoveRouting => remark = session.remove_routing(routing)?,
        Command::RoutingEarlier => session.move_routing(routing, place.saturating_sub(1))?,
        Command::RoutingLater => session.move_routing(routing, place + 1)?,
        Command::PreviousRouting => session.step_routing(-1),
        Command::NextRouting => session.step_routing(1),
        Command::New
        | Command::Open
        | Command::StartCard
        | Command::Save
        | Command::SaveAs
        | Command::Quit
        | Command::Compare
        | Command::Catalogue
        | Command::AddedLines
        | Command::TakeAddedLines
        | Command::FitToWindow
        | Command::ZoomIn
        | Command::ZoomOut
        | Command::FitSelection
        | Command::FitNextSection
        | Command::PanLeft
        | Command::PanRight
        | Command::PanForward
        | Command::PanBack
        | Command::SwitchColours
        | Command::SwitchScatter
        | Command::SwitchTheme
        | Command::SwitchBands
        | Command::FoldTools
        | Command::FoldDetails
        | Command::EditBar
        | Command::ImportRows
        | Command::ReadCutLengths
        | Command::Settings
        | Command::CatchTests
        | Command::PasteCatches
        | Command::ReadCatches
        | Command::Tables
        | Command::SpeedPlot
        | Command::Studies
        | Command::FoldedBar
        | Command::CommandList
        | Command::Sheets
        | Command::CustomerSheet
        | Command::ExportSheets
        | Command::ExportList
        | Command::Picture
        | Command::Help
        | Command::Notices => return Ok(CommandDone::LeftToWindow),
    }
    Ok(CommandDone::BySession(remark))
}

fn take_part(session: &mut Session, kind: PartKind) -> Result<(), Refusal> {
    let entry = session.usual_entry(|item| item.item_kind() == kind);
    session.take(Tool::Place(entry.ok_or(Refusal::CatalogueLacks(kind.words()))?));
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::files;
    use crate::session::commands::{Menu, TABLE};

    /// What a session may look like when somebody opens a menu, by name.
    fn states() -> Vec<(&'static str, Session)> {
        let demo = || Session::new(files::demo(), None);
        let with = |selected: &dyn Fn(&Session) -> Vec<Subject>| {
            let mut session = demo();
            let selected = selected(&session);
            session.select(selected);
            session
        };
        let part = |at: usize| move |session: &Session| vec![Subject::Part(session.routing().parts[at].id)];
        let rows = |count: usize| {
            move |session: &Session| {
                session.project().bar.rows[..count].iter().map(|row| Subject::Row(row.id)).collect()
            }
        };
        let mut bare = demo();
        bare.add_routing(false).unwrap();
        let mut all = demo();
        all.select_all();
        let mut tested = demo();
        tested.add_catch_test().unwrap();
        all.copy_selection().unwrap();
        vec![
            ("nothing selected", demo()),
            ("a part", with(&part(3))),
            ("a hose", with(&|session| vec![Subject::Run(session.routing().runs[0].id)])),
            ("a row", with(&rows(1))),
            ("two rows", with(&rows(2))),
            ("everything and a copy of it", all),
            ("an empty routing", bare),
            ("with a catch test", tested),
        ]
    }

    #[test]
    fn every_command_has_keys_and_its_place_in_a_menu() {
        for entry in TABLE {
            assert!(entry.keys.is_some(), "{} has no keys", entry.label);
            assert!(Menu::ALL.contains(&entry.menu), "{} is in no menu", entry.label);
            assert!(!entry.about.is_empty(), "{} is not explained", entry.label);
        }
    }

    /// A menu and the list of commands grey what an obstacle names; whatever they offer is done.
    #[test]
    fn what_is_offered_is_done() {
        let mut refused = Vec::new();
        for (name, mut session) in states() {
            let (selected, routing) = (session.selection().clone(), session.routing().id);
            for entry in TABLE {
                if obstacle(&session, entry.command).is_some() {
                    continue;
                }
                let edits = session.edits();
                if let Err(why) = run(&mut session, entry.command) {
                    refused.push(format!("{} with {name}: {why}", entry.label));
                }
                // Each begins where the first began.
                session.take(Tool::Select);
                match entry.command {
                    Command::Undo => drop(session.redo()),
                    _ if session.edits() != edits => drop(session.undo()),
                    _ => {}
                }
                session.show_routing(routing);
                session.select(selected.iter().copied());
            }
        }
        assert!(refused.is_empty(), "{refused:#?}");
    }
}
