//! Manifolds for each section, and places on the frame that are clear of openers, of other parts and of what comes there in the
//! fold.

use super::Session;
use super::how_far::goes_on;
use super::refusal::{Refusal, Remark, Reply};
use super::tool::Tool;
use crate::geometry::{Point2, Point3};
use crate::plan::clash_search::caught_in_fold;
use crate::plan::frame_graph::height_on;
use crate::plan::kinds::Body;
use crate::plan::kinds::symbol::HeldSize;
use crate::plan::solids::{Solid, body_shape, part_solids};
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

/// Another rail is as far as so many steps along the own one.
const OTHER_RAIL: i32 = 6;

/// So many places are held against the fold at a time.
const AT_A_TIME: usize = 64;

/// Clear of another part by this, metres: room for a hand with a spanner.
const APART: f64 = 0.05;

/// Manifolds that a section waits for.
struct Waiting<'a> {
    section: &'a Section,
    entry: PartKey,
    item: &'a PartItem,
    count: usize,
}

impl Session {
    /// Places a manifold on every section with rows in use and without a manifold, the smallest with enough outlets, and as many
    /// as it takes where none has enough; spread over the section, on the frame, all on one rail where they stand clear of
    /// what comes to them when the bar folds.
    pub fn manifold_per_section(&mut self) -> Reply {
        let project = self.project();
        let mut waiting = Vec::new();
        // Tags count from left to right.
        let mut sections: Vec<(&Section, usize)> = self.sections_without_manifold().collect();
        sections.sort_by(|(a, _), (b, _)| a.left.si().total_cmp(&b.left.si()));
        for (section, rows) in sections {
            let enough = (1..=rows).find_map(|count| Some((count, self.manifold_for(rows.div_ceil(count))?)));
            let (count, (entry, item)) = enough.ok_or(Refusal::CatalogueLacks("manifold"))?;
            waiting.push(Waiting { section, entry, item, count });
        }
        let placed = placed_on_best_rail(project, self.routing(), &waiting);
        if placed.is_empty() {
            return Err(Refusal::EverySectionHasManifold);
        }
        let mut next = self.routing().clone();
        let ids: Vec<PartId> = placed.iter().map(|part| part.id).collect();
        next.parts.extend(placed);
        self.edit("One manifold per section", [Edit::PutRouting(Box::new(next))])?;
        // They are all there: another click would place one too many.
        self.take(Tool::Select);
        let said = counted(ids.len(), "manifold");
        self.editor.selection.set(ids.into_iter().map(Subject::Part));
        Ok(Some(Remark::Did(format!("{said} placed"))))
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

/// Rails as far across the bar as this are one, metres.
const ONE_RAIL: f64 = 0.01;

/// The manifolds that are waited for, on the rail where most of them have a clear place: hoses then need not change over from one
/// to the other. Of two alike the one that is nearer to the openers, which saves most tube, then the front one.
fn placed_on_best_rail(project: &Project, routing: &Routing, waiting: &[Waiting]) -> Vec<Part> {
    let bar = &project.bar;
    // Of all openers, so that wings are alike.
    let rows: Vec<f64> = bar.rows.iter().map(|row| bar.outlet(row).y).collect();
    let behind = rows.iter().sum::<f64>() / rows.len().max(1) as f64;
    let mut rails: Vec<f64> = Vec::new();
    for Waiting { section, .. } in waiting {
        let middle = f64::midpoint(section.left.si(), section.right.si());
        for rail in rails_at(section, middle) {
            if rails.iter().all(|known| (known - rail).abs() > ONE_RAIL) {
                rails.push(rail);
            }
        }
    }
    by_distance(&mut rails, behind);
    if rails.is_empty() {
        rails.push(behind);
    }
    let tried = rails.iter().enumerate().map(|(done, rail)| {
        goes_on("rails tried", done, Some(rails.len()));
        let mut next = routing.clone();
        let (mut placed, mut elsewhere) = (Vec::new(), 0);
        for Waiting { section, entry, item, count } in waiting {
            let share = section.width().si() / *count as f64;
            for index in 0..*count {
                let x = section.left.si() + share * (index as f64 + 0.5);
                let own = rail_near(section, Point2::new(x, *rail));
                let wanted = Point2::new(x, own.unwrap_or(*rail));
                let body = item.body();
                let drawn = Some(item.symbol().across);
                let room = Room { half: body.half_length, depth: body.half_depth, drawn };
                let place = clear_place(project, &next, section, room, wanted);
                elsewhere += usize::from(!place.is_clear || (place.at.y - rail).abs() > FARTHEST_ASIDE);
                let part = Part {
                    id: PartId::next(next.parts.iter().map(|part| part.id)),
                    tag: next.free_tag(project.tag_letters.part(item.item_kind())),
                    entry: entry.clone(),
                    section: section.id,
                    position: place.at,
                    turn: Angle::ZERO,
                    mount: None,
                    shut: false,
                };
                placed.push(part.clone());
                next.parts.push(part);
            }
        }
        (elsewhere, placed)
    });
    tried.min_by_key(|one| one.0).map(|one| one.1).unwrap_or_default()
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

/// How far across the bar the rails of a section lie that pass a place along it.
fn rails_at(section: &Section, x: f64) -> Vec<f64> {
    let rails = section.members.iter().filter(|member| {
        let (a, b) = (member.from, member.to);
        (b.x - a.x).abs() > (b.y - a.y).abs() && (a.x.min(b.x)..=a.x.max(b.x)).contains(&x)
    });
    let y_at = |member: &FrameMember| {
        let share = (x - member.from.x) / (member.to.x - member.from.x);
        member.from.towards(member.to, share).y
    };
    rails.map(y_at).collect()
}

/// Sorts rails by how far they are from a place across the bar; the front one of two alike, to the centimetre.
fn by_distance(rails: &mut [f64], y: f64) {
    let away = |rail: &f64| ((rail - y).abs() * 100.0).round();
    rails.sort_by(|a, b| away(a).total_cmp(&away(b)).then(b.total_cmp(a)));
}

/// The y of the rail of a section that passes a point nearest; the front one of two alike, to the centimetre.
pub(super) fn rail_near(section: &Section, at: Point2) -> Option<f64> {
    let mut rails = rails_at(section, at.x);
    by_distance(&mut rails, at.y);
    rails.first().copied()
}

/// A place for a body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub at: Point3,
    /// Neither an opener nor a part is there, and nothing comes there when the bar folds.
    pub is_clear: bool,
}

/// The place within a section nearest to the one wished for where a body covers neither an opener nor another part, nothing
/// comes too near to it when the bar folds, and on the drawing of a whole bar, in as small a window as possible, no other's mark
/// is covered, if there is such a place, on that rail or on another; where there is none, one that covers no part; else the one
/// wished for. It lies at the height of the frame.
pub(super) fn clear_place(
    project: &Project,
    routing: &Routing,
    section: &Section,
    room: Room,
    wanted: Point2,
) -> Place {
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
    let mut rails = vec![wanted.y];
    rails.extend(rails_at(section, wanted.x).into_iter().filter(|rail| (rail - wanted.y).abs() > ONE_RAIL));
    let mut places: Vec<(i32, Point2)> = Vec::new();
    for rail in rails {
        let other = if rail == wanted.y { 0 } else { OTHER_RAIL };
        for across in -aside..=aside {
            for on in -along..=along {
                let at = Point2::new(wanted.x + f64::from(on) * STEP, rail + f64::from(across) * STEP);
                if (at.x - middle).abs() <= most + 1e-9 {
                    // Off the rail it needs a bracket: better a little along it. Of two alike to the front, then to the right.
                    let steps = other + on.abs() + 2 * across.abs();
                    let rank = steps * 4 + i32::from(across < 0) * 2 + i32::from(on < 0);
                    places.push((rank, at));
                }
            }
        }
    }
    places.sort_by_key(|(rank, _)| *rank);
    let raised = |at: Point2| Point3::new(at.x, at.y, height_on(Some(section), at));
    let body = Body { half_length: room.half, half_depth: room.depth };
    let solids = part_solids(project, routing, &anchors);
    let find = |clear: &dyn Fn(Point2) -> bool| places.iter().map(|(_, at)| *at).find(|at| clear(*at));
    // Some at a time, the nearest first: most stand clear of the fold anywhere.
    let find_in_fold = |clear: &dyn Fn(Point2) -> bool| {
        let there: Vec<Point2> = places.iter().map(|(_, at)| *at).filter(|at| clear(*at)).collect();
        there.chunks(AT_A_TIME).find_map(|some| {
            let solid = |(of, at): (usize, &Point2)| Solid {
                of,
                section: section.id,
                shape: body_shape(body, raised(*at), Angle::ZERO),
            };
            let things: Vec<Solid<usize>> = some.iter().enumerate().map(solid).collect();
            let caught = caught_in_fold(project, &solids, &things);
            let is_clear = |of: usize| caught.iter().all(|clash| clash.caught != of);
            some.iter().enumerate().find(|(of, _)| is_clear(*of)).map(|(_, at)| *at)
        })
    };
    let clear = find_in_fold(&|at| off_openers(at) && off_parts(at) && off_marks(at, small))
        .or_else(|| find_in_fold(&|at| off_openers(at) && off_parts(at) && off_marks(at, large)))
        .or_else(|| find_in_fold(&|at| off_openers(at) && off_parts(at)));
    let at = clear
        .or_else(|| find(&|at| off_openers(at) && off_parts(at)))
        .or_else(|| find(&off_parts))
        .unwrap_or(wanted);
    Place { at: raised(at), is_clear: clear.is_some() }
}
