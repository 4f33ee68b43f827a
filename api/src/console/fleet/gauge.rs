//! The margins of a set point, drawn: a bar from one end of the band to the other, the set point always in the middle.

use askama::Template;
use askama::filters::HtmlSafe;
use lapwatch_domain::quantity::{Quantity, TemperatureDifference, TemperatureDifferenceUnit};

use crate::console::chart::Px;

const HALF_WIDTH: f64 = 64.0;
/// Half the width stands for this many kelvin; on every row, so that rows can be compared at a glance.
const HALF_RANGE_K: f64 = 64.0;

/// The drawing.
#[derive(Debug, Clone, Template)]
#[template(path = "parts/gauge.html")]
pub(super) struct Gauge {
    bar_x: Px,
    bar_width: Px,
    /// The band goes on beyond the drawing's left end.
    beyond_left: bool,
    /// And beyond its right end.
    beyond_right: bool,
    /// The set point lies outside the band.
    pub(super) outside: bool,
}

impl HtmlSafe for Gauge {}

impl Gauge {
    /// The gauge of a set point `below` above the cool end of the band and `above` below its hot end.
    pub(super) fn new(below: TemperatureDifference, above: TemperatureDifference) -> Self {
        let kelvin =
            |difference: TemperatureDifference| difference.value_in(TemperatureDifferenceUnit::Kelvin);
        let (low, high) = (-kelvin(below), kelvin(above));
        let place =
            |offset: f64| HALF_WIDTH * (1.0 + offset.clamp(-HALF_RANGE_K, HALF_RANGE_K) / HALF_RANGE_K);
        Self {
            bar_x: Px(place(low)),
            bar_width: Px((place(high) - place(low)).max(1.0)),
            beyond_left: low < -HALF_RANGE_K,
            beyond_right: high > HALF_RANGE_K,
            outside: low > 0.0 || high < 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kelvin(value: f64) -> TemperatureDifference {
        TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).unwrap()
    }

    #[test]
    fn the_bar_reaches_as_far_as_the_margins() {
        let gauge = Gauge::new(kelvin(32.0), kelvin(16.0));
        assert_eq!((gauge.bar_x.0, gauge.bar_width.0), (32.0, 48.0));
        assert!(!gauge.outside && !gauge.beyond_left);
    }

    #[test]
    fn a_set_point_outside_its_band_is_told() {
        let gauge = Gauge::new(kelvin(-8.0), kelvin(40.0));
        assert!(gauge.outside);
        assert!(gauge.bar_x.0 > HALF_WIDTH);
        assert!(Gauge::new(kelvin(90.0), kelvin(5.0)).beyond_left);
    }
}
