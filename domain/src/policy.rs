//! What an organization has decided about advice: shares, weights, reserves, limits.

use crate::edges::EdgePrior;
use crate::quantity::{Percent, Temperature, TemperatureDifference, WindSpeed};
use crate::supply::LEAST_RESERVE;
use crate::weather::LEAST_ABOVE_DEW_POINT;

/// What an organization has decided about the advice it wants. Every number has a default and can be changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// Largest predicted share of cold strips, and of hot strips, inside the band. Default 10 %.
    pub share_limit: Percent,
    /// Weight of the cold share when the set point is chosen. Default 1.
    pub cold_weight: f64,
    /// Weight of the hot share when the set point is chosen. Default 1: a cold seam hides, a scorched one shows.
    pub hot_weight: f64,
    /// How far the set point keeps from the outermost all-sound step on the side where no strip has failed. Default
    /// 10 K.
    pub open_edge_reserve: TemperatureDifference,
    /// Margin below which advice on the weld itself is given. Default 10 K (common practice, no source).
    pub least_margin: TemperatureDifference,
    /// Where a trial starts when nothing is known. Default 400 °C: cool rather than scorching (common practice, no
    /// source).
    pub first_temperature: Temperature,
    /// How far a coupon may go above the hottest one welded so far. Default 40 K.
    pub largest_step_up: TemperatureDifference,
    /// Standard deviation of an edge at which it is known well enough. Default 14 K.
    pub target_sd: TemperatureDifference,
    /// Least relative gain in summed variance that is worth another coupon. Default 0.10.
    pub least_gain: f64,
    /// How many coupons a trial has at most. Default 10.
    pub maximum_coupons: usize,
    /// Wind from which a caution is given. Default 5.5 m/s, 20 km/h (common practice, no source).
    pub wind_caution: WindSpeed,
    /// How far a sheet should lie above the dew point. Default [`LEAST_ABOVE_DEW_POINT`], 3 K.
    pub least_above_dew_point: TemperatureDifference,
    /// How far the set point should lie below what the heater can reach on the supply. Default [`LEAST_RESERVE`], 20 K.
    pub least_heater_reserve: TemperatureDifference,
    /// What is known of the scatter of strips.
    pub edge_prior: EdgePrior,
}

impl Default for Policy {
    fn default() -> Self {
        Self {
            share_limit: Percent::constant(10.0),
            cold_weight: 1.0,
            hot_weight: 1.0,
            open_edge_reserve: TemperatureDifference::from_kelvin(10.0),
            least_margin: TemperatureDifference::from_kelvin(10.0),
            first_temperature: Temperature::from_celsius(400.0),
            largest_step_up: TemperatureDifference::from_kelvin(40.0),
            target_sd: TemperatureDifference::from_kelvin(14.0),
            least_gain: 0.10,
            maximum_coupons: 10,
            wind_caution: WindSpeed::metres_per_second(5.5),
            least_above_dew_point: LEAST_ABOVE_DEW_POINT,
            least_heater_reserve: LEAST_RESERVE,
            edge_prior: EdgePrior::default(),
        }
    }
}

/// Temperatures that must not be exceeded, whatever the strips say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Ceilings {
    /// The lower of what the makers of the two sheets allow, if they say.
    pub maker: Option<Temperature>,
    /// What the organization allows, if it says.
    pub organization: Option<Temperature>,
}
