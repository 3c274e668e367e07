//! Why a network has no solution.

use petgraph::graph::EdgeIndex;

use super::super::network::Rejection;

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq)]
pub enum Failure {
    /// The network can't be asked to be solved; says why and where.
    Rejected(Rejection),
    /// The solver did not settle; names the link that is furthest from satisfied.
    NotSettled {
        /// The link to blame.
        link: Option<EdgeIndex>,
        /// Where, what, and what to try.
        message: String,
    },
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Rejected(rejection) => rejection.fmt(f),
            Self::NotSettled { message, .. } => f.write_str(message),
        }
    }
}

impl std::error::Error for Failure {}

impl From<Rejection> for Failure {
    fn from(rejection: Rejection) -> Self {
        Self::Rejected(rejection)
    }
}
