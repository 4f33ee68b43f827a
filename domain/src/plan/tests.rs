//! Checks of the expected gain against a plain sum over the whole grid.

use super::search::{Coupon, KnownEdge, Outcomes};
use crate::edges::{BothEdges, Edge, EdgePrior, Observation, stand_alone};
use crate::quantity::Temperature;

/// The worked sweep: expected gains of a coupon of 3 strips in the variance of the lower and of the upper edge, in K².
/// Recomputed independently by a plain sum over every degree and every σ.
#[test]
fn expected_gains_of_the_worked_sweep() {
    let rows = [
        (380.0, 3, 0, 0),
        (420.0, 1, 2, 0),
        (460.0, 0, 3, 0),
        (500.0, 0, 3, 0),
        (540.0, 0, 1, 2),
        (580.0, 0, 0, 3),
    ];
    let observations = rows.map(|(temperature, cold, sound, hot)| Observation {
        temperature: Temperature::from_celsius(temperature),
        cold,
        sound,
        hot,
    });
    let evidence = stand_alone(&observations, Temperature::from_celsius(620.0), &EdgePrior::default());
    let (lower, upper) =
        (KnownEdge::new(evidence.posterior(Edge::Lower)), KnownEdge::new(evidence.posterior(Edge::Upper)));
    let strips = Outcomes::new(3, EdgePrior::default().correlation);
    let table = [
        (360.0, 79.2579, 1.1546),
        (400.0, 95.7584, 2.4821),
        (410.0, 91.2390, 3.0961),
        (460.0, 19.1051, 11.3069),
        (510.0, 2.5182, 46.9467),
        (530.0, 1.0907, 69.4445),
    ];
    for (temperature, exact_lower, exact_upper) in table {
        let (low, up) = (lower.ask(&strips, temperature).gain, upper.ask(&strips, temperature).gain);
        assert!((low - exact_lower).abs() < 0.01 * exact_lower + 0.05, "lower at {temperature}: {low}");
        assert!((up - exact_upper).abs() < 0.01 * exact_upper + 0.05, "upper at {temperature}: {up}");
    }
}

/// Where every strip so far opened cold, a coupon cooler than those is expected to tell next to nothing: its strips
/// would open cold too, and say nothing about scorching.
#[test]
fn a_coupon_cooler_than_all_cold_ones_tells_little() {
    let observations = [520.0, 535.0, 550.0].map(|temperature| Observation {
        temperature: Temperature::from_celsius(temperature),
        cold: 3,
        sound: 0,
        hot: 0,
    });
    let evidence = stand_alone(&observations, Temperature::from_celsius(620.0), &EdgePrior::default());
    let (lower, upper) =
        (KnownEdge::new(evidence.posterior(Edge::Lower)), KnownEdge::new(evidence.posterior(Edge::Upper)));
    let coupon = Coupon::new(3, EdgePrior::default().correlation);
    let (cooler, hotter) = (coupon.gain(&lower, &upper, 470.0), coupon.gain(&lower, &upper, 590.0));
    assert!(cooler < 0.05 * hotter, "{cooler} at 470, {hotter} at 590");
}
