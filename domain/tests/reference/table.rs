//! Agreement with the other program on the same grid.

use lapwatch_domain::edges::{EdgeClass, Estimate};
use lapwatch_domain::quantity::{Quantity, TemperatureDifferenceUnit, TemperatureUnit};

use crate::row::{Row, rows};

/// Largest difference of a mean or a standard deviation, as a ratio to the standard deviation.
const TOLERANCE: f64 = 1e-6;
/// The same where an end of the grid cuts the posterior off: interpolation has nothing to lean on beyond it.
const TOLERANCE_AT_AN_END: f64 = 5e-6;
/// Largest difference of a bound, in kelvin: that of the root finder.
const BOUND_TOLERANCE_K: f64 = 1e-5;

fn numbers(estimate: &Estimate) -> (f64, f64) {
    let mean = estimate.mean.value_in(TemperatureUnit::Celsius);
    (mean, estimate.sd.value_in(TemperatureDifferenceUnit::Kelvin))
}

fn is_cut_off(row: &Row) -> bool {
    row.quantiles_c[0] <= 250.0 || row.quantiles_c[2] >= row.top_c().floor()
}

#[test]
fn means_and_deviations_agree_on_the_same_grid() {
    let mut bracketed = 0;
    for row in rows() {
        let name = format!("{}, {:?}", row.trial, row.edge);
        let evidence = row.evidence();
        assert_eq!(evidence.class, row.class, "{name}");
        let Some(found) = evidence.estimate else {
            assert_ne!(row.class, EdgeClass::Bracketed, "{name}");
            continue;
        };
        bracketed += 1;
        let (mean, sd) = numbers(&found);
        let error = (mean - row.mean_c).abs().max((sd - row.sd_k).abs()) / row.sd_k;
        let tolerance = if is_cut_off(&row) { TOLERANCE_AT_AN_END } else { TOLERANCE };
        assert!(error < tolerance, "{name}: {mean} ± {sd}, table {} ± {}", row.mean_c, row.sd_k);
        let quantiles = [found.q025, found.q500, found.q975].map(|q| q.value_in(TemperatureUnit::Celsius));
        assert_eq!(quantiles, row.quantiles_c, "{name}");
    }
    assert!(bracketed > 100, "{bracketed}");
}

#[test]
fn bounds_of_open_edges_agree() {
    let mut open = 0;
    for row in rows() {
        let name = format!("{}, {:?}", row.trial, row.edge);
        let bound = row.evidence().bound.map(|bound| bound.value_in(TemperatureUnit::Celsius));
        match (bound, row.bound_c) {
            (Some(found), Some(table)) => {
                open += 1;
                assert!((found - table).abs() < BOUND_TOLERANCE_K, "{name}: {found}, table {table}");
            }
            (found, table) => assert_eq!(found, table, "{name}"),
        }
    }
    assert!(open > 20, "{open}");
}
