//! Small dense linear algebra on packed lower triangles; the only file that names nalgebra.

use nalgebra::DMatrix;

/// Place of entry (i, j) in a lower triangle packed by rows.
#[inline]
pub const fn packed(i: usize, j: usize) -> usize {
    let (i, j) = if i < j { (j, i) } else { (i, j) };
    i * (i + 1) / 2 + j
}

fn full(lower: &[f64], n: usize) -> DMatrix<f64> {
    DMatrix::from_fn(n, n, |i, j| lower.get(packed(i, j)).copied().unwrap_or(f64::NAN))
}

/// Solves A x = b for a symmetric positive definite A; none if A is not positive definite.
///
/// # Arguments
/// `lower`: A as a lower triangle packed by rows, `(n (n + 1) / 2,)`; `b`: `(n,)`.
pub fn solve(lower: &[f64], b: &[f64]) -> Option<Vec<f64>> {
    let n = b.len();
    if !lower.iter().chain(b).all(|v| v.is_finite()) {
        return None;
    }
    let x = full(lower, n).cholesky()?.solve(&nalgebra::DVector::from_column_slice(b));
    x.iter().all(|v| v.is_finite()).then(|| x.iter().copied().collect())
}

/// Solves A x = b for any square A; none if A has no inverse.
///
/// # Arguments
/// `rows`: A by rows, `(n n,)`; `b`: `(n,)`.
pub fn solve_any(rows: &[f64], b: &[f64]) -> Option<Vec<f64>> {
    let n = b.len();
    if rows.len() != n * n || !rows.iter().chain(b).all(|v| v.is_finite()) {
        return None;
    }
    let x = DMatrix::from_row_slice(n, n, rows).lu().solve(&nalgebra::DVector::from_column_slice(b))?;
    x.iter().all(|v| v.is_finite()).then(|| x.iter().copied().collect())
}

/// The inverse of a symmetric positive definite matrix, packed as given; none if it is not positive definite.
pub fn inverse(lower: &[f64], n: usize) -> Option<Vec<f64>> {
    if !lower.iter().all(|v| v.is_finite()) {
        return None;
    }
    let inverse = full(lower, n).cholesky()?.inverse();
    let mut out = Vec::with_capacity(lower.len());
    for i in 0..n {
        out.extend((0..=i).map(|j| inverse[(i, j)]));
    }
    out.iter().all(|v| v.is_finite()).then_some(out)
}

/// The lower triangle L with L L' = A, packed as given; none if A is not positive definite.
pub fn root(lower: &[f64], n: usize) -> Option<Vec<f64>> {
    if !lower.iter().all(|v| v.is_finite()) {
        return None;
    }
    let l = full(lower, n).cholesky()?.l();
    Some((0..n).flat_map(|i| (0..=i).map(move |j| (i, j))).map(|at| l[at]).collect())
}

/// Eigenvalues of a symmetric matrix, ascending; none if an entry is not finite.
pub fn eigenvalues(lower: &[f64], n: usize) -> Option<Vec<f64>> {
    if !lower.iter().all(|v| v.is_finite()) {
        return None;
    }
    let mut values: Vec<f64> = full(lower, n).symmetric_eigenvalues().iter().copied().collect();
    values.sort_by(f64::total_cmp);
    Some(values)
}

/// u' V+ u for a symmetric V that may be singular, and the rank used: directions whose eigenvalue is below
/// `least` times the largest are left out.
pub fn quadratic_form(lower: &[f64], u: &[f64], least: f64) -> Option<(f64, usize)> {
    if !lower.iter().chain(u).all(|v| v.is_finite()) {
        return None;
    }
    let eigen = full(lower, u.len()).symmetric_eigen();
    let largest = eigen.eigenvalues.iter().fold(0.0, |m: f64, v| m.max(*v));
    let (mut total, mut rank) = (0.0, 0);
    for (value, vector) in eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter()) {
        if *value > least * largest {
            let along: f64 = vector.iter().zip(u).map(|(a, b)| a * b).sum();
            total += along * along / value;
            rank += 1;
        }
    }
    Some((total, rank))
}

/// Rows w with sum of w w' = V+ for a symmetric V that may be singular, one for each direction whose eigenvalue is not below
/// `least` times the largest; none if an entry is not finite.
pub fn whitening(lower: &[f64], n: usize, least: f64) -> Option<Vec<Vec<f64>>> {
    if !lower.iter().all(|v| v.is_finite()) {
        return None;
    }
    let eigen = full(lower, n).symmetric_eigen();
    let largest = eigen.eigenvalues.iter().fold(0.0, |m: f64, v| m.max(*v));
    let each = eigen.eigenvalues.iter().zip(eigen.eigenvectors.column_iter());
    let kept = each.filter(|(value, _)| **value > least * largest);
    Some(kept.map(|(value, vector)| vector.iter().map(|v| v / value.sqrt()).collect()).collect())
}

/// The direction, of length 1, in which a symmetric matrix with its diagonal scaled to 1 is smallest; none where an entry of
/// the diagonal is not above 0.
pub fn flattest(lower: &[f64], n: usize) -> Option<Vec<f64>> {
    let diagonal: Vec<f64> = (0..n).filter_map(|i| lower.get(packed(i, i)).map(|d| d.sqrt())).collect();
    if diagonal.len() != n || !diagonal.iter().all(|d| *d > 0.0) || !lower.iter().all(|v| v.is_finite()) {
        return None;
    }
    let mut scaled = lower.to_vec();
    for i in 0..n {
        for j in 0..=i {
            if let (Some(v), Some(a), Some(b)) = (scaled.get_mut(packed(i, j)), diagonal.get(i), diagonal.get(j)) {
                *v /= a * b;
            }
        }
    }
    let eigen = full(&scaled, n).symmetric_eigen();
    let least = eigen.eigenvalues.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1))?.0;
    Some(eigen.eigenvectors.column(least).iter().copied().collect())
}

/// Condition of a positive definite matrix after scaling its diagonal to 1, so that units do not
/// matter; infinite if it is not positive definite.
pub fn scaled_condition(lower: &[f64], n: usize) -> f64 {
    let diagonal: Vec<f64> = (0..n).filter_map(|i| lower.get(packed(i, i)).copied()).collect();
    if diagonal.len() != n || !diagonal.iter().all(|d| *d > 0.0) {
        return f64::INFINITY;
    }
    let mut scaled = lower.to_vec();
    for i in 0..n {
        for j in 0..=i {
            if let (Some(v), Some(a), Some(b)) = (scaled.get_mut(packed(i, j)), diagonal.get(i), diagonal.get(j)) {
                *v /= a.sqrt() * b.sqrt();
            }
        }
    }
    match eigenvalues(&scaled, n).as_deref() {
        Some([]) => 1.0,
        Some([least, .., most]) if *least > 0.0 => most / least,
        Some([only]) if *only > 0.0 => 1.0,
        _ => f64::INFINITY,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // A = [[4, 2], [2, 3]]: inverse [[3, -2], [-2, 4]] / 8, by hand.
    const A: [f64; 3] = [4.0, 2.0, 3.0];

    #[test]
    fn two_by_two_by_hand() {
        let x = solve(&A, &[8.0, 8.0]).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-15 && (x[1] - 2.0).abs() < 1e-15);
        let inv = inverse(&A, 2).unwrap();
        for (got, want) in inv.iter().zip([0.375, -0.25, 0.5]) {
            assert!((got - want).abs() < 1e-15);
        }
        let eig = eigenvalues(&A, 2).unwrap();
        assert!((eig[0] + eig[1] - 7.0).abs() < 1e-13 && (eig[0] * eig[1] - 8.0).abs() < 1e-13);
    }

    #[test]
    fn the_flattest_direction_is_that_of_the_smallest_eigenvalue() {
        // Scaled to [[1, c], [c, 1]] with c = 2 / sqrt 12 above 0: the smaller, 1 - c, along (1, -1) / sqrt 2.
        let v = flattest(&A, 2).unwrap();
        assert!((v[0] + v[1]).abs() < 1e-12 && (v[0].abs() - 0.5f64.sqrt()).abs() < 1e-12, "{v:?}");
        assert!(flattest(&[1.0, 0.0, 0.0], 2).is_none() && flattest(&[f64::NAN], 1).is_none());
    }

    #[test]
    fn indefinite_and_not_finite_are_told() {
        assert!(solve(&[1.0, 2.0, 1.0], &[1.0, 1.0]).is_none());
        assert!(inverse(&[1.0, f64::NAN, 1.0], 2).is_none());
        assert_eq!(scaled_condition(&[1.0, 2.0, 1.0], 2), f64::INFINITY);
    }

    #[test]
    fn quadratic_form_leaves_out_empty_directions() {
        // u' A^-1 u = [8, 8] . [1, 2] = 24 by hand; and a rank-one matrix 2 on (1, 1) / sqrt 2.
        let (q, rank) = quadratic_form(&A, &[8.0, 8.0], 1e-9).unwrap();
        assert!((q - 24.0).abs() < 1e-12 && rank == 2);
        let (q, rank) = quadratic_form(&[1.0, 1.0, 1.0], &[3.0, 3.0], 1e-9).unwrap();
        assert!((q - 9.0).abs() < 1e-12 && rank == 1);
    }

    #[test]
    fn whitening_makes_the_quadratic_form() {
        // As above, 24; and 1 direction of a rank-one matrix.
        let along = |w: &Vec<f64>| w.iter().map(|w| 8.0 * w).sum::<f64>().powi(2);
        let rows = whitening(&A, 2, 1e-9).unwrap();
        assert!((rows.iter().map(along).sum::<f64>() - 24.0).abs() < 1e-12);
        assert_eq!(whitening(&[1.0, 1.0, 1.0], 2, 1e-9).unwrap().len(), 1);
    }

    #[test]
    fn condition_does_not_depend_on_units() {
        let a = scaled_condition(&[4.0, 2.0, 3.0], 2);
        let b = scaled_condition(&[4.0e12, 2.0e6, 3.0], 2);
        assert!((a - b).abs() < 1e-9 * a);
    }
}
