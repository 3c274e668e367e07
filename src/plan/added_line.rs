//! Lines of the parts list that somebody adds, for what no part of the plan stands for: brackets, a tank valve, ties.

use serde::{Deserialize, Serialize};

/// A line added to the parts list of every routing of a project.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AddedLine {
    /// What it is; never empty.
    pub description: String,
    /// What it is ordered by; empty where nobody said.
    pub part_number: String,
    /// How many of the unit are ordered, 1 to [`MOST_OF_A_LINE`]: what is sold is whole.
    pub quantity: u32,
    /// What is counted, as the supplier sells it: `pcs`, `m`, `roll`; never empty. No other unit is made of it.
    pub unit: String,
    /// What it is for, or how it was counted; may be empty.
    pub note: String,
    /// The liquid stands in it, so that its material and its highest pressure have to be asked for.
    pub is_wetted: bool,
}

/// The largest quantity of a line: beyond it somebody has typed a part number.
pub const MOST_OF_A_LINE: u32 = 100_000;

/// What is counted unless somebody says otherwise.
pub const USUAL_UNIT: &str = "pcs";

impl AddedLine {
    /// One piece of something.
    pub fn new(description: impl Into<String>) -> Self {
        Self {
            description: description.into(),
            part_number: String::new(),
            quantity: 1,
            unit: USUAL_UNIT.to_owned(),
            note: String::new(),
            is_wetted: false,
        }
    }

    /// Two lines of one project must not be of the same thing: same description and same part number.
    pub fn is_of_same(&self, other: &Self) -> bool {
        self.description.trim() == other.description.trim()
            && self.part_number.trim() == other.part_number.trim()
    }
}

/// Lines with those of another project behind them that are not there yet; what is there keeps its quantity.
#[must_use]
pub fn with_lines_of(here: &[AddedLine], other: &[AddedLine]) -> Vec<AddedLine> {
    let mut all = here.to_vec();
    for line in other {
        if !all.iter().any(|one| one.is_of_same(line)) {
            all.push(line.clone());
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_another_project_come_behind_and_change_none_that_is_there() {
        let bracket = |quantity| AddedLine { quantity, ..AddedLine::new("Bracket") };
        let here = [bracket(6), AddedLine::new("Tank valve")];
        let other_number = AddedLine { part_number: "B-2".to_owned(), ..bracket(1) };
        let both = with_lines_of(&here, &[bracket(2), other_number.clone(), AddedLine::new("Ties")]);
        assert_eq!(both, [bracket(6), AddedLine::new("Tank valve"), other_number, AddedLine::new("Ties")]);
        assert_eq!(with_lines_of(&both, &both), both);
    }
}
