//! What is said of a trial that stepped the speed.

use super::{BroughtSpeeds, SpeedBand};
use crate::acceptance::{JudgedTrial, Reason};
use crate::trial::{Outcome, TrialInput};

/// How coupons of other speeds were brought to the held one, and which were not.
pub(in crate::trial) fn sentences(
    input: &TrialInput,
    how: &BroughtSpeeds,
    judged: &JudgedTrial,
) -> Vec<String> {
    let mut sentences = Vec::new();
    if how.coupons > 0 {
        sentences.extend(brought(input, how));
    }
    for reason in [Reason::SpeedTooFar, Reason::DwellTooLong] {
        let coupons = judged.coupons.iter().filter(|coupon| coupon.set_aside == Some(reason)).count();
        if coupons > 0 {
            sentences.push(left_out(coupons, reason));
        }
    }
    sentences
}

fn brought(input: &TrialInput, how: &BroughtSpeeds) -> Vec<String> {
    let (speed, sheet) = (input.show_speed(input.speed), input.show(how.sheet));
    let reckoned = if how.sheet_measured {
        format!("a sheet at {sheet}")
    } else {
        format!("a sheet at {sheet}, the usual, because it was not measured")
    };
    let moved = input.show_difference(how.largest_sd);
    let moved =
        if how.largest_sd.kelvin() < 1.0 { "about a degree".to_owned() } else { format!("about {moved}") };
    let mut sentences = vec![
        format!(
            "Speeds differed and were brought to one: temperatures here are those that heat the sheet alike at \
             {speed}, reckoned with {reckoned}, and a unit that heats as usual."
        ),
        format!(
            "A unit that heats otherwise has them lie further apart or closer together, all in step, the one moved \
             furthest by {moved} (one standard deviation)."
        ),
    ];
    if !how.dwell_checked {
        sentences.push(
            "Whether the nozzle stays over the sheet too long to compare speeds, as in hand welding, could not be \
             checked: its heated length or the sheet's thickness is not known."
                .to_owned(),
        );
    }
    sentences
}

fn left_out(coupons: usize, reason: Reason) -> String {
    let coupons = if coupons == 1 { "1 coupon is".to_owned() } else { format!("{coupons} coupons are") };
    let why = if reason == Reason::SpeedTooFar {
        "welded more than three times as fast or as slow as the held speed, which is too far to compare; check \
         number and unit"
    } else {
        "at that speed or at the held one the nozzle stays over the sheet too long to compare speeds, as in hand \
         welding; send the coupons of one speed as a trial of their own"
    };
    format!("{coupons} left out: {why}.")
}

/// The band as speeds, and the one to set.
pub(in crate::trial) fn held_sentence(input: &TrialInput, band: &SpeedBand, outcome: Outcome) -> String {
    let (slow, fast) = (input.show_speed(band.slow), input.show_speed(band.fast));
    let set = if outcome == Outcome::Failed { "For the repeat set" } else { "Set" };
    format!(
        "At the {} that was held the band is from {slow} to {fast}. {set} {} there.",
        input.show(band.temperature),
        input.show_speed(band.to_set)
    )
}
