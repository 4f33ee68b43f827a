//! Fits in plain sentences.

use chrono::{DateTime, Utc};

use super::surface::{ClassShare, UnitShare};
use super::{Basis, FEWEST_UNITS, Fades, MadeFrom, Spread, SpreadEvidence};
use crate::edges::EdgePrior;
use crate::heat::HeatShare;
use crate::quantity::{Quantity, TemperatureDifference, TemperatureUnit};

/// From what a fit was made.
pub(super) fn made_from(made: &MadeFrom) -> String {
    format!(
        "From {} of {}, {} to {}.",
        count(made.trials, "trial"),
        count(made.units, "unit"),
        made.from.format("%Y-%m-%d"),
        made.to.format("%Y-%m-%d")
    )
}

/// What was assumed of the strips of a trial before they were peeled, in a plain sentence. `made_at` is the date of the
/// fit that says so; `None` where the usual values hold.
///
/// ```
/// use lapwatch_domain::edges::EdgePrior;
/// use lapwatch_domain::fleet::assumed;
/// use lapwatch_domain::quantity::TemperatureUnit;
///
/// let sentence = assumed(&EdgePrior::default(), None, TemperatureUnit::Celsius);
/// assert!(sentence.starts_with("Assumed beforehand: strips scatter about an edge by 17 °C"), "{sentence}");
/// ```
#[must_use]
pub fn assumed(prior: &EdgePrior, made_at: Option<DateTime<Utc>>, unit: TemperatureUnit) -> String {
    let by_whom = made_at.map_or_else(
        || "usual values, as long as the fleet's own trials do not tell".to_owned(),
        |at| format!("by the fit of this fleet's own trials of {}", at.format("%Y-%m-%d")),
    );
    format!(
        "Assumed beforehand: strips scatter about an edge by {:.0} {}, give or take a factor of {:.1}, and those of one \
         coupon are alike by {:.2} ({by_whom}).",
        prior.sigma_median.value_in(unit.difference_unit()),
        unit.symbol(),
        libm::exp(prior.ln_sigma_sd),
        prior.correlation,
    )
}

/// How alike strips of one coupon are.
pub(super) fn correlation(spread: &Spread) -> String {
    let (found, evidence) = (&spread.correlation.estimate, &spread.evidence);
    if spread.correlation.basis == Basis::Fitted {
        return format!(
            "Two strips of one coupon are correlated by {:.2} (95 %: {:.2} to {:.2}), from {} of {}.",
            found.mean,
            found.low,
            found.high,
            count(evidence.coupons, "coupon"),
            count(evidence.units, "unit")
        );
    }
    let usual = EdgePrior::default().correlation;
    let why = why(spread.correlation.basis, evidence, "coupons of several strips");
    format!("The correlation of two strips of one coupon stays at the usual {usual}: {why}.")
}

/// How much strips scatter.
pub(super) fn scatter(spread: &Spread, unit: TemperatureUnit) -> String {
    let (found, evidence) = (&spread.scatter, &spread.evidence);
    let show = |value: TemperatureDifference| {
        format!("{:.0} {}", value.value_in(unit.difference_unit()), unit.symbol())
    };
    if found.basis == Basis::Fitted {
        return format!(
            "Strips scatter about an edge by {} (95 %: {} to {}), for two edges in three within a factor of {:.1} of \
             that, from {} of {}.",
            show(found.median),
            show(found.median_low),
            show(found.median_high),
            libm::exp(found.ln_spread.mean),
            count(evidence.edges, "edge"),
            count(evidence.units, "unit")
        );
    }
    let why = why(found.basis, evidence, "edges with strips on both sides");
    format!("The scatter of strips about an edge stays at the usual {}: {why}.", show(found.median))
}

/// How fast welders fade.
pub(super) fn fades(fades: &Fades, unit: TemperatureUnit) -> String {
    let show = |kelvin: f64| {
        let change = TemperatureDifference::from_kelvin(kelvin).value_in(unit.difference_unit());
        format!("{change:.2} {}", unit.symbol())
    };
    if fades.basis == Basis::Fitted {
        return format!(
            "An edge that goes on moving does so by {} a day (95 %: {} to {}), for two fades in three within a factor of {:.1} of \
             that, from {} of {}.",
            show(fades.typical.mean),
            show(fades.typical.low),
            show(fades.typical.high),
            libm::exp(fades.rate.ln_sd),
            count(fades.fades, "fade"),
            count(fades.units, "unit")
        );
    }
    format!(
        "The rate of a fade stays at the usual {} a day: fades of {} of the {FEWEST_UNITS} units it takes were seen.",
        show(libm::exp(fades.rate.ln_mean)),
        fades.units
    )
}

/// Why a usual value stays.
fn why(basis: Basis, evidence: &SpreadEvidence, what: &str) -> String {
    match basis {
        Basis::FewUnits => {
            format!(
                "{} of the {FEWEST_UNITS} units it takes searched for an edge and found it",
                evidence.units
            )
        }
        Basis::FewTrials => {
            format!("too few {what} ({} edges, {} coupons)", evidence.edges, evidence.coupons)
        }
        Basis::Vague | Basis::Fitted => "the trials hardly narrow it down".to_owned(),
    }
}

/// When no unit has a trial.
pub(super) fn no_class() -> String {
    format!(
        "The share of the air's heat that a sheet's surface takes on stays at the usual {} for every material: no \
         trial tells.",
        HeatShare::USUAL
    )
}

/// The heat share of a class.
pub(super) fn class(found: &ClassShare) -> String {
    let name = found.class.name();
    if found.basis == Basis::Fitted {
        return format!(
            "On {name} the sheet's surface takes on a share of {:.2} of the air's heat (95 %: {:.2} to {:.2}), \
             units differing by {:.2}; {} of {} tell by themselves.",
            found.mean.mean,
            found.mean.low,
            found.mean.high,
            found.between_units.mean,
            found.identified,
            count(found.units, "unit")
        );
    }
    format!(
        "On {name} the share of the air's heat that the sheet's surface takes on stays at the usual {}: the sheet \
         temperatures and speeds of {} of the {FEWEST_UNITS} units it takes tell.",
        HeatShare::USUAL,
        found.identified
    )
}

impl UnitShare {
    /// What was found of this unit, in a plain sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let (name, found) = (self.class.name(), &self.estimate);
        let trials = count(self.trials, "trial");
        if self.identified {
            return format!(
                "On {name} this unit's sheet takes on a share of {:.2} of the air's heat (95 %: {:.2} to {:.2}), \
                 by its own {trials}.",
                found.mean, found.low, found.high
            );
        }
        format!(
            "On {name} a share of {:.2} of the air's heat is assumed for this unit (95 %: {:.2} to {:.2}): its own \
             {trials} at their sheet temperatures and speeds do not tell.",
            found.mean, found.low, found.high
        )
    }
}

fn count(number: usize, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}
