//! The heat share φ of each unit and each material class.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::shares::{Population, Told, estimate, even_shares, usual_prior};
use super::{Basis, FEWEST_UNITS, RatioEstimate};
use crate::drift::{ChartSettings, HistoryEntry};
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

/// A unit tells by itself when its trials leave at most this share of the usual standard deviation.
const IDENTIFIED: f64 = 0.7;

impl Surface {
    /// The fit from these histories. `settings` are those of the charts; their heat shares are not used. The order of
    /// units and of trials does not matter.
    ///
    /// Costs about as much as the charts of all units made anew, twice as many heat shares being considered.
    #[must_use]
    pub fn fit(units: &[UnitHistory<'_>], settings: &ChartSettings) -> Self {
        Self::of(units.iter().map(|unit| SurfaceEvidence::of(unit, settings)))
    }

    /// The fit from what was gathered unit by unit, each unit once, in any order.
    #[must_use]
    pub fn of(evidence: impl IntoIterator<Item = SurfaceEvidence>) -> Self {
        let told: Vec<Told> = evidence.into_iter().flat_map(|evidence| evidence.0).collect();
        let mut fit = Self { classes: Vec::new(), units: Vec::new() };
        for class in MaterialClass::ALL {
            let mut of_class: Vec<&Told> = told.iter().filter(|told| told.class == *class).collect();
            of_class.sort_by_key(|told| told.unit);
            fit.add(*class, &of_class);
        }
        fit
    }

    fn add(&mut self, class: MaterialClass, told: &[&Told]) {
        if told.is_empty() {
            return;
        }
        let usual = estimate(&usual_prior());
        let narrowing = |told: &Told| estimate(&told.posterior(&usual_prior())).sd / usual.sd;
        let narrowings: Vec<f64> = told.iter().map(|told| narrowing(told)).collect();
        let identified = narrowings.iter().filter(|ratio| **ratio <= IDENTIFIED).count();
        let population = (identified >= FEWEST_UNITS).then(|| Population::of(told));
        for (told, narrowing) in told.iter().zip(narrowings) {
            let identified = narrowing <= IDENTIFIED;
            let found = match &population {
                Some(population) => estimate(&population.posterior(told)),
                None if identified => estimate(&told.posterior(&usual_prior())),
                None => RatioEstimate { mean: HeatShare::USUAL, sd: HeatShare::USUAL_SD, ..usual },
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
        let (mean, sd) = found
            .map_or((HeatShare::USUAL, HeatShare::USUAL_SD), |found| (found.mean.mean, found.predictive_sd));
        ChartSettings::heat_shares_about(mean, sd)
    }

    /// The heat shares of the classes that have their own, for [`ChartSettings::class_heat_shares`].
    #[must_use]
    pub fn chart_shares(&self) -> Vec<(MaterialClass, Vec<(HeatShare, f64)>)> {
        let own = self.classes.iter().filter(|found| found.basis == Basis::Fitted);
        own.map(|found| (found.class, self.heat_shares(found.class))).collect()
    }
}

/// What the trials of one unit say of its heat shares: all that a fit needs of its history, in two kilobytes a
/// material class. So a fleet's histories need not be held at once.
#[derive(Debug, Clone)]
pub struct SurfaceEvidence(Vec<Told>);

impl SurfaceEvidence {
    /// Gathers it; `settings` as for [`Surface::fit`].
    #[must_use]
    pub fn of(unit: &UnitHistory<'_>, settings: &ChartSettings) -> Self {
        let settings =
            ChartSettings { heat_shares: even_shares(), class_heat_shares: Vec::new(), ..settings.clone() };
        Self(MaterialClass::ALL.iter().filter_map(|class| Told::of(unit, *class, &settings)).collect())
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
        let sd = HeatShare::USUAL_SD;
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
