//! Does today's trial agree with what its unit's history lets expect?

use super::Forecast;
use crate::edges::{
    Edge, NormalPart, PROFILE_SPACING_KELVIN, PROFILE_START_CELSIUS, Prior, Profile, TrialEvidence,
};
use crate::numerics::{exp_moderate, normal};

/// How far, in points of the grid of profiles, temperatures beyond its ends are looked at: 160 K.
const BEYOND: usize = 40;
/// A normal law is followed to so many standard deviations.
const REACH: f64 = 5.0;

/// How today's strips sit with a forecast.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Agreement {
    /// The likelihood ratio of "as expected" against "both edges moved as suits the strips best", 0 to 1.
    pub(super) probability: f64,
    /// The expectations of the lower and the upper edge, each with the heat share as the strips at the *other* edge leave it. Those
    /// at the edge itself come in with its own likelihood.
    pub(super) priors: [Prior; 2],
}

impl Agreement {
    /// With Aₙ and Bₙ the probability of what was seen at the lower and at the upper edge if the heat share is the n-th: the ratio is
    /// Σ wₙAₙBₙ / (max A · max B), the maxima over all shifts of the expected edge.
    pub(super) fn of(forecast: &Forecast, today: &TrialEvidence) -> Self {
        let [lower, upper] = [Edge::Lower, Edge::Upper].map(|edge| {
            let expected = forecast.before_strips(edge);
            let likely = Likely::of(&today.of(edge).profile);
            let by_share: Vec<f64> = expected.iter().map(|part| likely.expected(part)).collect();
            (by_share, likely.expected_at_best(&expected))
        });
        let weights: Vec<f64> = forecast.parts.iter().map(|(weight, _)| *weight).collect();
        let joint: f64 = (0..weights.len()).map(|n| weights[n] * lower.0[n] * upper.0[n]).sum();
        let best = lower.1 * upper.1;
        let after = |others: &[f64]| {
            let mut shared: Vec<f64> =
                weights.iter().zip(others).map(|(weight, other)| weight * other).collect();
            let total: f64 = shared.iter().sum();
            shared.iter_mut().for_each(|weight| *weight /= total);
            shared
        };
        Self {
            probability: if best > 0.0 { (joint / best).min(1.0) } else { 0.0 },
            priors: [
                forecast.prior(Edge::Lower, &after(&upper.0)),
                forecast.prior(Edge::Upper, &after(&lower.0)),
            ],
        }
    }
}

/// The likelihood of an edge on the grid of its profile and beyond both ends, where it goes on as it ended.
struct Likely(Vec<f64>);

impl Likely {
    fn of(profile: &Profile) -> Self {
        let inside: Vec<f64> = profile.values().iter().map(|ln| libm::exp(f64::from(*ln))).collect();
        let mut all = vec![inside[0]; BEYOND];
        all.extend(&inside);
        all.resize(inside.len() + 2 * BEYOND, inside[inside.len() - 1]);
        Self(all)
    }

    /// The temperature of a point, in °C.
    fn celsius(index: usize) -> f64 {
        PROFILE_START_CELSIUS + PROFILE_SPACING_KELVIN * (index as f64 - BEYOND as f64)
    }

    fn at(&self, index: isize) -> f64 {
        self.0[index.clamp(0, self.0.len() as isize - 1) as usize]
    }

    /// The probability of what was seen, the edge being distributed so.
    fn expected(&self, part: &NormalPart) -> f64 {
        Self::density(part).map(|(index, share)| share * self.at(index)).sum()
    }

    /// The same when the whole expectation is shifted to where that is greatest.
    fn expected_at_best(&self, expected: &Prior) -> f64 {
        let mut shares: Vec<(isize, f64)> = expected
            .iter()
            .flat_map(|part| Self::density(part).map(|(at, share)| (at, part.weight * share)))
            .collect();
        merge(&mut shares);
        let length = self.0.len() as isize;
        let shifted = |by: isize| shares.iter().map(|(at, share)| share * self.at(at + by)).sum::<f64>();
        // The distribution of what is expected is smooth: the best shift lies beside the best of every third.
        let best =
            (-length..=length).step_by(3).map(|by| (by, shifted(by))).max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(0.0, |(by, most)| (by - 2..=by + 2).map(shifted).fold(most, f64::max))
    }

    /// A normal law on the points of the grid.
    fn density(part: &NormalPart) -> impl Iterator<Item = (isize, f64)> + use<> {
        let NormalPart { mean, sd, .. } = *part;
        let place = (mean - Self::celsius(0)) / PROFILE_SPACING_KELVIN;
        let reach = REACH * sd / PROFILE_SPACING_KELVIN;
        let step = PROFILE_SPACING_KELVIN / sd;
        let scale = step * normal::pdf(0.0);
        let points = (place - reach).ceil() as isize..=(place + reach).floor() as isize;
        points.map(move |index| {
            let score = (index as f64 - place) * step;
            (index, scale * exp_moderate(-0.5 * score * score))
        })
    }
}

/// Adds up the shares of equal points.
fn merge(shares: &mut Vec<(isize, f64)>) {
    shares.sort_by_key(|(at, _)| *at);
    shares.dedup_by(|next, kept| {
        let same = next.0 == kept.0;
        if same {
            kept.1 += next.1;
        }
        same
    });
}
