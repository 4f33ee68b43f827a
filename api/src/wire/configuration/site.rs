//! Sites.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Form, Head};
use crate::model::{self, Finding, Version};
use crate::wire::{Reader, Text};

/// A site: where crews weld.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Id; absent in a request, the service makes one.
    pub id: Option<Uuid>,
    /// From when this version holds; absent in a request: from now.
    pub effective_from: Option<DateTime<Utc>>,
    /// Whether the site is retired from then on; absent in a request: not.
    pub retired: Option<bool>,
    /// Name that people use.
    #[schema(value_type = Text, example = "Eelgrass Quay")]
    pub name: Text,
    /// IANA time zone; local days and due times are its.
    #[schema(example = "America/Halifax")]
    pub time_zone: String,
    /// Degrees north, with `longitude_deg`.
    #[schema(minimum = -90, maximum = 90)]
    pub latitude_deg: Option<f64>,
    /// Degrees east, with `latitude_deg`.
    #[schema(minimum = -180, maximum = 180)]
    pub longitude_deg: Option<f64>,
}

impl Form for Site {
    type Subject = model::Site;

    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<model::Site>, Vec<Finding>> {
        let mut reader = Reader::default();
        let zone = self.time_zone.parse::<Tz>().ok();
        reader.require(
            zone.is_some(),
            "/time_zone",
            "unknown_time_zone",
            "Send a name of the IANA time zone database, such as `America/Halifax`.",
        );
        reader.require(
            self.latitude_deg.is_some() == self.longitude_deg.is_some(),
            "/latitude_deg",
            "incomplete",
            "Send latitude and longitude together, or neither.",
        );
        let within = |value: Option<f64>, limit: f64| value.is_none_or(|value| value.abs() <= limit);
        reader.require(
            within(self.latitude_deg, 90.0),
            "/latitude_deg",
            "out_of_range",
            "It lies between -90 and 90.",
        );
        reader.require(
            within(self.longitude_deg, 180.0),
            "/longitude_deg",
            "out_of_range",
            "It lies between -180 and 180.",
        );
        let value = zone.map(|time_zone| model::Site {
            name: self.name.0,
            time_zone,
            position_deg: self.latitude_deg.zip(self.longitude_deg),
        });
        Head { id: self.id, effective_from: self.effective_from, retired: self.retired }
            .version(id, now, reader, value)
    }

    fn show(version: &Version<model::Site>) -> Self {
        let site = &version.value;
        Self {
            id: Some(version.id),
            effective_from: Some(version.effective_from),
            retired: Some(version.retired),
            name: Text(site.name.clone()),
            time_zone: site.time_zone.name().to_owned(),
            latitude_deg: site.position_deg.map(|(latitude, _)| latitude),
            longitude_deg: site.position_deg.map(|(_, longitude)| longitude),
        }
    }
}
