//! Where other criteria hold than the organization's.

use chrono::{DateTime, Utc};
use lapwatch_domain::quantity::{LengthUnit, TemperatureUnit};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Measurement, Reader, Text};

/// Where other criteria hold than the organization's: on a site, for a membrane, for a way of welding. All conditions
/// that are named have to be met. What is not named among the criteria stays the organization's. Of several exceptions
/// that hold, one with more conditions goes before one with fewer; among equals the site's before the membrane's, and
/// that before the way of welding. A maker's ceiling always holds besides.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CriteriaException {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the exception is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Hall 3 specification")]
    pub name: Text,
    /// On this site.
    pub site_id: Option<Uuid>,
    /// With this membrane as either sheet.
    pub membrane_id: Option<Uuid>,
    /// Welded in this way: `automatic` or `hand`.
    pub weld_method: Option<String>,
    /// Bonded width that a weld must show.
    pub bond_width: Option<Measurement>,
    /// Strips that a coupon needs for full evidence.
    #[schema(minimum = 1, maximum = 20)]
    pub minimum_strips: Option<u8>,
    /// Largest predicted share of cold, and of hot, strips inside the band.
    #[schema(minimum = 0.001, maximum = 0.4)]
    pub share_limit: Option<f64>,
    /// Weight of the cold share in choosing the set point.
    #[schema(minimum = 0.01, maximum = 100)]
    pub cold_weight: Option<f64>,
    /// Weight of the hot share in choosing the set point.
    #[schema(minimum = 0.01, maximum = 100)]
    pub hot_weight: Option<f64>,
    /// Highest set temperature.
    pub ceiling: Option<Measurement>,
}

impl Form for CriteriaException {
    type Subject = model::CriteriaException;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<Self::Subject>, Vec<Finding>> {
        let mut reader = Reader::default();
        let value = self.convert(&mut reader);
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::CriteriaException>) -> Self {
        let exception = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(exception.name.clone()),
            site_id: exception.site_id,
            membrane_id: exception.membrane_id,
            weld_method: exception.weld_method.map(|method| method.code().to_owned()),
            bond_width: exception.bond_width.map(|width| Measurement::of(width, LengthUnit::Millimetre)),
            minimum_strips: exception.minimum_strips,
            share_limit: exception.share_limit,
            cold_weight: exception.cold_weight,
            hot_weight: exception.hot_weight,
            ceiling: exception.ceiling.map(|t| Measurement::of(t, TemperatureUnit::Celsius)),
        }
    }
}

impl CriteriaException {
    fn convert(&self, r: &mut Reader) -> Option<model::CriteriaException> {
        let weld_method = r.present(self.weld_method.as_ref(), |r, code| r.coded("/weld_method", code));
        let bond_width = r.present(self.bond_width.as_ref(), |r, width| r.positive("/bond_width", width));
        let ceiling = r.optional("/ceiling", self.ceiling.as_ref());
        let conditions = self.site_id.is_some() || self.membrane_id.is_some() || self.weld_method.is_some();
        let detail = "Name at least one of `site_id`, `membrane_id` and `weld_method`; criteria for everything are those \
                      of the organization.";
        r.require(conditions, "", "no_condition", detail);
        let changes = self.bond_width.is_some()
            || self.minimum_strips.is_some()
            || self.share_limit.is_some()
            || self.cold_weight.is_some()
            || self.hot_weight.is_some()
            || self.ceiling.is_some();
        r.require(
            changes,
            "",
            "no_change",
            "Name at least one criterion that differs from the organization's.",
        );
        r.criteria(self.minimum_strips, self.share_limit, [self.cold_weight, self.hot_weight]);
        Some(model::CriteriaException {
            name: self.name.0.clone(),
            site_id: self.site_id,
            membrane_id: self.membrane_id,
            weld_method: weld_method?,
            bond_width: bond_width?,
            minimum_strips: self.minimum_strips,
            share_limit: self.share_limit,
            cold_weight: self.cold_weight,
            hot_weight: self.hot_weight,
            ceiling: ceiling?,
        })
    }
}
