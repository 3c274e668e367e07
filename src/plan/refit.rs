//! Fits a project to another bar: what of its plumbing can stay stays, and what can't is named.
//!
//! Rows are matched from left to right by where they stand, sections by name. A part keeps its place, and rides on
//! the section that is there now. A row that finds no partner takes its branch of a row feed with it; a hinge that
//! is gone takes the allowances of the hoses that crossed it. Frame members and hinges that were made by hand stay where
//! the change does not touch their section's width, the ranks or the frame's measures.

use super::bar::{Bar, FrameMember};
use super::bar_point::BarPoint;
use super::project::Project;
use super::{RowId, SectionId};
use crate::geometry::Point3;

/// A project on another bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Refit {
    /// The project on it.
    pub project: Project,
    /// What no longer fits, one sentence each; nothing if all plumbing stays.
    pub losses: Vec<String>,
}

/// Fits every routing of a project to a bar that was laid out anew. Ids of rows and sections of the new bar are
/// replaced by those of the ones they match.
pub fn refit(project: &Project, mut bar: Bar) -> Refit {
    let rows = match_rows(&project.bar, &mut bar);
    match_sections(&project.bar, &mut bar);
    let made_anew = keep_handmade(&project.bar, &mut bar);
    let mut losses = Vec::new();
    let mut fitted = project.clone();
    let gone: Vec<&super::Row> = project.bar.rows.iter().filter(|row| !rows.contains(&row.id)).collect();
    for routing in &mut fitted.routings {
        let name = routing.name.clone();
        let fed = gone.iter().filter(|row| routing.feeds.iter().any(|feed| feed.feeds(row.id)));
        let numbers: Vec<String> = fed.map(|row| row.number.to_string()).collect();
        if !numbers.is_empty() {
            losses.push(format!("Routing {name}: the feeds of rows {} go with them", numbers.join(", ")));
        }
        for feed in &mut routing.feeds {
            feed.branches.retain(|branch| rows.contains(&branch.row));
        }
        routing.feeds.retain(|feed| !feed.branches.is_empty());
        let bounds = bar.bounds();
        let mut outside = Vec::new();
        for part in &mut routing.parts {
            let stays = bar.section(part.section).is_some_and(|section| section.spans(part.position.x));
            if !stays && let Some(section) = bar.section_at(part.position.x) {
                part.section = section.id;
                if !section.spans(part.position.x) && part.mount.is_none() {
                    outside.push(part.tag.clone());
                }
            }
        }
        for point in routing.points_mut() {
            // What lay beyond the end of its section goes on doing so.
            let reach = |bar: &Bar| bar.section(point.section).map(|section| section.spans(point.place.x));
            if reach(&bar).is_none() || (reach(&bar) == Some(false) && reach(&project.bar) == Some(true)) {
                *point = BarPoint::over(&bar, point.place);
            }
        }
        if !outside.is_empty() && !bounds.is_empty() {
            losses.push(format!(
                "Routing {name}: {} stay where they are, beside the bar; move them",
                outside.join(", ")
            ));
        }
        let hinged = |id: SectionId| bar.section(id).is_some_and(|section| section.hinge.is_some());
        let mut dropped = Vec::new();
        let mut forget = |tag: &str, line: &mut super::Line| {
            let before = line.crossings.len();
            line.crossings.retain(|crossing| hinged(crossing.section));
            if line.crossings.len() < before {
                dropped.push(tag.to_owned());
            }
        };
        for run in &mut routing.runs {
            forget(&run.tag, &mut run.line);
        }
        for feed in &mut routing.feeds {
            let tag = feed.tag.clone();
            for element in feed.elements_mut() {
                if let super::FeedElement::Tube(tube) = element {
                    forget(&tag, &mut tube.line);
                }
            }
        }
        dropped.dedup();
        if !dropped.is_empty() {
            losses.push(format!(
                "Routing {name}: {} lose what was chosen at a hinge that is gone",
                dropped.join(", ")
            ));
        }
    }
    if !made_anew.is_empty() {
        losses.insert(0, format!("Made by hand, and laid out anew: {}", made_anew.join(", ")));
    }
    let unfed = gone.len();
    if unfed > 0 {
        let what = if unfed == 1 { "1 row goes".to_owned() } else { format!("{unfed} rows go") };
        losses.insert(0, what);
    }
    fitted.bar = bar;
    Refit { project: fitted, losses }
}

/// Gives rows of the new bar the identity, share and use of the rows they match; the identities that stay.
fn match_rows(old: &Bar, new: &mut Bar) -> Vec<RowId> {
    let mut before: Vec<&super::Row> = old.rows.iter().collect();
    before.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
    let mut order: Vec<usize> = (0..new.rows.len()).collect();
    order.sort_by(|a, b| new.rows[*a].x.si().total_cmp(&new.rows[*b].x.si()));
    let pairs: Vec<(usize, usize)> = if before.len() == order.len() {
        // As many rows as before are the same rows, however far apart they stand now.
        (0..before.len()).map(|at| (at, order[at])).collect()
    } else {
        // Otherwise whoever stands nearest, within half a spacing.
        let reach = new.row_spacing.si().min(old.row_spacing.si()) * 0.75;
        let mut pairs = Vec::new();
        let mut next = 0;
        for &index in &order {
            let x = new.rows[index].x.si();
            let gap = |at: usize| before.get(at).map(|row| (row.x.si() - x).abs());
            while gap(next + 1).is_some_and(|ahead| gap(next).is_some_and(|here| ahead < here)) {
                next += 1;
            }
            if gap(next).is_some_and(|gap| gap <= reach) {
                pairs.push((next, index));
                next += 1;
            }
        }
        pairs
    };
    let kept: Vec<RowId> = pairs.iter().map(|(at, _)| before[*at].id).collect();
    let mut fresh = RowId::next(old.rows.iter().map(|row| row.id)).0;
    for (index, row) in new.rows.iter_mut().enumerate() {
        if let Some((at, _)) = pairs.iter().find(|(_, new)| *new == index) {
            let same = before[*at];
            (row.id, row.share, row.left_out) = (same.id, same.share, same.left_out);
        } else {
            row.id = RowId(fresh);
            fresh = fresh.saturating_add(1);
        }
    }
    kept
}

/// Gives sections of the new bar the identity of those with the same name.
fn match_sections(old: &Bar, new: &mut Bar) {
    let mut fresh = SectionId::next(old.sections.iter().map(|section| section.id)).0;
    let named: Vec<(SectionId, SectionId)> = new
        .sections
        .iter()
        .map(|section| {
            let same = old.sections.iter().find(|one| one.name == section.name).map(|one| one.id);
            let id = same.unwrap_or_else(|| {
                fresh = fresh.saturating_add(1);
                SectionId(fresh - 1)
            });
            (section.id, id)
        })
        .collect();
    let now = |id: SectionId| named.iter().find(|(was, _)| *was == id).map_or(id, |(_, now)| *now);
    for section in &mut new.sections {
        section.id = now(section.id);
        if let Some(hinge) = &mut section.hinge {
            hinge.parent = now(hinge.parent);
        }
    }
    for row in &mut new.rows {
        row.section = now(row.section);
    }
}

/// How far two measures may differ and still be the same, metres and radians.
const SAME: f64 = 0.002;

/// What was made by hand stays where the change leaves it room: members and hinges of the old bar that are not as they
/// would be laid out, in sections that the change leaves as they are or only moves. What can't stay, in words.
fn keep_handmade(old: &Bar, new: &mut Bar) -> Vec<String> {
    let mut anew = Vec::new();
    // The old bar as it would have been laid out: what differs from that was made by hand.
    let usual = super::lay_out::lay_out(&super::lay_out::layout_of(old)).ok();
    for section in &mut new.sections {
        let Some(before) = old.section(section.id) else { continue };
        let plain =
            usual.as_ref().and_then(|usual| usual.sections.iter().find(|one| one.name == before.name));
        let by = section.left.si() - before.left.si();
        let as_wide = (section.width().si() - before.width().si()).abs() < SAME;
        let plain_members = plain.map(|plain| plain.members.as_slice()).unwrap_or_default();
        if !alike(&before.members, plain_members, 0.0) {
            if as_wide && alike(plain_members, &section.members, by) {
                section.members = before.members.iter().map(|member| moved(member, by)).collect();
            } else {
                anew.push(format!("the frame of {}", section.name));
            }
        }
        let (Some(hinge), Some(was)) = (section.hinge.as_mut(), before.hinge) else { continue };
        let Some(plain) = plain.and_then(|plain| plain.hinge) else { continue };
        if same_hinge(&was, &plain, 0.0) {
            continue;
        }
        let hinge_by = hinge.point.x - plain.point.x;
        if same_hinge(&plain, hinge, hinge_by) {
            let point = Point3::new(was.point.x + hinge_by, was.point.y, was.point.z);
            *hinge = super::Hinge { parent: hinge.parent, point, ..was };
        } else {
            anew.push(format!("the hinge of {}", section.name));
        }
    }
    anew
}

fn moved(member: &FrameMember, by: f64) -> FrameMember {
    let shift = |point: Point3| Point3::new(point.x + by, point.y, point.z);
    FrameMember { from: shift(member.from), to: shift(member.to), ..*member }
}

/// The second members are the first, moved to the right.
fn alike(first: &[FrameMember], second: &[FrameMember], by: f64) -> bool {
    first.len() == second.len()
        && first.iter().zip(second).all(|(a, b)| {
            let a = moved(a, by);
            a.from.distance(b.from) < SAME
                && a.to.distance(b.to) < SAME
                && (a.width - b.width).abs().si() < SAME
        })
}

fn same_hinge(a: &super::Hinge, b: &super::Hinge, by: f64) -> bool {
    let shifted = Point3::new(a.point.x + by, a.point.y, a.point.z);
    shifted.distance(b.point) < SAME
        && a.axis.distance(b.axis) < SAME
        && (a.lowest - b.lowest).si().abs() < SAME
        && (a.folded - b.folded).si().abs() < SAME
        && a.step == b.step
}

#[cfg(test)]
mod tests {
    use super::super::feed::{Branch, RowFeed};
    use super::super::lay_out::{Layout, even_sections, lay_out};
    use super::super::run::End;
    use super::super::{Catalogue, Edit, EditError, FeedId, RoutingId, edit};
    use super::*;
    use crate::quantities::Length;

    /// Ten rows, each with a feed that hangs loose.
    fn ten_rows() -> Project {
        let mut project =
            Project::new(lay_out(&Layout::even(10, Length::metres(0.3))).unwrap(), Catalogue::default());
        let feeds = project.bar.rows.iter().map(|row| RowFeed {
            id: FeedId(row.id.0),
            tag: format!("T{}", row.number),
            from: End::Loose(BarPoint { section: row.section, ..BarPoint::default() }),
            trunk: Vec::new(),
            split: None,
            branches: vec![Branch { row: row.id, elements: Vec::new() }],
        });
        project.routings[0].feeds = feeds.collect();
        project
    }

    #[test]
    fn the_same_bar_loses_nothing() {
        let project = ten_rows();
        let same = lay_out(&Layout::even(10, Length::metres(0.3))).unwrap();
        let fitted = refit(&project, same);
        assert_eq!(fitted.losses, Vec::<String>::new());
        assert_eq!(fitted.project, project);
    }

    #[test]
    fn a_frame_made_by_hand_stays_or_is_named() {
        let mut project = ten_rows();
        let centre = project.bar.sections.iter().position(|section| section.name == "centre").unwrap();
        project.bar.sections[centre].members[0].from.y += 0.25;
        project.bar.sections[centre].members.pop();
        let by_hand = project.bar.sections[centre].members.clone();
        // Another outlet height has nothing to do with the frame.
        let mut layout = super::super::lay_out::layout_of(&project.bar);
        layout.outlet_height = Length::metres(0.12);
        let fitted = refit(&project, lay_out(&layout).unwrap());
        assert_eq!(fitted.losses, Vec::<String>::new());
        assert_eq!(fitted.project.bar.sections[centre].members, by_hand);
        assert!(fitted.project.bar.rows.iter().all(|row| row.outlet_height == Length::metres(0.12)));
        // A frame lower down is laid out anew, and that is said.
        layout.rail_height = Length::metres(0.7);
        let fitted = refit(&project, lay_out(&layout).unwrap());
        assert_eq!(fitted.losses, ["Made by hand, and laid out anew: the frame of centre"]);
        assert_ne!(fitted.project.bar.sections[centre].members, by_hand);
    }

    #[test]
    fn a_hinge_made_by_hand_stays_where_its_wing_is_moved() {
        let mut project = ten_rows();
        let wing = project.bar.sections.iter().position(|section| section.name == "wing right").unwrap();
        let hinge = project.bar.sections[wing].hinge.as_mut().unwrap();
        hinge.point.y = 0.2;
        let was = *hinge;
        let mut layout = super::super::lay_out::layout_of(&project.bar);
        // Two rows more in the centre: the wings move outwards as they are.
        layout.rows = super::super::lay_out::LayoutRows::Even {
            count: 12,
            pattern: Vec::new(),
            ranks: super::super::lay_out::even_ranks(2, Length::metres(0.6)),
            order: vec![0, 1],
        };
        layout.sections[1] += Length::metres(0.6);
        let fitted = refit(&project, lay_out(&layout).unwrap());
        assert!(!fitted.losses.iter().any(|loss| loss.contains("by hand")), "{:?}", fitted.losses);
        let now = fitted.project.bar.sections[wing].hinge.unwrap();
        assert!((now.point.x - was.point.x - 0.3).abs() < 1e-9);
        assert_eq!(now.point.y, 0.2);
    }

    #[test]
    fn as_many_rows_wider_apart_keep_their_feeds() {
        let project = ten_rows();
        let wide = lay_out(&Layout::even(10, Length::metres(0.5))).unwrap();
        let fitted = refit(&project, wide);
        assert_eq!(fitted.losses, Vec::<String>::new());
        assert_eq!(fitted.project.routings[0].feeds, project.routings[0].feeds);
    }

    #[test]
    fn points_of_a_section_that_is_gone_ride_on_what_lies_below_and_others_stay() {
        let mut project = ten_rows();
        let wing = project.bar.sections.iter().find(|section| section.name == "wing right").unwrap().clone();
        let centre = project.bar.sections.iter().find(|section| section.hinge.is_none()).unwrap().id;
        let at = |x: Length, section| BarPoint { place: Point3::new(x.si(), 0.0, 1.0), section };
        let hung_over = at(wing.left + Length::metres(0.1), centre);
        project.routings[0].feeds[0].from = End::Loose(hung_over);
        project.routings[0].feeds[9].from = End::Loose(at(wing.right, wing.id));
        let ends =
            |project: &Project| project.routings[0].feeds.iter().map(|feed| feed.from).collect::<Vec<_>>();
        // The same sections, as wide: all stays, what hangs over the end of its section too.
        let same = lay_out(&Layout::even(10, Length::metres(0.3))).unwrap();
        assert_eq!(ends(&refit(&project, same).project), ends(&project));
        let one = Layout {
            sections: even_sections(10, Length::metres(0.3), 0),
            ..Layout::even(10, Length::metres(0.3))
        };
        let fitted = refit(&project, lay_out(&one).unwrap()).project;
        let [only] = &fitted.bar.sections[..] else { panic!("{:?}", fitted.bar.sections) };
        for (was, now) in ends(&project).into_iter().zip(ends(&fitted)) {
            let (End::Loose(was), End::Loose(now)) = (was, now) else { panic!("{was:?} {now:?}") };
            assert_eq!(now, BarPoint { section: only.id, ..was });
        }
    }

    #[test]
    fn rows_that_go_are_said_and_the_middle_ones_stay() {
        let mut project = ten_rows();
        let narrow = Layout {
            sections: even_sections(8, Length::metres(0.3), 1),
            ..Layout::even(8, Length::metres(0.3))
        };
        let bar = lay_out(&narrow).unwrap();
        let fitted = refit(&project, bar.clone());
        assert_eq!(fitted.losses[0], "2 rows go");
        assert!(fitted.losses[1].contains("rows 1, 10"), "{:?}", fitted.losses);
        let left: Vec<u32> =
            fitted.project.routings[0].feeds.iter().map(|feed| feed.branches[0].row.0).collect();
        assert_eq!(left, (2..=9).collect::<Vec<_>>());
        // Numbers are painted on anew, from the left.
        assert_eq!(fitted.project.bar.rows[0].number, 1);
        assert_eq!(fitted.project.bar.rows[0].id, RowId(2));
        // The edit does the same; one that would orphan rows silently is still refused.
        assert!(matches!(
            edit::apply(&mut project, Edit::SetBar(Box::new(bar.clone()))),
            Err(EditError::Invalid(_))
        ));
        edit::apply(&mut project, Edit::Reshape(Box::new(bar))).unwrap();
        assert_eq!(project, fitted.project);
        assert_eq!(project.routing(RoutingId(1)).unwrap().feeds.len(), 8);
    }
}
