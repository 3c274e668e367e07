//! One manifold for each section, and places on the frame that are clear of openers and of other parts.

use super::Session;
use super::refusal::{Refusal, Remark, Reply};
use super::tool::Tool;
use crate::geometry::{Point2, Point3};
use crate::plan::frame_graph::height_on;
use crate::plan::kinds::symbol::HeldSize;
use crate::plan::words::counted;
use crate::plan::{
    Anchors, Edit, FrameMember, Manifold, ManifoldInlet, Part, PartId, PartItem, PartKey, Project, Routing,
    Section, Subject,
};
use crate::quantities::Angle;

/// From an outlet to the edge of what stands there, seen from above, metres: opener, holder and their mark on the drawing
/// (common practice, no source).
const OPENER: f64 = 0.09;

/// Between places that are tried, metres.
const STEP: f64 = 0.05;

/// How far across the bar from its rail a part is placed at most, metres: a bracket reaches as far.
const FARTHEST_ASIDE: f64 = 0.3;

/// Clear of another part by this, metres: room for a hand with a spanner.
const APART: f64 = 0.05;

impl Session {
    /// Places a manifold on every section with rows in use and without a manifold: the smallest with enough outlets,
    /// in the middle of the section, on the frame. What can't be placed is said.
    pub fn manifold_per_section(&mut self) -> Reply {
        let mut next = self.routing().clone();
        let mut placed = Vec::new();
        let mut without = Vec::new();
        let project = self.project();
        // Tags count from left to right.
        let mut sections: Vec<(&Section, usize)> = self.sections_without_manifold().collect();
        sections.sort_by(|(a, _), (b, _)| a.left.si().total_cmp(&b.left.si()));
        for (section, rows) in sections {
            let Some((entry, item)) = self.manifold_for(rows) else {
                without.push(format!("{} with {}", section.name, counted(rows, "row")));
                continue;
            };
            let place = place_near_middle(project, &next, section, item);
            let part = Part {
                id: PartId::next(next.parts.iter().map(|part| part.id)),
                tag: next.free_tag(project.tag_letters.part(item.item_kind())),
                entry,
                section: section.id,
                position: place,
                turn: Angle::ZERO,
                mount: None,
                shut: false,
            };
            placed.push(part.id);
            next.parts.push(part);
        }
        let lacking = (!without.is_empty()).then_some(Refusal::NoManifoldFor(without));
        if placed.is_empty() {
            return Err(lacking.unwrap_or(Refusal::EverySectionHasManifold));
        }
        self.edit("One manifold per section", [Edit::PutRouting(Box::new(next))])?;
        // They are all there: another click would place one too many.
        self.take(Tool::Select);
        self.editor.selection.set(placed.into_iter().map(Subject::Part));
        Ok(lacking.map(Remark::Partly))
    }

    /// The sections with rows in use and without a manifold, and how many rows that are.
    pub(super) fn sections_without_manifold(&self) -> impl Iterator<Item = (&Section, usize)> {
        let (project, routing) = (self.project(), self.routing());
        let with_rows = project.bar.sections.iter().map(|section| {
            let own = project.bar.rows.iter().filter(|row| row.section == section.id && !row.left_out);
            (section, own.count())
        });
        with_rows.filter(|(section, rows)| {
            let has_one = routing.parts.iter().any(|part| {
                let item = project.catalogue.item(&part.entry);
                part.section == section.id && matches!(item, Some(PartItem::Manifold(_)))
            });
            *rows > 0 && !has_one
        })
    }

    /// The manifold with the fewest outlets that are enough; of the same kind as those in use where there is a choice.
    fn manifold_for(&self, rows: usize) -> Option<(PartKey, &PartItem)> {
        let in_use = |key: &PartKey| {
            let routings = self.project().routings.iter();
            routings.flat_map(|routing| &routing.parts).any(|part| part.entry == *key)
        };
        let enough = self.project().catalogue.of::<PartKey>().filter_map(|(key, item)| match *item {
            PartItem::Manifold(Manifold { outlets, inlet, .. }) if usize::from(outlets) >= rows => {
                // An inlet in the middle feeds both ends alike.
                let end = inlet == ManifoldInlet::End;
                Some((outlets, end, !in_use(&key), (key, item)))
            }
            _ => None,
        });
        enough.min_by_key(|one| (one.0, one.1, one.2)).map(|one| one.3)
    }
}

/// Scales at which a whole bar is seen in a small window and in a large one, points per metre: marks are held at a least
/// size on the screen.
const WHOLE_BAR: [f64; 2] = [27.0, 50.0];

/// Half of the size at which a part is drawn at a scale, metres.
fn drawn_half(size: HeldSize, scale: f64) -> f64 {
    size.half.max(size.least / scale)
}

/// A body that needs room, seen from above, along the bar and across it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Room {
    /// Half of its length along the bar, metres.
    pub half: f64,
    /// Half of its depth across, metres.
    pub depth: f64,
    /// The depth of its mark on the drawing, if that is to cover no other mark.
    pub drawn: Option<HeldSize>,
}

/// A place for a manifold near the middle of a section and the rail that is nearest to the openers, which saves most tube.
fn place_near_middle(project: &Project, routing: &Routing, section: &Section, item: &PartItem) -> Point3 {
    let bar = &project.bar;
    let middle = f64::midpoint(section.left.si(), section.right.si());
    // Of all openers, so that wings are alike.
    let rows: Vec<f64> = bar.rows.iter().map(|row| bar.outlet(row).y).collect();
    let behind = rows.iter().sum::<f64>() / rows.len().max(1) as f64;
    let y = rail_near(section, Point2::new(middle, behind)).unwrap_or(behind);
    let drawn = Some(item.symbol().across);
    let room = Room { half: item.body().half_length, depth: item.body().half_depth, drawn };
    clear_place(project, routing, section, room, Point2::new(middle, y))
}

/// The y of the rail of a section that passes a point nearest; the front one of two alike, to the centimetre.
pub(super) fn rail_near(section: &Section, at: Point2) -> Option<f64> {
    let rails = section.members.iter().filter(|member| {
        let (a, b) = (member.from, member.to);
        (b.x - a.x).abs() > (b.y - a.y).abs() && (a.x.min(b.x)..=a.x.max(b.x)).contains(&at.x)
    });
    let y_at = |member: &FrameMember| {
        let share = (at.x - member.from.x) / (member.to.x - member.from.x);
        member.from.towards(member.to, share).y
    };
    let away = |y: &f64| ((y - at.y).abs() * 100.0).round();
    rails.map(y_at).min_by(|a, b| away(a).total_cmp(&away(b)).then(b.total_cmp(a)))
}

/// The place within a section nearest to the one wished for where a body covers neither an opener nor another part, and on
/// the drawing of a whole bar, in as small a window as possible, no other's mark, if there is such a place; where there is
/// none, one that covers no part; else the one wished for. It lies at the height of the frame.
pub(super) fn clear_place(
    project: &Project,
    routing: &Routing,
    section: &Section,
    room: Room,
    wish: Point2,
) -> Point3 {
    let bar = &project.bar;
    let openers: Vec<Point2> = bar.rows.iter().map(|row| bar.outlet(row).flat()).collect();
    let anchors = Anchors::of(project, routing);
    let sizes = |size: &dyn Fn(&PartItem) -> (f64, f64)| -> Vec<(Point2, f64, f64)> {
        let size = |part: &Part| {
            let (placed, item) = (anchors.part(part.id)?, project.catalogue.item(&part.entry)?);
            let (sin, cos) = (placed.turn.si().sin().abs(), placed.turn.si().cos().abs());
            let (long, deep) = size(item);
            Some((placed.at.flat(), long * cos + deep * sin, long * sin + deep * cos))
        };
        routing.parts.iter().filter_map(size).collect()
    };
    let parts = sizes(&|item| (item.body().half_length, item.body().half_depth));
    let marks = WHOLE_BAR.map(|scale| {
        let half = |size| drawn_half(size, scale);
        (scale, sizes(&|item| (half(item.symbol().along), half(item.symbol().across))))
    });
    let off_openers = |at: Point2| {
        openers.iter().all(|one| {
            (one.x - at.x).abs() >= room.half + OPENER || (one.y - at.y).abs() >= room.depth + OPENER
        })
    };
    let off_parts = |at: Point2| {
        parts.iter().all(|(one, half, depth)| {
            (one.x - at.x).abs() >= room.half + half + APART
                || (one.y - at.y).abs() >= room.depth + depth + APART
        })
    };
    let off_marks = |at: Point2, (scale, marks): &(f64, Vec<(Point2, f64, f64)>)| {
        let Some(drawn) = room.drawn.map(|size| drawn_half(size, *scale)) else { return true };
        marks.iter().all(|(one, half, depth)| {
            (one.x - at.x).abs() >= room.half + half || (one.y - at.y).abs() >= drawn + depth
        })
    };
    let [small, large] = &marks;
    let most = (section.width().si() / 2.0 - room.half).max(0.0);
    let middle = f64::midpoint(section.left.si(), section.right.si());
    let steps = |reach: f64| (reach / STEP).floor() as i32;
    let along = steps(section.width().si());
    let aside = steps(FARTHEST_ASIDE);
    let mut places: Vec<(i32, Point2)> = Vec::new();
    for across in -aside..=aside {
        for on in -along..=along {
            let at = Point2::new(wish.x + f64::from(on) * STEP, wish.y + f64::from(across) * STEP);
            if (at.x - middle).abs() <= most + 1e-9 {
                // Off the rail it needs a bracket: better a little along it. Of two alike to the front, then to the right.
                let rank = (on.abs() + 2 * across.abs()) * 4 + i32::from(across < 0) * 2 + i32::from(on < 0);
                places.push((rank, at));
            }
        }
    }
    places.sort_by_key(|(rank, _)| *rank);
    let find = |clear: &dyn Fn(Point2) -> bool| places.iter().map(|(_, at)| *at).find(|at| clear(*at));
    let at = find(&|at| off_openers(at) && off_parts(at) && off_marks(at, small))
        .or_else(|| find(&|at| off_openers(at) && off_parts(at) && off_marks(at, large)))
        .or_else(|| find(&|at| off_openers(at) && off_parts(at)))
        .or_else(|| find(&off_parts))
        .unwrap_or(wish);
    Point3::new(at.x, at.y, height_on(Some(section), at))
}
