//! What a rule is: its name, what it looks for, and the function that looks.

use super::context::Context;
use super::finding::Finding;

/// One rule.
pub struct Rule {
    /// Short and stable: what its findings are known by.
    pub name: &'static str,
    /// What it looks for and why, for the manual.
    pub about: &'static str,
    /// What it says can change with the ground speed; what the plan or the liquid alone decides is looked at once.
    pub by_speed: bool,
    /// The rule itself.
    pub check: fn(&Context) -> Vec<Finding>,
}
