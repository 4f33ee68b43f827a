//! Charts of what trials measure beside their strips: nozzle against setting, volts under load, timed against set speed, the
//! width of the band.
//!
//! Each quantity is a series of normal readings about a level of the unit's own. The level and the scatter are not known
//! beforehand: they start from what is usual of such units and are learnt from the readings, as long as no signal stands and up to
//! a number of readings. The standardized distance of each reading from what was known before it,
//!
//! > u = (x − m)/√(s² + v),
//!
//! goes into a two-sided CUSUM of reference value ½. Service that affects the heat starts all of it anew.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::{Beside, Direction, arl};
use crate::coded::coded_enum;
use crate::quantity::TemperatureDifference;

coded_enum! {
    /// A quantity that trials measure beside their strips.
    pub enum Channel {
        /// Air temperature at the nozzle less the setting, on average over the trial's probes.
        NozzleGap = "nozzle_gap",
        /// Volts under load over the rated voltage.
        VoltsUnderLoad = "volts_under_load",
        /// Timed over set speed.
        TimedSpeed = "timed_speed",
        /// Width of the band, in trials that look for both edges.
        BandWidth = "band_width",
    }
}

/// An amount of a channel: a difference of temperatures, or a ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Of [`Channel::NozzleGap`] and [`Channel::BandWidth`].
    Difference(TemperatureDifference),
    /// Of [`Channel::VoltsUnderLoad`] and [`Channel::TimedSpeed`].
    Ratio(f64),
}

/// The chart of one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelSeries {
    /// The channel.
    pub channel: Channel,
    /// Readings since the last restart.
    pub readings: usize,
    /// Every signal there has been, oldest first.
    pub signals: Vec<ChannelSignal>,
}

/// A channel that has moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelSignal {
    /// Which way.
    pub direction: Direction,
    /// The trial at which the chart crossed its limit.
    pub trial: Uuid,
    /// When that was performed.
    pub at: DateTime<Utc>,
    /// How far the readings since the chart left zero lie from the level before, and the standard deviation of that.
    pub change: (Amount, Amount),
    /// When later readings took the chart below half its limit, or a service started it anew.
    pub ended: Option<(DateTime<Utc>, bool)>,
}

/// What is known of a channel before it was ever measured on this unit: mean, standard deviation of the unit's own level, standard
/// deviation of a reading. (Common experience, no source.)
#[derive(Debug, Clone, Copy)]
struct Usual {
    mean: f64,
    sd: f64,
    reading_sd: f64,
}

impl Channel {
    const fn usual(self) -> Usual {
        match self {
            Self::NozzleGap => Usual { mean: 0.0, sd: 10.0, reading_sd: 5.0 },
            Self::VoltsUnderLoad => Usual { mean: 0.97, sd: 0.04, reading_sd: 0.025 },
            Self::TimedSpeed => Usual { mean: 1.0, sd: 0.02, reading_sd: 0.015 },
            Self::BandWidth => Usual { mean: 60.0, sd: 30.0, reading_sd: 25.0 },
        }
    }

    /// What a trial measured of it.
    fn reading(self, beside: &Beside) -> Option<f64> {
        match self {
            Self::NozzleGap => {
                let sum: f64 = beside.probes.iter().map(|probe| probe.gap.kelvin()).sum();
                (!beside.probes.is_empty()).then(|| sum / beside.probes.len() as f64)
            }
            Self::VoltsUnderLoad => beside.voltage_ratio,
            Self::TimedSpeed => beside.speed_ratio,
            Self::BandWidth => beside.band_width.map(TemperatureDifference::kelvin),
        }
    }

    const fn amount(self, value: f64) -> Amount {
        match self {
            Self::NozzleGap | Self::BandWidth => {
                Amount::Difference(TemperatureDifference::from_kelvin(value))
            }
            Self::VoltsUnderLoad | Self::TimedSpeed => Amount::Ratio(value),
        }
    }
}

/// Each channel's share of the unit's promise.
///
/// The edges' charts aim at .65 of it; four channels at .05 each leave the whole below one. (The choice is ours.)
const SHARE: f64 = 0.05;
/// The limit is computed for a run length so much longer than promised, since level and scatter are learnt. See the simulation in
/// the tests.
const PRUDENCE: f64 = 2.0;
/// Half the shift looked for, in standard deviations.
const REFERENCE: f64 = 0.5;
/// The usual scatter counts as much as so many readings.
const SCATTER_READINGS: f64 = 8.0;
/// The chart speaks from this reading on, and the level is learnt up to that one.
const FIRST_SPEAKING: usize = 7;
const LEARNT_UNTIL: usize = 250;
/// A signal ends when its chart falls below this share of the limit; charts are held at so many limits, so that they can.
const SUBSIDED: f64 = 0.5;
const CEILING: f64 = 2.0;
/// A single reading counts as at most so many standard deviations: a slip of the pen is no drift.
const WILDEST: f64 = 3.5;

/// The charts of all channels that have readings, in the order of [`Channel::ALL`].
///
/// `measured` are the unit's trials in order of time with their ids, `resets` the times of service with effect on heat, ascending;
/// `promise_arl` is how many trials pass on average between false alarms of the whole unit.
#[must_use]
pub fn channel_series(
    measured: &[(Uuid, Beside)],
    resets: &[DateTime<Utc>],
    promise_arl: f64,
) -> Vec<ChannelSeries> {
    // Of a CUSUM of normal readings the reference ½ is half of the shift 1: D = 1. Each direction has half of the channel's rate.
    let limit = arl::likelihood_ratio_limit(1.0, 1.0, 2.0 * PRUDENCE * promise_arl / SHARE);
    let of_channel = |&channel: &Channel| {
        let mut chart = Chart::new(channel, limit);
        let mut resets = resets.iter().peekable();
        for (trial, beside) in measured {
            while let Some(reset) = resets.next_if(|reset| **reset <= beside.at) {
                chart.restart(*reset);
            }
            if let Some(value) = channel.reading(beside) {
                chart.take(value, *trial, beside.at);
            }
        }
        resets.for_each(|reset| chart.restart(*reset));
        chart.any.then_some(ChannelSeries { channel, readings: chart.known.count, signals: chart.signals })
    };
    Channel::ALL.iter().filter_map(of_channel).collect()
}

/// What has been learnt of a level.
#[derive(Debug, Clone, Copy)]
struct Known {
    usual: Usual,
    count: usize,
    sum: f64,
    squares: f64,
}

impl Known {
    const fn new(usual: Usual) -> Self {
        Self { usual, count: 0, sum: 0.0, squares: 0.0 }
    }

    /// Variance of one reading: the usual one, and that of the readings so far about their mean.
    fn reading_variance(&self) -> f64 {
        let count = self.count as f64;
        let about_mean = if self.count > 1 { self.squares - self.sum * self.sum / count } else { 0.0 };
        let degrees = (count - 1.0).max(0.0);
        let usual = self.usual.reading_sd.powi(2);
        (SCATTER_READINGS * usual + about_mean.max(0.0)) / (SCATTER_READINGS + degrees)
    }

    /// Mean and variance of the level.
    fn level(&self) -> (f64, f64) {
        let (prior, reading) = (self.usual.sd.powi(-2), self.reading_variance().recip());
        let precision = prior + self.count as f64 * reading;
        ((prior * self.usual.mean + self.sum * reading) / precision, precision.recip())
    }

    fn learn(&mut self, value: f64) {
        self.count += 1;
        self.sum += value;
        self.squares += value * value;
    }
}

/// One direction: its sum, and the readings since it left zero.
#[derive(Debug, Clone, Copy, Default)]
struct Excursion {
    height: f64,
    count: f64,
    sum: f64,
}

struct Chart {
    channel: Channel,
    limit: f64,
    any: bool,
    known: Known,
    /// Rising, falling.
    excursions: [Excursion; 2],
    standing: [Option<usize>; 2],
    signals: Vec<ChannelSignal>,
}

impl Chart {
    const fn new(channel: Channel, limit: f64) -> Self {
        let nothing = Excursion { height: 0.0, count: 0.0, sum: 0.0 };
        Self {
            channel,
            limit,
            any: false,
            known: Known::new(channel.usual()),
            excursions: [nothing; 2],
            standing: [None; 2],
            signals: Vec::new(),
        }
    }

    fn restart(&mut self, at: DateTime<Utc>) {
        for standing in &mut self.standing {
            if let Some(signal) = standing.take() {
                self.signals[signal].ended = Some((at, true));
            }
        }
        self.known = Known::new(self.channel.usual());
        self.excursions = [Excursion::default(); 2];
    }

    fn take(&mut self, value: f64, trial: Uuid, at: DateTime<Utc>) {
        self.any = true;
        let (level, variance) = self.known.level();
        let distance = (value - level) / (self.known.reading_variance() + variance).sqrt();
        for (way, direction) in Direction::ALL.iter().enumerate() {
            let sign = if *direction == Direction::Up { 1.0 } else { -1.0 };
            let towards = (sign * distance).clamp(-WILDEST, WILDEST);
            let excursion = &mut self.excursions[way];
            if excursion.height == 0.0 {
                *excursion = Excursion::default();
            }
            excursion.height = (excursion.height + towards - REFERENCE).clamp(0.0, CEILING * self.limit);
            excursion.count += 1.0;
            excursion.sum += value;
            let height = excursion.height;
            match self.standing[way] {
                None if height > self.limit && self.known.count >= FIRST_SPEAKING => {
                    self.begin(way, *direction, trial, at);
                }
                Some(signal) if height < SUBSIDED * self.limit => {
                    self.standing[way] = None;
                    self.signals[signal].ended = Some((at, false));
                }
                _ => {}
            }
        }
        if self.standing.iter().all(Option::is_none) && self.known.count < LEARNT_UNTIL {
            self.known.learn(value);
        }
    }

    fn begin(&mut self, way: usize, direction: Direction, trial: Uuid, at: DateTime<Utc>) {
        let excursion = self.excursions[way];
        let (level, variance) = self.known.level();
        let change = excursion.sum / excursion.count - level;
        let sd = (variance + self.known.reading_variance() / excursion.count).sqrt();
        self.standing[way] = Some(self.signals.len());
        self.signals.push(ChannelSignal {
            direction,
            trial,
            at,
            change: (self.channel.amount(change), self.channel.amount(sd)),
            ended: None,
        });
    }
}

#[cfg(test)]
mod tests {
    use chrono::{TimeDelta, TimeZone};

    use super::*;

    fn day(day: usize) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2026, 3, 2, 7, 0, 0).unwrap() + TimeDelta::days(day as i64)
    }

    /// Readings of the voltage as trials measure it, one a day.
    fn volts(ratios: impl IntoIterator<Item = f64>) -> Vec<(Uuid, Beside)> {
        let beside = |(index, ratio)| {
            let voltage_ratio = Some(ratio);
            let beside = Beside {
                at: day(index),
                probes: Vec::new(),
                voltage_ratio,
                speed_ratio: None,
                band_width: None,
            };
            (Uuid::from_u128(index as u128 + 1), beside)
        };
        ratios.into_iter().enumerate().map(beside).collect()
    }

    /// A seeded normal variable (SplitMix64, Box and Muller).
    fn normal(seed: &mut u64) -> f64 {
        let mut uniform = || {
            *seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = *seed;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
        };
        (-2.0 * libm::log(1.0 - uniform())).sqrt() * libm::cos(std::f64::consts::TAU * uniform())
    }

    fn healthy(unit: u64, sd: f64) -> impl Iterator<Item = f64> {
        let mut seed = unit * 101 + 7;
        let level = 0.97 + 0.03 * normal(&mut seed);
        std::iter::repeat_with(move || level + sd * normal(&mut seed))
    }

    /// One false alarm in 500/.05 readings is promised; half as often to as often, for scatters half to one and a half of the usual.
    #[test]
    fn healthy_channels_keep_their_share_of_the_promise() {
        for sd in [0.0125, 0.025, 0.0375] {
            let alarms: usize = (0..600)
                .map(|unit| channel_series(&volts(healthy(unit, sd).take(200)), &[], 500.0)[0].signals.len())
                .sum();
            let ratio = alarms as f64 / (600.0 * 200.0 * SHARE / 500.0);
            println!("scatter {sd}: {alarms} false alarms, {ratio:.2} of the share");
            assert!(ratio < 1.0, "{sd}: {ratio}");
        }
    }

    /// A supply that sags by 8 % from the 30th reading on is found within a dozen readings, mended by service, and calm after.
    #[test]
    fn a_sag_is_found_and_ends_with_service() {
        for unit in 0..40 {
            let ratios = healthy(unit, 0.02).take(60).enumerate();
            let measured = volts(ratios.map(|(index, ratio)| if index >= 30 { ratio - 0.08 } else { ratio }));
            let found = channel_series(&measured, &[], 500.0).remove(0);
            let signal = found.signals.iter().find(|signal| signal.at >= day(30)).expect("it is found");
            assert_eq!((found.channel, signal.direction), (Channel::VoltsUnderLoad, Direction::Down));
            assert!(signal.at <= day(42), "unit {unit}: {}", signal.at);
            let Amount::Ratio(change) = signal.change.0 else { panic!("a ratio") };
            assert!((-0.13..-0.02).contains(&change), "{change}");
            let served = channel_series(&measured, &[day(50)], 500.0).remove(0);
            assert!(served.signals.iter().all(|signal| signal.ended.is_some()), "{served:?}");
        }
    }

    #[test]
    fn nothing_measured_is_no_series_and_one_wild_reading_no_drift() {
        let empty = Beside {
            at: day(0),
            probes: Vec::new(),
            voltage_ratio: None,
            speed_ratio: None,
            band_width: None,
        };
        assert!(channel_series(&[(Uuid::nil(), empty)], &[], 500.0).is_empty());
        let mut ratios: Vec<f64> = healthy(3, 0.02).take(40).collect();
        ratios[25] = 0.1;
        assert_eq!(channel_series(&volts(ratios), &[], 500.0)[0].signals, []);
    }
}
