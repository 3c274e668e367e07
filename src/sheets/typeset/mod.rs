//! Documents set on pages: words, tables, steps and labels, without border and title block.
//!
//! `setter` holds the page being filled; `blocks` and `tables` set what stands on it.

mod blocks;
mod setter;
mod tables;

use crate::drawing::paper::{Letters, PageDraft};
use crate::sheets::document::Document;
use setter::{Setter, TAIL};

/// The pages of documents that belong together, without border and title block; the first page leaves room for the title
/// block, the others for a line in its place. Where the last page would hold next to
/// nothing, the lines move closer; if that does not save the page, the others leave it more.
pub(super) fn typeset<'a>(
    documents: &[Document],
    size: (f64, f64),
    letters: &'a dyn Letters,
) -> Vec<PageDraft<'a>> {
    let usual = Setter::set(documents, size, letters, (1.0, 0.0));
    let many = usual.pages.len();
    if many < 2 || usual.filled() >= TAIL {
        return usual.pages;
    }
    for squeeze in [0.8, 0.6, 0.4] {
        let closer = Setter::set(documents, size, letters, (squeeze, 0.0));
        if closer.pages.len() < many {
            return closer.pages;
        }
    }
    let mut best = usual;
    for lift in [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0] {
        let shorter = Setter::set(documents, size, letters, (1.0, lift));
        if shorter.pages.len() > many || best.filled() >= 0.5 {
            break;
        }
        best = shorter;
    }
    best.pages
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::paper::MarkKind;
    use crate::drawing::sheet_frame::inside;
    use crate::geometry::{Bounds, Point2};
    use crate::sheets::document::{Block, FittingStep, Hazard, PaperCell, PaperColumn, PaperTable, Steps};
    use crate::sheets::font::Fonts;
    use std::sync::LazyLock;

    const A4: (f64, f64) = (210.0, 297.0);

    fn static_fonts() -> &'static Fonts {
        static FONTS: LazyLock<Fonts> = LazyLock::new(Fonts::default);
        &FONTS
    }

    fn pages(blocks: Vec<Block>) -> Vec<PageDraft<'static>> {
        let assumed = "Assumed, not measured: density of the liquid".to_owned();
        let document = Document {
            title: "Paper".to_owned(),
            subject: "Bar".to_owned(),
            assumed,
            blocks,
            ..Document::default()
        };
        typeset(&[document], A4, static_fonts())
    }

    fn words(page: &PageDraft) -> Vec<(Point2, String)> {
        let words = page.page.marks.iter().filter_map(|mark| match &mark.kind {
            MarkKind::Words(words) => Some((words.at, words.text.clone())),
            _ => None,
        });
        words.collect()
    }

    fn holds(page: &PageDraft, text: &str) -> bool {
        words(page).iter().any(|(_, one)| one == text)
    }

    fn table(caption: &str, rows: usize, notes: &[&str]) -> Block {
        Block::Table(PaperTable {
            caption: caption.to_owned(),
            columns: vec![PaperColumn::text("Name", 1.0)],
            rows: (1..=rows).map(|row| vec![PaperCell::text(format!("line {row}"))]).collect(),
            totals: Vec::new(),
            groups: Vec::new(),
            notes: notes.iter().map(|one| (*one).to_owned()).collect(),
        })
    }

    /// However long what stands before, a short table is on one page, and no page holds a single line or a note alone.
    #[test]
    fn short_tables_stand_whole_and_long_ones_end_with_two_lines_and_their_notes() {
        for before in 1..60 {
            let blocks =
                vec![table("first", before, &[]), table("short", 4, &["note"]), table("long", 90, &["end"])];
            let pages = pages(blocks);
            let of = |text: &str| pages.iter().position(|page| holds(page, text)).unwrap();
            assert_eq!(of("short"), of("note"), "{before}");
            let last = &pages[of("end")];
            assert!(holds(last, "line 89") && holds(last, "line 90"), "{before}");
            let start = &pages[of("long")];
            assert!(holds(start, "line 1") && holds(start, "line 2"), "{before}");
        }
    }

    #[test]
    fn a_heading_never_ends_a_page_and_a_steps_warning_sign_stands_with_it() {
        for before in 1..60 {
            let steps = |text: &str| {
                let hazards = vec![Hazard::Folding, Hazard::Road];
                let step = FittingStep { text: text.to_owned(), hazards, ..FittingStep::default() };
                Block::Steps(Steps { first: 1, steps: vec![step] })
            };
            let pages =
                pages(vec![table("first", before, &[]), Block::Heading("Then".to_owned()), steps("do it")]);
            let page = pages.iter().find(|page| holds(page, "Then")).unwrap();
            assert!(holds(page, "do it") && holds(page, "AD"), "{before}");
            // The sign stands beside the box to tick.
            let boxes: Vec<Bounds> = page
                .page
                .marks
                .iter()
                .filter(|mark| matches!(mark.kind, MarkKind::Area { .. }))
                .map(|mark| mark.kind.bounds())
                .collect();
            let tick = boxes.iter().find(|one| (one.width() - 3.4).abs() < 0.01).unwrap();
            let sign = boxes.iter().find(|one| (one.width() - 4.0).abs() < 0.01).unwrap();
            assert!(sign.max.x < tick.min.x - 0.3 && sign.min.y < tick.max.y, "{before}: {tick:?} {sign:?}");
        }
    }

    /// A page is saved by moving lines closer, or the last page gets its share.
    #[test]
    fn no_last_page_is_next_to_empty() {
        for rows in 20..140 {
            let pages = pages(vec![table("first", rows, &[])]);
            let last = words(pages.last().unwrap());
            let lines = last.iter().filter(|(_, text)| text.starts_with("line ")).count();
            assert!(
                pages.len() == 1 || lines >= 8,
                "{rows} rows leave {lines} lines on page {}",
                pages.len()
            );
        }
    }

    #[test]
    fn every_page_says_what_is_assumed_and_words_keep_clear_of_the_centring_marks() {
        let inner = inside(A4.0, A4.1);
        let pages = pages(vec![table("first", 400, &[])]);
        assert!(pages.len() > 1);
        for page in &pages {
            assert!(holds(page, "Assumed, not measured: density of the liquid"));
            for (at, text) in words(page) {
                assert!(at.x >= inner.min.x + 5.5 && at.x <= inner.max.x - 5.5, "{text}");
            }
        }
    }
}
