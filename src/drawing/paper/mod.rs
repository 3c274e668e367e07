//! Pages: display lists in millimetres of paper, which every writer draws alike.
//!
//! A [`Page`] holds [`Mark`]s: lines, closed shapes and words at their final size, x to the right and y up from the
//! lower left corner of the trimmed sheet. What is true to scale says so in [`Page::view`], so that a writer for CAD
//! can give it back at its true size. Nothing here decides colours beyond shades of one ink: papers are printed in
//! black as a rule.

mod clip;
mod draft;
mod page;
mod scene_on_paper;
mod style;

pub use clip::{clip_area, clip_line, touches};
pub use draft::{NotedSign, PageDraft};
pub use page::{
    Mark, MarkKind, PICTURE_UNIT, Page, PaperLayer, Shade, View, Words, corners, scale_text, sized,
};
pub use style::{Anchor, LARGE, LINE_FEED, Letters, MIDDLE, NARROW, Style, USUAL, WIDE, wrap};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Bounds, Point2};

    struct Square;
    impl Letters for Square {
        fn width(&self, words: &str, _: bool) -> f64 {
            words.chars().count() as f64
        }
    }

    #[test]
    fn a_number_in_brackets_is_not_parted_from_its_word() {
        let style = Style::plain(PaperLayer::Words, 1.0);
        let lines = |words: &str, width: f64| wrap(&Square, words, style, width);
        assert_eq!(lines("tee M2 (item 7), then", 13.0), ["tee M2", "(item 7),", "then"]);
        assert_eq!(lines("tee M2 item 7 or 8", 13.0), ["tee M2 item 7", "or 8"]);
        // Where a line is too short for both, both keep to its width.
        assert_eq!(lines("(item 7)", 6.0), ["(item", "7)"]);
    }

    #[test]
    fn words_are_broken_at_spaces_and_where_they_must() {
        let style = Style::plain(PaperLayer::Words, 1.0);
        assert_eq!(wrap(&Square, "one two three", style, 7.0), ["one two", "three"]);
        assert_eq!(wrap(&Square, "abcdefgh", style, 3.0), ["abc", "def", "gh"]);
        assert_eq!(wrap(&Square, "a\n\nb", style, 3.0), ["a", "", "b"]);
        assert_eq!(wrap(&Square, "", style, 3.0), [""]);
        // Narrower than a letter: one a line, and an end.
        assert_eq!(wrap(&Square, "ab", style, 0.5), ["a", "b"]);
    }

    #[test]
    fn long_words_shrink_and_are_cut_at_last() {
        let mut draft = PageDraft::new("test", 100.0, 100.0, &Square);
        draft.words_within("title", &sized(0.0, 0.0, 10.0, 5.0), "abc", Style::plain(PaperLayer::Sheet, 2.5));
        draft.words_within(
            "owner",
            &sized(0.0, 0.0, 10.0, 5.0),
            &"long ".repeat(40),
            Style::plain(PaperLayer::Sheet, 2.5),
        );
        assert_eq!(draft.cut.len(), 1);
        assert_eq!(draft.cut[0].0, "owner");
        for mark in &draft.page.marks {
            let bounds = mark.kind.bounds();
            assert!(bounds.max.x <= 10.0 + 1e-9 && bounds.max.y <= 5.0 + 1e-9, "{mark:?}");
        }
    }

    #[test]
    fn shapes_are_clipped() {
        let window = sized(0.0, 0.0, 10.0, 10.0);
        let line =
            [Point2::new(-5.0, 5.0), Point2::new(5.0, 5.0), Point2::new(5.0, 15.0), Point2::new(8.0, 5.0)];
        let pieces = clip_line(&line, &window);
        assert_eq!(pieces.len(), 2);
        assert_eq!(pieces[0], [Point2::new(0.0, 5.0), Point2::new(5.0, 5.0), Point2::new(5.0, 10.0)]);
        assert_eq!(pieces[1].last(), Some(&Point2::new(8.0, 5.0)));
        assert_eq!(clip_line(&[Point2::new(20.0, 0.0), Point2::new(20.0, 5.0)], &window).len(), 0);
        let area = clip_area(&corners(&sized(-5.0, -5.0, 8.0, 8.0)), &window);
        assert_eq!(Bounds::around(area), sized(0.0, 0.0, 3.0, 3.0));
        assert!(clip_area(&corners(&sized(20.0, 0.0, 1.0, 1.0)), &window).is_empty());
    }

    /// ISO 5455 writes reductions 1:X and enlargements X:1 (from memory).
    #[test]
    fn scales_are_written_as_ratios() {
        assert_eq!(scale_text(20.0), "1:20");
        assert_eq!(scale_text(2.5), "1:2.5");
        assert_eq!(scale_text(0.5), "2:1");
        // 1000 mm at 1:10 are 100 mm of paper.
        let view = View { denominator: 10.0, origin: Point2::new(5.0, 0.0) };
        assert_eq!(view.at(Point2::new(1.0, 0.0)), Point2::new(105.0, 0.0));
    }
}
