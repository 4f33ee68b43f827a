//! What an organization has before the first trial: a site, a crew, a membrane with a lot, units.

use serde_json::{Value, json};
use uuid::Uuid;

use super::Caller;

/// In force before every trial of the tests.
const LONG_AGO: &str = "2020-01-01T00:00:00Z";

/// One of each, by id.
#[derive(Debug, Clone, Copy)]
pub struct Shop {
    /// A site in the zone `America/Halifax`.
    pub site: Uuid,
    /// A crew on it that logs °C and m/min.
    pub crew: Uuid,
    /// A reinforced PVC membrane without a maker's ceiling.
    pub membrane: Uuid,
    /// A lot of it.
    pub lot: Uuid,
    /// The crew's unit, to be set to 620 °C at most.
    pub unit: Uuid,
}

impl Shop {
    /// Ids of their own, nothing added yet.
    #[must_use]
    pub fn plan() -> Self {
        Self {
            site: Uuid::now_v7(),
            crew: Uuid::now_v7(),
            membrane: Uuid::now_v7(),
            lot: Uuid::now_v7(),
            unit: Uuid::now_v7(),
        }
    }

    /// Adds one of each with ids of their own.
    pub async fn open(director: &Caller<'_>) -> Self {
        let shop = Self::plan();
        shop.add_to(director).await;
        shop
    }

    /// Adds what was planned to the caller's organization.
    pub async fn add_to(&self, director: &Caller<'_>) {
        for (path, body) in [
            ("/v1/sites", self.site_form()),
            ("/v1/crews", self.crew_form()),
            ("/v1/membranes", self.membrane_form()),
            ("/v1/lots", self.lot_form()),
            ("/v1/units", self.unit_form()),
        ] {
            director.post(path, &body).await.expect(201);
        }
    }

    /// The same shop with another unit of the same crew, which is added.
    pub async fn another_unit(&self, director: &Caller<'_>) -> Self {
        let shop = Self { unit: Uuid::now_v7(), ..*self };
        director.post("/v1/units", &shop.unit_form()).await.expect(201);
        shop
    }

    /// The same shop with another crew at the same site and a unit of its own, which are added.
    pub async fn another_crew(&self, director: &Caller<'_>) -> Self {
        let shop = Self { crew: Uuid::now_v7(), unit: Uuid::now_v7(), ..*self };
        director.post("/v1/crews", &shop.crew_form()).await.expect(201);
        director.post("/v1/units", &shop.unit_form()).await.expect(201);
        shop
    }

    /// The same shop with a crew and a unit at another site, all of which are added.
    pub async fn another_site(&self, director: &Caller<'_>) -> Self {
        let shop = Self { site: Uuid::now_v7(), crew: Uuid::now_v7(), unit: Uuid::now_v7(), ..*self };
        director.post("/v1/sites", &shop.site_form()).await.expect(201);
        director.post("/v1/crews", &shop.crew_form()).await.expect(201);
        director.post("/v1/units", &shop.unit_form()).await.expect(201);
        shop
    }

    /// The site as it is sent.
    #[must_use]
    pub fn site_form(&self) -> Value {
        json!({
            "id": self.site, "name": "Eelgrass Quay", "time_zone": "America/Halifax",
            "latitude_deg": 44.6, "longitude_deg": -63.6, "effective_from": LONG_AGO,
        })
    }

    /// The crew as it is sent.
    #[must_use]
    pub fn crew_form(&self) -> Value {
        json!({
            "id": self.crew, "name": "Heron crew", "site_id": self.site, "temperature_unit": "Cel",
            "speed_unit": "m/min", "effective_from": LONG_AGO,
        })
    }

    /// The membrane as it is sent.
    #[must_use]
    pub fn membrane_form(&self) -> Value {
        json!({
            "id": self.membrane, "name": "Saltguard 15", "material_class": "pvc",
            "thickness": { "value": 1.5, "unit": "mm" }, "reinforced": true, "effective_from": LONG_AGO,
        })
    }

    /// The lot as it is sent.
    #[must_use]
    pub fn lot_form(&self) -> Value {
        json!({ "id": self.lot, "membrane_id": self.membrane, "code": "SG15-2604", "effective_from": LONG_AGO })
    }

    /// The unit as it is sent. Its display has steps of 0.01 K, so that rounding hides nothing.
    #[must_use]
    pub fn unit_form(&self) -> Value {
        json!({
            "id": self.unit, "serial": "A-1193-07", "label": "SM-07", "crew_id": self.crew,
            "weld_method": "automatic", "rated_voltage": { "value": 230, "unit": "V" },
            "rated_power": { "value": 4.6, "unit": "kW" },
            "maximum_set_temperature": { "value": 620, "unit": "Cel" },
            "display_step": { "value": 0.01, "unit": "K" }, "nozzle_width": { "value": 40, "unit": "mm" },
            "heated_length": { "value": 25, "unit": "mm" }, "effective_from": LONG_AGO,
        })
    }
}
