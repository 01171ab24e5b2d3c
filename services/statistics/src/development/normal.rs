//! The normal distribution, and a quadrature over it that needs few nodes.

/// Nodes and weights of Gauss and Hermite with three nodes, for a standard normal (Abramowitz &
/// Stegun 25.4.46, rescaled).
pub const THREE: [(f64, f64); 3] = [(-1.732_050_807_568_877_2, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0)];

/// Probability below `z`.
#[must_use]
pub fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tables: 0.975 at 1.959964, 0.05 at -1.644854.
    #[test]
    fn it_is_that_of_the_tables() {
        assert!((below(1.959_964) - 0.975).abs() < 1e-7 && (below(-1.644_854) - 0.05).abs() < 1e-7);
        let (sum, square) = THREE.iter().fold((0.0, 0.0), |(sum, square), (z, weight)| (sum + weight, square + weight * z * z));
        assert!((sum - 1.0_f64).abs() < 1e-15 && (square - 1.0_f64).abs() < 1e-14, "weights 1, variance 1");
    }
}
