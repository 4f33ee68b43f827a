//! Fits of the fleet. Temperatures are in °C.

use chrono::{DateTime, Utc};
use lapwatch_domain::fleet::{ClassShare, Fades, RatioEstimate, UnitShare};
use lapwatch_domain::quantity::TemperatureUnit::{self, Celsius};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{apart, ratio};
use crate::model::{self, DatedPrior};
use crate::wire::Measurement;

/// What the fleet's own trials say of the numbers behind bands and charts, as of a moment. It never changes: a later fit
/// stands beside it.
#[derive(Debug, Serialize, ToSchema)]
pub struct FleetFit {
    /// Id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// Trials performed from then on are judged by it, until a later fit holds.
    pub effective_from: DateTime<Utc>,
    /// How many trials were looked at.
    #[schema(example = 6100)]
    pub trials: usize,
    /// How many units made them.
    #[schema(example = 26)]
    pub units: usize,
    /// When the first of those trials was performed.
    pub first_trial_at: DateTime<Utc>,
    /// When the last of them was performed.
    pub last_trial_at: DateTime<Utc>,
    /// How alike the strips of one coupon are.
    pub correlation: FoundRatio,
    /// How much strips scatter about an edge.
    pub scatter: FoundScatter,
    /// What share of the air's heat a sheet's surface takes on, by sheet class.
    pub heat_shares: Vec<FoundHeatShare>,
    /// How fast edges go on moving once they have begun to.
    pub fades: FoundFades,
    /// All of it in plain sentences.
    pub sentences: Vec<String>,
}

/// A fit with the shares of the units.
#[derive(Debug, Serialize, ToSchema)]
pub struct WholeFleetFit {
    /// The fit.
    pub fit: FleetFit,
    /// The heat share of each unit on each sheet class that it has welded.
    pub units: Vec<UnitHeatShare>,
}

/// An estimated ratio.
#[derive(Debug, Serialize, ToSchema)]
pub struct Ratio {
    /// Mean.
    #[schema(example = 0.47)]
    pub mean: f64,
    /// Standard deviation.
    #[schema(example = 0.04)]
    pub standard_deviation: f64,
    /// 2.5 % point.
    #[schema(example = 0.39)]
    pub low: f64,
    /// 97.5 % point.
    #[schema(example = 0.55)]
    pub high: f64,
}

/// A ratio, and where it comes from.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundRatio {
    /// `fitted` when it is the fleet's; `few_units`, `few_trials` or `vague` say why the usual value stays.
    #[schema(example = "fitted")]
    pub basis: &'static str,
    /// The estimate.
    pub estimate: Ratio,
}

/// The scatter of strips, and where it comes from.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundScatter {
    /// As for the correlation.
    #[schema(example = "fitted")]
    pub basis: &'static str,
    /// Median of the scatter over edges, a difference.
    pub median: Measurement,
    /// 95 % interval of the median: its lower end.
    pub median_low: Measurement,
    /// 95 % interval of the median: its upper end.
    pub median_high: Measurement,
    /// Standard deviation of the logarithm of the scatter from edge to edge.
    pub ln_spread: Ratio,
}

/// How fast edges go on moving once they have begun to, and where that comes from.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundFades {
    /// `fitted` when it is the fleet's; `few_units` when too few have faded to tell: then the usual rate stays.
    #[schema(example = "fitted")]
    pub basis: &'static str,
    /// Units of which a fade tells.
    pub units: usize,
    /// Fades that tell, those that service has ended too.
    pub fades: usize,
    /// Median over fades of the change in a day, a difference.
    pub change_in_a_day: Measurement,
    /// 95 % interval of the median: its lower end.
    pub change_low: Measurement,
    /// 95 % interval of the median: its upper end.
    pub change_high: Measurement,
    /// Standard deviation of the logarithm of the change in a day that is assumed of a further fade.
    #[schema(example = 0.8)]
    pub ln_standard_deviation: f64,
}

/// The heat share of a sheet class.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundHeatShare {
    /// Sheet class.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// As for the correlation.
    #[schema(example = "fitted")]
    pub basis: &'static str,
    /// Units with trials of that class.
    pub units: usize,
    /// Units whose own trials tell.
    pub identified: usize,
    /// Mean over units.
    pub mean: Ratio,
    /// Standard deviation between units.
    pub between_units: Ratio,
}

/// The heat share of a unit on a sheet class.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnitHeatShare {
    /// The unit.
    pub unit_id: Uuid,
    /// Sheet class.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// How many trials of that class it made.
    pub trials: usize,
    /// Whether its own trials tell.
    pub identified: bool,
    /// The share, drawn towards that of the class.
    pub estimate: Ratio,
    /// The same in a sentence.
    pub sentence: String,
}

/// What was assumed of strips before this trial's were looked at.
#[derive(Debug, Serialize, ToSchema)]
pub struct Assumed {
    /// Correlation of two strips of one coupon, 0 to 1.
    #[schema(example = 0.5)]
    pub correlation: f64,
    /// Median of the scatter of strips about an edge, a difference.
    pub scatter: Measurement,
    /// Standard deviation of the logarithm of the scatter.
    #[schema(example = 0.9)]
    pub scatter_ln_standard_deviation: f64,
    /// The fit of the fleet that says so; null where the usual values hold.
    pub fleet_fit_id: Option<Uuid>,
    /// The same in a sentence.
    pub sentence: String,
}

impl Assumed {
    /// What this fit, or none, lets a trial assume.
    pub fn of(prior: Option<&DatedPrior>, unit: TemperatureUnit) -> Self {
        let assumed = prior.map(|dated| dated.prior).unwrap_or_default();
        Self {
            correlation: ratio(assumed.correlation),
            scatter: apart(unit, assumed.sigma_median),
            scatter_ln_standard_deviation: ratio(assumed.ln_sigma_sd),
            fleet_fit_id: prior.map(|dated| dated.fit),
            sentence: DatedPrior::sentence(prior, unit),
        }
    }
}

impl From<&model::FleetFit> for FleetFit {
    fn from(fit: &model::FleetFit) -> Self {
        let (made, spread) = (&fit.fit.made_from, &fit.fit.spread);
        Self {
            id: fit.id,
            made_at: fit.made_at,
            effective_from: fit.effective_from,
            trials: made.trials,
            units: made.units,
            first_trial_at: made.from,
            last_trial_at: made.to,
            correlation: FoundRatio {
                basis: spread.correlation.basis.code(),
                estimate: Ratio::from(&spread.correlation.estimate),
            },
            scatter: FoundScatter {
                basis: spread.scatter.basis.code(),
                median: apart(Celsius, spread.scatter.median),
                median_low: apart(Celsius, spread.scatter.median_low),
                median_high: apart(Celsius, spread.scatter.median_high),
                ln_spread: Ratio::from(&spread.scatter.ln_spread),
            },
            heat_shares: fit.fit.surface.classes.iter().map(FoundHeatShare::from).collect(),
            fades: FoundFades::from(&fit.fit.fades),
            sentences: fit.fit.sentences(Celsius),
        }
    }
}

impl From<&Fades> for FoundFades {
    fn from(fades: &Fades) -> Self {
        let [change_in_a_day, change_low, change_high] =
            fades.change_in_a_day().map(|change| apart(Celsius, change));
        Self {
            basis: fades.basis.code(),
            units: fades.units,
            fades: fades.fades,
            change_in_a_day,
            change_low,
            change_high,
            ln_standard_deviation: ratio(fades.rate.ln_sd),
        }
    }
}

impl From<&model::FleetFit> for WholeFleetFit {
    fn from(fit: &model::FleetFit) -> Self {
        Self {
            fit: FleetFit::from(fit),
            units: fit.fit.surface.units.iter().map(UnitHeatShare::from).collect(),
        }
    }
}

impl From<&ClassShare> for FoundHeatShare {
    fn from(class: &ClassShare) -> Self {
        Self {
            material_class: class.class.code(),
            basis: class.basis.code(),
            units: class.units,
            identified: class.identified,
            mean: Ratio::from(&class.mean),
            between_units: Ratio::from(&class.between_units),
        }
    }
}

impl From<&UnitShare> for UnitHeatShare {
    fn from(unit: &UnitShare) -> Self {
        Self {
            unit_id: unit.unit,
            material_class: unit.class.code(),
            trials: unit.trials,
            identified: unit.identified,
            estimate: Ratio::from(&unit.estimate),
            sentence: unit.sentence(),
        }
    }
}

impl From<&RatioEstimate> for Ratio {
    fn from(estimate: &RatioEstimate) -> Self {
        Self {
            mean: ratio(estimate.mean),
            standard_deviation: ratio(estimate.sd),
            low: ratio(estimate.low),
            high: ratio(estimate.high),
        }
    }
}
