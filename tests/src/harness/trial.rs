//! Trials as a third party writes them.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use uuid::Uuid;

use super::Shop;

/// A trial that is being written down.
#[derive(Debug, Clone)]
pub struct Trial {
    members: Value,
    scale: Scale,
}

/// The scale that temperatures are entered on. The numbers of a test are always °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// °C, as given.
    Celsius,
    /// Converted to °F.
    Fahrenheit,
}

impl Trial {
    /// A search for both edges.
    #[must_use]
    pub fn sweep(shop: &Shop, at: DateTime<Utc>) -> Self {
        Self::new(shop, "sweep", at)
    }

    /// A trial for any purpose, without coupons yet.
    #[must_use]
    pub fn new(shop: &Shop, purpose: &str, at: DateTime<Utc>) -> Self {
        let sheet = json!({ "membrane_id": shop.membrane, "lot_id": shop.lot, "condition": "new" });
        let members = json!({
            "schema": "trial/1", "id": Uuid::now_v7(), "unit_id": shop.unit, "performed_at": at,
            "purpose": purpose, "upper_sheet": sheet, "lower_sheet": sheet,
            "speed_set": { "value": 3.05, "unit": "m/min" },
            "sheet_temperature": { "value": 20, "unit": "Cel" }, "coupons": [],
        });
        Self { members, scale: Scale::Celsius }
    }

    /// A good sweep: steps 380 to 580 °C, three strips each, both edges found.
    #[must_use]
    pub fn good_sweep(shop: &Shop, at: DateTime<Utc>) -> Self {
        Self::sweep(shop, at)
            .coupon(380.0, "ccc")
            .coupon(420.0, "css")
            .coupon(460.0, "sss")
            .coupon(500.0, "sss")
            .coupon(540.0, "shh")
            .coupon(580.0, "hhh")
    }

    /// A check of the set point 475 °C: below, at and above it, one word of strips each.
    #[must_use]
    pub fn confirmation(shop: &Shop, at: DateTime<Utc>, [below, here, above]: [&str; 3]) -> Self {
        Self::new(shop, "confirmation", at)
            .member("set_point_before", json!({ "value": 475, "unit": "Cel" }))
            .coupon(455.0, below)
            .coupon(475.0, here)
            .coupon(495.0, above)
    }

    /// From here on temperatures are entered on this scale.
    #[must_use]
    pub fn on(mut self, scale: Scale) -> Self {
        self.scale = scale;
        self
    }

    /// Sets a member, whatever it was before.
    #[must_use]
    pub fn member(mut self, name: &str, value: Value) -> Self {
        self.members[name] = value;
        self
    }

    /// Gives the trial this id.
    #[must_use]
    pub fn id(self, id: Uuid) -> Self {
        self.member("id", json!(id))
    }

    /// Adds a coupon. Each letter is a strip: `c`old, `s`ound, `h`ot, `n`arrow, `d`irty, `?` failed without a mode.
    #[must_use]
    pub fn coupon(mut self, celsius: f64, strips: &str) -> Self {
        let set_temperature = match self.scale {
            Scale::Celsius => json!({ "value": celsius, "unit": "Cel" }),
            Scale::Fahrenheit => json!({ "value": celsius * 9.0 / 5.0 + 32.0, "unit": "[degF]" }),
        };
        let specimens: Vec<Value> = strips.chars().map(strip).collect();
        self.members["coupons"]
            .as_array_mut()
            .expect("coupons are a list")
            .push(json!({ "set_temperature": set_temperature, "specimens": specimens }));
        self
    }

    /// Gives a coupon the air temperature that was measured at the nozzle.
    #[must_use]
    pub fn probe(mut self, coupon: usize, celsius: f64) -> Self {
        self.members["coupons"][coupon]["measured_temperature"] = json!({ "value": celsius, "unit": "Cel" });
        self
    }

    /// The trial as it is sent.
    #[must_use]
    pub fn json(self) -> Value {
        self.members
    }

    /// The trial as it is sent piece by piece: the beginning under an id of its own, coupons a minute apart, and the close that makes
    /// the trial of them.
    ///
    /// # Panics
    ///
    /// When its time is no time.
    #[must_use]
    pub fn pieces(self) -> (Value, Vec<Value>, Value) {
        let mut header = self.members;
        let trial = header["id"].clone();
        let open = Uuid::now_v7();
        header["schema"] = json!("open_trial/1");
        header["id"] = json!(open);
        let begun: DateTime<Utc> =
            header["performed_at"].as_str().and_then(|at| at.parse().ok()).expect("a time");
        let coupons = header.as_object_mut().and_then(|members| members.remove("coupons"));
        let coupons: Vec<Value> = coupons
            .and_then(|coupons| coupons.as_array().cloned())
            .expect("coupons are a list")
            .into_iter()
            .zip(1..)
            .map(|(mut coupon, minutes)| {
                coupon["schema"] = json!("coupon/1");
                coupon["id"] = json!(Uuid::now_v7());
                coupon["open_trial_id"] = json!(open);
                coupon["recorded_at"] = json!(begun + TimeDelta::minutes(minutes));
                coupon
            })
            .collect();
        let ids: Vec<&Value> = coupons.iter().map(|coupon| &coupon["id"]).collect();
        let close = json!({
            "schema": "trial_close/1", "id": Uuid::now_v7(), "open_trial_id": open, "trial_id": trial,
            "recorded_at": begun + TimeDelta::minutes(30), "coupon_ids": ids,
        });
        (header, coupons, close)
    }
}

fn strip(letter: char) -> Value {
    let width = json!({ "value": 25.4, "unit": "mm" });
    let bonded = |mm: f64| json!({ "value": mm, "unit": "mm" });
    match letter {
        'c' => json!({ "width": width, "mode": "interface_opened" }),
        's' => json!({ "width": width, "mode": "film_tear", "bonded_width": bonded(40.0) }),
        'h' => {
            json!({ "width": width, "mode": "film_tear", "bonded_width": bonded(40.0), "scorching": ["char"] })
        }
        'n' => json!({ "width": width, "mode": "film_tear", "bonded_width": bonded(20.0) }),
        'd' => json!({ "width": width, "mode": "interface_opened", "contamination": ["dirt"] }),
        '?' => json!({ "width": width, "passed": false }),
        other => panic!("`{other}` is no strip"),
    }
}
