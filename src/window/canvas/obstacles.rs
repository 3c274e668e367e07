//! What words on the drawing keep clear of: parts, outlets and other words, and the lines of hoses and tubes.

use eframe::egui::{Pos2, Rect};

use crate::drawing::Subject;

/// How much it matters that words cross a line: a tube or a hinge, a hose, the line from a tag to its part.
pub(super) const THIN: f32 = 1.0;
pub(super) const HOSE: f32 = 2.0;
pub(super) const LEADER: f32 = 4.0;

/// What words keep clear of. Sorted into the squares of a grid over the picture: hundreds of words look for a place in every
/// frame of a drag, and most obstacles are nowhere near.
#[derive(Clone)]
pub(in crate::window) struct Obstacles {
    /// Never covered, except by the words of the same subject.
    pub(super) solid: Vec<(Rect, Option<Subject>)>,
    /// Better not covered: pieces of hoses and tubes, with how much it matters.
    lines: Vec<(Pos2, Pos2, f32)>,
    corner: Pos2,
    columns: usize,
    rows: usize,
    /// Which solid ones and which lines reach into a square; row after row.
    squares: Vec<(Vec<u32>, Vec<u32>)>,
}

/// Squares of the grid: the first and last column and row.
#[derive(Clone, Copy)]
struct Squares {
    columns: (usize, usize),
    rows: (usize, usize),
}

impl Obstacles {
    /// Side of a square, points: about the width of a value.
    const SIDE: f32 = 32.0;

    pub(super) fn new(rect: Rect) -> Self {
        let count = |length: f32| (length.max(0.0) / Self::SIDE).ceil().clamp(1.0, 256.0) as usize;
        let (columns, rows) = (count(rect.width()), count(rect.height()));
        Self {
            solid: Vec::new(),
            lines: Vec::new(),
            corner: rect.min,
            columns,
            rows,
            squares: vec![(Vec::new(), Vec::new()); columns * rows],
        }
    }

    /// The squares that a place reaches into; what lies beyond the picture counts for those at its edge.
    fn squares(&self, rect: Rect) -> Squares {
        let square =
            |from: f32, to: f32, count: usize| (((to - from) / Self::SIDE).max(0.0) as usize).min(count - 1);
        let column = |x: f32| square(self.corner.x, x, self.columns);
        let row = |y: f32| square(self.corner.y, y, self.rows);
        Squares {
            columns: (column(rect.left()), column(rect.right())),
            rows: (row(rect.top()), row(rect.bottom())),
        }
    }

    /// The places in the list of some squares, each with its column and row.
    fn each(&self, squares: Squares) -> impl Iterator<Item = (usize, usize, usize)> + use<> {
        let all = self.columns;
        let Squares { columns, rows } = squares;
        (rows.0..=rows.1)
            .flat_map(move |row| (columns.0..=columns.1).map(move |column| (row * all + column, column, row)))
    }

    pub(super) fn add_solid(&mut self, rect: Rect, whose: Option<Subject>) {
        let index = self.solid.len() as u32;
        for (at, ..) in self.each(self.squares(rect)) {
            self.squares[at].0.push(index);
        }
        self.solid.push((rect, whose));
    }

    pub(super) fn add_line(&mut self, a: Pos2, b: Pos2, weight: f32) {
        let index = self.lines.len() as u32;
        for (at, ..) in self.each(self.squares(Rect::from_two_pos(a, b))) {
            self.squares[at].1.push(index);
        }
        self.lines.push((a, b, weight));
    }

    /// Takes back the solid ones that were added last.
    pub(super) fn keep_solid(&mut self, count: usize) {
        self.solid.truncate(count);
        for (solid, _) in &mut self.squares {
            while solid.last().is_some_and(|last| *last as usize >= count) {
                solid.pop();
            }
        }
    }

    /// The solid ones in the squares of a place; large ones more than once.
    pub(super) fn solid_near(&self, rect: Rect) -> impl Iterator<Item = &(Rect, Option<Subject>)> {
        let squares = self.each(self.squares(rect));
        squares.flat_map(|(at, ..)| &self.squares[at].0).map(|index| &self.solid[*index as usize])
    }

    /// Something solid is at a place.
    pub(super) fn is_taken(&self, rect: Rect) -> bool {
        self.solid_near(rect).any(|(other, _)| other.intersects(rect))
    }

    /// How much the lines matter that words at a place would cross.
    pub(super) fn crossed(&self, rect: Rect) -> f32 {
        self.lines_near(rect).map(|(a, b, weight)| if crosses(rect, *a, *b) { *weight } else { 0.0 }).sum()
    }

    /// The lines in the squares of a place, each once.
    pub(super) fn lines_near(&self, rect: Rect) -> impl Iterator<Item = &(Pos2, Pos2, f32)> {
        let near = self.squares(rect);
        self.each(near).flat_map(move |(at, column, row)| {
            let lines = self.squares[at].1.iter().map(|index| &self.lines[*index as usize]);
            // One that reaches into an earlier square of the place too was there already.
            lines.filter(move |(a, b, _)| {
                let own = self.squares(Rect::from_two_pos(*a, *b));
                column == own.columns.0.max(near.columns.0) && row == own.rows.0.max(near.rows.0)
            })
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

    /// The same as looking at all of them, for places and pieces all over the picture and beyond its edges.
    #[test]
    fn nothing_near_a_place_is_missed_or_met_twice() {
        let picture = Rect::from_min_max(pos2(-40.0, 10.0), pos2(300.0, 250.0));
        let mut obstacles = Obstacles::new(picture);
        let spread = |step: usize, by: usize, size: f32| (step * by % 97) as f32 / 97.0 * size - 0.1 * size;
        let place = |step: usize| {
            let at = pos2(spread(step, 31, 420.0) - 40.0, spread(step, 57, 300.0));
            Rect::from_two_pos(at, at + eframe::egui::vec2(spread(step, 13, 130.0), spread(step, 71, 90.0)))
        };
        for step in 0..97 {
            let rect = place(step);
            obstacles.add_solid(rect, None);
            obstacles.add_line(rect.min, rect.max, 1.0 + step as f32);
        }
        obstacles.keep_solid(80);
        for step in 0..97 {
            let near = place(3 * step + 7);
            let solid = obstacles.solid[..80].iter().any(|(other, _)| other.intersects(near));
            assert_eq!(obstacles.is_taken(near), solid, "{near:?}");
            let crossed: f32 =
                obstacles.lines.iter().filter(|(a, b, _)| crosses(near, *a, *b)).map(|line| line.2).sum();
            assert_eq!(obstacles.crossed(near), crossed, "{near:?}");
        }
    }

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
