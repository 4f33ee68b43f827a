//! A roof whose edges are known: it welds coupons and peels strips.

use std::f64::consts::TAU;

use lapwatch_domain::edges::Observation;
use lapwatch_domain::quantity::{Quantity, Temperature, TemperatureUnit};

/// A seeded generator (SplitMix64).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    pub(crate) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        low + (high - low) * (((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64)
    }

    pub(crate) fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform(0.0, 1.0)).ln()).sqrt() * (TAU * self.uniform(0.0, 1.0)).cos()
    }
}

/// What is true on a roof.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Roof {
    pub(crate) lower_c: f64,
    pub(crate) upper_c: f64,
    /// Scatter of the temperature at which a strip changes, and how much of it strips of a coupon share.
    pub(crate) sigma_k: f64,
    pub(crate) rho: f64,
}

impl Roof {
    /// Edges somewhere, as far apart as those of common sheets.
    pub(crate) fn anywhere(sigma_k: f64, rho: f64, dice: &mut Dice) -> Self {
        let lower_c = dice.uniform(395.0, 435.0);
        Self { lower_c, upper_c: lower_c + dice.uniform(100.0, 140.0), sigma_k, rho }
    }

    /// Welds a coupon and peels its strips.
    pub(crate) fn weld(&self, celsius: f64, strips: usize, dice: &mut Dice) -> Observation {
        let temperature = Temperature::new(celsius, TemperatureUnit::Celsius).expect("above absolute zero");
        let mut seen = Observation { temperature, cold: 0, sound: 0, hot: 0 };
        let shared = [dice.normal(), dice.normal()].map(|z| z * self.rho.sqrt());
        for _ in 0..strips {
            let own = [dice.normal(), dice.normal()].map(|z| z * (1.0 - self.rho).sqrt());
            if celsius < self.lower_c + self.sigma_k * (shared[0] + own[0]) {
                seen.cold += 1;
            } else if celsius > self.upper_c + self.sigma_k * (shared[1] + own[1]) {
                seen.hot += 1;
            } else {
                seen.sound += 1;
            }
        }
        seen
    }

    /// The true share of strips that fail at a setting.
    pub(crate) fn failing_share(&self, celsius: f64) -> f64 {
        let cdf = lapwatch_domain::numerics::normal::cdf;
        let cold = cdf((self.lower_c - celsius) / self.sigma_k);
        cold + (1.0 - cold) * cdf((celsius - self.upper_c) / self.sigma_k)
    }
}
