//! Rules of the bar: sections in a tree, hinges, frame members and rows.

use std::collections::BTreeSet;

use super::review::{FARTHEST, Review, unique};
use super::size::bar_size;
use crate::geometry::Point3;
use crate::plan::problems::Problems;
use crate::plan::words::called;
use crate::plan::{Bar, Hinge};
use crate::quantities::{Measure, plain};

/// Rules of the bar.
pub fn bar(bar: &Bar) -> Problems {
    let too_much = bar_size(bar);
    if !too_much.is_empty() {
        return too_much;
    }
    let mut review = Review::of("bar");
    review.above_zero("row spacing", Measure::Distance, bar.row_spacing.si(), FARTHEST);
    unique(&mut review, "section id", bar.sections.iter().map(|section| section.id.0));
    unique(&mut review, "section name", bar.sections.iter().map(|section| section.name.as_str()));
    unique(&mut review, "row id", bar.rows.iter().map(|row| row.id.0));
    unique(&mut review, "row number", bar.rows.iter().map(|row| row.number));
    for (index, rank) in bar.ranks.iter().enumerate() {
        review.point(&format!("rank {}", index + 1), Point3::new(0.0, rank.si(), 0.0));
    }
    review.claim(!bar.sections.is_empty(), || "it has no section".to_owned(), "add a centre section");
    let mut problems = review.problems;
    let mut before = BTreeSet::new();
    for section in &bar.sections {
        let mut review = Review::of(called("bar, section", &section.name, section.id.0));
        review.name("its name", &section.name);
        let (left, right) = (section.left.si(), section.right.si());
        review.point("its left end", Point3::new(left, 0.0, 0.0));
        review.point("its right end", Point3::new(right, 0.0, 0.0));
        review.claim(
            left < right,
            || format!("its right end ({} m) is not right of its left end ({} m)", plain(right), plain(left)),
            "swap or move its ends",
        );
        match section.hinge {
            Some(hinge) => {
                let parent = hinge.parent.0;
                review.claim(
                    before.contains(&hinge.parent),
                    || format!("its parent section {parent} does not stand before it"),
                    "name a section nearer to the centre as its parent, and list that one first",
                );
                review.point("its hinge", hinge.point);
                review.point("its hinge axis", hinge.axis);
                review.claim(
                    hinge.axis != Point3::default(),
                    || "its hinge axis has no direction".to_owned(),
                    "for a wing that folds up give (0, 1, 0)",
                );
                // A wing turns by three quarters at most: farther it would pass through what carries it.
                let turn = 1.5 * std::f64::consts::PI;
                review.number("its lowest angle", Measure::Angle, hinge.lowest.si(), -turn, turn);
                review.number("its folded angle", Measure::Angle, hinge.folded.si(), -turn, turn);
                review.claim(
                    (Hinge::FIRST_STEP..=Hinge::MOST_STEPS).contains(&hinge.step),
                    || format!("its hinge folds in step {}", hinge.step),
                    "give a step from 1 to 9; hinges of one step turn together",
                );
            }
            None => review.claim(
                before.is_empty(),
                || "it has no hinge but is not the first section".to_owned(),
                "give it a hinge on a section nearer to the centre",
            ),
        }
        for (index, member) in section.members.iter().enumerate() {
            review.point(&format!("frame member {}", index + 1), member.from);
            review.point(&format!("frame member {}", index + 1), member.to);
            let width = format!("width of frame member {}", index + 1);
            review.above_zero(&width, Measure::CutLength, member.width.si(), FARTHEST);
        }
        before.insert(section.id);
        problems.append(review.problems);
    }
    for row in &bar.rows {
        let mut review = Review::of(format!("bar, row {}", row.number));
        let section = row.section.0;
        review.claim(
            bar.section(row.section).is_some(),
            || format!("its section {section} does not exist"),
            "name a section of the bar",
        );
        review.claim(
            row.rank < bar.ranks.len(),
            || format!("it stands in rank {}, but the bar has {}", row.rank + 1, bar.ranks.len()),
            "add the rank or choose another",
        );
        review.point("its outlet", Point3::new(row.x.si(), 0.0, row.outlet_height.si()));
        review.claim(
            row.share.is_finite() && row.share > 0.0 && row.share <= 10.0,
            || format!("its share is {}", plain(row.share)),
            "give a share above 0, 1 for a full row",
        );
        problems.append(review.problems);
    }
    problems
}
