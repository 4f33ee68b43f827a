//! Which cause is blamed, for faults whose cause is known.
//!
//! The truth here is worked out apart from the ranking's own rules of thumb: edges follow from the heat that arrives, exactly,
//! not to first order, and a fault has a size of its own.

use lapwatch_domain::drift::causes::{Cause, CauseEvidence, Change, RatioChange, rank};
use lapwatch_domain::quantity::{
    Quantity, Temperature, TemperatureDifference, TemperatureDifferenceUnit, TemperatureUnit,
};

use crate::fleet::Dice;

const CASES: usize = 400;
const LEVELS_C: [f64; 2] = [430.0, 540.0];
const SHEET_C: f64 = 20.0;
/// Standard deviation with which a shift is known some trials after a signal, K.
const SHIFT_SD_K: f64 = 8.0;
const PROBE_SD_K: f64 = 5.0;
const VOLTS_SD: f64 = 0.02;
const SPEED_SD: f64 = 0.015;

/// What a fault does: shifts of the edges, gaps at both settings (K), voltage and speed ratios.
struct Truth {
    shifts: [f64; 2],
    gaps: [f64; 2],
    voltage: f64,
    speed: f64,
}

fn truth(cause: Cause, dice: &mut Dice) -> Truth {
    let still = Truth { shifts: [0.0; 2], gaps: [0.0; 2], voltage: 1.0, speed: 1.0 };
    let scaled = |by: f64| LEVELS_C.map(|level| (level - SHEET_C) * (by - 1.0));
    let size = 0.7 + 0.8 * dice.uniform();
    match cause {
        Cause::SensorBias => Truth { shifts: [35.0 * size; 2], gaps: [-35.0 * size; 2], ..still },
        Cause::HeatTransfer => Truth { shifts: scaled(1.0 / (1.0 - 0.09 * size)), ..still },
        Cause::HeaterOrSupply => {
            // The element gives (V/Vn)² of its power; what a setting asks for beyond that does not arrive.
            let voltage = 1.0 - 0.06 * size;
            let reach = SHEET_C + (600.0 - SHEET_C) * voltage * voltage;
            let short = (LEVELS_C[1] + 20.0 - reach).max(0.0);
            Truth { shifts: [0.0, short], gaps: [0.0, -short], voltage, ..still }
        }
        Cause::Airflow => {
            let share = 0.08 * size;
            let hot = LEVELS_C.map(|level| 0.04 * size * (level - 300.0) / 2.0);
            Truth { shifts: scaled(1.0 / (1.0 - share)), gaps: hot, ..still }
        }
        Cause::DriveSpeed => {
            let speed = 1.0 + 0.18 * size;
            Truth { shifts: scaled(speed.powf(0.42)), speed, ..still }
        }
        Cause::NipPressure => Truth { shifts: [30.0 * size, 0.0], ..still },
        Cause::Sheet => {
            let sign = if dice.uniform() < 0.5 { -1.0 } else { 1.0 };
            let other = 20.0 * dice.normal();
            Truth { shifts: [sign * 30.0 * size, other], ..still }
        }
    }
}

fn measured(truth: &Truth, with_measurements: bool, dice: &mut Dice) -> CauseEvidence {
    let celsius = |value| Temperature::new(value, TemperatureUnit::Celsius).expect("a temperature");
    let kelvin =
        |value| TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).expect("a difference");
    let mut change = |by: f64, sd: f64| Some(Change { by: kelvin(by + sd * dice.normal()), sd: kelvin(sd) });
    let (lower, upper) = (change(truth.shifts[0], SHIFT_SD_K), change(truth.shifts[1], SHIFT_SD_K));
    let (low, high) = (change(truth.gaps[0], PROBE_SD_K), change(truth.gaps[1], PROBE_SD_K));
    let mut ratio = |ratio: f64, sd: f64| Some(RatioChange { ratio: ratio + sd * dice.normal(), sd });
    let (volts, speed) = (ratio(truth.voltage, VOLTS_SD), ratio(truth.speed, SPEED_SD));
    CauseEvidence {
        lower_level: celsius(LEVELS_C[0]),
        upper_level: celsius(LEVELS_C[1]),
        lower,
        upper,
        gap_low: low.filter(|_| with_measurements),
        gap_high: high.filter(|_| with_measurements),
        voltage_ratio: volts.filter(|_| with_measurements),
        speed_ratio: speed.filter(|_| with_measurements),
    }
}

/// For each true cause and with or without measurements: how often each cause came first, and how often one was named, rightly
/// or wrongly.
pub(crate) fn table() {
    for with_measurements in [false, true] {
        let what = if with_measurements { "with probe, volts and timed run" } else { "from the edges alone" };
        println!("\n# Causes, {what}: which comes first, % of {CASES} cases\n");
        let heads: Vec<&str> = Cause::ALL.iter().map(|cause| cause.code()).collect();
        println!("| truth | {} | named rightly | named wrongly |", heads.join(" | "));
        println!("|{}", " --- |".repeat(heads.len() + 3));
        for &cause in Cause::ALL {
            let mut dice = Dice(cause as u64 * 1009 + 3);
            let mut first = vec![0; Cause::ALL.len()];
            let (mut right, mut wrong) = (0, 0);
            for _ in 0..CASES {
                let truth = truth(cause, &mut dice);
                let ranking = rank(&measured(&truth, with_measurements, &mut dice));
                first[ranking.ranked[0].cause as usize] += 1;
                match ranking.named {
                    Some(named) if named == cause => right += 1,
                    Some(_) => wrong += 1,
                    None => {}
                }
            }
            let percent = |count: &usize| format!("{:.0}", 100.0 * *count as f64 / CASES as f64);
            let cells: Vec<String> = first.iter().map(percent).collect();
            println!(
                "| {} | {} | {} | {} |",
                cause.code(),
                cells.join(" | "),
                percent(&right),
                percent(&wrong)
            );
        }
    }
}
