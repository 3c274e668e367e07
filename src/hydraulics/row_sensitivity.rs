//! How the flows of all rows answer to single numbers: the derivatives of [`variation`](super::variation) for rows alone, at
//! the price that a study with many numbers can pay in every frame.

use super::outcome::Outcome;
use super::prepared::PreparedRouting;
use super::variation::Parameter;
use crate::plan::OperatingPoint;
use petgraph::graph::EdgeIndex;

/// Derivatives of all rows by several numbers.
#[derive(Debug, Clone)]
pub struct RowSensitivities {
    /// For each number, in the order asked for, the derivative of each row's flow by it, in the bar's order, m³/s for each
    /// SI unit; the mean of both sides where a valve opens or the supply changes over. None for a number that is not there.
    pub by_number: Vec<Option<Vec<f64>>>,
    /// The values of the numbers, SI.
    pub values: Vec<Option<f64>>,
}

impl PreparedRouting<'_> {
    /// Solves it at an operating point and gives the derivatives of its rows by these numbers. Where there is no solution,
    /// the outcome that says why.
    pub fn row_sensitivities(
        &mut self,
        point: &OperatingPoint,
        parameters: &[Parameter],
    ) -> Result<(Outcome, RowSensitivities), Box<Outcome>> {
        let (outcome, mut linearised) = self.linearised(point)?;
        let links: Vec<EdgeIndex> =
            self.assembly.rows.iter().flat_map(|row| row.last_links.iter().copied()).collect();
        let counts: Vec<usize> = self.assembly.rows.iter().map(|row| row.last_links.len()).collect();
        let mut all = RowSensitivities { by_number: Vec::new(), values: Vec::new() };
        for parameter in parameters {
            let value = self.value(*parameter, point);
            let change = value.and_then(|value| self.change(*parameter, value, point));
            all.values.push(value);
            all.by_number.push(change.map(|change| {
                let flows = linearised.link_flows(&change, &links);
                let mut rest = flows.as_slice();
                let row = |count: &usize| {
                    let (own, others) = rest.split_at(*count);
                    rest = others;
                    own.iter().sum()
                };
                counts.iter().map(row).collect()
            }));
        }
        Ok((outcome, all))
    }
}
