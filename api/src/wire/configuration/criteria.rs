//! Acceptance criteria.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{LengthUnit, TemperatureUnit};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::model::{self, Finding};
use crate::wire::{Measurement, Reader};

/// Acceptance criteria and advice limits of the organization.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Criteria {
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Bonded width that an automatic weld must show.
    pub bond_width_automatic: Measurement,
    /// Bonded width that a hand weld must show.
    pub bond_width_hand: Measurement,
    /// Strips that a coupon needs for full evidence.
    #[schema(minimum = 1, maximum = 20, example = 3)]
    pub minimum_strips: u8,
    /// Largest predicted share of cold, and of hot, strips inside the band.
    #[schema(example = 0.1)]
    pub share_limit: f64,
    /// Weight of the cold share in choosing the set point.
    #[schema(example = 1.0)]
    pub cold_weight: f64,
    /// Weight of the hot share in choosing the set point.
    #[schema(example = 1.0)]
    pub hot_weight: f64,
    /// Highest set temperature that the organization allows, if any.
    pub ceiling: Option<Measurement>,
}

impl Criteria {
    /// The criteria it describes and from when they hold.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    pub fn read(self, now: DateTime<Utc>) -> Result<(DateTime<Utc>, model::CriteriaSet), Vec<Finding>> {
        let mut reader = Reader::default();
        let automatic = reader.positive("/bond_width_automatic", &self.bond_width_automatic);
        let hand = reader.positive("/bond_width_hand", &self.bond_width_hand);
        let ceiling = reader.optional("/ceiling", self.ceiling.as_ref());
        let weights = [Some(self.cold_weight), Some(self.hot_weight)];
        reader.criteria(Some(self.minimum_strips), Some(self.share_limit), weights);
        let value = (|| {
            Some(model::CriteriaSet {
                bond_width_automatic: automatic?,
                bond_width_hand: hand?,
                minimum_strips: self.minimum_strips,
                share_limit: self.share_limit,
                cold_weight: self.cold_weight,
                hot_weight: self.hot_weight,
                ceiling: ceiling?,
            })
        })();
        let effective_from = self.effective_from.unwrap_or(now);
        reader.time("/effective_from", effective_from);
        Ok((effective_from, reader.findings.into_result(value)?))
    }

    /// The form of criteria in force since `effective_from`.
    pub fn show(effective_from: DateTime<Utc>, criteria: &model::CriteriaSet) -> Self {
        Self {
            effective_from: Some(effective_from),
            bond_width_automatic: Measurement::of(criteria.bond_width_automatic, LengthUnit::Millimetre),
            bond_width_hand: Measurement::of(criteria.bond_width_hand, LengthUnit::Millimetre),
            minimum_strips: criteria.minimum_strips,
            share_limit: criteria.share_limit,
            cold_weight: criteria.cold_weight,
            hot_weight: criteria.hot_weight,
            ceiling: criteria.ceiling.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
        }
    }
}

/// Rules that the organization's criteria and their exceptions share.
impl Reader {
    /// Checks what is given of strips, share limit, and weights of cold and hot strips.
    pub(super) fn criteria(&mut self, strips: Option<u8>, share: Option<f64>, weights: [Option<f64>; 2]) {
        let range = "out_of_range";
        let plausible = strips.is_none_or(|strips| (1..=20).contains(&strips));
        self.require(plausible, "/minimum_strips", range, "It lies between 1 and 20.");
        let plausible = share.is_none_or(|share| (0.001..=0.4).contains(&share));
        self.require(plausible, "/share_limit", range, "It lies between 0.001 and 0.4.");
        for (pointer, weight) in ["/cold_weight", "/hot_weight"].into_iter().zip(weights) {
            let plausible = weight.is_none_or(|weight| (0.01..=100.0).contains(&weight));
            self.require(plausible, pointer, range, "It lies between 0.01 and 100.");
        }
    }
}
