//! The little linear algebra of a fit: dense vectors and matrices of the size of its parameters.

/// How many parameters a fit has; `parameters` says which.
pub(crate) const N: usize = 18;

pub(crate) type Vector = [f64; N];
pub(crate) type Matrix = [[f64; N]; N];

pub(crate) const ZERO: Matrix = [[0.0; N]; N];

pub(crate) fn dot(a: &Vector, b: &Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// `matrix` · `vector`.
pub(crate) fn apply(matrix: &Matrix, vector: &Vector) -> Vector {
    matrix.each_ref().map(|row| dot(row, vector))
}

/// `matrix`ᵀ · `vector`.
pub(crate) fn apply_transposed(matrix: &Matrix, vector: &Vector) -> Vector {
    let mut out = [0.0; N];
    for (row, value) in matrix.iter().zip(vector) {
        for (out, entry) in out.iter_mut().zip(row) {
            *out += entry * value;
        }
    }
    out
}

/// Adds `scale` · `vector` `vector`ᵀ.
pub(crate) fn add_square(matrix: &mut Matrix, vector: &Vector, scale: f64) {
    for (row, a) in matrix.iter_mut().zip(vector) {
        for (entry, b) in row.iter_mut().zip(vector) {
            *entry += scale * a * b;
        }
    }
}

pub(crate) fn multiply(a: &Matrix, b: &Matrix) -> Matrix {
    a.each_ref().map(|row| apply_transposed(b, row))
}

pub(crate) fn transpose(matrix: &Matrix) -> Matrix {
    let mut out = ZERO;
    for (i, row) in matrix.iter().enumerate() {
        for (j, entry) in row.iter().enumerate() {
            out[j][i] = *entry;
        }
    }
    out
}

/// The lower triangle L of a positive semidefinite matrix, L Lᵀ = matrix; columns of what has no spread are zero.
pub(crate) fn cholesky(matrix: &Matrix) -> Matrix {
    // What is left of a variance by rounding alone counts as none.
    lower(matrix, |square, whole| if square <= 1e-13 * whole { 0.0 } else { square })
}

/// L with L Lᵀ = matrix, each pivot passed through `pivot` with the diagonal that it came from.
fn lower(matrix: &Matrix, pivot: impl Fn(f64, f64) -> f64) -> Matrix {
    let mut lower = ZERO;
    for j in 0..N {
        let above: f64 = lower[j][..j].iter().map(|entry| entry * entry).sum();
        let square = pivot(matrix[j][j] - above, matrix[j][j]);
        if square == 0.0 {
            continue;
        }
        lower[j][j] = square.sqrt();
        for i in j + 1..N {
            let above: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            lower[i][j] = (matrix[i][j] - above) / lower[j][j];
        }
    }
    lower
}

/// The inverse of the unit matrix plus a positive semidefinite one; `matrix` is that sum.
///
/// None of its pivots is below one, whatever rounding says, so nothing is divided by zero however sharp a reading claims to be.
pub(crate) fn inverse(matrix: &Matrix) -> Matrix {
    let lower = lower(matrix, |square, _| square.max(1.0));
    let mut out = ZERO;
    for column in 0..N {
        let mut x = [0.0; N];
        x[column] = 1.0;
        for i in 0..N {
            let known: f64 = (0..i).map(|k| lower[i][k] * x[k]).sum();
            x[i] = (x[i] - known) / lower[i][i];
        }
        for i in (0..N).rev() {
            let known: f64 = (i + 1..N).map(|k| lower[k][i] * x[k]).sum();
            x[i] = (x[i] - known) / lower[i][i];
        }
        for (row, value) in out.iter_mut().zip(x) {
            row[column] = value;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn example() -> Matrix {
        let mut matrix = ZERO;
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        for k in 0..5 {
            let vector: Vector = std::array::from_fn(|i| ((3 * i + 7 * k) as f64).sin());
            add_square(&mut matrix, &vector, 1.0);
        }
        matrix
    }

    #[test]
    fn a_matrix_times_its_inverse_is_one() {
        let matrix = example();
        let product = multiply(&matrix, &inverse(&matrix));
        for (i, row) in product.iter().enumerate() {
            for (j, entry) in row.iter().enumerate() {
                let expected = if i == j { 1.0 } else { 0.0 };
                assert!((entry - expected).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn cholesky_squares_back_also_where_a_row_has_no_spread() {
        let mut matrix = example();
        matrix[3] = [0.0; N];
        for row in &mut matrix {
            row[3] = 0.0;
        }
        let lower = cholesky(&matrix);
        let square = multiply(&lower, &transpose(&lower));
        for (row, expected) in square.iter().zip(&matrix) {
            for (entry, expected) in row.iter().zip(expected) {
                assert!((entry - expected).abs() < 1e-12);
            }
        }
    }
}
