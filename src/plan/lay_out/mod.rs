//! Lays out a bar from the few numbers that describe it: rows and their spacing, widths of sections, ranks, hinges
//! and heights.
//!
//! [`lay_out`] gives a whole [`Bar`], or every [`LayoutRefusal`] with the entry that causes it. Frame rails lie over the
//! ranks, with three cross members in each section: enough to draw the bar and to lay hoses along.

mod bar_from;
mod layout;
mod layout_of;
mod usual_hinges;

pub use bar_from::lay_out;
pub use layout::{
    Fold, HingePair, LEAST_GAP, Layout, LayoutField, LayoutRefusal, LayoutRows, MOST_GAP, MOST_GAPS,
    MOST_ROWS, MOST_SECTIONS, RowPlace, even_ranks, even_sections, section_name, usual_order,
};
pub use layout_of::layout_of;
pub use usual_hinges::{hinges_for, usual_hinges};

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::RowWidths;
    use crate::plan::row_target::{strips_together, width};
    use crate::quantities::Length;

    fn sevens() -> Layout {
        let spacing = Length::metres(0.3);
        Layout {
            sections: even_sections(80, spacing, 7),
            hinges: vec![HingePair::default(); 3],
            ..Layout::even(80, spacing)
        }
    }

    #[test]
    fn a_bar_is_as_wide_as_its_rows_and_stands_about_the_middle() {
        let bar = lay_out(&sevens()).unwrap();
        assert_eq!(bar.rows.len(), 80);
        assert_eq!(bar.sections.len(), 7);
        assert_eq!(bar.sections[0].name, "centre");
        let width: f64 = bar.sections.iter().map(|section| section.width().si()).sum();
        assert!((width - 24.0).abs() < 1e-9, "{width}");
        assert!((bar.rows[0].x.si() + 11.85).abs() < 1e-9);
        assert!((bar.rows[79].x.si() - 11.85).abs() < 1e-9);
        for row in &bar.rows {
            assert!(bar.section(row.section).unwrap().spans(row.x.si()), "row {}", row.number);
        }
        for pair in bar.sections[1..].chunks(2) {
            assert_eq!(pair[0].left.si(), -pair[1].right.si(), "{} and {}", pair[0].name, pair[1].name);
            assert_eq!(pair[0].hinge.unwrap().folded.si(), -pair[1].hinge.unwrap().folded.si());
        }
    }

    #[test]
    fn even_sections_hold_whole_rows_the_same_on_both_sides() {
        for rows in 1..=120 {
            for sections in [1usize, 3, 5, 7, 9] {
                let spacing = Length::metres(0.25);
                let widths = even_sections(rows, spacing, sections);
                assert_eq!(widths.len(), sections);
                let total: f64 = widths.iter().map(|width| width.si()).sum();
                assert!((total - f64::from(rows) * 0.25).abs() < 1e-9, "{rows} rows, {sections} sections");
                for index in 0..sections {
                    assert_eq!(widths[index], widths[sections - 1 - index]);
                    let share = widths[index].si() / 0.25;
                    assert!((share - share.round()).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn each_refusal_names_its_entry() {
        let spacing = Length::metres(0.3);
        let good = Layout::even(36, spacing);
        assert_eq!(good.refusals(), []);
        let cases: Vec<(LayoutField, Layout)> = vec![
            (LayoutField::Spacing, Layout { spacing: Length::ZERO, ..good.clone() }),
            (LayoutField::Rows, Layout::even(0, spacing)),
            (LayoutField::Sections, Layout { sections: vec![Length::metres(5.4); 2], ..good.clone() }),
            (LayoutField::Sections, Layout { sections: vec![Length::metres(3.0); 3], ..good.clone() }),
            (LayoutField::Section(1), Layout { sections: vec![Length::metres(0.1); 3], ..good.clone() }),
            (LayoutField::Hinge(0), Layout { hinges: Vec::new(), ..good.clone() }),
            (LayoutField::OutletHeight, Layout { outlet_height: Length::metres(50.0), ..good.clone() }),
            (LayoutField::RailWidth, Layout { rail_width: Length::ZERO, ..good.clone() }),
            (
                LayoutField::Order,
                Layout {
                    rows: LayoutRows::Even {
                        count: 36,
                        pattern: Vec::new(),
                        ranks: even_ranks(2, spacing),
                        order: vec![0, 2],
                    },
                    ..good.clone()
                },
            ),
        ];
        for (field, layout) in cases {
            let found = lay_out(&layout).unwrap_err();
            assert!(found.iter().any(|one| one.field == field), "{field:?}: {found:?}");
        }
    }

    #[test]
    fn given_rows_share_ranks_where_they_stand_equally_far_forward() {
        let place =
            |x: f64, y: f64| RowPlace { x: Length::metres(x), forward: Length::metres(y), height: None };
        let layout = Layout {
            rows: LayoutRows::Given(vec![
                place(0.2, -0.5),
                place(-0.3, 0.5),
                place(0.45, 0.504),
                place(0.0, 0.0),
            ]),
            sections: vec![Length::metres(0.75 + 0.3)],
            hinges: Vec::new(),
            ..Layout::even(4, Length::metres(0.3))
        };
        let bar = lay_out(&layout).unwrap();
        assert_eq!(bar.ranks.len(), 3);
        let so: Vec<(f64, usize)> = bar.rows.iter().map(|row| (row.x.si(), row.rank)).collect();
        assert_eq!(so, [(-0.3, 0), (0.0, 1), (0.2, 2), (0.45, 0)]);
    }

    #[test]
    fn a_layout_read_back_from_a_bar_gives_the_same_bar() {
        let ranks = vec![Length::metres(0.05), Length::metres(0.08)];
        let by_rank = Layout { rank_heights: ranks, ..Layout::even(40, Length::metres(0.3)) };
        let mut pattern = sevens();
        pattern.set_gaps(&[0.25, 0.35].map(Length::metres));
        pattern.sections = pattern.divided(7);
        let place = |x: f64| RowPlace { x: Length::metres(x), forward: Length::ZERO, height: None };
        let given = Layout {
            rows: LayoutRows::Given([-0.5, -0.1, 0.1, 0.6].map(place).to_vec()),
            edges: Some((Length::metres(-0.7), Length::metres(0.9))),
            sections: vec![Length::metres(1.6)],
            hinges: Vec::new(),
            widths: RowWidths::HalfWidths,
            ..Layout::even(4, Length::metres(0.3))
        };
        let mut apart = sevens();
        apart.hinges = usual_hinges(3);
        apart.hinges[1].step_left = Some(4);
        apart.hinges[0].step_left = Some(5);
        let hinges = layout_of(&lay_out(&apart).unwrap()).hinges;
        assert_eq!(
            hinges.iter().map(|one| (one.step, one.step_left)).collect::<Vec<_>>(),
            [(3, Some(5)), (2, Some(4)), (1, None)]
        );
        for layout in [Layout::even(40, Length::metres(0.3)), sevens(), apart, by_rank, pattern, given] {
            let bar = lay_out(&layout).unwrap();
            let again = layout_of(&bar);
            assert_eq!(lay_out(&again).unwrap(), bar);
            assert_eq!((again.rows, again.edges), (layout.rows, layout.edges));
        }
    }

    /// 60 rows 0.25 and 0.35 m apart by turns: 18 m wide, each row with 0.3 m of it, the sections ending half-way between
    /// two rows.
    #[test]
    fn a_pattern_of_gaps_gives_each_row_its_own_strip() {
        let mut layout =
            Layout { hinges: vec![HingePair::default(); 3], ..Layout::even(60, Length::metres(0.3)) };
        layout.set_gaps(&[0.25, 0.35].map(Length::metres));
        assert_eq!(layout.widths, RowWidths::HalfWidths);
        layout.sections = layout.divided(7);
        let bar = lay_out(&layout).unwrap();
        assert!((bar.working_width().si() - 18.0).abs() < 1e-9);
        let across: Vec<f64> = bar.rows.iter().map(|row| row.x.si()).collect();
        for (index, pair) in across.windows(2).enumerate() {
            let gap = if index % 2 == 0 { 0.25 } else { 0.35 };
            assert!((pair[1] - pair[0] - gap).abs() < 1e-9, "{index}");
        }
        for row in &bar.rows {
            assert!((width(&bar, row).si() - 0.3).abs() < 1e-9, "row {}", row.number);
            let near = |end: Length| (end.si() - row.x.si()).abs();
            let section = bar.section(row.section).unwrap();
            assert!(near(section.left).min(near(section.right)) > 0.12, "row {}", row.number);
        }
        assert!((strips_together(&bar).si() - 18.0).abs() < 1e-9);
        // One gap is the spacing again.
        layout.set_gaps(&[Length::metres(0.3)]);
        assert_eq!((layout.widths, layout.strip()), (RowWidths::Nominal, (-9.0, 9.0)));
        layout.set_gaps(&[Length::metres(0.2), Length::metres(2.5)]);
        assert!(layout.refusals().iter().any(|one| one.field == LayoutField::Spacing));
    }
}
