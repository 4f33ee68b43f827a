//! What trials measured beside their strips, and how that has changed since an edge began to move: the nozzle's
//! temperature against its setting, volts under load, timed against set speed.

use chrono::{DateTime, Utc};

use super::causes::{Change, RatioChange};
use crate::quantity::{Temperature, TemperatureDifference};

/// Air temperature measured at the nozzle, at one setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// The setting.
    pub set: Temperature,
    /// Measured less set.
    pub gap: TemperatureDifference,
}

/// What one trial measured beside its strips. Everything may be missing.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// When the trial was performed.
    pub at: DateTime<Utc>,
    /// Probes at the nozzle, at one or several settings.
    pub probes: Vec<Probe>,
    /// Volts under load over the rated voltage, a ratio.
    pub voltage_ratio: Option<f64>,
    /// Timed over set speed, a ratio.
    pub speed_ratio: Option<f64>,
    /// Width of the band, if the trial looked for both edges and found one.
    pub band_width: Option<TemperatureDifference>,
}

/// The changes since the onset; `None` where nothing was measured after it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ChangesBeside {
    /// Of the gap at settings nearer to the lower edge.
    pub gap_low: Option<Change>,
    /// Of the gap at settings nearer to the upper edge.
    pub gap_high: Option<Change>,
    /// Of the voltage.
    pub voltage_ratio: Option<RatioChange>,
    /// Of the speed.
    pub speed_ratio: Option<RatioChange>,
}

/// What is known of a quantity before it was ever measured on this unit, and how one measurement repeats: mean, standard
/// deviation, standard deviation of a measurement. (Common experience, no source.)
#[derive(Debug, Clone, Copy)]
struct Usual {
    mean: f64,
    sd: f64,
    repeat_sd: f64,
}

/// A probe reads some ten kelvins off what the machine shows, and repeats to five.
const GAP_K: Usual = Usual { mean: 0.0, sd: 10.0, repeat_sd: 5.0 };
/// Sites differ by some three per cent of the rated voltage, hours of the day by two.
const VOLTAGE: Usual = Usual { mean: 1.0, sd: 0.03, repeat_sd: 0.02 };
/// Drives run within two per cent of their setting; a timed run repeats to one and a half.
const SPEED: Usual = Usual { mean: 1.0, sd: 0.02, repeat_sd: 0.015 };

/// How the measurements from `onset` on differ from those before it.
///
/// `onset` is the range in which the move began: what lies inside it belongs to neither side. What was measured before
/// `restart` (the last service with effect on heat) is left out. A setting below `split` counts as low, else as high.
/// Where nothing was measured before, what is usual of such units stands in, with its uncertainty.
#[must_use]
pub fn changes_beside(
    measured: &[Beside],
    restart: Option<DateTime<Utc>>,
    onset: (DateTime<Utc>, DateTime<Utc>),
    split: Temperature,
) -> ChangesBeside {
    let mut found = [Sides::default(), Sides::default(), Sides::default(), Sides::default()];
    for beside in measured.iter().filter(|beside| restart.is_none_or(|restart| beside.at > restart)) {
        let side = if beside.at < onset.0 {
            Side::Before
        } else if beside.at >= onset.1 {
            Side::After
        } else {
            continue;
        };
        for probe in &beside.probes {
            found[usize::from(probe.set >= split)].add(side, probe.gap.kelvin());
        }
        found[2].extend(side, beside.voltage_ratio);
        found[3].extend(side, beside.speed_ratio);
    }
    let [gap_low, gap_high, voltage, speed] = found;
    let kelvin = TemperatureDifference::from_kelvin;
    let change = |(by, sd): (f64, f64)| Change { by: kelvin(by), sd: kelvin(sd) };
    let ratio = |(by, sd): (f64, f64)| RatioChange { ratio: 1.0 + by, sd };
    ChangesBeside {
        gap_low: gap_low.change(GAP_K).map(change),
        gap_high: gap_high.change(GAP_K).map(change),
        voltage_ratio: voltage.change(VOLTAGE).map(ratio),
        speed_ratio: speed.change(SPEED).map(ratio),
    }
}

#[derive(Debug, Clone, Copy)]
enum Side {
    Before,
    After,
}

/// Numbers and sums of measurements before and after.
#[derive(Debug, Clone, Copy, Default)]
struct Sides {
    count: [f64; 2],
    sum: [f64; 2],
}

impl Sides {
    fn add(&mut self, side: Side, value: f64) {
        self.count[side as usize] += 1.0;
        self.sum[side as usize] += value;
    }

    fn extend(&mut self, side: Side, value: Option<f64>) {
        if let Some(value) = value {
            self.add(side, value);
        }
    }

    /// Mean after less mean before, with its standard deviation; the mean before shrunk to what is usual.
    fn change(&self, usual: Usual) -> Option<(f64, f64)> {
        let [before, after] = self.count;
        if after == 0.0 {
            return None;
        }
        let variance = usual.repeat_sd.powi(2);
        let precision = usual.sd.powi(-2) + before / variance;
        let mean_before = (usual.mean * usual.sd.powi(-2) + self.sum[0] / variance) / precision;
        let sd = (precision.recip() + variance / after).sqrt();
        Some((self.sum[1] / after - mean_before, sd))
    }
}

#[cfg(test)]
mod tests {
    use chrono::{TimeDelta, TimeZone};

    use super::*;

    fn day(day: i64) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2026, 3, 2, 7, 0, 0).unwrap() + TimeDelta::days(day)
    }

    fn probed(at: i64, gaps: &[(f64, f64)]) -> Beside {
        let probe = |&(set, gap): &(f64, f64)| Probe {
            set: Temperature::from_celsius(set),
            gap: TemperatureDifference::from_kelvin(gap),
        };
        Beside {
            at: day(at),
            probes: gaps.iter().map(probe).collect(),
            voltage_ratio: None,
            speed_ratio: None,
            band_width: None,
        }
    }

    fn split() -> Temperature {
        Temperature::from_celsius(480.0)
    }

    #[test]
    fn low_and_high_settings_are_kept_apart() {
        let measured = [
            probed(0, &[(420.0, -2.0), (540.0, 4.0)]),
            probed(3, &[(430.0, 0.0)]),
            probed(10, &[(420.0, -20.0), (540.0, -50.0)]),
        ];
        let found = changes_beside(&measured, None, (day(5), day(8)), split());
        // Before: two readings with a sum of −2 and a prior of 0 ± 10: −2/25/(1/100 + 2/25) = −.89.
        let low = found.gap_low.unwrap();
        assert!((low.by.kelvin() - (-20.0 + 0.08 / 0.09)).abs() < 1e-9, "{low:?}");
        assert!((low.sd.kelvin() - (1.0 / 0.09 + 25.0_f64).sqrt()).abs() < 1e-9, "{low:?}");
        let high = found.gap_high.unwrap();
        assert!((high.by.kelvin() - (-50.0 - 0.16 / 0.05)).abs() < 1e-9, "{high:?}");
        assert_eq!((found.voltage_ratio, found.speed_ratio), (None, None));
    }

    #[test]
    fn what_lies_inside_the_onset_or_before_a_service_does_not_count() {
        let measured =
            [probed(0, &[(420.0, 30.0)]), probed(6, &[(420.0, 99.0)]), probed(9, &[(420.0, -10.0)])];
        let found = changes_beside(&measured, Some(day(2)), (day(5), day(8)), split());
        // Nothing before: the usual 0 ± 10 stands in.
        let low = found.gap_low.unwrap();
        assert!((low.by.kelvin() + 10.0).abs() < 1e-9 && (low.sd.kelvin() - 125.0_f64.sqrt()).abs() < 1e-9);
        assert_eq!(changes_beside(&measured[..2], None, (day(5), day(8)), split()), ChangesBeside::default());
    }

    #[test]
    fn ratios_change_about_one() {
        let at = |day_of: i64, volts: f64, speed: f64| Beside {
            voltage_ratio: Some(volts),
            speed_ratio: Some(speed),
            ..probed(day_of, &[])
        };
        let measured = [at(0, 0.98, 1.0), at(1, 0.98, 1.0), at(9, 0.90, 1.0)];
        let found = changes_beside(&measured, None, (day(5), day(8)), split());
        let volts = found.voltage_ratio.unwrap();
        assert!(volts.ratio < 0.93 && volts.ratio > 0.91, "{volts:?}");
        assert!((found.speed_ratio.unwrap().ratio - 1.0).abs() < 1e-12);
    }
}
