//! What the charts are told.

use crate::heat::HeatShare;
use crate::membrane::MaterialClass;
use crate::quantity::TemperatureDifference;

/// How a unit is charted. The defaults are those of a new fleet; a fleet's own fit may replace noise and heat share.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartSettings {
    /// The promise: a healthy unit raises a false alarm once in so many of its trials on average, over *all* its charts.
    /// About two years of daily trials.
    pub promise_arl: f64,
    /// The lower edge's share of that promise, from 0 to 1 exclusive; the upper edge has the rest. Each edge divides its
    /// share evenly between rising and falling.
    pub lower_share: f64,
    /// δ: the shift that the charts look for soonest, about one standard deviation of one edge-finding trial.
    pub shift: TemperatureDifference,
    /// τ: standard deviation of an edge from trial to trial at the same conditions.
    pub trial_noise: TemperatureDifference,
    /// Standard deviation with which one edge-finding trial alone knows an edge; sets what one *effective trial* is.
    pub edge_finding_sd: TemperatureDifference,
    /// The heat shares considered, rising, with the probability of each before the first trial.
    pub heat_shares: Vec<(HeatShare, f64)>,
    /// The same for the material classes of which a fleet's fit tells more ([`crate::fleet::Surface::chart_shares`]).
    /// Any other class starts from [`ChartSettings::heat_shares`].
    pub class_heat_shares: Vec<(MaterialClass, Vec<(HeatShare, f64)>)>,
    /// Standard deviation of the sheet's temperature about 20 °C where a trial does not say it. Such an error has a
    /// season, so it does not average out over the trials of one; this number is therefore larger than any day's error.
    pub unknown_sheet_sd: TemperatureDifference,
    /// Probability that a trial is about something else than its label says (strips mixed up, another machine). Bounds
    /// what one wild trial can do to a chart.
    pub stray_share: f64,
    /// Effective trials after which the baseline stands still, or some day a slow fade would be learned too. A baseline that
    /// stops early keeps its error for ever and pays for it in false alarms: in simulations of fleets that only make
    /// edge-finding trials, stopping at 30 doubled their number against stopping at 250, and found a fade of .02 standard
    /// deviations a trial in 40 trials instead of 44.
    pub baseline_trials: f64,
    /// Effective trials below which an edge is called "still learning".
    pub learning_trials: f64,
    /// The first trial at which a chart may signal, counted since its last restart.
    pub first_speaking_trial: u32,
    /// What is assumed of the rate of a fade before its trials tell; a fleet's fit may say ([`crate::fleet::Fades`]).
    pub fade_rate: FadeRate,
}

/// A normal law of the logarithm of the change in a day, K, of an edge that goes on moving.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FadeRate {
    /// Mean of the logarithm.
    pub ln_mean: f64,
    /// Its standard deviation.
    pub ln_sd: f64,
}

impl FadeRate {
    /// The law's density at the logarithm of a rate.
    pub(crate) fn density(self, ln_rate: f64) -> f64 {
        libm::exp(-0.5 * ((ln_rate - self.ln_mean) / self.ln_sd).powi(2)) / self.ln_sd
    }
}

impl Default for FadeRate {
    /// About .5 K a day, give or take a factor of three (common experience, no source).
    fn default() -> Self {
        Self { ln_mean: -0.7, ln_sd: 1.1 }
    }
}

impl ChartSettings {
    /// Nodes of the heat share.
    const HEAT_SHARE_NODES: usize = 9;

    /// The heat shares from which charts of this class start.
    #[must_use]
    pub fn shares_of(&self, class: MaterialClass) -> &[(HeatShare, f64)] {
        let own = self.class_heat_shares.iter().find(|(own, _)| *own == class);
        own.map_or(&self.heat_shares, |(_, shares)| shares)
    }

    /// Heat shares from .18 to .40 with a normal prior about `mean` (a ratio), standard deviation `sd`.
    ///
    /// They are spaced evenly in 1/φ, because the effect of the sheet's temperature, 1 − 1/φ, is linear in that.
    #[must_use]
    pub fn heat_shares_about(mean: f64, sd: f64) -> Vec<(HeatShare, f64)> {
        let (high, low) = (HeatShare::HIGHEST.recip(), HeatShare::LOWEST.recip());
        let step = (low - high) / (Self::HEAT_SHARE_NODES - 1) as f64;
        let mut nodes: Vec<(HeatShare, f64)> = (0..Self::HEAT_SHARE_NODES)
            .rev()
            .filter_map(|node| {
                let ratio = (high + step * node as f64).recip();
                // Density in φ times dφ/d(1/φ) = φ².
                let weight = libm::exp(-0.5 * ((ratio - mean) / sd).powi(2)) * ratio * ratio;
                HeatShare::new(ratio).ok().map(|share| (share, weight))
            })
            .collect();
        let total: f64 = nodes.iter().map(|(_, weight)| weight).sum();
        for (_, weight) in &mut nodes {
            *weight /= total;
        }
        nodes
    }
}

impl Default for ChartSettings {
    fn default() -> Self {
        let kelvin = TemperatureDifference::from_kelvin;
        Self {
            promise_arl: 500.0,
            lower_share: 0.5,
            shift: kelvin(20.0),
            trial_noise: kelvin(8.0),
            edge_finding_sd: kelvin(18.0),
            heat_shares: Self::heat_shares_about(HeatShare::USUAL, HeatShare::USUAL_SD),
            class_heat_shares: Vec::new(),
            unknown_sheet_sd: kelvin(80.0),
            stray_share: 0.02,
            baseline_trials: 250.0,
            learning_trials: 12.0,
            first_speaking_trial: 7,
            fade_rate: FadeRate::default(),
        }
    }
}
