//! Evaluating a trial by the configuration that was in force when it was performed.

use std::panic::{AssertUnwindSafe, catch_unwind};

use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::Criteria;
use lapwatch_domain::edges::EdgePrior;
use lapwatch_domain::membrane::{self, MaterialClass};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{Percent, PercentUnit, Quantity, Temperature};
use lapwatch_domain::supply::{Rating, Supply};
use lapwatch_domain::trial::{Evaluation, Place, Surroundings, TrialInput, evaluate};
use tokio::try_join;
use uuid::Uuid;

use super::carry::dwell;
use crate::model::{
    Crew, CriteriaException, CriteriaSet, DatedPrior, Findings, Lot, Membrane, Sheet, Trial, Unit, Version,
    Weld,
};
use crate::service::configuration::unknown;
use crate::service::{Error, Result};
use crate::storage::configuration::{self as store, Subject};
use crate::storage::{self, Tenant};

/// The configuration by which a trial is judged.
#[derive(Debug, Clone)]
pub struct Context {
    /// The unit.
    pub unit: Unit,
    /// The upper sheet's product.
    pub upper: Membrane,
    /// The lower sheet's product.
    pub lower: Membrane,
    /// The criteria for this weld.
    pub criteria: CriteriaSet,
    /// What the fleet's own trials let it assume of the strips; `None` where no fit held yet.
    pub prior: Option<DatedPrior>,
    /// The crew that welded: the record's, else the one that had the unit.
    pub crew_id: Option<Uuid>,
    /// The site of that crew.
    pub site_id: Option<Uuid>,
}

impl Context {
    /// Loads what was in force when the trial was performed.
    ///
    /// # Errors
    /// [`Error::Invalid`] naming every id that is not known; [`Error::Storage`].
    pub async fn load(tenant: &Tenant<'_>, trial: &Trial) -> Result<Self> {
        let at = trial.ordered_at();
        // Sent together: the connection pipelines them.
        let (unit, upper, lower, (_, criteria), exceptions, prior) = try_join!(
            store::in_force::<Unit>(tenant, trial.unit_id, at),
            Laid::load(tenant, &trial.upper_sheet, at),
            Laid::load(tenant, &trial.lower_sheet, at),
            store::criteria(tenant, at),
            store::all_in_force::<CriteriaException>(tenant, at),
            storage::fits::prior(tenant, at),
        )?;
        let mut findings = Findings::default();
        let unit = named(&mut findings, "/unit_id", trial.unit_id, unit);
        let upper = upper.check(&mut findings, "/upper_sheet", &trial.upper_sheet);
        let lower = lower.check(&mut findings, "/lower_sheet", &trial.lower_sheet);
        let crew_id = trial.crew_id.or(unit.as_ref().and_then(|unit| unit.crew_id));
        let crew = match crew_id {
            Some(id) => named(&mut findings, "/crew_id", id, store::in_force::<Crew>(tenant, id, at).await?),
            None => None,
        };
        let site_id = crew.map(|crew| crew.site_id);
        let context = unit.zip(upper).zip(lower).map(|((unit, upper), lower)| Self {
            criteria: criteria.for_weld(
                &exceptions,
                &Weld {
                    site_id,
                    membrane_ids: [trial.upper_sheet.membrane_id, trial.lower_sheet.membrane_id],
                    method: unit.weld_method,
                    at,
                },
            ),
            prior,
            unit,
            upper,
            lower,
            crew_id,
            site_id,
        });
        findings.into_result(context).map_err(Error::Invalid)
    }

    /// The sheet class whose history the trial informs: the upper sheet's, which the hot air meets first.
    pub fn material_class(&self) -> MaterialClass {
        self.upper.material_class
    }

    /// Evaluates the trial.
    ///
    /// # Errors
    /// [`Error::Invalid`] when a value is one that no real trial of this unit has; [`Error::Internal`] should the
    /// calculation fail, which it does not for any record that passes.
    pub fn evaluate(&self, trial: &Trial) -> Result<Evaluation> {
        let input = self.input(trial);
        plausible(&input)?;
        catch_unwind(AssertUnwindSafe(|| evaluate(&input)))
            .map_err(|_| Error::Internal(format!("the calculation failed on trial {}", trial.id)))
    }

    /// Checks that a real trial of this unit can have such values.
    ///
    /// # Errors
    /// [`Error::Invalid`].
    pub fn check(&self, trial: &Trial) -> Result<()> {
        plausible(&self.input(trial))
    }

    pub(super) fn input(&self, trial: &Trial) -> TrialInput {
        let sheet = |membrane: &Membrane, sheet: &Sheet| membrane::Sheet {
            class: membrane.material_class,
            condition: sheet.condition,
        };
        TrialInput {
            purpose: trial.purpose,
            method: self.unit.weld_method,
            unit_maximum: self.unit.maximum_set_temperature,
            display_step: self.unit.display_step,
            temperature_unit: trial.temperature_unit,
            ceilings: ceilings([&self.upper, &self.lower], &self.criteria),
            set_point_before: trial.set_point_before,
            upper_sheet: sheet(&self.upper, &trial.upper_sheet),
            lower_sheet: sheet(&self.lower, &trial.lower_sheet),
            criteria: Criteria {
                bond_width_automatic: self.criteria.bond_width_automatic,
                bond_width_hand: self.criteria.bond_width_hand,
                minimum_strips: usize::from(self.criteria.minimum_strips),
                ..Criteria::default()
            },
            policy: policy(&self.criteria, self.prior),
            coupons: trial
                .coupons
                .iter()
                .map(|coupon| lapwatch_domain::acceptance::Coupon {
                    set_temperature: coupon.set_temperature,
                    speed: trial.speed_of(coupon),
                    specimens: coupon.specimens.iter().map(|peeled| peeled.specimen.clone()).collect(),
                })
                .collect(),
            supply: trial.supply_source,
            wind: trial.wind_speed,
            speed: trial.speed(),
            speed_unit: trial.speed_unit,
            dwell: Some(dwell(&self.unit, [&self.upper, &self.lower])),
            surroundings: self.surroundings(trial),
        }
    }

    fn surroundings(&self, trial: &Trial) -> Surroundings {
        Surroundings {
            sheet: trial.sheet_temperature,
            air: trial.air_temperature,
            humidity: trial.humidity,
            rating: Rating::new(self.unit.rated_voltage, self.unit.rated_power).ok(),
            supply: Supply {
                source: None,
                idle: trial.voltage_idle,
                loaded: trial.voltage_loaded,
                cord: trial.notes.cord,
            },
        }
    }
}

/// Temperatures never to be exceeded on these two sheets.
pub(in crate::service) fn ceilings(sheets: [&Membrane; 2], criteria: &CriteriaSet) -> Ceilings {
    let makers = sheets.into_iter().filter_map(|membrane| membrane.maker_ceiling);
    Ceilings { maker: makers.reduce(Temperature::min), organization: criteria.ceiling }
}

/// What the organization has decided about advice, and what its own trials say of strips.
pub(in crate::service) fn policy(criteria: &CriteriaSet, prior: Option<DatedPrior>) -> Policy {
    Policy {
        share_limit: Percent::new(criteria.share_limit * 100.0, PercentUnit::Percent)
            .unwrap_or(Policy::default().share_limit),
        cold_weight: criteria.cold_weight,
        hot_weight: criteria.hot_weight,
        edge_prior: prior.map_or_else(EdgePrior::default, |dated| dated.prior),
        ..Policy::default()
    }
}

fn plausible(input: &TrialInput) -> Result<()> {
    input.check().map_err(|found| {
        let mut findings = Findings::default();
        for implausible in found {
            findings.add(pointer(implausible.place), implausible.kind.code(), implausible.advice);
        }
        Error::Invalid(findings.into_result(None::<()>).err().unwrap_or_default())
    })
}

fn pointer(place: Place) -> String {
    match place {
        Place::UnitMaximum | Place::DisplayStep => "/unit_id".into(),
        Place::SetPointBefore => "/set_point_before/value".into(),
        Place::Coupons => "/coupons".into(),
        Place::SetTemperature(index) => format!("/coupons/{index}/set_temperature/value"),
        Place::Specimens(index) => format!("/coupons/{index}/specimens"),
    }
}

/// What was found under an id; notes at `pointer` when nothing was.
pub(in crate::service) fn named<T: Subject>(
    findings: &mut Findings,
    pointer: &str,
    id: Uuid,
    found: Option<Version<T>>,
) -> Option<T> {
    if found.is_none() {
        findings.add(pointer, "unknown_id", unknown::<T>(id));
    }
    found.map(|version| version.value)
}

/// What was found of a sheet.
struct Laid {
    membrane: Option<Version<Membrane>>,
    lot: Option<Version<Lot>>,
}

impl Laid {
    async fn load(tenant: &Tenant<'_>, sheet: &Sheet, at: DateTime<Utc>) -> storage::Result<Self> {
        let lot = async {
            match sheet.lot_id {
                Some(lot) => store::in_force::<Lot>(tenant, lot, at).await,
                None => Ok(None),
            }
        };
        let (membrane, lot) = try_join!(store::in_force(tenant, sheet.membrane_id, at), lot)?;
        Ok(Self { membrane, lot })
    }

    /// The membrane, if it and the lot are there and belong together.
    fn check(self, findings: &mut Findings, pointer: &str, sheet: &Sheet) -> Option<Membrane> {
        if let Some(id) = sheet.lot_id {
            let at_lot = format!("{pointer}/lot_id");
            let lot = named(findings, &at_lot, id, self.lot);
            if lot.is_some_and(|lot| lot.membrane_id != sheet.membrane_id) {
                findings.add(
                    at_lot,
                    "wrong_membrane",
                    "This lot is of another membrane; correct the lot or the membrane.",
                );
            }
        }
        named(findings, &format!("{pointer}/membrane_id"), sheet.membrane_id, self.membrane)
    }
}
