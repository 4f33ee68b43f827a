//! Several sessions of the same two readers.

use super::{Kappa, KappaError, PairedReadings};
use crate::numerics::{chi_square_tail, normal};

/// Agreement beyond chance over several sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct PooledKappa {
    /// Kappa of each session, in the order given, or why it has none.
    pub sessions: Vec<Result<Kappa, KappaError>>,
    /// How many sessions have a kappa.
    pub used: usize,
    /// How many strips were read in those.
    pub strips: usize,
    /// The mean of their kappas, weighted by their numbers of strips.
    pub value: f64,
    /// Its standard error. Sessions with perfect agreement come in with none, so that it is too small where there are
    /// many.
    pub standard_error: f64,
    /// Whether the sessions differ among each other by more than chance; absent with fewer than two sessions that have
    /// a standard error.
    pub differences: Option<Differences>,
}

/// A test of whether sessions differ (Fleiss, Levin and Paik, *Statistical Methods for Rates and Proportions*, 3rd
/// edition, ch. 18): Q = Σ (κₘ − κ̄)²/seₘ² with κ̄ their mean weighted by 1/seₘ².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Differences {
    /// Q.
    pub statistic: f64,
    /// The number of sessions with a standard error, less one.
    pub degrees_of_freedom: usize,
    /// How often sessions that do not differ give a Q at least as large, 0 to 1. Rough for sessions of a few dozen
    /// strips.
    pub probability: f64,
}

/// Pools sessions without mixing their strips.
///
/// Each session keeps its own agreement by chance. Their kappas are weighted by their numbers of strips, which a
/// simulation found good under most conditions (Barlow, Lai and Azen, *A comparison of methods for calculating a
/// stratified kappa*, Statistics in Medicine 10, 1991); weights by precision would give everything to sessions that
/// happen to agree perfectly.
///
/// ```
/// use lapwatch_domain::acceptance::Reading::{Cold, Sound};
/// use lapwatch_domain::readers::{PairedReadings, pool};
/// let spring: PairedReadings = [(Cold, Cold), (Sound, Sound), (Cold, Sound), (Sound, Sound)].into_iter().collect();
/// let summer: PairedReadings = [(Cold, Cold), (Sound, Sound)].into_iter().collect();
/// let dull: PairedReadings = [(Sound, Sound), (Sound, Sound)].into_iter().collect();
/// let pooled = pool(&[spring, summer, dull])?;
/// assert_eq!((pooled.used, pooled.strips), (2, 6));
/// assert!((pooled.value - (4.0 * 0.5 + 2.0 * 1.0) / 6.0).abs() < 1e-12);
/// assert_eq!(pooled.sessions[2].unwrap_err().code(), "one_reading");
/// # Ok::<(), lapwatch_domain::readers::KappaError>(())
/// ```
///
/// # Errors
/// When no session has a kappa: the reason of the first session with strips, and [`KappaError::NoStrips`] when none
/// has any.
pub fn pool(sessions: &[PairedReadings]) -> Result<PooledKappa, KappaError> {
    let each: Vec<Result<Kappa, KappaError>> = sessions.iter().map(PairedReadings::kappa).collect();
    let found: Vec<Kappa> = each.iter().filter_map(|session| session.ok()).collect();
    if found.is_empty() {
        let reasons = each.iter().filter_map(|session| session.err());
        let telling = reasons.into_iter().find(|reason| *reason != KappaError::NoStrips);
        return Err(telling.unwrap_or(KappaError::NoStrips));
    }
    let strips: usize = found.iter().map(|kappa| kappa.strips).sum();
    let weight = |kappa: &Kappa| kappa.strips as f64 / strips as f64;
    let variance: f64 = found.iter().map(|kappa| (weight(kappa) * kappa.standard_error).powi(2)).sum();
    Ok(PooledKappa {
        used: found.len(),
        strips,
        value: found.iter().map(|kappa| weight(kappa) * kappa.value).sum(),
        standard_error: variance.sqrt(),
        differences: differences(&found),
        sessions: each,
    })
}

fn differences(found: &[Kappa]) -> Option<Differences> {
    let known: Vec<&Kappa> = found.iter().filter(|kappa| kappa.standard_error > 0.0).collect();
    let degrees_of_freedom = known.len().checked_sub(1).filter(|degrees| *degrees > 0)?;
    let precision = |kappa: &Kappa| kappa.standard_error.powi(-2);
    let total: f64 = known.iter().map(|kappa| precision(kappa)).sum();
    let mean = known.iter().map(|kappa| precision(kappa) * kappa.value).sum::<f64>() / total;
    let statistic = known.iter().map(|kappa| precision(kappa) * (kappa.value - mean).powi(2)).sum();
    let probability = chi_square_tail(statistic, degrees_of_freedom);
    Some(Differences { statistic, degrees_of_freedom, probability })
}

impl PooledKappa {
    /// The interval at the confidence `level`, held within −1 to 1; `None` as for [`Kappa::interval`].
    #[must_use]
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        if !(level > 0.0 && level < 1.0) || self.standard_error == 0.0 {
            return None;
        }
        let reach = normal::quantile(0.5 + 0.5 * level) * self.standard_error;
        Some(((self.value - reach).max(-1.0), (self.value + reach).min(1.0)))
    }
}
