//! The heat share φ of each unit and each material class.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::axis::{Axis, cubic};
use super::{Basis, FEWEST_UNITS, RatioEstimate};
use crate::drift::{ChartSettings, HistoryEntry, UnitCharts};
use crate::heat::HeatShare;
use crate::membrane::MaterialClass;

/// The history of one unit, as its charts see it.
#[derive(Debug, Clone, Copy)]
pub struct UnitHistory<'a> {
    /// The unit.
    pub unit: Uuid,
    /// Its trials, of all classes, in any order. One that is given twice counts once.
    pub history: &'a [HistoryEntry<'a>],
    /// Service events with effect on heat, in any order.
    pub resets: &'a [DateTime<Utc>],
}

/// φ of one unit on one material class.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitShare {
    /// The unit.
    pub unit: Uuid,
    /// The material class.
    pub class: MaterialClass,
    /// How many trials of that class it made.
    pub trials: usize,
    /// Whether its own trials tell: taken alone they narrow the usual prior to at most 70 % of its standard deviation,
    /// so that they say at least as much as it does.
    pub identified: bool,
    /// The standard deviation that its own trials leave of that of the usual prior: a ratio, 1 when they say nothing.
    pub narrowing: f64,
    /// φ, drawn towards its class; where neither unit nor class tells, the usual value exactly.
    pub estimate: RatioEstimate,
}

/// φ of the units of a fleet on one material class.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassShare {
    /// The material class.
    pub class: MaterialClass,
    /// Whether it is the fleet's.
    pub basis: Basis,
    /// Units with trials of that class.
    pub units: usize,
    /// Units whose own trials tell.
    pub identified: usize,
    /// Mean of φ over units.
    pub mean: RatioEstimate,
    /// Standard deviation of φ between units. Where it is not the fleet's, that of the usual prior.
    pub between_units: RatioEstimate,
    /// Standard deviation of φ of a further unit about `mean`: between units, and what is unknown of the mean.
    pub predictive_sd: f64,
}

/// The heat shares of a fleet.
///
/// # Model
///
/// A unit's edges at reference conditions and its φ are unknown together; trials at different sheet temperatures and
/// speeds tell them apart. That posterior is the one that [`crate::drift`] works out for its charts, here with every φ
/// from .18 to .40 equally likely beforehand (evenly in 1/φ): what is left is the likelihood of φ, levels integrated
/// out. Service in between lets half of what was learnt stand, and while a chart says that an edge has moved nothing is
/// learnt, as there.
///
/// Units of one class are normal about the class's mean, and a grid of mean and spread gives the posterior (as in
/// Gelman et al., *Bayesian Data Analysis*, ch. 5). Priors: the mean is normal about .27 with standard deviation .04;
/// the logarithm of the spread about ln .025 with standard deviation .5. A unit's φ is drawn to its class by as much as
/// its own trials leave open.
///
/// # When the usual value stays
///
/// A class keeps .27 ± .04 until at least three units tell by themselves ([`UnitShare::identified`]). Then a unit that
/// tells by itself has its own estimate under that prior; one that doesn't has the usual value.
///
/// # What it must not be used for
///
/// The estimate of a *unit* is made from its history: charts that go over the same history again must start from its
/// class ([`Surface::heat_shares`]), or they would count it twice.
///
/// ```
/// use lapwatch_domain::drift::ChartSettings;
/// use lapwatch_domain::fleet::Surface;
/// use lapwatch_domain::membrane::MaterialClass;
///
/// let none = Surface::fit(&[], &ChartSettings::default());
/// assert_eq!(none.heat_shares(MaterialClass::Pvc), ChartSettings::default().heat_shares);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// The classes that units have trials of, in the order of [`MaterialClass::ALL`].
    pub classes: Vec<ClassShare>,
    /// One for each unit and class with trials, by class, then by unit.
    pub units: Vec<UnitShare>,
}

/// Heat shares at which the charts' likelihood is worked out, evenly spaced in 1/φ.
const NODES: usize = 17;
/// Points between which a posterior is summed, to a node.
const POINTS_PER_NODE: usize = 4;
/// The least that charts keep of a heat share is 1e-8; what they gave up is taken as this.
const GIVEN_UP: f64 = 1e-9;
/// A unit tells by itself when its trials leave at most this share of the usual standard deviation.
const IDENTIFIED: f64 = 0.7;
/// Class means considered.
const MEANS: Axis = Axis { from: HeatShare::LOWEST, to: HeatShare::HIGHEST, count: 89 };
/// Standard deviations between units considered, by their logarithm: .005 to .08.
const SPREADS: Axis = Axis { from: -5.298_317_366_548_036, to: -2.525_728_644_308_255_5, count: 19 };
const PRIOR_MEAN_SD: f64 = 0.04;
const PRIOR_SPREAD: f64 = 0.025;
const PRIOR_LN_SPREAD_SD: f64 = 0.5;

/// The points of 1/φ at which posteriors are summed.
const fn inverses() -> Axis {
    Axis {
        from: 1.0 / HeatShare::HIGHEST,
        to: 1.0 / HeatShare::LOWEST,
        count: (NODES - 1) * POINTS_PER_NODE + 1,
    }
}

/// What one unit's trials of one class say of φ.
struct Told {
    unit: Uuid,
    trials: usize,
    /// Likelihood at [`inverses`], up to a factor.
    likelihood: Vec<f64>,
}

impl Surface {
    /// The fit from these histories. `settings` are those of the charts; their heat shares are not used. The order of
    /// units and of trials does not matter.
    ///
    /// Costs about as much as the charts of all units made anew, twice as many heat shares being considered.
    #[must_use]
    pub fn fit(units: &[UnitHistory<'_>], settings: &ChartSettings) -> Self {
        let settings = ChartSettings { heat_shares: even_shares(), ..settings.clone() };
        let mut fit = Self { classes: Vec::new(), units: Vec::new() };
        for class in MaterialClass::ALL {
            let mut told: Vec<Told> =
                units.iter().filter_map(|unit| Told::of(unit, *class, &settings)).collect();
            told.sort_by_key(|told| told.unit);
            fit.add(*class, &told);
        }
        fit
    }

    fn add(&mut self, class: MaterialClass, told: &[Told]) {
        if told.is_empty() {
            return;
        }
        let usual = estimate(&normal(HeatShare::USUAL, ChartSettings::HEAT_SHARE_SD));
        let narrowing = |told: &Told| estimate(&told.posterior(&usual_prior())).sd / usual.sd;
        let narrowings: Vec<f64> = told.iter().map(narrowing).collect();
        let identified = narrowings.iter().filter(|ratio| **ratio <= IDENTIFIED).count();
        let population = (identified >= FEWEST_UNITS).then(|| Population::of(told));
        for (told, narrowing) in told.iter().zip(narrowings) {
            let identified = narrowing <= IDENTIFIED;
            let found = match &population {
                Some(population) => estimate(&population.posterior(told)),
                None if identified => estimate(&told.posterior(&usual_prior())),
                None => RatioEstimate { mean: HeatShare::USUAL, sd: ChartSettings::HEAT_SHARE_SD, ..usual },
            };
            let (unit, trials) = (told.unit, told.trials);
            self.units.push(UnitShare { unit, class, trials, identified, narrowing, estimate: found });
        }
        self.classes.push(ClassShare::of(class, (told.len(), identified), population.as_ref(), usual));
    }

    /// The heat shares from which charts of this class start: the class's own, else the usual ones exactly.
    #[must_use]
    pub fn heat_shares(&self, class: MaterialClass) -> Vec<(HeatShare, f64)> {
        let found = self.classes.iter().find(|found| found.class == class && found.basis == Basis::Fitted);
        let (mean, sd) = found.map_or((HeatShare::USUAL, ChartSettings::HEAT_SHARE_SD), |found| {
            (found.mean.mean, found.predictive_sd)
        });
        ChartSettings::heat_shares_about(mean, sd)
    }
}

impl ClassShare {
    fn of(
        class: MaterialClass,
        (units, identified): (usize, usize),
        population: Option<&Population>,
        usual: RatioEstimate,
    ) -> Self {
        let exactly = |value: f64| RatioEstimate { mean: value, sd: 0.0, low: value, high: value };
        let sd = ChartSettings::HEAT_SHARE_SD;
        match population {
            Some(population) => Self {
                class,
                basis: Basis::Fitted,
                units,
                identified,
                mean: population.mean,
                between_units: population.spread,
                predictive_sd: libm::sqrt(
                    population.spread.mean.powi(2)
                        + population.spread.sd.powi(2)
                        + population.mean.sd.powi(2),
                ),
            },
            None => Self {
                class,
                basis: if units < FEWEST_UNITS { Basis::FewUnits } else { Basis::Vague },
                units,
                identified,
                mean: RatioEstimate { mean: HeatShare::USUAL, sd, ..usual },
                between_units: exactly(sd),
                predictive_sd: sd,
            },
        }
    }
}

impl Told {
    /// `None` without a trial of that class.
    fn of(unit: &UnitHistory<'_>, class: MaterialClass, settings: &ChartSettings) -> Option<Self> {
        let mut entries: Vec<&HistoryEntry<'_>> =
            unit.history.iter().filter(|entry| entry.class == class).collect();
        entries.sort_by_key(|entry| entry.key());
        entries.dedup_by_key(|entry| entry.key());
        let last = entries.last()?.at;
        // Service after the last trial takes nothing away from what the trials said.
        let mut resets: Vec<DateTime<Utc>> = unit.resets.iter().copied().filter(|at| *at <= last).collect();
        resets.sort_unstable();
        let points = entries.iter().map(|entry| entry.profile_points()).max()?;
        let mut charts = UnitCharts::new(settings.clone(), points);
        for entry in &entries {
            charts.take(entry, &resets);
        }
        let shares = charts.now(class, &resets)?.heat_shares();
        Some(Self { unit: unit.unit, trials: entries.len(), likelihood: likelihood(&shares) })
    }

    fn posterior(&self, prior: &[f64]) -> Vec<f64> {
        self.likelihood.iter().zip(prior).map(|(likely, prior)| likely * prior).collect()
    }
}

/// Heat shares evenly spaced in 1/φ, all equally likely.
fn even_shares() -> Vec<(HeatShare, f64)> {
    let nodes = Axis { count: NODES, ..inverses() };
    let mut shares: Vec<(HeatShare, f64)> = nodes
        .points()
        .filter_map(|inverse| HeatShare::new(inverse.recip()).ok())
        .map(|share| (share, (NODES as f64).recip()))
        .collect();
    shares.reverse();
    shares
}

/// The likelihood at the points of [`inverses`], its logarithm a cubic (Catmull–Rom) between the nodes that charts
/// still hold.
fn likelihood(held: &[(HeatShare, f64)]) -> Vec<f64> {
    let axis = inverses();
    let mut nodes = [libm::log(GIVEN_UP); NODES];
    for (share, weight) in held {
        let place = (share.ratio().recip() - axis.from) / (axis.step() * POINTS_PER_NODE as f64);
        nodes[(place.round() as usize).min(NODES - 1)] = libm::log(weight.max(GIVEN_UP));
    }
    (0..axis.count).map(|index| libm::exp(cubic(&nodes, index as f64 / POINTS_PER_NODE as f64))).collect()
}

/// The density of a normal law of φ at the points of [`inverses`], a total of one. The density in 1/φ is that in φ
/// times φ².
fn normal(mean: f64, sd: f64) -> Vec<f64> {
    let density = |inverse: f64| {
        let ratio = inverse.recip();
        libm::exp(-0.5 * ((ratio - mean) / sd).powi(2)) * ratio * ratio
    };
    let density: Vec<f64> = inverses().points().map(density).collect();
    let total: f64 = density.iter().sum();
    density.iter().map(|density| density / total).collect()
}

fn usual_prior() -> Vec<f64> {
    normal(HeatShare::USUAL, ChartSettings::HEAT_SHARE_SD)
}

/// What masses at the points of [`inverses`] say of φ, which falls along them.
fn estimate(mass: &[f64]) -> RatioEstimate {
    let found = inverses().estimate(mass, f64::recip);
    RatioEstimate { low: found.high, high: found.low, ..found }
}

/// The posterior of a class's mean and spread.
struct Population {
    mean: RatioEstimate,
    spread: RatioEstimate,
    /// The density of a unit's φ in each cell of mean and spread that has weight, with that weight.
    cells: Vec<(f64, Vec<f64>)>,
}

impl Population {
    fn of(told: &[Told]) -> Self {
        let cells: Vec<(f64, Vec<f64>)> = SPREADS
            .points()
            .flat_map(|spread| MEANS.points().map(move |mean| (spread, mean)))
            .map(|(spread, mean)| {
                let density = normal(mean, libm::exp(spread));
                let fits = |told: &Told| {
                    libm::log(told.posterior(&density).iter().sum::<f64>().max(f64::MIN_POSITIVE))
                };
                let prior = -0.5 * ((mean - HeatShare::USUAL) / PRIOR_MEAN_SD).powi(2)
                    - 0.5 * ((spread - libm::log(PRIOR_SPREAD)) / PRIOR_LN_SPREAD_SD).powi(2);
                (prior + told.iter().map(fits).sum::<f64>(), density)
            })
            .collect();
        let best = cells.iter().map(|cell| cell.0).fold(f64::NEG_INFINITY, f64::max);
        let weighed = cells.into_iter().map(|(ln, density)| (libm::exp(ln - best), density));
        let cells: Vec<(f64, Vec<f64>)> = weighed.collect();
        let (mut means, mut spreads) = (vec![0.0; MEANS.count], vec![0.0; SPREADS.count]);
        for (index, (weight, _)) in cells.iter().enumerate() {
            means[index % MEANS.count] += weight;
            spreads[index / MEANS.count] += weight;
        }
        Self {
            mean: MEANS.estimate(&means, |mean| mean),
            spread: SPREADS.estimate(&spreads, libm::exp),
            cells: cells.into_iter().filter(|(weight, _)| *weight > 1e-9).collect(),
        }
    }

    /// The posterior of one of the units that it was made from.
    fn posterior(&self, told: &Told) -> Vec<f64> {
        let mut sum = vec![0.0; inverses().count];
        for (weight, density) in &self.cells {
            let posterior = told.posterior(density);
            // Each cell's weight includes this unit's fit to it: what is added is its posterior in the cell, of total
            // one.
            let total: f64 = posterior.iter().sum();
            for (sum, mass) in sum.iter_mut().zip(&posterior) {
                *sum += weight * mass / total.max(f64::MIN_POSITIVE);
            }
        }
        sum
    }
}
