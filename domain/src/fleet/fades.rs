//! How fast this fleet's welders fade.

use std::collections::BTreeMap;

use uuid::Uuid;

use super::{Basis, FEWEST_UNITS, RatioEstimate, UnitHistory};
use crate::drift::{
    ChartSettings, Direction, EdgeSeries, FadeRate, Interval, LN_STEP, Point, Signal, SignalEnd, ln_sum,
    unit_series,
};
use crate::quantity::TemperatureDifference;

/// How fast edges go on moving once they have begun to: from the fades that the fleet's charts have seen, ended ones too.
///
/// # Model
///
/// The logarithm of a fade's rate is normal over fades. Of its own rate each tells what a broken line says that is laid through the
/// whole stretch between two services, its level, onset and rate open; and as far as the same trials may as well tell of
/// a single step it tells nothing: a fade that goes on with probability q counts q parts for what it says and 1 − q for
/// nothing. A grid of mean and spread gives the posterior (as in
/// Gelman et al., *Bayesian Data Analysis*, ch. 5). Priors: the mean is normal about that of the usual rate, the spread half
/// a normal law, so that without fades a further one's rate is what [`FadeRate::default`] assumes.
///
/// Only what a chart has signalled is seen, and a faster fade is sooner: the slowest ones are missing from what is fitted, as they
/// are from what it is used for.
///
/// The usual rate stays until fades of at least three units tell.
///
/// In the simulation of `benches/watch.rs` (120 units that sweep at every trial, limit 40 K off; 2026-11-28), the fit of 16 units that
/// faded by .17 to .41 K a day let 711 of 1,939 looks at fades of .21 and .34 K a day show a time to the limit instead of 472. Of these
/// intervals 92 % held it (95 % is meant, and was so before); of those shown for a fade of .69 K a day, which is far
/// outside what the fit had seen, 86 %. Of looks at a step of 20 K, 7 % showed a time instead of 4 %.
///
/// ```
/// use lapwatch_domain::drift::FadeRate;
/// use lapwatch_domain::fleet::{Basis, Fades};
///
/// let none = Fades::of([]);
/// assert_eq!((none.basis, none.rate), (Basis::FewUnits, FadeRate::default()));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fades {
    /// Whether the rate is the fleet's.
    pub basis: Basis,
    /// Units of which a fade tells.
    pub units: usize,
    /// Fades that tell.
    pub fades: usize,
    /// Median over fades of the change in a day, K.
    pub typical: RatioEstimate,
    /// What is assumed of a further fade's rate: between fades, and what is unknown of their mean.
    pub rate: FadeRate,
}

/// A fade tells when it goes on with at least this probability: from there on a time to a limit is said too.
const TELLS: f64 = 0.7;
/// Trials that find an edge below which a stretch tells no rate.
const FEWEST_TRIALS: usize = 8;
/// Rates and steps considered: so many to either side of the usual one, over ±3 standard deviations.
const NODES: i32 = 24;
const REACH: f64 = 3.0;
const SECONDS_PER_DAY: f64 = 86_400.0;
/// Prior of the mean of ln rate: standard deviation about the usual one. With [`SPREAD_SD`] a further fade's ln rate has the
/// standard deviation that is assumed without a fit, 1.1.
const MEAN_SD: f64 = 0.8;
/// Prior of the spread of ln rate: half a normal law of this standard deviation.
const SPREAD_SD: f64 = 0.755;
/// Added to what is assumed of a further fade, as a standard deviation of ln rate: a baseline that learns a little of a slow fade makes
/// it look later and steeper than it is, and the next fade may have another cause than those of before. Chosen by the
/// simulation.
const MARGIN_SD: f64 = 0.75;
/// Means considered: so many on either side of the usual one, in steps of a tenth of the prior.
const MEANS: i32 = 30;
/// Spreads considered, .15 apart. Less could not be summed over the rates considered, which are 15 % apart.
const SPREADS: usize = 12;
const SPREAD_STEP: f64 = 0.15;

/// A fade: how probable it is that it goes on, and what it says of ln rate under [`FadeRate::default`].
#[derive(Debug, Clone, PartialEq)]
struct Fade {
    going_on: f64,
    /// ln rate (K a day) and probability.
    rates: Vec<(f64, f64)>,
}

/// The fades of one unit: all that a fit needs of its history.
#[derive(Debug, Clone)]
pub struct FadeEvidence {
    unit: Uuid,
    fades: Vec<Fade>,
}

impl FadeEvidence {
    /// Gathers it: one fade for each stretch between services in which a chart signalled and later trials did not take it back.
    /// Where several edges signal in one stretch, a heater that fades moves them all: the one that tells its rate best speaks.
    #[must_use]
    pub fn of(unit: &UnitHistory<'_>, settings: &ChartSettings) -> Self {
        let mut best: BTreeMap<u32, Fade> = BTreeMap::new();
        for series in unit_series(unit.history, unit.resets, &[], settings) {
            for edge in [&series.lower, &series.upper] {
                for (segment, fade) in fades_of(edge, settings) {
                    let better = best.get(&segment).is_none_or(|best| fade.spread() < best.spread());
                    if better {
                        best.insert(segment, fade);
                    }
                }
            }
        }
        Self { unit: unit.unit, fades: best.into_values().collect() }
    }
}

/// The fades of one edge, with the stretch of each.
fn fades_of(edge: &EdgeSeries, settings: &ChartSettings) -> Vec<(u32, Fade)> {
    let meant = edge.signals.iter().filter(|signal| !matches!(signal.end, Some(SignalEnd::Subsided { .. })));
    let fade = |signal: &Signal| {
        let segment = edge.points.iter().find(|point| point.trial == signal.trial)?.segment;
        let of_segment = edge.points.iter().filter(|point| point.segment == segment);
        Some((segment, Fade::of(of_segment, signal.direction, settings)?))
    };
    meant.filter_map(fade).collect()
}

/// Weighted sums over the trials of a stretch, of what was measured (y) and of a shape that it may follow (f).
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    w: f64,
    y: f64,
    yy: f64,
    f: f64,
    ff: f64,
    yf: f64,
}

impl Sums {
    fn over(told: &[(f64, f64, f64)], shape: impl Fn(f64) -> f64) -> Self {
        told.iter().fold(Self::default(), |sums, &(day, y, w)| {
            let f = shape(day);
            Self {
                w: sums.w + w,
                y: sums.y + w * y,
                yy: sums.yy + w * y * y,
                f: sums.f + w * f,
                ff: sums.ff + w * f * f,
                yf: sums.yf + w * y * f,
            }
        })
    }

    /// ln-likelihood of y = level + size · f, whatever the level, but for a constant.
    fn ln_likelihood(&self, size: f64) -> f64 {
        let mean = (self.y - size * self.f) / self.w;
        let squares = self.yy - 2.0 * size * self.yf + size * size * self.ff;
        -0.5 * (squares - self.w * mean * mean)
    }
}

impl Fade {
    /// What a whole stretch says in retrospect: of the time before the fade as well, so that it does not matter what the chart took
    /// for the level while the fade was slow and new. Trials that leave an edge open on one side are left out.
    fn of<'a>(
        points: impl Iterator<Item = &'a Point>,
        direction: Direction,
        settings: &ChartSettings,
    ) -> Option<Self> {
        let sign = if direction == Direction::Up { 1.0 } else { -1.0 };
        let closed = points.filter(|point| !point.open_below && !point.open_above);
        // Day, level in the direction of the move, weight.
        let told: Vec<(f64, f64, f64)> = closed
            .map(|point| {
                let Interval { low, middle, high } = point.interval;
                let sd = (high - low).kelvin() / (2.0 * 1.96);
                let variance = sd.powi(2) + settings.trial_noise.kelvin().powi(2);
                (point.at.timestamp() as f64 / SECONDS_PER_DAY, sign * middle.celsius(), variance.recip())
            })
            .collect();
        if told.len() < FEWEST_TRIALS {
            return None;
        }
        let usual = FadeRate::default();
        let nodes: Vec<(f64, f64, f64)> = (-NODES..=NODES)
            .map(|node| {
                let at = REACH * f64::from(node) / f64::from(NODES);
                (-0.5 * at * at, usual.ln_mean + usual.ln_sd * at, LN_STEP.0 + LN_STEP.1 * at)
            })
            .collect();
        let mut moving = vec![Vec::new(); nodes.len()];
        let mut stood = Vec::new();
        for &(onset, ..) in &told[..told.len() - 1] {
            let ramp = Sums::over(&told, |day| (day - onset).max(0.0));
            let step = Sums::over(&told, |day| f64::from(u8::from(day > onset)));
            for (place, &(ln_weight, ln_rate, ln_step)) in nodes.iter().enumerate() {
                moving[place].push(ln_weight + ramp.ln_likelihood(libm::exp(ln_rate)));
                stood.push(ln_weight + step.ln_likelihood(libm::exp(ln_step)));
            }
        }
        let of_rate: Vec<f64> = moving.iter().map(|ln| ln_sum(ln.iter().copied())).collect();
        let (going, stood) = (ln_sum(of_rate.iter().copied()), ln_sum(stood.iter().copied()));
        let rates = nodes.iter().zip(&of_rate).map(|((_, ln_rate, _), ln)| (*ln_rate, libm::exp(ln - going)));
        Some(Self { going_on: (1.0 + libm::exp(stood - going)).recip(), rates: rates.collect() })
    }

    /// Standard deviation of ln rate.
    fn spread(&self) -> f64 {
        let mean: f64 = self.rates.iter().map(|(ln_rate, share)| ln_rate * share).sum();
        self.rates.iter().map(|(ln_rate, share)| share * (ln_rate - mean).powi(2)).sum::<f64>().sqrt()
    }

    /// The likelihood of a law of ln rate, against that of the usual one.
    fn ln_likelihood(&self, law: FadeRate) -> f64 {
        let usual = FadeRate::default();
        let ratio: f64 = self
            .rates
            .iter()
            .map(|(ln_rate, share)| share * law.density(*ln_rate) / usual.density(*ln_rate))
            .sum();
        (self.going_on * ratio + 1.0 - self.going_on).max(f64::MIN_POSITIVE).ln()
    }
}

impl Fades {
    /// The median over fades of the change in a day: mean, and the ends of the 95 % interval.
    #[must_use]
    pub fn change_in_a_day(&self) -> [TemperatureDifference; 3] {
        [self.typical.mean, self.typical.low, self.typical.high].map(TemperatureDifference::from_kelvin)
    }

    /// The fit from what was gathered unit by unit, each unit once, in any order.
    #[must_use]
    pub fn of(evidence: impl IntoIterator<Item = FadeEvidence>) -> Self {
        let mut told: Vec<FadeEvidence> = evidence.into_iter().collect();
        told.sort_by_key(|told| told.unit);
        let tells = |fade: &&Fade| fade.going_on >= TELLS;
        let units = told.iter().filter(|told| told.fades.iter().any(|fade| tells(&fade))).count();
        let fades = told.iter().flat_map(|told| &told.fades).filter(tells).count();
        let usual = FadeRate::default();
        let fitted = units >= FEWEST_UNITS;
        // Mean and spread of ln rate, and the logarithm of their posterior.
        let mut laws = Vec::new();
        for mean in -MEANS..=MEANS {
            let apart = 0.1 * f64::from(mean);
            for spread in 1..=SPREADS {
                let law =
                    FadeRate { ln_mean: usual.ln_mean + MEAN_SD * apart, ln_sd: SPREAD_STEP * spread as f64 };
                let prior = -0.5 * (apart * apart + (law.ln_sd / SPREAD_SD).powi(2));
                let said = told.iter().flat_map(|told| &told.fades).map(|fade| fade.ln_likelihood(law));
                laws.push((law, prior + if fitted { said.sum::<f64>() } else { 0.0 }));
            }
        }
        let greatest = laws.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<(FadeRate, f64)> =
            laws.into_iter().map(|(law, ln)| (law, libm::exp(ln - greatest))).collect();
        let total: f64 = weights.iter().map(|(_, weight)| weight).sum();
        let mean_of = |value: &dyn Fn(FadeRate) -> f64| {
            weights.iter().map(|(law, weight)| weight * value(*law)).sum::<f64>() / total
        };
        let ln_mean = mean_of(&|law| law.ln_mean);
        let about = mean_of(&|law| (law.ln_mean - ln_mean).powi(2));
        let further = about + mean_of(&|law| law.ln_sd.powi(2)) + MARGIN_SD.powi(2);
        let rate = FadeRate { ln_mean, ln_sd: further.sqrt() };
        let (low, high) = (quantile(&weights, 0.025 * total), quantile(&weights, 0.975 * total));
        let [mean, low, high] = [ln_mean, low, high].map(libm::exp);
        Self {
            basis: if fitted { Basis::Fitted } else { Basis::FewUnits },
            units,
            fades,
            typical: RatioEstimate { mean, sd: mean * about.sqrt(), low, high },
            rate: if fitted { rate } else { usual },
        }
    }
}

/// The mean of ln rate below which so much of the weight lies; the laws come by their means, rising.
fn quantile(weights: &[(FadeRate, f64)], share: f64) -> f64 {
    let mut sum = 0.0;
    let found = weights.iter().find(|(_, weight)| {
        sum += weight;
        sum >= share
    });
    found.or(weights.last()).map_or(f64::NAN, |(law, _)| law.ln_mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fades whose rates are known to 10 %.
    fn fades(rates: &[f64], going_on: f64) -> Vec<FadeEvidence> {
        let evidence = |(number, rate): (usize, &f64)| {
            let node = |step: i32| {
                let ln_rate = rate.ln() + 0.05 * f64::from(step);
                let said = libm::exp(-0.5 * (0.5 * f64::from(step)).powi(2));
                (ln_rate, said * FadeRate::default().density(ln_rate))
            };
            let nodes: Vec<(f64, f64)> = (-8..=8).map(node).collect();
            let total: f64 = nodes.iter().map(|(_, share)| share).sum();
            let rates = nodes.into_iter().map(|(ln_rate, share)| (ln_rate, share / total)).collect();
            FadeEvidence { unit: Uuid::from_u128(number as u128), fades: vec![Fade { going_on, rates }] }
        };
        rates.iter().enumerate().map(evidence).collect()
    }

    #[test]
    fn without_a_fit_a_further_fade_is_what_is_usual() {
        // The priors of mean and spread together are the usual law.
        let two = Fades::of(fades(&[0.1, 0.1], 1.0));
        assert_eq!((two.basis, two.units, two.fades, two.rate), (Basis::FewUnits, 2, 2, FadeRate::default()));
        let prior = MEAN_SD.powi(2) + SPREAD_SD.powi(2);
        assert!((prior.sqrt() - FadeRate::default().ln_sd).abs() < 1e-3, "{prior}");
        // Where nothing goes on, nothing is told.
        let steps = Fades::of(fades(&[0.1; 6], 0.3));
        assert_eq!((steps.basis, steps.fades), (Basis::FewUnits, 0));
    }

    /// Normal means of equal precision have the posterior of the textbook, and many fades leave little of the prior.
    #[test]
    fn many_fades_say_what_they_are() {
        let rates: Vec<f64> = (0..40).map(|fade| libm::exp(-1.6 + 0.4 * [-1.0, 1.0][fade % 2])).collect();
        let fit = Fades::of(fades(&rates, 1.0));
        assert_eq!((fit.basis, fit.units, fit.fades), (Basis::Fitted, 40, 40));
        assert!((fit.rate.ln_mean + 1.6).abs() < 0.03, "{fit:?}");
        assert!((fit.rate.ln_sd - libm::hypot(0.4, MARGIN_SD)).abs() < 0.06, "{fit:?}");
        assert!(fit.typical.low < libm::exp(-1.6) && libm::exp(-1.6) < fit.typical.high, "{fit:?}");
        // Fewer are drawn towards the usual rate, and leave more open.
        let few = Fades::of(fades(&rates[..4], 1.0));
        assert!(few.rate.ln_mean > fit.rate.ln_mean && few.rate.ln_mean < FadeRate::default().ln_mean);
        assert!(few.rate.ln_sd > fit.rate.ln_sd, "{few:?} {fit:?}");
    }

    #[test]
    fn what_may_be_a_step_tells_less_and_order_does_not_matter() {
        let sure = Fades::of(fades(&[0.1, 0.12, 0.09, 0.11], 1.0));
        let doubtful = Fades::of(fades(&[0.1, 0.12, 0.09, 0.11], 0.75));
        assert!(doubtful.rate.ln_mean > sure.rate.ln_mean, "{doubtful:?} {sure:?}");
        let mut turned = fades(&[0.1, 0.12, 0.09, 0.11], 1.0);
        turned.reverse();
        assert_eq!(Fades::of(turned), sure);
    }

    /// The line through all trials against the same sums by hand: level by weighted least squares at a known onset and rate.
    #[test]
    fn a_level_is_fitted_to_whatever_shape() {
        let told = [(0.0, 430.0, 0.01), (2.0, 441.0, 0.02), (5.0, 437.0, 0.01), (9.0, 452.0, 0.03)];
        let shape = |day: f64| (day - 2.0).max(0.0);
        let by_hand = |rate: f64| {
            let left = |(day, y, w): (f64, f64, f64)| (y - rate * shape(day), w);
            let weight: f64 = told.iter().map(|told| told.2).sum();
            let level = told.iter().map(|told| left(*told)).map(|(y, w)| y * w).sum::<f64>() / weight;
            -0.5 * told.iter().map(|told| left(*told)).map(|(y, w)| w * (y - level).powi(2)).sum::<f64>()
        };
        let sums = Sums::over(&told, shape);
        for rate in [0.0, 0.5, 2.0, 10.0] {
            assert!((sums.ln_likelihood(rate) - by_hand(rate)).abs() < 1e-7, "{rate}");
        }
    }
}
