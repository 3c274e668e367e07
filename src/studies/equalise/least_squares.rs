//! A step of least squares: small dense systems, one unknown for each row of a bar.

/// The changes of the unknowns that make residuals least in the linear model, with the sum of the unknowns kept: the
/// solution of `min |r + J d|²` with `Σ d = 0` (normal equations of the Jacobian projected onto that plane, by Cholesky
/// factors; Golub and Van Loan, Matrix Computations, 5.3.2 and 4.2). `jacobian` has a row for each residual; unknowns that
/// nothing depends on stay. None where a number is not finite.
pub(super) fn step(jacobian: &[Vec<f64>], residuals: &[f64]) -> Option<Vec<f64>> {
    let unknowns = jacobian.first()?.len();
    let mut normal = vec![vec![0.0; unknowns]; unknowns];
    let mut right = vec![0.0; unknowns];
    for (row, residual) in jacobian.iter().zip(residuals) {
        let mean = row.iter().sum::<f64>() / unknowns as f64;
        let row: Vec<f64> = row.iter().map(|one| one - mean).collect();
        for ((line, of_line), sum) in normal.iter_mut().zip(&row).zip(&mut right) {
            if *of_line == 0.0 {
                continue;
            }
            for (entry, one) in line.iter_mut().zip(&row) {
                *entry += of_line * one;
            }
            *sum -= of_line * residual;
        }
    }
    if !normal.iter().flatten().chain(&right).all(|one| one.is_finite()) {
        return None;
    }
    let largest = (0..unknowns).map(|at| normal[at][at]).fold(0.0, f64::max);
    if !(largest > 0.0) {
        return Some(vec![0.0; unknowns]);
    }
    // Along the plane's normal nothing changes: a trace of weight keeps the factors from dividing by zero there.
    for at in 0..unknowns {
        normal[at][at] += 1e-12 * largest;
    }
    let factor = cholesky(normal)?;
    let mut change = right;
    for at in 0..unknowns {
        let known: f64 = (0..at).map(|before| factor[at][before] * change[before]).sum();
        change[at] = (change[at] - known) / factor[at][at];
    }
    for at in (0..unknowns).rev() {
        let known: f64 = (at + 1..unknowns).map(|behind| factor[behind][at] * change[behind]).sum();
        change[at] = (change[at] - known) / factor[at][at];
    }
    let mean = change.iter().sum::<f64>() / unknowns as f64;
    for one in &mut change {
        *one -= mean;
    }
    change.iter().all(|one| one.is_finite()).then_some(change)
}

/// The lower factor of a symmetric positive definite matrix; none where it is none.
fn cholesky(mut matrix: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    for at in 0..matrix.len() {
        for column in 0..=at {
            let sum: f64 = (0..column).map(|one| matrix[at][one] * matrix[column][one]).sum();
            let left = matrix[at][column] - sum;
            matrix[at][column] = if at == column {
                if !(left > 0.0) {
                    return None;
                }
                left.sqrt()
            } else {
                left / matrix[column][column]
            };
        }
    }
    Some(matrix)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: unknowns a, b with a + b = 0 make residuals 1 + a, -3 + b and 2 of least squares at a = -2, b = 2:
    /// (1 + a)² + (-3 - a)² has its least where 2 (1 + a) + 2 (3 + a) = 0.
    #[test]
    fn a_step_is_the_least_squares_solution_that_keeps_the_sum() {
        let found = step(&[vec![1.0, 0.0], vec![0.0, 1.0], vec![0.0, 0.0]], &[1.0, -3.0, 2.0]).unwrap();
        assert!((found[0] + 2.0).abs() < 1e-9 && (found[1] - 2.0).abs() < 1e-9, "{found:?}");
        assert_eq!(step(&[vec![0.0, 0.0]], &[1.0]), Some(vec![0.0, 0.0]), "nothing depends on them");
        assert_eq!(step(&[vec![f64::NAN, 0.0]], &[1.0]), None);
    }
}
