//! From the pump to the manifolds: the names of parts and hoses, and item numbers. Words stand beside lines and never on them: where
//! there is no such place beside what they name, a leader says what that is.

use super::rows::hose_words;
use super::signs::Tagged;
use super::tree::{NodeKind, Tree};
use crate::drawing::Subject;
use crate::drawing::label_places::{Cover, Places, along};
use crate::drawing::paper::{MarkKind, NARROW, PageDraft, PaperLayer, sized};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::{BALLOON, balloon};
use crate::geometry::{Bounds, Point2};
use crate::plan::Part;
use crate::plan::kinds::Reading;
use crate::quantities::Measure;

/// White paper about words, millimetres.
const AIR: f64 = 0.7;

/// From the middle of a hose's line to the paper about its name, millimetres.
const BESIDE_LINE: f64 = 0.6;

/// A piece of a hose that a leader may end at is at least so long, millimetres.
const LEAST_PIECE: f64 = 4.0;

/// Something to be named.
struct Named<'t> {
    label: Tagged<'t>,
    /// Boxes of its words with the paper about them, the best first, and whether they read upwards there.
    candidates: Vec<(Bounds, bool)>,
    /// Where a leader from farther off may end.
    anchors: Vec<Point2>,
}

impl<'t> Named<'t> {
    /// With the paper about it, millimetres.
    fn size(label: &Tagged<'t>, draft: &PageDraft) -> (f64, f64) {
        (label.width(draft) + 2.0 * AIR, Tagged::HEIGHT + 2.0 * AIR)
    }

    /// Writes it where nothing else stands; false where there is no such place.
    fn write(&self, draft: &mut PageDraft, places: &mut Places, window: &Bounds) -> bool {
        let boxes: Vec<Bounds> = self.candidates.iter().map(|(bounds, _)| *bounds).collect();
        if let Some(index) = places.place_over(&boxes, window, Cover::Nothing) {
            let (bounds, upright) = self.candidates[index];
            self.label.write(draft, &bounds.grown(-AIR), upright);
            return true;
        }
        let Some((bounds, leader)) = places.place_far(&self.anchors, Self::size(&self.label, draft), window)
        else {
            return false;
        };
        self.label.write(draft, &bounds.grown(-AIR), false);
        draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
        true
    }
}

impl<'a> Tree<'_, 'a> {
    /// What stands behind the tag of a part that is screwed onto a manifold: what a gauge reads, where that is asked for.
    fn mounted_words(&self, part: &Part) -> String {
        let item = self.source.project.catalogue.item(&part.entry);
        let is_gauge = item.is_some_and(|item| item.facts().reading == Some(Reading::Pressure));
        let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
        let pressure = pressure.filter(|_| is_gauge);
        pressure.map_or_else(String::new, |one| Measure::Pressure.text(one.si(), self.source.units))
    }

    /// Names and item numbers where nothing else stands; those that have no such place are told.
    pub(super) fn names(&self, draft: &mut PageDraft<'a>, start: usize, places: &mut Places) -> Vec<String> {
        let window = self.room.grown(4.0);
        for mark in &draft.page.marks {
            match (&mark.kind, mark.layer) {
                (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube) => places.avoid(points),
                (MarkKind::Words(words), _) => places.keep_clear(words.bounds()),
                (kind, PaperLayer::Part) => places.keep_clear(kind.bounds()),
                (MarkKind::Circle { .. }, _) => places.keep_clear(mark.kind.bounds()),
                _ => {}
            }
        }
        let mut left = self.part_names(draft, start, places, &window);
        left.extend(self.hose_names(draft, places, &window));
        left
    }

    fn part_names(
        &self,
        draft: &mut PageDraft<'a>,
        start: usize,
        places: &mut Places,
        window: &Bounds,
    ) -> Vec<String> {
        let mut left = Vec::new();
        let nodes = self.nodes.iter().filter_map(|node| {
            let (tag, words, part) = match &node.kind {
                NodeKind::Pump => ("", "pump".to_owned(), None),
                NodeKind::Part(part, item) => {
                    let size = item.size(self.source.units);
                    let shut = if part.shut { ", shut" } else { "" };
                    (part.tag.as_str(), format!("{size}{shut}"), Some(*part))
                }
                NodeKind::Loose => ("", "loose end".to_owned(), None),
                NodeKind::Away(..) => return None,
            };
            let number = part.and_then(|part| self.source.items.get(&part.entry));
            Some((tag, words, part, self.columns[node.column].x, number))
        });
        // They have no balloon: the legend and the list of joints name them.
        let mounted = self.mounted.iter().map(|(_, part, x)| {
            let part: &Part = part;
            (part.tag.as_str(), self.mounted_words(part), Some(part), *x, None)
        });
        let mut numbered = Vec::new();
        for (tag, words, part, x, number) in nodes.chain(mounted) {
            let subject = part.map(|part| Subject::Part(part.id));
            // What is screwed onto a manifold was drawn with that.
            let marks = draft.page.marks[if subject.is_some() { 0 } else { start }..].iter();
            let own = marks.filter(|mark| {
                mark.subject == subject
                    && (mark.layer == PaperLayer::Part || matches!(mark.kind, MarkKind::Circle { .. }))
            });
            let boxes =
                own.map(|mark| mark.kind.bounds()).filter(|bounds| (bounds.centre().x - x).abs() < 6.0);
            let bounds = Bounds::around(boxes.flat_map(|bounds| [bounds.min, bounds.max]));
            if bounds.is_empty() {
                continue;
            }
            let label = Tagged { tag, behind: &words };
            let (width, height) = Named::size(&label, draft);
            let middle = bounds.centre().y - height / 2.0;
            // As near as its own air lets it, at any height before farther off.
            let beside = [0.4, 1.4, 2.9].into_iter().flat_map(|away| {
                [middle, middle + 2.5, middle - 2.5].into_iter().flat_map(move |y| {
                    [bounds.min.x - away - width, bounds.max.x + away]
                        .map(|x| (sized(x, y, width, height), false))
                })
            });
            let named = Named { label, candidates: beside.collect(), anchors: vec![bounds.centre()] };
            if !named.write(draft, places, window) {
                left.push(format!("{tag} {words}").trim().to_owned());
            }
            numbered.extend(number.map(|number| (*number, tag, bounds)));
        }
        for (number, tag, bounds) in numbered {
            let (target, side) = (bounds.centre(), 2.0 * BALLOON + 2.0 * AIR);
            let Some((found, _)) = places.place_far(&[target], (side, side), window) else {
                left.push(format!("item {number} ({tag})"));
                continue;
            };
            let centre = found.centre();
            let away = centre.distance(target).max(1e-9);
            let on_way = |from: Point2, to: Point2, by: f64| from.towards(to, by / away);
            let rim = 1.0_f64.max(bounds.width() / 2.0);
            let leader = [on_way(centre, target, BALLOON), on_way(target, centre, rim.min(away - BALLOON))];
            draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            balloon(draft, centre, number);
        }
        left
    }

    fn hose_names(&self, draft: &mut PageDraft<'a>, places: &mut Places, window: &Bounds) -> Vec<String> {
        let mut left = Vec::new();
        for joining in &self.joinings {
            let Some(run) = joining.run else { continue };
            let pieces: Vec<Vec<Point2>> = draft
                .page
                .marks
                .iter()
                .filter(|mark| mark.subject == Some(Subject::Run(run.id)) && mark.layer == PaperLayer::Hose)
                .filter_map(|mark| {
                    if let MarkKind::Line { points, .. } = &mark.kind { Some(points.clone()) } else { None }
                })
                .collect();
            let words = hose_words(self.source, run);
            let label = Tagged { tag: &run.tag, behind: &words };
            let (width, height) = Named::size(&label, draft);
            let mut straight: Vec<&[Point2]> = pieces.iter().flat_map(|piece| piece.windows(2)).collect();
            straight.retain(|pair| pair[0].distance(pair[1]) >= LEAST_PIECE);
            straight.sort_by(|a, b| b[0].distance(b[1]).total_cmp(&a[0].distance(a[1])));
            let anchors = straight
                .iter()
                .take(3)
                .flat_map(|pair| [0.5, 0.3, 0.7].map(|at| pair[0].towards(pair[1], at)));
            let anchors = anchors.collect();
            let candidates = along(&pieces, width, height, BESIDE_LINE);
            if !(Named { label, candidates, anchors }).write(draft, places, window) {
                left.push(format!("{} {words}", run.tag));
            }
        }
        left
    }
}
