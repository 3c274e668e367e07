//! Finds places for the words of a drawing and writes them.
//!
//! Words are laid out at their final size in points. They never overlap each other, a part or an outlet: the more
//! important ones choose first (parts before hoses), and one that finds no room is left away; a tag moves off and keeps a
//! thin line to its part, and goes only where there is no room within the length of such a line. Values beside outlets come only where nine in ten have room, so that a picture is not dotted with a few
//! chance numbers; pointing at a row shows its own.

use std::sync::Arc;

use eframe::egui::text::LayoutJob;
use eframe::egui::{Align, Color32, FontId, Galley, Pos2, Rect, Stroke, pos2, vec2};

use super::obstacles::{LEADER, Obstacles, THIN, crosses};
use super::paint::{PlacedWords, ScenePainter};
use crate::drawing::{self, DrawItem, Ink, Layer, SceneText, Subject, TextPlace, TextRole};

/// Steps of 4 points that the name of a section goes upwards, and then downwards, to find room.
const UPWARDS: u8 = 20;
const DOWNWARDS: u8 = 20;
const A_LITTLE_DOWN: u8 = 5;
/// Between the name of a section and a hose beside it, points.
const HOSE_AIR: f32 = 3.0;
/// Between the name of a section, which has its own width to show whose it is, and other words beside it, points.
const NAME_AIR: f32 = 4.0;
/// Between the caption of a section and other words beside it, points.
const CAPTION_AIR: f32 = 10.0;
/// Between a value and what stands beside it, points: nearer it would seem to be its.
const VALUE_AIR: f32 = 3.0;
/// Nearer to another part than this a tag would seem to be that one's, points.
const CROWDED: f32 = 4.0;
/// Between the tag of a part or a hose and words beside it, points: nearer, the two would read as one.
const TAG_AIR: f32 = 5.0;
/// A tag that stands off its part goes no farther, points: in steps, with some ways to go in each.
const LEADER_STEP: f32 = 8.0;
const LEADER_STEPS: u8 = 9;
const LEADER_WAYS: u8 = 16;

/// Where the upright line of a tag that stands off begins: in front of its part or behind it, and in its middle or aside,
/// shares of what the part is wide.
const WAYS: [f32; 2] = [-1.0, 1.0];
const ALONG: [f32; 5] = [0.0, 0.45, -0.45, 0.9, -0.9];

/// An upright line from a tag back to its part passes nothing else, nor the line of another tag.
fn is_clear_way(leader: [Pos2; 2], own: Option<Subject>, obstacles: &Obstacles) -> bool {
    let way = Rect::from_two_pos(leader[0], leader[1]).expand(1.0);
    let is_in_the_way = |(other, whose): &(Rect, Option<Subject>)| {
        other.intersects(way) && (whose.is_none() || *whose != own)
    };
    let is_other_leader = |(a, b, weight): &(Pos2, Pos2, f32)| *weight >= LEADER && crosses(way, *a, *b);
    !obstacles.solid_near(way).any(is_in_the_way) && !obstacles.lines_near(way).any(is_other_leader)
}

/// How far aside words are tried, points: in the middle first, then by turns to the right and left, as far as `most`.
fn asides(most: f32) -> impl Iterator<Item = f32> {
    const STEP: f32 = 8.0;
    let steps = (most / STEP).clamp(0.0, 60.0) as i16;
    (0..=2 * steps).map(|turn| {
        let away = f32::from((turn + 1) / 2) * STEP;
        if turn % 2 == 1 { away } else { -away }
    })
}

/// Whether something solid is where words would stand, other words also beside them within so much air, points.
fn covers(rect: Rect, air: f32) -> impl Fn(&(Rect, Option<Subject>)) -> bool {
    let roomy = rect.expand2(vec2(air, 0.0));
    move |(other, whose)| other.intersects(if whose.is_none() { roomy } else { rect })
}

/// A place found for words.
struct Placed {
    rect: Rect,
    galley: Arc<Galley>,
    crosses: f32,
    /// Within the shape they belong to.
    inside: bool,
    /// The line back to what they belong to, if they stand off.
    leader: Option<[Pos2; 2]>,
}

/// What the name of a section gives way to at one height.
#[derive(Default)]
struct InTheWay {
    solid: Vec<(Rect, Option<Subject>)>,
    hoses: Vec<(Pos2, Pos2)>,
}

impl InTheWay {
    /// Looks at a height of the section: most of what is in its columns is not there.
    fn look(&mut self, obstacles: &Obstacles, height: Rect) {
        let roomy = height.expand2(vec2(NAME_AIR, 0.0));
        let solid = obstacles.solid_near(roomy).filter(|(other, _)| other.intersects(roomy));
        self.solid.clear();
        self.solid.extend(solid.copied());
        let near = height.expand(HOSE_AIR);
        let hoses =
            obstacles.lines_near(near).filter(|(a, b, weight)| *weight > THIN && crosses(near, *a, *b));
        self.hoses.clear();
        self.hoses.extend(hoses.map(|(a, b, _)| (*a, *b)));
    }

    /// A place at that height is taken.
    fn is_taken(&self, rect: Rect) -> bool {
        self.solid.iter().any(covers(rect, NAME_AIR))
            || self.hoses.iter().any(|(a, b)| crosses(rect.expand(HOSE_AIR), *a, *b))
    }
}

impl ScenePainter<'_> {
    /// Writes all words that have room, and gives them. What is selected or pointed at does not move words that have room
    /// anyway; only where its own find none do they choose before the others.
    pub(super) fn words(&self, shown: &[&DrawItem], obstacles: Obstacles) -> Vec<PlacedWords> {
        let mut words: Vec<(&DrawItem, &SceneText)> = shown
            .iter()
            .filter_map(|item| match &item.shape {
                drawing::Shape::Text(text) => Some((*item, text)),
                _ => None,
            })
            .filter(|(item, text)| {
                text.role == TextRole::Section || self.rect.expand(40.0).contains(self.at(item, text.at))
            })
            .collect();
        // By role; what a section gets goes before how wide it is.
        words.sort_by_key(|(item, text)| {
            (text.role, text.role == TextRole::Caption && item.layer != Layer::Values)
        });
        let is_marked = |(item, _): &(&DrawItem, &SceneText)| self.highlight.is_marked(item);
        let again = words.iter().any(is_marked).then(|| obstacles.clone());
        let mut placed = self.placed(&words, 0, obstacles);
        let is_left_out = |at: usize| !placed.iter().any(|(place, _)| *place == at);
        let all = words.iter().enumerate();
        let left_out: Vec<usize> =
            all.filter(|(at, word)| is_marked(word) && is_left_out(*at)).map(|(at, _)| at).collect();
        if let (false, Some(obstacles)) = (left_out.is_empty(), again) {
            let before = words.clone();
            let mut at = 0;
            let mut first = Vec::new();
            words.retain(|word| {
                let speaks_first = left_out.contains(&at);
                at += 1;
                if speaks_first {
                    first.push(*word);
                }
                !speaks_first
            });
            let count = first.len();
            words.splice(0..0, first);
            let again = self.placed(&words, count, obstacles);
            if again.iter().any(|(at, _)| *at < count) {
                placed = again;
            } else {
                // Nothing is gained by it.
                words = before;
            }
        }
        let mut labels = Vec::new();
        for (at, placed) in &placed {
            let (item, text) = words[*at];
            self.write(item, text, placed, &mut labels);
        }
        labels
    }

    /// The places of words in their order, of which the first so many speak for themselves; those that find none are left out.
    fn placed(
        &self,
        words: &[(&DrawItem, &SceneText)],
        alone: usize,
        mut obstacles: Obstacles,
    ) -> Vec<(usize, Placed)> {
        let mut all = Vec::new();
        let mut at = 0;
        while let Some((item, text)) = words.get(at) {
            if text.role == TextRole::Value && at >= alone {
                let count = words[at..].iter().take_while(|(_, text)| text.role == TextRole::Value).count();
                self.values(&words[at..at + count], at, &mut obstacles, &mut all);
                at += count;
                continue;
            }
            let found = match text.role {
                TextRole::Section => self.place_in_sight(item, text, &obstacles),
                _ => (0..text.wordings.len())
                    .find_map(|wording| self.place(item, text, wording, &obstacles))
                    .or_else(|| self.place_off(item, text, &obstacles))
                    .or_else(|| self.place_aslant(item, text, &obstacles)),
            };
            if let Some(placed) = found {
                if let Some([from, to]) = placed.leader {
                    obstacles.add_line(from, to, LEADER);
                }
                obstacles.add_solid(placed.rect.expand(1.0), None);
                all.push((at, placed));
            }
            at += 1;
        }
        all
    }

    /// Values with the longest wording that has room for nine in ten of them, or none; `first` is the place of the first.
    fn values(
        &self,
        values: &[(&DrawItem, &SceneText)],
        first: usize,
        obstacles: &mut Obstacles,
        found: &mut Vec<(usize, Placed)>,
    ) {
        let longest = values.iter().map(|(_, text)| text.wordings.len()).max().unwrap_or(0);
        let before = obstacles.solid.len();
        for shorter in 0..longest {
            let mut all = Vec::with_capacity(values.len());
            let mut missed = 0;
            let inner = self.rect.shrink2(vec2(40.0, 24.0));
            for (at, (item, text)) in (first..).zip(values) {
                let wording = shorter.min(text.wordings.len().saturating_sub(1));
                let Some(placed) = self.place(item, text, wording, obstacles) else {
                    // At the edge of the picture there is no room for some, whatever the zoom.
                    missed += usize::from(inner.contains(self.at(item, text.at)));
                    // Already too many without room: the rest need not be tried.
                    if missed * 10 > values.len() {
                        break;
                    }
                    continue;
                };
                obstacles.add_solid(placed.rect.expand(1.0), None);
                all.push((at, placed));
            }
            if missed * 10 <= values.len() {
                found.append(&mut all);
                return;
            }
            obstacles.keep_solid(before);
        }
    }

    fn galley(&self, item: &DrawItem, text: &SceneText, words: &str, inside: bool) -> Arc<Galley> {
        let colour = self.words_colour(item, inside);
        let mut job = LayoutJob::simple(words.to_owned(), font(text.role), colour, f32::INFINITY);
        job.halign = Align::Center;
        self.painter.layout_job(job)
    }

    /// A place for the name of a section: over the middle of what is seen of it, and never beyond the picture's top. It
    /// gives way to hoses, parts and buttons, aside within its section first, then upwards, then downwards; what is
    /// thinner lies below its ground.
    fn place_in_sight(&self, item: &DrawItem, text: &SceneText, obstacles: &Obstacles) -> Option<Placed> {
        let at = self.at(item, text.at);
        let half = text.room.map_or(f32::INFINITY, |room| (room * self.view.scale / 2.0) as f32);
        let (left, right) = ((at.x - half).max(self.rect.left()), (at.x + half).min(self.rect.right()));
        if at.y > self.rect.bottom() {
            return None;
        }
        for words in &text.wordings {
            let galley = self.galley(item, text, words, false);
            let size = galley.size();
            if size.x > right - left {
                continue;
            }
            // Behind the bar it would seem to belong to what stands there: only where the front is out of sight.
            let is_front_in_sight = at.y - size.y > self.rect.top();
            let downwards = if is_front_in_sight { A_LITTLE_DOWN } else { DOWNWARDS };
            let mut in_the_way = InTheWay::default();
            let mut before = None;
            for step in 0..UPWARDS + downwards {
                let off = if step < UPWARDS { -f32::from(step) } else { f32::from(step - UPWARDS + 1) };
                let foot = (at.y - 1.0 + 4.0 * off).max(self.rect.top() + size.y + 2.0);
                // Steps beyond the top of the picture all end there.
                if before.replace(foot) == Some(foot) {
                    continue;
                }
                in_the_way.look(obstacles, Rect::from_min_max(pos2(left, foot - size.y), pos2(right, foot)));
                for aside in asides((right - left - size.x) / 2.0) {
                    let x = f32::midpoint(left, right) + aside;
                    let rect = Rect::from_center_size(pos2(x, foot - size.y / 2.0), size);
                    if !self.rect.contains_rect(rect) || in_the_way.is_taken(rect) {
                        continue;
                    }
                    let crosses = obstacles.crossed(rect);
                    return Some(Placed { rect, galley, crosses, inside: false, leader: None });
                }
            }
        }
        None
    }

    /// Where in sight a part is that a tag may stand off; none of other words.
    fn tagged_place(&self, item: &DrawItem, text: &SceneText) -> Option<Pos2> {
        let stands_off = text.role == TextRole::Tag && !text.places.is_empty();
        stands_off.then(|| self.at(item, text.at)).filter(|at| self.rect.contains(*at))
    }

    /// A tag has room off its part.
    fn has_room_for_tag(&self, rect: Rect, obstacles: &Obstacles) -> bool {
        let near = rect.expand2(vec2(TAG_AIR, 0.0));
        self.rect.contains_rect(rect) && !obstacles.solid_near(near).any(covers(rect, TAG_AIR))
    }

    /// A place off a part for its tag, with an upright line back to it, in front of it or behind it, as near as there is
    /// room. The line passes between outlets and other parts, never over one: the tag would seem to be theirs.
    fn place_off(&self, item: &DrawItem, text: &SceneText, obstacles: &Obstacles) -> Option<Placed> {
        let at = self.tagged_place(item, text)?;
        let (clear_x, clear_y) = self.clear(text);
        for words in &text.wordings {
            let galley = self.galley(item, text, words, false);
            let size = galley.size();
            // A way back that meets something does so from farther off too.
            let mut is_open = [[true; ALONG.len()]; 2];
            for step in 1..=LEADER_STEPS {
                let away = clear_y + size.y / 2.0 + 6.0 + LEADER_STEP * f32::from(step);
                let leader = |way: f32, along: f32| {
                    let foot = at + vec2(along * clear_x, way * clear_y);
                    [foot, pos2(foot.x, at.y + way * (away - size.y / 2.0))]
                };
                for (ways, way) in is_open.iter_mut().zip(WAYS) {
                    for (is_open, along) in ways.iter_mut().zip(ALONG) {
                        *is_open = *is_open && is_clear_way(leader(way, along), item.subject, obstacles);
                    }
                }
                let mut best: Option<Placed> = None;
                'places: for (side, aside) in [(0, 0.0), (1, 0.0), (0, 0.4), (0, -0.4), (1, 0.4), (1, -0.4)] {
                    let way = WAYS[side];
                    for (_, along) in is_open[side].iter().zip(ALONG).filter(|(is_open, _)| **is_open) {
                        let leader = leader(way, along);
                        let centre = pos2(leader[0].x + aside * size.x, at.y + way * away);
                        let rect = Rect::from_center_size(centre, size);
                        if !self.has_room_for_tag(rect, obstacles) {
                            continue;
                        }
                        let crosses = obstacles.crossed(rect);
                        if best.as_ref().is_none_or(|best| crosses < best.crosses) {
                            let (galley, leader) = (galley.clone(), Some(leader));
                            best = Some(Placed { rect, galley, crosses, inside: false, leader });
                        }
                        if crosses == 0.0 {
                            break 'places;
                        }
                    }
                }
                if best.is_some() {
                    return best;
                }
            }
        }
        None
    }

    /// A place off a part for its tag where no upright line leads to one: as near as there is room in any direction, with a
    /// straight line back that passes over no outlet, no other part, no words and no other such line.
    fn place_aslant(&self, item: &DrawItem, text: &SceneText, obstacles: &Obstacles) -> Option<Placed> {
        let at = self.tagged_place(item, text)?;
        let (clear_x, clear_y) = self.clear(text);
        let own = Rect::from_center_size(at, 2.0 * vec2(clear_x, clear_y));
        let galleys = text.wordings.iter().map(|words| self.galley(item, text, words, false));
        for galley in galleys {
            let size = galley.size();
            for step in 1..=LEADER_STEPS {
                let far = 6.0 + LEADER_STEP * f32::from(step);
                let mut best: Option<Placed> = None;
                for way in 0..LEADER_WAYS {
                    let turn = f32::from(way) * std::f32::consts::TAU / f32::from(LEADER_WAYS);
                    let (up, aside) = turn.sin_cos();
                    let reach = own.size() / 2.0 + size / 2.0 + vec2(far, far);
                    let rect = Rect::from_center_size(at + vec2(aside, up) * reach, size);
                    if !self.has_room_for_tag(rect, obstacles) {
                        continue;
                    }
                    let foot = own.clamp(rect.center());
                    let end = rect.clamp(foot);
                    let way_there = Rect::from_two_pos(foot, end);
                    // What the part itself is mounted on lies under it.
                    let is_in_the_way = |(other, whose): &(Rect, Option<Subject>)| {
                        let is_under = whose.is_some() && (*whose == item.subject || other.contains(at));
                        !is_under && crosses(other.expand(1.0), foot, end)
                    };
                    let is_other_leader =
                        |(a, b, weight): &(Pos2, Pos2, f32)| *weight >= LEADER && meet([*a, *b], [foot, end]);
                    if obstacles.solid_near(way_there).any(is_in_the_way)
                        || obstacles.lines_near(way_there).any(is_other_leader)
                    {
                        continue;
                    }
                    let crosses = obstacles.crossed(rect);
                    if best.as_ref().is_none_or(|best| crosses < best.crosses) {
                        let (galley, leader) = (galley.clone(), Some([foot, end]));
                        best = Some(Placed { rect, galley, crosses, inside: false, leader });
                    }
                }
                if best.is_some() {
                    return best;
                }
            }
        }
        None
    }

    /// What words keep clear of beside their place and in front of and behind it, points.
    fn clear(&self, text: &SceneText) -> (f32, f32) {
        (text.clear_x.at(self.view.scale) as f32, text.clear_y.at(self.view.scale) as f32)
    }

    /// The best free place for a wording: the one that crosses the fewest lines, the earlier one among equals.
    fn place(
        &self,
        item: &DrawItem,
        text: &SceneText,
        wording: usize,
        obstacles: &Obstacles,
    ) -> Option<Placed> {
        let words = text.wordings.get(wording)?;
        let galley = self.galley(item, text, words, false);
        let size = galley.size();
        let room = text.room.map(|room| (room * self.view.scale) as f32);
        if room.is_some_and(|room| size.x > room) {
            return None;
        }
        let at = self.at(item, text.at);
        let (clear_x, clear_y) = self.clear(text);
        let gap = 3.0;
        let mut best: Option<Placed> = None;
        // The caption of a section moves aside within it, and outwards, bit by bit, where something stands in its way.
        let moves = room.filter(|_| text.role == TextRole::Caption);
        let is_value = text.role == TextRole::Value;
        // Beside a tag, the caption of a section would seem to be the tag's.
        let air = match text.role {
            TextRole::Caption if moves.is_some() => CAPTION_AIR,
            TextRole::Value => VALUE_AIR,
            TextRole::Tag | TextRole::Dimension => TAG_AIR,
            _ => 0.0,
        };
        let outwards = if moves.is_some() { 16u8 } else { 1 };
        // Another caption still stands over or below its owner where it begins or ends there.
        let own = if text.role == TextRole::Caption { size.x / 2.0 } else { 0.0 };
        let places = (0..outwards).flat_map(|step| {
            let beside = asides(moves.map_or(own, |room| (room - size.x) / 2.0));
            beside.flat_map(move |aside| text.places.iter().map(move |place| (step, aside, place)))
        });
        for (step, aside, place) in places {
            let push = 4.0 * f32::from(step);
            let centre = match place {
                TextPlace::Inside if size.x > 2.0 * clear_x - 4.0 || size.y > 2.0 * clear_y + 1.0 => continue,
                TextPlace::Inside => at,
                TextPlace::Right => at + vec2(clear_x + gap + size.x / 2.0, 0.0),
                TextPlace::Left => at - vec2(clear_x + gap + size.x / 2.0, 0.0),
                TextPlace::Above => at + vec2(aside, -(clear_y + 1.0 + push + size.y / 2.0)),
                TextPlace::Below => at + vec2(aside, clear_y + 1.0 + push + size.y / 2.0),
            };
            let rect = Rect::from_center_size(centre, size);
            let inside = *place == TextPlace::Inside;
            let roomy = rect.expand2(vec2(air, 0.0));
            let taken = |(other, whose): &(Rect, Option<Subject>)| {
                let is_own = whose.is_some() && *whose == item.subject;
                other.intersects(if whose.is_none() || (is_value && !is_own) { roomy } else { rect })
                    && !(inside && is_own)
            };
            if !self.rect.contains_rect(rect) || obstacles.solid_near(roomy).any(taken) {
                continue;
            }
            let mut crosses = if inside { 0.0 } else { obstacles.crossed(rect) };
            // Close to another part a tag would seem to be that one's.
            let neighbour = |(other, whose): &(Rect, Option<Subject>)| {
                whose.is_some_and(|whose| matches!(whose, Subject::Part(_)) && Some(whose) != item.subject)
                    && other.intersects(rect.expand(CROWDED))
            };
            if text.role == TextRole::Tag && obstacles.solid_near(rect.expand(CROWDED)).any(neighbour) {
                crosses += 2.5;
            }
            if best.as_ref().is_none_or(|best| crosses < best.crosses) {
                let done = crosses == 0.0;
                let galley = if inside { self.galley(item, text, words, true) } else { galley.clone() };
                best = Some(Placed { rect, galley, crosses, inside, leader: None });
                if done {
                    break;
                }
            }
        }
        best
    }

    fn words_colour(&self, item: &DrawItem, inside: bool) -> Color32 {
        match item.ink {
            // On its own colour a word must first be readable.
            Ink::OnPressure(_) if inside => self.theme.ink_colour(item.ink),
            _ if self.highlight.is_selected(item) => self.theme.accent,
            Ink::OnPressure(_) => self.theme.ink,
            ink => self.theme.ink_colour(ink),
        }
    }

    fn write(&self, item: &DrawItem, text: &SceneText, placed: &Placed, labels: &mut Vec<PlacedWords>) {
        if let Some(leader) = placed.leader {
            self.painter.line_segment(leader, Stroke::new(1.0, self.theme.hinge));
        }
        if placed.crosses > 0.0 {
            let veil = self.theme.ground.gamma_multiply(0.85);
            self.painter.rect_filled(placed.rect.expand2(vec2(1.5, -0.5)), 3.0, veil);
        }
        let offset = placed.galley.rect.min.to_vec2();
        let at = pos2(placed.rect.min.x.round(), placed.rect.min.y.round()) - offset;
        self.painter.galley(at, placed.galley.clone(), self.words_colour(item, placed.inside));
        labels.push(PlacedWords {
            rect: placed.rect,
            words: placed.galley.text().to_owned(),
            role: text.role,
            subject: item.subject,
            leader: placed.leader,
        });
    }
}

/// Two straight pieces cross within both.
fn meet([a, b]: [Pos2; 2], [c, d]: [Pos2; 2]) -> bool {
    let side = |p: Pos2, q: Pos2, r: Pos2| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

const fn font(role: TextRole) -> FontId {
    FontId::proportional(match role {
        TextRole::Section => 13.0,
        TextRole::Caption | TextRole::Value => 11.0,
        TextRole::Tag => 12.0,
        TextRole::Dimension => 10.5,
        TextRole::OutletNumber => 9.5,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_meet_only_within_both() {
        let (low, high) = (pos2(0.0, 0.0), pos2(4.0, 4.0));
        assert!(meet([low, high], [pos2(0.0, 4.0), pos2(4.0, 0.0)]));
        assert!(!meet([low, high], [pos2(0.0, 4.0), pos2(1.0, 3.0)]));
        assert!(!meet([low, high], [pos2(1.0, 0.0), pos2(5.0, 4.0)]));
    }

    #[test]
    fn words_are_tried_in_the_middle_first_and_never_too_far_aside() {
        assert_eq!(asides(17.0).collect::<Vec<_>>(), [0.0, 8.0, -8.0, 16.0, -16.0]);
        assert_eq!(asides(-3.0).collect::<Vec<_>>(), [0.0]);
    }
}
