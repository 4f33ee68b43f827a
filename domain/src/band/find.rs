//! Where the band ends.

use super::shares::Shares;
use super::{Band, Limit};
use crate::acceptance::JudgedTrial;
use crate::policy::{Ceilings, Policy};
use crate::quantity::Temperature;

/// The lowest of the ceilings and the unit's maximum, and which it is.
pub(crate) fn ceiling(ceilings: &Ceilings, unit_maximum: Temperature) -> (Temperature, Limit) {
    let named = [(ceilings.organization, Limit::OrganizationCeiling), (ceilings.maker, Limit::MakerCeiling)];
    let given = named.into_iter().filter_map(|(temperature, limit)| Some((temperature?, limit)));
    given.fold(
        (unit_maximum, Limit::UnitMaximum),
        |lowest, next| if next.0 <= lowest.0 { next } else { lowest },
    )
}

/// The band: where both shares are at most the limit, inside the steps tried and below every ceiling. `None` when there
/// is no such temperature or no strip was sound.
pub(crate) fn band(
    judged: &JudgedTrial,
    shares: &Shares,
    ceiling: (Temperature, Limit),
    policy: &Policy,
) -> Option<Band> {
    let mut tried = judged.steps.iter().filter(|step| step.counts.counted() > 0).map(|step| step.temperature);
    let coolest = tried.next()?;
    let hottest = tried.next_back().unwrap_or(coolest);
    if judged.totals().sound == 0 || ceiling.0 < coolest {
        return None;
    }
    let top = if ceiling.0 < hottest { ceiling } else { (hottest, Limit::HottestStep) };
    between((coolest, Limit::CoolestStep), top, shares, policy)
}

/// The temperatures between `bottom` and `top` at which both shares are at most the limit. `None` when there is none.
pub(crate) fn between(
    (bottom, bottom_limit): (Temperature, Limit),
    (top, top_limit): (Temperature, Limit),
    shares: &Shares,
    policy: &Policy,
) -> Option<Band> {
    let limit = policy.share_limit.ratio();
    let (bottom_c, top_c) = (bottom.celsius(), top.celsius());
    let (low, low_limited_by) = if shares.cold(bottom_c) <= limit {
        (bottom, bottom_limit)
    } else {
        let short = |t: f64| (limit - shares.cold(t), shares.cold_fall(t));
        (Temperature::from_celsius(root_of_rising(bottom_c, top_c, short)?), Limit::ColdShare)
    };
    let (high, high_limited_by) = if shares.hot(top_c) <= limit {
        (top, top_limit)
    } else {
        let over = |t: f64| (shares.hot(t) - limit, shares.hot_rise(t));
        (Temperature::from_celsius(root_of_rising(bottom_c, top_c, over)?), Limit::HotShare)
    };
    (low <= high).then_some(Band {
        low,
        high,
        share_limit: policy.share_limit,
        low_limited_by,
        high_limited_by,
    })
}

/// Where a rising function, given with its slope, is zero between `low` and `high`: Newton steps, held inside a
/// shrinking bracket. `None` when it does not change sign there.
pub(super) fn root_of_rising(
    mut low: f64,
    mut high: f64,
    function: impl Fn(f64) -> (f64, f64),
) -> Option<f64> {
    if !(function(low).0 <= 0.0 && function(high).0 >= 0.0) {
        return None;
    }
    let mut place = 0.5 * (low + high);
    for _ in 0..60 {
        let (value, slope) = function(place);
        if value < 0.0 {
            low = place;
        } else {
            high = place;
        }
        let newton = place - value / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - place).abs() < 1e-7 {
            return Some(next);
        }
        place = next;
    }
    Some(place)
}
