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
#[derive(Debug, Default)]
pub(super) struct Smoother {
    likelihood: Vec<f64>,
    smooth: Vec<f64>,
    kernel: Vec<f64>,
    kernel_key: (f64, f64),
}

impl Smoother {
    /// Fills `evidence` with the likelihood of each (φ, θ) in the columns `from..to`.
    ///
    /// The edge at a trial differs from the level by a normal error of standard deviation `noise` (K), so the
    /// likelihood is smoothed by that much; and with probability `stray` the trial is about something else (strips
    /// mixed up, another machine), in which case every temperature is as good as any other. The latter bounds what
    /// one wild trial can say.
    pub(super) fn evidence(
        &mut self,
        profile: &Profile,
        noise: f64,
        stray: f64,
        maps: &Maps,
        levels: &Levels,
        (from, to): (usize, usize),
        evidence: &mut Evidence,
    ) {
        let spacing = self.smooth(profile.values(), noise);
        let mean = self.smooth.iter().sum::<f64>() / self.smooth.len() as f64;
        let (keep, floor) = (1.0 - stray, stray * mean);
        evidence.row_len = levels.evidence_len();
        evidence.rows.resize(evidence.row_len * maps.lines.len(), 0.0);
        let last = (self.smooth.len() - 1) as f64;
        for (row, (intercept, slope)) in evidence.rows.chunks_exact_mut(evidence.row_len).zip(&maps.lines) {
            let origin = levels.start - levels.step * levels.shift as f64;
            let first = (intercept + slope * origin - PROFILE_START_CELSIUS) / spacing;
            let stride = slope * levels.step / spacing;
            for (column, likely) in row.iter_mut().enumerate().take(to).skip(from) {
                let place = (first + stride * column as f64).clamp(0.0, last);
                let below = place as usize;
                let share = place - below as f64;
                let above = (below + 1).min(self.smooth.len() - 1);
                *likely =
                    keep * (self.smooth[below] + share * (self.smooth[above] - self.smooth[below])) + floor;
            }
        }
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
