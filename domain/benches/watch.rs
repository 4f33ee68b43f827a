//! Prints the tables of `watch.md`.

#[path = "../tests/drift/fleet.rs"]
mod fleet;
#[path = "../tests/drift/measure.rs"]
mod measure;

use fleet::{Habits, SWEEPS, USUAL};
use lapwatch_domain::drift::ChartSettings;
use measure::alarm_ratio;

fn main() {
    let mixes = [
        ("1 in 10, ±15", Habits { check_step_k: 15.0, ..USUAL }),
        ("1 in 10, ±25", USUAL),
        ("1 in 10, ±40", Habits { check_step_k: 40.0, ..USUAL }),
        ("1 in 4, ±25", Habits { sweep_every: 4, ..USUAL }),
        ("1 in 2, ±25", Habits { sweep_every: 2, ..USUAL }),
        ("sweeps", SWEEPS),
        ("no sheet, sweeps", Habits { writes_sheet: false, ..SWEEPS }),
    ];
    for (name, habits) in mixes {
        for factor in [1.0] {
            let settings = ChartSettings { promise_arl: 500.0 / factor, ..ChartSettings::default() };
            alarm_ratio(&format!("{name} /{factor}"), 480, habits, &settings);
        }
    }
}
