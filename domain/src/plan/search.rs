//! Which allowed setting is expected to tell most.

use super::{NextCoupon, StopReason, WeldReason};
use crate::band::Display;
use crate::edges::{BothEdges, CouponLikelihood, Edge, Grouping, Mixture, Posterior};
use crate::policy::Policy;
use crate::quantity::{Quantity, Temperature, TemperatureDifference, TemperatureUnit};

/// A comparison of settings needs no more.
const GROUPING: Grouping = Grouping { per_sigma: 0.7, least_kelvin: 4.0, negligible: 1e-6 };
/// No coupon is proposed below this, in °C: the edges are not sought there either.
const COOLEST_CELSIUS: f64 = 250.0;
/// Never more settings than this are compared.
const MOST_SETTINGS: usize = 400;
/// A gain at least this close to the best, relative to it, makes neighbouring settings worth a look.
const CLOSE: f64 = 0.9;
/// Outcomes less probable than this are not followed further.
const NEGLIGIBLE: f64 = 1e-6;
/// Gains closer than this, relative to each other, are a tie; the cooler setting wins.
const TIE: f64 = 1e-9;

/// What has been welded so far and what must not be exceeded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Welded {
    /// How many coupons.
    pub(crate) coupons: usize,
    /// The hottest.
    pub(crate) hottest: Option<Temperature>,
    /// The coolest that scorched.
    pub(crate) coolest_scorched: Option<Temperature>,
    /// The lowest of unit maximum and ceilings.
    pub(crate) ceiling: Temperature,
    /// Where to begin when nothing has been welded.
    pub(crate) begin: Temperature,
    /// Whether they are enough to stop with, should the edges be known: with what a unit's history says they may be known
    /// before anything was welded today.
    pub(crate) suffice: bool,
}

impl Welded {
    /// Whether a coupon may be welded at this setting: at most one step above the hottest so far, below the lowest that
    /// scorched, not above a ceiling.
    pub(crate) fn allows(&self, setting: Temperature, policy: &Policy) -> bool {
        // Half a millikelvin, for settings that were converted from °F.
        let rounding = TemperatureDifference::from_kelvin(5e-4);
        let step_up = policy.largest_step_up;
        setting.celsius() >= COOLEST_CELSIUS
            && setting <= self.ceiling
            && self.hottest.is_none_or(|hottest| setting <= hottest + step_up + rounding)
            && self.coolest_scorched.is_none_or(|scorched| setting < scorched - rounding)
    }

    /// The highest setting that could be allowed.
    fn top(&self, policy: &Policy) -> Temperature {
        let step = |hottest: Temperature| hottest + policy.largest_step_up;
        self.hottest.map_or(self.ceiling, |hottest| self.ceiling.min(step(hottest)))
    }
}

/// The next coupon of a trial that looks for the edges.
pub(crate) fn next_coupon(
    welded: &Welded,
    edges: &impl BothEdges,
    strips: usize,
    (display, policy): (Display, &Policy),
) -> NextCoupon {
    if welded.coupons >= policy.maximum_coupons {
        return NextCoupon::Stop { reason: StopReason::EnoughCoupons };
    }
    let settings = settings(welded, display, policy);
    if welded.hottest.is_none() {
        return first_coupon(welded, &settings);
    }
    let [below, above] = [Edge::Lower, Edge::Upper].map(|edge| edges.posterior(edge));
    let (lower, upper) = (below.sd().kelvin(), above.sd().kelvin());
    if welded.suffice && lower.max(upper) <= policy.target_sd.kelvin() {
        return NextCoupon::Stop { reason: StopReason::EdgesKnown };
    }
    let coupon = Coupon::new(strips.clamp(1, 12), policy.edge_prior.correlation);
    let (below, above) = (KnownEdge::new(below), KnownEdge::new(above));
    let gain = |setting: &Temperature| coupon.gain(&below, &above, setting.celsius());
    let best = most_informative(&settings, gain);
    let variance = lower * lower + upper * upper;
    match best {
        None => NextCoupon::Stop { reason: StopReason::NoAllowedSetting },
        Some((_, gain)) if welded.suffice && gain < policy.least_gain * variance => {
            NextCoupon::Stop { reason: StopReason::LittleToGain }
        }
        Some((temperature, _)) => NextCoupon::Weld { temperature, reason: WeldReason::MostInformative },
    }
}

/// The setting with the largest gain, the cooler one of equals, and that gain.
///
/// The gain changes little from one setting to the next. Every other setting is looked at first, then the neighbours of
/// those that come close to the best.
fn most_informative(
    settings: &[Temperature],
    gain: impl Fn(&Temperature) -> f64,
) -> Option<(Temperature, f64)> {
    let mut gains: Vec<f64> = vec![0.0; settings.len()];
    for index in (0..settings.len()).step_by(2) {
        gains[index] = gain(&settings[index]);
    }
    let close = CLOSE * gains.iter().copied().fold(0.0, f64::max);
    for index in (1..settings.len()).step_by(2) {
        let beside = gains[index - 1].max(gains.get(index + 1).copied().unwrap_or(f64::INFINITY));
        if beside >= close {
            gains[index] = gain(&settings[index]);
        }
    }
    let largest = gains.iter().copied().fold(0.0, f64::max);
    let found = gains.iter().position(|gain| *gain >= largest * (1.0 - TIE))?;
    Some((settings[found], gains[found]))
}

/// The allowed setting nearest to where a trial begins.
fn first_coupon(welded: &Welded, settings: &[Temperature]) -> NextCoupon {
    let distance = |setting: &Temperature| (*setting - welded.begin).abs().kelvin();
    match settings.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))) {
        Some(setting) => NextCoupon::Weld { temperature: *setting, reason: WeldReason::FirstCoupon },
        None => NextCoupon::Stop { reason: StopReason::NoAllowedSetting },
    }
}

/// The allowed settings on the crew's scale, from cool to hot: every 10 °C or 20 °F, or as near to that as the unit's
/// display allows.
fn settings(welded: &Welded, display: Display, policy: &Policy) -> Vec<Temperature> {
    let round_number = match display.unit {
        TemperatureUnit::Celsius => 10.0,
        TemperatureUnit::Fahrenheit => 20.0,
    };
    let steps_apart = (round_number / display.step_number() - 1e-9).ceil().max(1.0);
    let apart = steps_apart * display.step_number();
    let first = (Temperature::from_celsius(COOLEST_CELSIUS).value_in(display.unit) / apart).ceil();
    let last = (welded.top(policy).value_in(display.unit) / apart + 1e-9).floor();
    // The cast saturates: no setting at all when the last lies below the first.
    let count = (last - first + 1.0) as usize;
    (0..count.min(MOST_SETTINGS))
        .filter_map(|index| Temperature::new((first + index as f64) * apart, display.unit).ok())
        .filter(|setting| welded.allows(*setting, policy))
        .collect()
}

/// A coupon that could be welded: what its strips may show.
pub(super) struct Coupon {
    /// The outcomes of each number of strips from 1 up.
    strips: Vec<Outcomes>,
}

impl Coupon {
    pub(super) fn new(strips: usize, correlation: f64) -> Self {
        Self { strips: (1..=strips).map(|strips| Outcomes::new(strips, correlation)).collect() }
    }

    /// By how much the coupon, welded at `celsius`, is expected to lower the variances of both edges together.
    ///
    /// All strips tell about the lower edge. Only those that are not cold tell about the upper edge, so what they would
    /// tell counts as often as they are expected: where every weld so far opened cold, a cooler coupon tells nothing
    /// about scorching.
    pub(super) fn gain(&self, lower: &KnownEdge, upper: &KnownEdge, celsius: f64) -> f64 {
        let all = self.strips.last().map(|outcomes| lower.ask(outcomes, celsius)).unwrap_or_default();
        let about_upper =
            self.strips.iter().zip(all.probabilities.iter().skip(1)).map(|(not_cold, probability)| {
                if *probability < NEGLIGIBLE { 0.0 } else { probability * upper.ask(not_cold, celsius).gain }
            });
        all.gain + about_upper.sum::<f64>()
    }
}

/// The likelihoods of 0, 1, … of some strips beyond an edge; that of all of them is what is left to 1.
pub(super) struct Outcomes(Vec<CouponLikelihood>);

impl Outcomes {
    pub(super) fn new(strips: usize, correlation: f64) -> Self {
        Self((0..strips).map(|beyond| CouponLikelihood::new(beyond, strips, correlation)).collect())
    }
}

/// What asking strips about an edge is expected to answer.
#[derive(Default)]
pub(super) struct Answer {
    /// The expected fall of the edge's variance, in K².
    pub(super) gain: f64,
    /// How probable 0, 1, … strips beyond the edge are.
    probabilities: Vec<f64>,
}

/// What is known of one edge, ready to be asked what strips would add.
pub(super) struct KnownEdge {
    mixture: Mixture,
    mean: f64,
}

impl KnownEdge {
    pub(super) fn new(edge: &Posterior) -> Self {
        let mixture = edge.mixture(GROUPING);
        let mean = mixture.components.iter().map(|part| part.weight * part.mean).sum();
        Self { mixture, mean }
    }

    /// What strips welded at `celsius` are expected to tell:
    /// `Var(μ) − Σₖ P(k)·Var(μ | k) = Σₖ E[(μ − E μ)·1ₖ]²/P(k)`.
    pub(super) fn ask(&self, outcomes: &Outcomes, celsius: f64) -> Answer {
        let mut answer = Answer::default();
        let (mut probability_left, mut moment_left) = (1.0, 0.0);
        for outcome in &outcomes.0 {
            let (mut probability, mut moment) = (0.0, 0.0);
            for part in &self.mixture.components {
                let (likelihood, slope) = outcome.plain_at((celsius - part.mean) / part.sd);
                probability += part.weight * likelihood;
                // The second term is what the outcome tells about edges that were put together.
                let within = part.edge_variance * slope / part.sd;
                moment += part.weight * (likelihood * (part.mean - self.mean) - within);
            }
            probability_left -= probability;
            moment_left -= moment;
            answer.add(probability, moment);
        }
        answer.add(probability_left, moment_left);
        answer
    }
}

impl Answer {
    fn add(&mut self, probability: f64, moment: f64) {
        self.gain += information(moment, probability);
        self.probabilities.push(probability);
    }
}

/// `moment²/probability`; nothing for an outcome that does not happen.
fn information(moment: f64, probability: f64) -> f64 {
    if probability > 1e-12 { moment * moment / probability } else { 0.0 }
}
