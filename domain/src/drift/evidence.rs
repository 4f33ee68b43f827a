//! From the likelihood of an edge at a trial's conditions to that of the reference level.

use super::belief::{Evidence, Levels};
use crate::edges::{PROFILE_SPACING_KELVIN, PROFILE_START_CELSIUS, Profile};
use crate::heat;

/// How a trial's conditions map a level at reference conditions to a temperature at the trial's, for each heat share:
/// temperature = `intercept` + `slope`·level. See [`heat::equivalent`].
#[derive(Debug, Clone, Default)]
pub(super) struct Maps {
    pub(super) lines: Vec<(f64, f64)>,
}

impl Maps {
    /// The maps of all `shares` for a sheet at `sheet` °C and a speed of `speed_ratio` times the reference speed.
    pub(super) fn set(&mut self, shares: &[heat::HeatShare], sheet: f64, speed_ratio: f64) {
        self.lines.clear();
        self.lines.extend(shares.iter().map(|share| {
            let here = share.at_speed_ratio(speed_ratio);
            let slope = share.ratio() / here;
            let reference = heat::REFERENCE_SHEET_C;
            (sheet + (reference - sheet) / here - slope * reference, slope)
        }));
    }
}

/// Buffers for [`Smoother::evidence`], reused from trial to trial.
#[derive(Debug, Clone, Default)]
pub(super) struct Smoother {
    /// Probability that a trial is about something else.
    stray: f64,
    likelihood: Vec<f64>,
    smooth: Vec<f64>,
    /// Value, slope, bend and twist of the cubic from each point of the smoothed likelihood to the next.
    cubics: Vec<[f64; 4]>,
    kernel: Vec<f64>,
    kernel_key: (f64, f64),
}

impl Smoother {
    pub(super) fn new(stray: f64) -> Self {
        Self { stray, ..Self::default() }
    }

    /// Fills `evidence` with the likelihood of each (φ, θ) in the columns `from..to`, for the heat shares that have weight.
    ///
    /// `offset` (K) is what moves the edge in this trial, at reference conditions.
    ///
    /// The edge at a trial differs from the level by a normal error of standard deviation `noise` (K), so the
    /// likelihood is smoothed by that much; and with probability `stray` the trial is about something else (strips
    /// mixed up, another machine), in which case every temperature is as good as any other. The latter bounds what
    /// one wild trial can say.
    pub(super) fn evidence(
        &mut self,
        profile: &Profile,
        noise: f64,
        (maps, weights, offset): (&Maps, &[f64], f64),
        levels: &Levels,
        (from, to): (usize, usize),
        evidence: &mut Evidence,
    ) {
        let spacing = self.smooth(profile.values(), noise);
        let mean = self.smooth.iter().sum::<f64>() / self.smooth.len() as f64;
        let floor = self.stray * mean;
        self.set_cubics(1.0 - self.stray);
        evidence.row_len = levels.evidence_len();
        evidence.rows.resize(evidence.row_len * maps.lines.len(), 0.0);
        let last = (self.smooth.len() - 1) as f64;
        let rows = evidence.rows.chunks_exact_mut(evidence.row_len).zip(&maps.lines).zip(weights);
        for ((row, (intercept, slope)), _) in rows.filter(|(_, weight)| **weight > 0.0) {
            let origin = levels.start - levels.step * levels.shift as f64 + offset;
            let first = (intercept + slope * origin - PROFILE_START_CELSIUS) / spacing;
            let stride = slope * levels.step / spacing;
            for (column, likely) in row[..to].iter_mut().enumerate().skip(from) {
                let place = (first + stride * column as f64).clamp(0.0, last);
                // The grid is short: so narrow an integer converts in one instruction.
                let here = place as i32;
                let [value, slope, bend, twist] = self.cubics[here as usize];
                let share = place - f64::from(here);
                *likely = (value + share * (slope + share * (bend + share * twist))).max(0.0) + floor;
            }
        }
    }

    /// The likelihood that was smoothed last, if that was done on the grid of profiles itself.
    pub(super) fn likelihood(&self) -> Option<&[f64]> {
        let (radius, count) = (self.kernel.len() / 2, self.smooth.len());
        (self.kernel_key.1 == PROFILE_SPACING_KELVIN).then(|| &self.likelihood[radius..radius + count])
    }

    /// Smooths the likelihood by a normal error and returns the spacing of the result, which is coarser for a large error.
    fn smooth(&mut self, ln_likelihood: &[f32], noise: f64) -> f64 {
        let stride = ((noise / (4.0 * PROFILE_SPACING_KELVIN)) as usize).clamp(1, 8);
        let spacing = PROFILE_SPACING_KELVIN * stride as f64;
        let radius = (4.0 * noise / spacing).ceil() as usize;
        self.set_kernel(noise, spacing, radius);
        self.likelihood.clear();
        // Beyond its ends the likelihood is taken to go on as it ended.
        self.likelihood.resize(radius, libm::exp(f64::from(ln_likelihood[0])));
        self.likelihood.extend(ln_likelihood.iter().step_by(stride).map(|&ln| libm::exp(f64::from(ln))));
        let count = self.likelihood.len() - radius;
        let end = self.likelihood[self.likelihood.len() - 1];
        self.likelihood.resize(count + 2 * radius, end);
        // Tap by tap over the whole line: every pass is a plain vector operation.
        self.smooth.clear();
        self.smooth.resize(count, 0.0);
        for (tap, weight) in self.kernel.iter().enumerate() {
            for (sum, likely) in self.smooth.iter_mut().zip(&self.likelihood[tap..tap + count]) {
                *sum += weight * likely;
            }
        }
        spacing
    }

    /// Works out the cubics between neighbours of the smoothed likelihood times `scale`, each through four of them
    /// (Catmull–Rom), constant beyond the ends. A straight line would make every reading look sharper between the points of
    /// the grid than it is.
    ///
    /// Once for each point instead of once for each level and heat share, of which there are twenty times as many.
    fn set_cubics(&mut self, scale: f64) {
        let last = self.smooth.len() - 1;
        self.cubics.clear();
        self.cubics.extend((0..=last).map(|here| {
            let [before, from, to, after] =
                [here.saturating_sub(1), here, (here + 1).min(last), (here + 2).min(last)]
                    .map(|index| scale * self.smooth[index]);
            let slope = 0.5 * (to - before);
            let bend = before - 2.5 * from + 2.0 * to - 0.5 * after;
            let twist = 1.5 * (from - to) + 0.5 * (after - before);
            [from, slope, bend, twist]
        }));
    }

    fn set_kernel(&mut self, noise: f64, spacing: f64, radius: usize) {
        if self.kernel_key == (noise, spacing) && !self.kernel.is_empty() {
            return;
        }
        self.kernel_key = (noise, spacing);
        self.kernel.clear();
        let reach = radius as f64;
        let scale = if noise > 0.0 { spacing / noise } else { 0.0 };
        self.kernel
            .extend((0..=2 * radius).map(|tap| libm::exp(-0.5 * ((tap as f64 - reach) * scale).powi(2))));
        let total: f64 = self.kernel.iter().sum();
        for weight in &mut self.kernel {
            *weight /= total;
        }
    }
}
