//! Cubic Hermite shape functions on an element, and their products integrated.
//!
//! The four unknowns of an element are deflection and slope at its clamp end, then at its tip end;
//! slopes are in units of deflection per element length, so that the tables are the same for all elements.

/// The unknowns of an element.
pub(crate) const ENDS: usize = 4;

/// Gauss points and weights for 0..1, five points, exact to degree nine (Abramowitz & Stegun table 25.4, n = 5, moved to 0..1).
const FIVE: [(f64, f64); 5] = [
    (0.046_910_077_030_668, 0.118_463_442_528_094_54),
    (0.230_765_344_947_158_45, 0.239_314_335_249_683_23),
    (0.5, 0.284_444_444_444_444_44),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_23),
    (0.953_089_922_969_332, 0.118_463_442_528_094_54),
];

/// The shape functions at a part of an element.
pub(crate) const fn shape(part: f64) -> [f64; ENDS] {
    let (square, cube) = (part * part, part * part * part);
    [
        1.0 - 3.0 * square + 2.0 * cube,
        part - 2.0 * square + cube,
        3.0 * square - 2.0 * cube,
        cube - square,
    ]
}

/// `MASS[k][i][j]` = ∫ ℓₖ Nᵢ Nⱼ over the element, ℓₖ being the quadratic Lagrange polynomial of the k-th of its three Gauss points:
/// the area is quadratic along an element, so that its mass matrix is exact.
pub(crate) const MASS: [[[f64; ENDS]; ENDS]; 3] = mass_table();

const fn mass_table() -> [[[f64; ENDS]; ENDS]; 3] {
    let nodes = crate::bend::GAUSS;
    let mut table = [[[0.0; ENDS]; ENDS]; 3];
    let mut point = 0;
    while point < 5 {
        let (part, weight) = FIVE[point];
        let functions = shape(part);
        let mut k = 0;
        while k < 3 {
            let (one, other) = (nodes[(k + 1) % 3], nodes[(k + 2) % 3]);
            let lagrange = (part - one) * (part - other) / ((nodes[k] - one) * (nodes[k] - other));
            let mut i = 0;
            while i < ENDS {
                let mut j = 0;
                while j < ENDS {
                    table[k][i][j] += weight * lagrange * functions[i] * functions[j];
                    j += 1;
                }
                i += 1;
            }
            k += 1;
        }
        point += 1;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_uniform_element_has_the_textbook_mass_matrix() {
        // Thomson, Theory of Vibration, ch. on finite elements: m L / 420 × [156 22 54 −13; 22 4 13 −3; 54 13 156 −22; −13 −3 −22 4].
        let expected = [
            [156.0, 22.0, 54.0, -13.0],
            [22.0, 4.0, 13.0, -3.0],
            [54.0, 13.0, 156.0, -22.0],
            [-13.0, -3.0, -22.0, 4.0],
        ];
        for i in 0..ENDS {
            for j in 0..ENDS {
                let sum: f64 = MASS.iter().map(|table| table[i][j]).sum();
                assert!((sum * 420.0 - expected[i][j]).abs() < 1e-10, "{i} {j} {sum}");
            }
        }
    }
}
