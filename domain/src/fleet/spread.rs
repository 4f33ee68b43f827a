//! How alike the strips of a coupon are, and how much strips scatter.

use std::collections::BTreeSet;
use std::ops::RangeInclusive;

use uuid::Uuid;

use super::population::{Edges, Population};
use super::{Basis, FEWEST_UNITS, RatioEstimate};
use crate::edges::{Edge, EdgePrior, Observation, Tally};
use crate::quantity::TemperatureDifference;
use crate::trial::Purpose;

/// The coupons of one trial, as judged.
#[derive(Debug, Clone, Copy)]
pub struct TrialSteps<'a> {
    /// The unit that made it.
    pub unit: Uuid,
    /// What it was made for, as it was said before the first strip was peeled.
    pub purpose: Purpose,
    /// Its coupons, in any order.
    pub steps: &'a [Observation],
}

/// How many strips informed a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SpreadEvidence {
    /// Units with an edge that counts.
    pub units: usize,
    /// Trials with an edge that counts.
    pub trials: usize,
    /// Edges that count: searched for and found.
    pub edges: usize,
    /// Coupons of two or more strips on those edges: only they tell how alike strips are.
    pub coupons: usize,
    /// Those of them whose strips differ.
    pub mixed: usize,
}

/// The correlation ρ of two strips of one coupon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// Whether it is the fleet's.
    pub basis: Basis,
    /// From .05 to .95. Where it is not the fleet's, the usual value exactly, with the spread that the prior allows.
    pub estimate: RatioEstimate,
}

/// The population of the scatter σ: ln σ is normal among edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Whether it is the fleet's.
    pub basis: Basis,
    /// Median of σ.
    pub median: TemperatureDifference,
    /// 95 % interval of the median: its lower end.
    pub median_low: TemperatureDifference,
    /// 95 % interval of the median: its upper end.
    pub median_high: TemperatureDifference,
    /// Standard deviation of ln of the median.
    pub ln_median_sd: f64,
    /// Standard deviation of ln σ among edges, from .1 to 1.5.
    pub ln_spread: RatioEstimate,
    /// Standard deviation of ln σ of a further edge: the spread, and what is unknown of spread and median.
    pub ln_predictive: f64,
}

/// The correlation of strips and the population of their scatter.
///
/// # Model
///
/// That of [`crate::edges`], for all trials at once: each edge of each trial has its own place μ, flat, and its own σ,
/// from one log-normal population; ρ is common. With M(σ, ρ) the likelihood of an edge's strips integrated over μ, the
/// likelihood of the fleet is
///
/// ```text
/// Π over edges ∫ M(σ, ρ) N(ln σ; m, s²) d ln σ
/// ```
///
/// A grid of (ρ, m, s) gives the posterior (a hierarchical model: Gelman et al., *Bayesian Data Analysis*, ch. 5).
/// Priors, all centred on what is assumed without a fit: ρ has the density 6ρ(1−ρ) between .05 and .95, with mean .5; m
/// is normal about ln 17 K with standard deviation .4; s is half a normal law of standard deviation 1.15 between .1 and
/// 1.5. For a further edge's ln σ the last two together come to the standard deviation of .9 that is assumed without a
/// fit.
///
/// # Which edges count
///
/// Those of trials that set out to find edges (commissioning, sweep), with strips on both sides, over steps that span
/// 60 to 800 K, of whose coolest coupon at most half lie beyond. How edges are chosen must not depend on what is to be
/// found. A check about a set point shows an opened strip now and then, and more often where strips scatter much:
/// counting such edges would call every fleet's strips scattered, and counting the many checks that show none would
/// need to know where the edge was. A search goes on until it has found the edge, whatever σ and ρ, so that it can be
/// taken as it is; except that it may have started too hot, and have seen the edge by chance. At a given coolest step,
/// and wherever edges lie evenly about it, "at most half beyond" is met equally often whatever σ and ρ.
///
/// Searches that end at a fixed step before the upper edge is found are not allowed for: a fleet in which they are the
/// rule is given too large a scatter (`domain/benches/fleet.md`).
///
/// # When the usual values stay
///
/// Unless at least three units inform the fit; unless at least 30 edges do, for ρ with at least 100 coupons of two or
/// more strips; and unless the posterior standard deviation is at most half the prior one: of ρ .11, of ln of the
/// median .2. Steps much wider than the scatter tell too little for that, however many there are of them, and where
/// they tell a little it is about both together.
///
/// # Cost
///
/// Under a millisecond for every *different* pattern of coupons and counts, of which a fleet has fewer than edges; see
/// `domain/benches/fleet.md`.
///
/// ```
/// use lapwatch_domain::edges::{EdgePrior, Observation};
/// use lapwatch_domain::fleet::{Basis, Spread, TrialSteps};
/// use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};
/// use lapwatch_domain::trial::Purpose;
/// use uuid::Uuid;
///
/// let seen = |celsius, cold, sound, hot| Observation {
///     temperature: Temperature::new(celsius, TemperatureUnit::Celsius).expect("above absolute zero"),
///     cold,
///     sound,
///     hot,
/// };
/// let sweep = [seen(380.0, 3, 0, 0), seen(420.0, 1, 2, 0), seen(460.0, 0, 3, 0), seen(500.0, 0, 0, 3)];
/// let spread = Spread::fit([TrialSteps { unit: Uuid::from_u128(1), purpose: Purpose::Sweep, steps: &sweep }]);
/// // One trial of one unit: the usual values stay.
/// assert_eq!(spread.correlation.basis, Basis::FewUnits);
/// assert_eq!(spread.edge_prior(), EdgePrior::default());
/// assert_eq!((spread.evidence.edges, spread.evidence.mixed), (2, 1));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// What informed it.
    pub evidence: SpreadEvidence,
    /// ρ.
    pub correlation: Correlation,
    /// The population of σ.
    pub scatter: Scatter,
}

/// Steps that span less are no search for an edge, and those that span more are of no one machine; in kelvin.
const SEARCH_SPAN_KELVIN: RangeInclusive<f64> = 60.0..=800.0;
/// Fewer edges don't make a population.
const FEWEST_EDGES: usize = 30;
/// Fewer coupons of two or more strips don't tell how alike they are.
const FEWEST_COUPONS: usize = 100;
/// A posterior standard deviation of a larger share of the prior one has learnt too little.
const VAGUE: f64 = 0.5;

impl Spread {
    /// The fit from these trials. Their order does not matter, nor that of their coupons.
    #[must_use]
    pub fn fit<'a>(trials: impl IntoIterator<Item = TrialSteps<'a>>) -> Self {
        let mut edges = Edges::default();
        let mut evidence = SpreadEvidence::default();
        let mut units = BTreeSet::new();
        let searching =
            |trial: &TrialSteps<'_>| matches!(trial.purpose, Purpose::Commissioning | Purpose::Sweep);
        for trial in trials.into_iter().filter(searching) {
            let before = evidence.edges;
            for tallies in Edge::ALL.iter().filter_map(|edge| searched(*edge, trial.steps)) {
                evidence.count(&tallies);
                edges.add(tallies);
            }
            if evidence.edges > before {
                evidence.trials += 1;
                units.insert(trial.unit);
            }
        }
        evidence.units = units.len();
        let prior = Population::of(&Edges::default());
        Self::of(evidence, &prior, &Population::of(&edges))
    }

    fn of(evidence: SpreadEvidence, prior: &Population, found: &Population) -> Self {
        let vague = |found: f64, prior: f64| found > VAGUE * prior;
        let few = evidence.edges < FEWEST_EDGES;
        let correlation_basis = evidence.basis(
            few || evidence.coupons < FEWEST_COUPONS,
            vague(found.correlation.sd, prior.correlation.sd),
        );
        let scatter_basis = evidence.basis(few, vague(found.ln_median.sd, prior.ln_median.sd));
        Self {
            evidence,
            correlation: if correlation_basis == Basis::Fitted {
                Correlation { basis: Basis::Fitted, estimate: found.correlation }
            } else {
                let mean = EdgePrior::default().correlation;
                Correlation {
                    basis: correlation_basis,
                    estimate: RatioEstimate { mean, ..prior.correlation },
                }
            },
            scatter: if scatter_basis == Basis::Fitted {
                Scatter::of(Basis::Fitted, found)
            } else {
                Scatter::usual(scatter_basis, prior)
            },
        }
    }

    /// What an evaluation of a single trial may assume: the fleet's values where there are, else the usual ones
    /// exactly. ρ comes in hundredths, finer than any fleet tells it, so that evaluations share their tables.
    #[must_use]
    pub fn edge_prior(&self) -> EdgePrior {
        EdgePrior {
            sigma_median: self.scatter.median,
            ln_sigma_sd: self.scatter.ln_predictive,
            correlation: (self.correlation.estimate.mean * 100.0).round() / 100.0,
        }
    }
}

impl SpreadEvidence {
    fn count(&mut self, tallies: &[Tally]) {
        self.edges += 1;
        let several = |tally: &&Tally| tally.beyond + tally.short > 1;
        self.coupons += tallies.iter().filter(several).count();
        self.mixed += tallies.iter().filter(|tally| tally.beyond > 0 && tally.short > 0).count();
    }

    fn basis(&self, few: bool, vague: bool) -> Basis {
        if self.units < FEWEST_UNITS {
            Basis::FewUnits
        } else if few {
            Basis::FewTrials
        } else if vague {
            Basis::Vague
        } else {
            Basis::Fitted
        }
    }
}

impl Scatter {
    fn of(basis: Basis, found: &Population) -> Self {
        let usual = EdgePrior::default().sigma_median.kelvin();
        let kelvin = |ln: f64| TemperatureDifference::from_kelvin(usual * libm::exp(ln));
        Self {
            basis,
            median: kelvin(found.ln_median.mean),
            median_low: kelvin(found.ln_median.low),
            median_high: kelvin(found.ln_median.high),
            ln_median_sd: found.ln_median.sd,
            ln_spread: found.ln_spread,
            ln_predictive: found.ln_predictive,
        }
    }

    /// The usual values exactly, with intervals of the prior.
    fn usual(basis: Basis, prior: &Population) -> Self {
        let usual = EdgePrior::default();
        Self {
            median: usual.sigma_median,
            ln_spread: RatioEstimate { mean: usual.ln_sigma_sd, ..prior.ln_spread },
            ln_predictive: usual.ln_sigma_sd,
            ..Self::of(basis, prior)
        }
    }
}

/// The tallies of an edge that a trial has searched for and found, ascending.
fn searched(edge: Edge, steps: &[Observation]) -> Option<Vec<Tally>> {
    let mut tallies: Vec<Tally> = steps.iter().filter_map(|step| edge.tally(step)).collect();
    tallies.sort_by_key(|tally| (tally.temperature, tally.beyond, tally.short));
    let (first, last) = (tallies.first()?, tallies.last()?);
    let spans = SEARCH_SPAN_KELVIN.contains(&(last.temperature - first.temperature).kelvin());
    let coolest = tallies.iter().filter(|tally| tally.temperature == first.temperature);
    let (beyond, short) =
        coolest.fold((0, 0), |(beyond, short), tally| (beyond + tally.beyond, short + tally.short));
    let found = beyond <= short && tallies.iter().any(|tally| tally.short > 0);
    (spans && found && tallies.iter().any(|tally| tally.beyond > 0)).then_some(tallies)
}
