//! Carrying what is known with an uncertainty: edges, a set point, a whole band.
//!
//! Two things make a carried temperature uncertain: that it was uncertain before, and that the heat share is not known. The
//! first is each temperature's own; the second is *one* unknown for all of them. Both ends of a band therefore move together,
//! and the width of a carried band is much better known than where it lies.

use super::equivalent::line;
use super::{Conditions, Dwell, HeatError, HeatShare};
use crate::quantity::{Temperature, TemperatureDifference};

/// A temperature and how well it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Its mean.
    pub mean: Temperature,
    /// Its standard deviation; zero for a temperature that somebody chose.
    pub sd: TemperatureDifference,
}

/// Temperatures carried with the same unit, and how they hang together.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    values: Vec<Known>,
    /// For each value, how far each heat share takes it from its mean, in kelvin.
    shared: Vec<Vec<f64>>,
    weights: Vec<f64>,
}

/// Carries temperatures from one sheet temperature and speed to another, with what is known of the unit's heat share: pairs of a
/// share and its probability ([`ChartSettings::heat_shares`] for a unit that nothing is known of, its history's
/// otherwise). Independent before, they are correlated after.
///
/// For each share φ the map is linear, T₂ = a(φ) + b(φ)·T₁; mean and variance over φ follow exactly:
/// Var T₂ = E\[b²\]·Var T₁ + Var(a + b·E T₁), and the last term, common to all, is their covariance.
///
/// # Errors
/// [`HeatError::DwellTooLong`] when the nozzle stays over the sheet too long at either speed;
/// [`HeatError::ShareOutOfRange`] when no share has a probability above zero; [`HeatError::NotPositive`].
///
/// [`ChartSettings::heat_shares`]: crate::drift::ChartSettings::heat_shares
///
/// ```
/// use lapwatch_domain::drift::ChartSettings;
/// use lapwatch_domain::heat::{Conditions, Dwell, Known, carry_together};
/// use lapwatch_domain::quantity::{Quantity, TemperatureDifferenceUnit, parse};
/// let warm = Conditions { sheet: parse(35.0, "Cel")?, speed: parse(3.05, "m/min")? };
/// let cold = Conditions { sheet: parse(5.0, "Cel")?, ..warm };
/// let dwell = Dwell { heated: parse(25.0, "mm")?, thickness: parse(1.2, "mm")? };
/// let end = |celsius| Known { mean: parse(celsius, "Cel").unwrap(), sd: parse(6.0, "K").unwrap() };
/// let shares = ChartSettings::default().heat_shares;
/// let band = carry_together(&[end(430.0), end(480.0)], warm, cold, &shares, dwell)?;
/// // Some 80 °C hotter, not known to better than 16 °C; but the band is as wide as it was, and that is known.
/// let low = band.values()[0];
/// assert!(low.mean > parse(500.0, "Cel")? && low.sd > parse(12.0, "K")?);
/// let (width, sd) = band.apart(0, 1);
/// assert!((width.value_in(TemperatureDifferenceUnit::Kelvin) - 50.0).abs() < 1e-9 && sd < parse(9.0, "K")?);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn carry_together(
    known: &[Known],
    from: Conditions,
    to: Conditions,
    shares: &[(HeatShare, f64)],
    dwell: Dwell,
) -> Result<Together, HeatError> {
    dwell.check(from.speed)?;
    dwell.check(to.speed)?;
    let total: f64 = shares.iter().map(|(_, weight)| weight).sum();
    if !(total > 0.0 && total.is_finite()) {
        return Err(HeatError::ShareOutOfRange);
    }
    let weights: Vec<f64> = shares.iter().map(|(_, weight)| weight / total).collect();
    let lines: Vec<(f64, f64)> = shares.iter().map(|(share, _)| line(from, to, *share)).collect();
    let average = |of: &dyn Fn(usize) -> f64| -> f64 { (0..lines.len()).map(|n| weights[n] * of(n)).sum() };
    let stretch = average(&|n| lines[n].1 * lines[n].1);
    let (mut values, mut shared) = (Vec::new(), Vec::new());
    for item in known {
        let carried = |n: usize| lines[n].0 + lines[n].1 * item.mean.celsius();
        let mean = average(&carried);
        let away: Vec<f64> = (0..lines.len()).map(|n| carried(n) - mean).collect();
        let variance = stretch * item.sd.kelvin() * item.sd.kelvin() + average(&|n| away[n] * away[n]);
        values.push(Known {
            mean: Temperature::from_celsius(mean),
            sd: TemperatureDifference::from_kelvin(variance.sqrt()),
        });
        shared.push(away);
    }
    Ok(Together { values, shared, weights })
}

impl Together {
    /// The carried temperatures, in the order given.
    #[must_use]
    pub fn values(&self) -> &[Known] {
        &self.values
    }

    /// Correlation of two of them, −1 to 1; zero when either is known exactly.
    ///
    /// # Panics
    /// When there are not so many.
    #[must_use]
    pub fn correlation(&self, first: usize, second: usize) -> f64 {
        let scale = self.values[first].sd.kelvin() * self.values[second].sd.kelvin();
        match (scale > 0.0, first == second) {
            (true, true) => 1.0,
            (true, false) => self.covariance(first, second) / scale,
            (false, _) => 0.0,
        }
    }

    /// How far the second lies above the first, with the standard deviation of that: for the ends of a band, its width.
    ///
    /// # Panics
    /// When there are not so many.
    #[must_use]
    pub fn apart(&self, first: usize, second: usize) -> (TemperatureDifference, TemperatureDifference) {
        let [a, b] = [first, second].map(|index| self.values[index]);
        let variance = |known: Known| known.sd.kelvin() * known.sd.kelvin();
        let left = if first == second {
            0.0
        } else {
            variance(a) + variance(b) - 2.0 * self.covariance(first, second)
        };
        (b.mean - a.mean, TemperatureDifference::from_kelvin(left.max(0.0).sqrt()))
    }

    /// Covariance of two different ones, in K².
    fn covariance(&self, first: usize, second: usize) -> f64 {
        let pairs = self.shared[first].iter().zip(&self.shared[second]);
        pairs.zip(&self.weights).map(|((a, b), weight)| weight * a * b).sum()
    }
}
