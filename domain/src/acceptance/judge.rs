//! Reading the specimens of a whole trial.

use super::specimen::{Contamination, CutDirection, Fault, Mode, Reading, Reason, Scorching};
use super::{
    Counts, Coupon, Criteria, EvidenceGrade, GradeReason, JudgedCoupon, JudgedSpecimen, JudgedTrial,
    Specimen, Step, same_step,
};
use crate::membrane::WeldMethod;
use crate::quantity::{Length, LengthUnit, Quantity, Temperature};

/// Reads every specimen of a trial.
///
/// For each specimen the first of these that applies decides (common practice of the trade, no source):
///
/// 1. not a valid test (cut along the seam, other strip width, pulled warm, cut fault, a speed that cannot be compared
///    with the trial's): `not_counted`;
/// 2. char, browning or smoke at the interface: `hot`, even if it opened or held; thinned or brittle sheet likewise,
///    unless the interface opened;
/// 3. film tear, or a pass without a mode, over less than the required width: `narrow`;
/// 4. dirt, moisture or an aged surface at the interface: `contaminated`;
/// 5. interface opened: `cold`;
/// 6. film tear, or a pass without a mode: `sound`.
///
/// A failure without a mode is `cold` below the coolest all-sound step, `hot` above the hottest one, and otherwise
/// `unclear`: asked back, never guessed. So is a strip recorded as failed whose film tore over the required width with
/// nothing else to object to.
///
/// The order of coupons and strips does not matter, other than for the order of the answer.
///
/// The coupons are taken as welded at one speed; [`evaluate`](crate::trial::evaluate) brings those of other speeds to
/// the held one first.
#[must_use]
pub fn judge(coupons: &[Coupon], method: WeldMethod, criteria: &Criteria) -> JudgedTrial {
    let placed: Vec<Placed> = coupons.iter().map(Placed::as_set).collect();
    judge_placed(coupons, &placed, method, criteria)
}

/// Where a coupon stands among the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    /// The setting at the held speed that heats the sheet as this coupon was heated.
    pub(crate) at_held_speed: Temperature,
    /// Why it cannot be compared with the others, if it cannot.
    pub(crate) set_aside: Option<Reason>,
}

impl Placed {
    /// Where a coupon of the held speed stands: at its setting.
    pub(crate) fn as_set(coupon: &Coupon) -> Self {
        Self { at_held_speed: coupon.set_temperature, set_aside: None }
    }
}

/// Reads every specimen of a trial whose coupons stand where `placed` says, one for each.
pub(crate) fn judge_placed(
    coupons: &[Coupon],
    placed: &[Placed],
    method: WeldMethod,
    criteria: &Criteria,
) -> JudgedTrial {
    let mut judged: Vec<JudgedCoupon> = coupons
        .iter()
        .zip(placed)
        .map(|(coupon, placed)| judge_coupon(coupon, *placed, method, criteria))
        .collect();
    place_failures_without_mode(&mut judged);
    let strips_disagree = mark_disagreement(&mut judged);
    let steps = steps_of(&judged);
    let grade_reasons = grade_reasons(&judged, strips_disagree, criteria);
    let grade = grade_reasons.iter().map(|reason| reason.grade()).max().unwrap_or(EvidenceGrade::Full);
    JudgedTrial { coupons: judged, steps, strips_disagree, grade, grade_reasons }
}

fn judge_coupon(coupon: &Coupon, placed: Placed, method: WeldMethod, criteria: &Criteria) -> JudgedCoupon {
    let Placed { at_held_speed, set_aside } = placed;
    let required = criteria.bond_width(method);
    let read = |specimen| match set_aside {
        None => read(specimen, required, criteria),
        Some(reason) => JudgedSpecimen { reading: Reading::NotCounted, reasons: vec![reason] },
    };
    let mut judged = JudgedCoupon {
        set_temperature: coupon.set_temperature,
        at_held_speed,
        set_aside,
        specimens: coupon.specimens.iter().map(read).collect(),
        counts: Counts::default(),
    };
    recount(&mut judged);
    judged
}

fn recount(coupon: &mut JudgedCoupon) {
    coupon.counts = Counts::default();
    for specimen in &coupon.specimens {
        coupon.counts.add(specimen.reading);
    }
}

/// Reads one specimen on its own. A failure without a mode stays unclear here.
fn read(specimen: &Specimen, required: Length, criteria: &Criteria) -> JudgedSpecimen {
    let invalid = invalid_test(specimen, criteria);
    if !invalid.is_empty() {
        return JudgedSpecimen { reading: Reading::NotCounted, reasons: invalid };
    }
    let opened = specimen.mode == Some(Mode::InterfaceOpened);
    let scorched: Vec<Reason> = specimen
        .scorching
        .iter()
        .filter(|sign| !opened || sign.wins_over_opening())
        .map(|sign| scorching_reason(*sign))
        .collect();
    if !scorched.is_empty() {
        return JudgedSpecimen { reading: Reading::Hot, reasons: scorched };
    }
    let held =
        specimen.mode == Some(Mode::FilmTear) || (specimen.mode.is_none() && specimen.passed == Some(true));
    if held && specimen.bonded_width.is_some_and(|width| narrower(width, required)) {
        return JudgedSpecimen { reading: Reading::Narrow, reasons: vec![Reason::BondTooNarrow] };
    }
    if !specimen.contamination.is_empty() {
        let reasons = specimen.contamination.iter().map(|sign| contamination_reason(*sign)).collect();
        return JudgedSpecimen { reading: Reading::Contaminated, reasons };
    }
    if opened {
        return read_opened(specimen);
    }
    read_held(specimen)
}

/// Why the specimen is not a valid test, if it is not.
fn invalid_test(specimen: &Specimen, criteria: &Criteria) -> Vec<Reason> {
    let mut reasons = Vec::new();
    if specimen.cut == Some(CutDirection::Along) {
        reasons.push(Reason::CutAlongSeam);
    }
    if specimen.width.is_some_and(|width| wrong_width(width, criteria)) {
        reasons.push(Reason::WrongStripWidth);
    }
    if specimen.faults.contains(&Fault::WarmPull) {
        reasons.push(Reason::WarmPull);
    }
    if specimen.faults.contains(&Fault::CutFault) {
        reasons.push(Reason::CutFault);
    }
    reasons
}

fn read_opened(specimen: &Specimen) -> JudgedSpecimen {
    let mut reasons = vec![Reason::InterfaceOpened];
    if specimen.passed == Some(true) {
        reasons.push(Reason::PassedYetOpened);
    }
    // Only signs that do not win over an opening are left here.
    reasons.extend(specimen.scorching.iter().map(|sign| scorching_reason(*sign)));
    JudgedSpecimen { reading: Reading::Cold, reasons }
}

fn read_held(specimen: &Specimen) -> JudgedSpecimen {
    let (reading, reason) = match (specimen.mode, specimen.passed) {
        (Some(_), Some(false)) => (Reading::Unclear, Reason::FailedYetTore),
        (Some(_), _) => (Reading::Sound, Reason::FilmTore),
        (None, Some(true)) => (Reading::Sound, Reason::PassedWithoutMode),
        (None, Some(false)) => (Reading::Unclear, Reason::FailedWithoutMode),
        (None, None) => (Reading::Unclear, Reason::NothingRecorded),
    };
    let mut reasons = vec![reason];
    if reading == Reading::Sound && specimen.bonded_width.is_none() {
        reasons.push(Reason::BondWidthNotRecorded);
    }
    JudgedSpecimen { reading, reasons }
}

/// Tolerance for comparing widths that were entered in inches with limits in millimetres and the reverse: 1.5 in is
/// 38.1 mm, and 38 mm entered as 1.496 in is 37.998 mm.
const WIDTH_ROUNDING_MM: f64 = 0.01;

fn narrower(width: Length, required: Length) -> bool {
    width.value_in(LengthUnit::Millimetre) < required.value_in(LengthUnit::Millimetre) - WIDTH_ROUNDING_MM
}

fn wrong_width(width: Length, criteria: &Criteria) -> bool {
    let off = width.value_in(LengthUnit::Millimetre) - criteria.strip_width.value_in(LengthUnit::Millimetre);
    off.abs() > criteria.strip_width_tolerance.value_in(LengthUnit::Millimetre) + WIDTH_ROUNDING_MM
}

const fn scorching_reason(sign: Scorching) -> Reason {
    match sign {
        Scorching::Char => Reason::Char,
        Scorching::Browning => Reason::Browning,
        Scorching::Smoke => Reason::Smoke,
        Scorching::Thinning => Reason::Thinning,
        Scorching::Brittle => Reason::Brittle,
    }
}

const fn contamination_reason(sign: Contamination) -> Reason {
    match sign {
        Contamination::Dirt => Reason::Dirt,
        Contamination::Moisture => Reason::Moisture,
        Contamination::AgedSheet => Reason::AgedSheet,
    }
}

/// Reads failures without a mode from their place among the all-sound steps.
fn place_failures_without_mode(coupons: &mut [JudgedCoupon]) {
    let steps = steps_of(coupons);
    let sound = || steps.iter().filter(|step| step.counts.all_sound()).map(|step| step.temperature);
    let (Some(coolest), Some(hottest)) = (sound().next(), sound().next_back()) else {
        return;
    };
    for coupon in coupons {
        let here = coupon.at_held_speed;
        let placed = if here < coolest && !same_step(here, coolest) {
            (Reading::Cold, Reason::FailedBelowSound)
        } else if here > hottest && !same_step(here, hottest) {
            (Reading::Hot, Reason::FailedAboveSound)
        } else {
            continue;
        };
        for specimen in &mut coupon.specimens {
            if specimen.reasons.first() == Some(&Reason::FailedWithoutMode) {
                (specimen.reading, specimen.reasons[0]) = placed;
            }
        }
        recount(coupon);
    }
}

/// Marks the strips that contradict others and says whether there are any.
///
/// All-sound is taken coupon by coupon here, so that two coupons welded at the same step can contradict each other.
fn mark_disagreement(coupons: &mut [JudgedCoupon]) -> bool {
    let sound = || coupons.iter().filter(|c| c.counts.all_sound()).map(|c| c.at_held_speed);
    let coolest_sound = sound().min();
    let hottest_sound = sound().max();
    let coolest_hot = coupons.iter().filter(|c| c.counts.hot > 0).map(|c| c.at_held_speed).min();
    let hottest_cold = coupons.iter().filter(|c| c.counts.cold > 0).map(|c| c.at_held_speed).max();
    let mut found = false;
    for coupon in coupons {
        let here = coupon.at_held_speed;
        let above =
            |limit: Option<Temperature>| limit.is_some_and(|limit| here > limit && !same_step(here, limit));
        let below =
            |limit: Option<Temperature>| limit.is_some_and(|limit| here < limit && !same_step(here, limit));
        let at = |limit: Option<Temperature>| limit.is_some_and(|limit| same_step(here, limit));
        let cold_disagrees = at(coolest_sound) || above(coolest_sound) || above(coolest_hot);
        let hot_disagrees = at(hottest_sound) || below(hottest_sound) || below(hottest_cold);
        for specimen in &mut coupon.specimens {
            let disagrees = (specimen.reading == Reading::Cold && cold_disagrees)
                || (specimen.reading == Reading::Hot && hot_disagrees);
            if disagrees {
                specimen.reasons.push(Reason::Disagrees);
                found = true;
            }
        }
    }
    found
}

/// The settings tried, from cold to hot.
fn steps_of(coupons: &[JudgedCoupon]) -> Vec<Step> {
    let mut sorted: Vec<(Temperature, Counts)> =
        coupons.iter().map(|coupon| (coupon.at_held_speed, coupon.counts)).collect();
    sorted.sort_by_key(|(temperature, _)| *temperature);
    let mut steps: Vec<Step> = Vec::with_capacity(sorted.len());
    for (temperature, counts) in sorted {
        match steps.last_mut() {
            Some(step) if same_step(step.temperature, temperature) => {
                step.coupons += 1;
                step.counts = step.counts.plus(counts);
            }
            _ => steps.push(Step { temperature, coupons: 1, counts }),
        }
    }
    steps
}

fn grade_reasons(coupons: &[JudgedCoupon], strips_disagree: bool, criteria: &Criteria) -> Vec<GradeReason> {
    let totals = coupons.iter().fold(Counts::default(), |sum, coupon| sum.plus(coupon.counts));
    let noted = |reason: Reason| {
        coupons.iter().flat_map(|coupon| &coupon.specimens).any(|specimen| specimen.reasons.contains(&reason))
    };
    let assumed = noted(Reason::FailedBelowSound) || noted(Reason::FailedAboveSound);
    let counted_coupons = coupons.iter().filter(|coupon| coupon.counts.counted() > 0).count();
    let found = [
        (totals.counted() == 0, GradeReason::NothingCounted),
        (totals.counted() > 0 && totals.sound == 0, GradeReason::NothingSound),
        (strips_disagree, GradeReason::StripsDisagree),
        (coupons.iter().any(|c| c.counts.counted() < criteria.minimum_strips), GradeReason::FewStrips),
        (counted_coupons < criteria.minimum_coupons, GradeReason::FewCoupons),
        (totals.unclear > 0, GradeReason::StripsUnclear),
        (assumed, GradeReason::ModeAssumed),
        (noted(Reason::BondWidthNotRecorded), GradeReason::BondWidthNotRecorded),
        (totals.narrow + totals.contaminated > 0, GradeReason::OtherFailures),
    ];
    found.into_iter().filter(|(applies, _)| *applies).map(|(_, reason)| reason).collect()
}
