//! What words on the drawing keep clear of: parts, outlets and other words, and the lines of hoses and tubes.

use eframe::egui::{Pos2, Rect};

use crate::drawing::Subject;

/// How much it matters that words cross a line: a tube or a hinge, a hose, the line from a tag to its part.
pub(super) const THIN: f32 = 1.0;
pub(super) const HOSE: f32 = 2.0;
pub(super) const LEADER: f32 = 4.0;

/// What words keep clear of. Sorted into columns of the picture: hundreds of words look for a place in every frame of a
/// drag, and most obstacles are nowhere near.
#[derive(Clone)]
pub(in crate::window) struct Obstacles {
    /// Never covered, except by the words of the same subject.
    pub(super) solid: Vec<(Rect, Option<Subject>)>,
    /// Better not covered: pieces of hoses and tubes, with how much it matters.
    lines: Vec<(Pos2, Pos2, f32)>,
    left: f32,
    /// Which solid ones and which lines reach into a column.
    columns: Vec<(Vec<u32>, Vec<u32>)>,
}

impl Obstacles {
    /// Width of a column, points: about that of a value.
    const COLUMN: f32 = 32.0;

    pub(super) fn new(rect: Rect) -> Self {
        let count = (rect.width().max(0.0) / Self::COLUMN).ceil().clamp(1.0, 512.0) as usize;
        Self {
            solid: Vec::new(),
            lines: Vec::new(),
            left: rect.left(),
            columns: vec![(Vec::new(), Vec::new()); count],
        }
    }

    fn column(&self, x: f32) -> usize {
        // What lies beyond the picture counts for its first or last column.
        let column = ((x - self.left) / Self::COLUMN).max(0.0) as usize;
        column.min(self.columns.len() - 1)
    }

    pub(super) fn add_solid(&mut self, rect: Rect, whose: Option<Subject>) {
        let index = self.solid.len() as u32;
        for column in self.column(rect.left())..=self.column(rect.right()) {
            self.columns[column].0.push(index);
        }
        self.solid.push((rect, whose));
    }

    pub(super) fn add_line(&mut self, a: Pos2, b: Pos2, weight: f32) {
        let index = self.lines.len() as u32;
        for column in self.column(a.x.min(b.x))..=self.column(a.x.max(b.x)) {
            self.columns[column].1.push(index);
        }
        self.lines.push((a, b, weight));
    }

    /// Takes back the solid ones that were added last.
    pub(super) fn keep_solid(&mut self, count: usize) {
        self.solid.truncate(count);
        for (solid, _) in &mut self.columns {
            while solid.last().is_some_and(|last| *last as usize >= count) {
                solid.pop();
            }
        }
    }

    /// The solid ones in the columns of a place.
    pub(super) fn solid_near(&self, rect: Rect) -> impl Iterator<Item = &(Rect, Option<Subject>)> {
        let columns = &self.columns[self.column(rect.left())..=self.column(rect.right())];
        columns.iter().flat_map(|(solid, _)| solid).map(|index| &self.solid[*index as usize])
    }

    /// Something solid is at a place.
    pub(super) fn is_taken(&self, rect: Rect) -> bool {
        self.solid_near(rect).any(|(other, _)| other.intersects(rect))
    }

    /// How much the lines matter that words at a place would cross.
    pub(super) fn crossed(&self, rect: Rect) -> f32 {
        self.lines_near(rect).map(|(a, b, weight)| if crosses(rect, *a, *b) { *weight } else { 0.0 }).sum()
    }

    /// The lines in the columns of a place, each once.
    pub(super) fn lines_near(&self, rect: Rect) -> impl Iterator<Item = &(Pos2, Pos2, f32)> {
        let first = self.column(rect.left());
        (first..=self.column(rect.right())).flat_map(move |column| {
            let lines = self.columns[column].1.iter().map(|index| &self.lines[*index as usize]);
            // One that began in an earlier column of the place was there already.
            lines.filter(move |(a, b, _)| column == self.column(a.x.min(b.x)).max(first))
        })
    }
}

/// A straight piece touches a box (Liang and Barsky 1984).
pub(super) fn crosses(rect: Rect, a: Pos2, b: Pos2) -> bool {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (mut enter, mut leave) = (0.0f32, 1.0f32);
    for (p, q) in
        [(-dx, a.x - rect.min.x), (dx, rect.max.x - a.x), (-dy, a.y - rect.min.y), (dy, rect.max.y - a.y)]
    {
        if p == 0.0 {
            if q < 0.0 {
                return false;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    enter <= leave
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::pos2;

    #[test]
    fn a_piece_and_a_box() {
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(2.0, 1.0));
        assert!(crosses(rect, pos2(-1.0, 0.5), pos2(3.0, 0.5)));
        assert!(crosses(rect, pos2(0.5, 0.5), pos2(0.6, 0.6)));
        assert!(crosses(rect, pos2(-1.0, -0.5), pos2(3.0, 1.5)));
        assert!(!crosses(rect, pos2(-1.0, 2.0), pos2(3.0, 2.0)));
        assert!(!crosses(rect, pos2(-1.0, 1.5), pos2(0.5, 3.0)));
    }
}
