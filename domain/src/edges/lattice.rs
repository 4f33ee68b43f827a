//! Lattices of every 1st, 2nd, 4th, … degree, for functions that are smooth on that scale.
//!
//! Each lattice reaches a few places beyond the grid on both sides, so that interpolation is centred everywhere.

/// How many levels there are: spacings of 1, 2, 4, 8 and 16 degrees.
pub(super) const LEVELS: usize = 5;
/// Places of every lattice below its degree 0 and above its last degree.
const BEYOND: usize = 4;
/// Weights of the eight neighbours of a midpoint, one side (Lagrange interpolation of degree 7). They sum to 1/2, so
/// that sums are kept, and reproduce polynomials up to degree 7, so that moments are kept too.
const MIDPOINT: [f64; 4] = [1225.0 / 2048.0, -245.0 / 2048.0, 49.0 / 2048.0, -5.0 / 2048.0];

/// A lattice with a spacing of 2 to the power of its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Level(pub(super) usize);

impl Level {
    /// The coarsest lattice with at most this spacing; single degrees if none has.
    pub(super) fn for_spacing(degrees: f64) -> Self {
        Self((1..LEVELS).rev().find(|level| degrees >= f64::from(1 << level)).unwrap_or(0))
    }

    /// Distance between its places, in degrees.
    pub(super) fn spacing(self) -> f64 {
        f64::from(1 << self.0)
    }

    /// How many places it has for a grid of `points` degrees.
    pub(super) fn len(self, points: usize) -> usize {
        ((points - 1) >> self.0) + 2 + 2 * BEYOND
    }

    /// The degree at a place, counted from the start of the grid; negative before it.
    pub(super) fn degree(self, place: usize) -> f64 {
        (place as f64 - BEYOND as f64) * self.spacing()
    }

    /// The places that lie inside a grid of `points` degrees.
    pub(super) fn inside(self, points: usize) -> std::ops::Range<usize> {
        BEYOND..BEYOND + ((points - 1) >> self.0) + 1
    }

    /// The place nearest to a degree.
    pub(super) fn nearest(self, degree: f64, points: usize) -> usize {
        ((degree / self.spacing()).max(0.0).round() as usize + BEYOND).min(self.len(points) - 1)
    }
}

/// Sums lattices of all levels into the values at single degrees.
pub(super) fn to_single_degrees(levels: Vec<Vec<f64>>, points: usize) -> Vec<f64> {
    let mut sums = levels.into_iter().rev();
    let mut coarse = sums.next().unwrap_or_default();
    for mut fine in sums {
        add_refined(&coarse, &mut fine);
        coarse = fine;
    }
    coarse[BEYOND..BEYOND + points].iter().map(|value| value.max(0.0)).collect()
}

/// Adds a lattice to that of half its spacing.
fn add_refined(coarse: &[f64], fine: &mut [f64]) {
    let at = |place: usize| coarse.get(place).copied().unwrap_or(0.0);
    for (index, sum) in fine.iter_mut().enumerate() {
        // Place `index` of the fine lattice lies at degree `index − BEYOND`, in units of its spacing.
        let twice = index + BEYOND;
        let below = twice / 2;
        *sum += if twice.is_multiple_of(2) {
            at(below)
        } else {
            let pairs = MIDPOINT.iter().enumerate();
            pairs.map(|(k, w)| w * (below.checked_sub(k).map_or(0.0, at) + at(below + 1 + k))).sum()
        };
    }
}

/// Part of a lattice, `values` from the place `first` on, brought to half its spacing: the first place there, and the values.
pub(super) fn refined(level: Level, first: usize, values: &[f64], points: usize) -> (usize, Vec<f64>) {
    let mut coarse = vec![0.0; level.len(points)];
    coarse[first..first + values.len()].copy_from_slice(values);
    let finer = Level(level.0 - 1);
    let mut fine = vec![0.0; finer.len(points)];
    add_refined(&coarse, &mut fine);
    // Interpolation may overshoot below zero beside a steep flank.
    fine.iter_mut().for_each(|value| *value = value.max(0.0));
    (0, fine)
}

/// For each level, what each of its places contributes to the sum over the single degrees of the grid: its spacing
/// inside, less towards the ends.
pub(super) fn sum_weights(points: usize) -> Vec<Vec<f64>> {
    let mut fine = vec![0.0; Level(0).len(points)];
    fine[BEYOND..BEYOND + points].fill(1.0);
    let mut all = vec![fine];
    for level in 1..LEVELS {
        let mut coarse = vec![0.0; Level(level).len(points)];
        spread(&all[level - 1], &mut coarse);
        all.push(coarse);
    }
    all
}

/// The transpose of [`add_refined`].
fn spread(fine: &[f64], coarse: &mut [f64]) {
    let mut add = |place: Option<usize>, weight: f64| {
        if let Some(sum) = place.and_then(|place| coarse.get_mut(place)) {
            *sum += weight;
        }
    };
    for (index, weight) in fine.iter().enumerate() {
        let twice = index + BEYOND;
        let below = twice / 2;
        if twice.is_multiple_of(2) {
            add(Some(below), *weight);
        } else {
            for (k, w) in MIDPOINT.iter().enumerate() {
                add(below.checked_sub(k), w * weight);
                add(Some(below + 1 + k), w * weight);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smooth_functions_survive_the_way_from_every_level() {
        let points = 371;
        for level in 0..LEVELS {
            let width = 3.0 * Level(level).spacing();
            let bell = |degree: f64| (-0.5 * ((degree - 203.3) / width).powi(2)).exp();
            let levels = (0..LEVELS)
                .map(|other| {
                    let places = 0..Level(other).len(points);
                    places
                        .map(|place| if other == level { bell(Level(other).degree(place)) } else { 0.0 })
                        .collect()
                })
                .collect();
            let single = to_single_degrees(levels, points);
            assert_eq!(single.len(), points);
            for (degree, value) in single.iter().enumerate() {
                let exact = bell(degree as f64);
                assert!((value - exact).abs() < 3e-5, "level {level}, {degree}: {value} for {exact}");
            }
        }
    }

    /// Also where the function is cut off by the ends of the grid.
    #[test]
    fn sums_over_a_lattice_are_sums_over_single_degrees() {
        let points = 203;
        for (level, weights) in sum_weights(points).iter().enumerate() {
            let width = 4.0 * Level(level).spacing();
            let bell = |degree: f64| (-0.5 * ((degree - 190.3) / width).powi(2)).exp();
            let exact: f64 = (0..points).map(|degree| bell(degree as f64)).sum();
            let sum: f64 = weights.iter().enumerate().map(|(p, w)| w * bell(Level(level).degree(p))).sum();
            assert!((sum / exact - 1.0).abs() < 1e-5, "level {level}: {sum} for {exact}");
        }
    }

    #[test]
    fn the_coarsest_fitting_level_is_taken() {
        for (spacing, level) in [(0.1, 0), (1.9, 0), (2.0, 1), (7.9, 2), (16.0, 4), (1e9, 4)] {
            assert_eq!(Level::for_spacing(spacing), Level(level));
        }
    }
}
