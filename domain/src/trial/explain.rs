//! The answer in plain sentences, on the crew's scale.
//!
//! No sentence says that anybody may weld: the service advises, others decide.

use super::evaluate::observations;
use super::{Evaluation, Outcome, TrialInput, speeds};
use crate::acceptance::{Counts, EvidenceGrade};
use crate::band::{Limit, NoSetPoint, SetPoint, SetPointBasis};
use crate::caution::Caution;
use crate::edges::{CrossCheck, Edge, EdgeClass, EdgeEvidence};
use crate::plan::{NextCoupon, StopReason, WeldReason};
use crate::quantity::{PercentUnit, Quantity, Speed};

/// The whole answer.
pub(super) fn all(input: &TrialInput, evaluation: &Evaluation) -> Vec<String> {
    let mut sentences = vec![evaluation.outcome_sentence.clone(), counts(evaluation)];
    if let Some(how) = &evaluation.speeds {
        sentences.extend(speeds::sentences(input, how, &evaluation.judged));
    }
    sentences.extend(grade(evaluation));
    sentences.push(lower_edge(input, &evaluation.evidence.lower));
    sentences.push(upper_edge(input, &evaluation.evidence.upper));
    sentences.extend(cross_checks(input, evaluation));
    sentences.push(band(input, evaluation));
    sentences.push(set_point(input, evaluation));
    if let Some(band) = &evaluation.held_temperature {
        sentences.push(speeds::held_sentence(input, band, evaluation.outcome));
    }
    let advice = [Caution::AtUnitLimit, Caution::SmallMargin];
    let given = advice.into_iter().filter(|caution| evaluation.cautions.contains(caution));
    sentences.extend(given.map(|caution| caution.text().to_owned()));
    sentences.push(evaluation.next_sentence.clone());
    sentences.push(Caution::AdviceOnly.text().to_owned());
    sentences
}

/// What came of the trial.
pub(super) fn outcome(input: &TrialInput, evaluation: &Evaluation, is_check: bool) -> String {
    match (evaluation.outcome, is_check, &evaluation.set_point) {
        (_, _, Err(NoSetPoint::IncompatibleSheets)) => Caution::IncompatibleSheets.text().to_owned(),
        (Outcome::Stands, true, Ok(point)) => {
            format!("The check stands: {} and both neighbouring steps are sound.", input.show(point.to_set))
        }
        (Outcome::Stands, _, Ok(point)) => {
            format!("The trial stands, with a set point of {}.", input.show(point.to_set))
        }
        (Outcome::MarginLost, _, Ok(point)) => format!(
            "The set point is sound, a neighbouring step is not: margin is lost. Set {} and check again.",
            input.show(point.to_set)
        ),
        (Outcome::MarginLost, ..) => {
            "The set point is sound, a neighbouring step is not: margin is lost. Find the edges again.".to_owned()
        }
        (Outcome::Failed, true, _) => {
            "The check failed: the step at the set point is not all sound. Stop welding with this unit; repeat with a sweep."
                .to_owned()
        }
        (Outcome::Failed, false, Err(NoSetPoint::CeilingBelowSound)) => {
            "The trial failed: every sound step lies above a ceiling. Stop welding with this unit; repeat slower.".to_owned()
        }
        (Outcome::Failed, false, Err(NoSetPoint::NoBand)) => {
            "The trial failed: at no temperature are both cold and hot strips rare enough. Stop welding with this unit; clean, check nozzle, airflow, roller and supply, and repeat."
                .to_owned()
        }
        (Outcome::Failed, ..) => {
            "The trial failed: no step was sound throughout. Stop welding with this unit; repeat.".to_owned()
        }
        (Outcome::NoVerdict, false, Err(NoSetPoint::NoBand)) => {
            "No verdict: the strips contradict each other. Look at them and at the labels again, and weld those steps once more."
                .to_owned()
        }
        (Outcome::NoVerdict, false, Err(NoSetPoint::TooLittle)) => {
            "No verdict yet: too little was welded. Weld two steps at least, and cut enough strips.".to_owned()
        }
        (Outcome::NoVerdict | Outcome::Stands, ..) => {
            "No verdict yet: strips or steps are missing or cannot be read as recorded.".to_owned()
        }
    }
}

/// What to weld next, or why to stop.
pub(crate) fn next_coupon(input: &TrialInput, (next, speed): (NextCoupon, Option<Speed>)) -> String {
    match next {
        NextCoupon::Weld { temperature, reason } => {
            let why = match reason {
                WeldReason::FirstCoupon => "to begin",
                WeldReason::MostInformative => "because it is expected to tell most about both edges",
                WeldReason::CompletesCheck => "because the check lacks it",
            };
            let temperature = input.show(temperature);
            match speed.map(|speed| input.show_speed(speed)) {
                None => format!("Next coupon: weld at {temperature}, {why}."),
                Some(speed) => {
                    let held = input.show_speed(input.speed);
                    format!(
                        "Next coupon: weld at {speed} and the temperature that is held, which heats the sheet like \
                         {temperature} at {held}, {why}."
                    )
                }
            }
        }
        NextCoupon::Stop { reason } => match reason {
            StopReason::EdgesKnown => "No further coupon: both edges are known well enough.",
            StopReason::LittleToGain => {
                "No further coupon: no allowed setting would tell enough to be worth it."
            }
            StopReason::EnoughCoupons => "No further coupon: the trial has as many as it may have.",
            StopReason::NoAllowedSetting => "No further coupon: the limits on temperature leave no setting.",
            StopReason::Confirmed => "No further coupon: the set point is confirmed.",
            StopReason::IncompatibleSheets => "No further coupon: no setting will weld these sheets.",
        }
        .to_owned(),
    }
}

fn counts(evaluation: &Evaluation) -> String {
    let Counts { cold, sound, hot, narrow, contaminated, unclear, not_counted } = evaluation.judged.totals();
    let named = [
        (cold, "cold"),
        (sound, "sound"),
        (hot, "hot"),
        (narrow, "too narrow"),
        (contaminated, "contaminated"),
        (unclear, "unclear"),
        (not_counted, "not counted"),
    ];
    let total: usize = named.iter().map(|(count, _)| count).sum();
    if total == 0 {
        return "No strips were recorded.".to_owned();
    }
    let parts: Vec<String> =
        named.iter().filter(|(count, _)| *count > 0).map(|(count, name)| format!("{count} {name}")).collect();
    let coupons = evaluation.judged.coupons.len();
    format!("{} from {}: {}.", plural(total, "strip"), plural(coupons, "coupon"), parts.join(", "))
}

fn plural(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

fn grade(evaluation: &Evaluation) -> Vec<String> {
    let judged = &evaluation.judged;
    let heading = match judged.grade {
        EvidenceGrade::Full => return Vec::new(),
        EvidenceGrade::Limited => "The evidence is limited:",
        EvidenceGrade::Poor => "The evidence is poor:",
    };
    let reasons: Vec<&str> = judged.grade_reasons.iter().map(|reason| reason.sentence()).collect();
    vec![format!("{heading} {}", reasons.join(" "))]
}

fn lower_edge(input: &TrialInput, edge: &EdgeEvidence) -> String {
    match (edge.class, edge.estimate, edge.bound) {
        (EdgeClass::Bracketed, Some(found), _) => format!(
            "Half the strips would open at about {} (95 %: {} to {}).",
            input.show(found.mean),
            input.show(found.q025),
            input.show(found.q975)
        ),
        (EdgeClass::OpenBelow, _, Some(bound)) => format!(
            "No strip opened: the temperature at which half would open lies below {} with 95 % confidence.",
            input.show(bound)
        ),
        (EdgeClass::OpenBelow, ..) => "No strip opened.".to_owned(),
        (EdgeClass::OpenAbove, _, Some(bound)) => format!(
            "Every strip opened: the temperature at which half would open lies above {} with 95 % confidence.",
            input.show(bound)
        ),
        (EdgeClass::OpenAbove, ..) => "Every strip opened.".to_owned(),
        (EdgeClass::Bracketed | EdgeClass::None, ..) => "Nothing is known of the lower edge.".to_owned(),
    }
}

fn upper_edge(input: &TrialInput, edge: &EdgeEvidence) -> String {
    match (edge.class, edge.estimate, edge.bound) {
        (EdgeClass::Bracketed, Some(found), _) => format!(
            "Half the strips would scorch at about {} (95 %: {} to {}).",
            input.show(found.mean),
            input.show(found.q025),
            input.show(found.q975)
        ),
        (EdgeClass::OpenAbove, _, Some(bound)) => format!(
            "No strip scorched: the temperature at which half would scorch lies above {} with 95 % confidence.",
            input.show(bound)
        ),
        (EdgeClass::OpenAbove, ..) => "No strip scorched.".to_owned(),
        (EdgeClass::OpenBelow, _, Some(bound)) => format!(
            "Every bonded strip scorched: the temperature at which half would scorch lies below {} with 95 % confidence.",
            input.show(bound)
        ),
        (EdgeClass::OpenBelow, ..) => "Every bonded strip scorched.".to_owned(),
        (EdgeClass::Bracketed | EdgeClass::None, ..) => "Nothing is known of the upper edge.".to_owned(),
    }
}

/// Where an independent method contradicts an edge.
fn cross_checks(input: &TrialInput, evaluation: &Evaluation) -> Vec<String> {
    let observations = observations(&evaluation.judged);
    let note = |edge: &EdgeEvidence| {
        let which = match edge.edge {
            Edge::Lower => "open",
            Edge::Upper => "scorch",
        };
        let says = match edge.contradiction(&observations)? {
            CrossCheck::HalfPoint(half) => {
                format!("says that half the strips would {which} at {}", input.show(half))
            }
            CrossCheck::WrongWay => format!("finds no temperature at which half the strips would {which}"),
        };
        Some(format!(
            "A second method {says}: the two disagree. Look at the strips again or weld more coupons there."
        ))
    };
    [&evaluation.evidence.lower, &evaluation.evidence.upper].into_iter().filter_map(note).collect()
}

fn band(input: &TrialInput, evaluation: &Evaluation) -> String {
    let Some(band) = &evaluation.band else {
        return "No band found: there is no temperature at which few enough strips are expected to fail."
            .to_owned();
    };
    let share = band.share_limit.value_in(PercentUnit::Percent);
    format!(
        "Between {} and {} at most {share:.0} % of strips are expected cold and at most {share:.0} % hot.",
        input.show(band.low),
        input.show(band.high)
    )
}

fn set_point(input: &TrialInput, evaluation: &Evaluation) -> String {
    match &evaluation.set_point {
        Err(NoSetPoint::NothingSound) => "No set point: no step was sound throughout.".to_owned(),
        Err(NoSetPoint::IncompatibleSheets) => {
            "No set point: the sheets do not weld to each other.".to_owned()
        }
        Err(NoSetPoint::CeilingBelowSound) => {
            "No set point: every step that was sound throughout lies above a ceiling.".to_owned()
        }
        Err(NoSetPoint::NoBand) => {
            "No set point: between the sound steps no temperature keeps both cold and hot strips rare enough."
                .to_owned()
        }
        Err(NoSetPoint::TooLittle) => {
            "No set point yet: one step, or too few strips, is not enough.".to_owned()
        }
        Ok(point) => {
            let keep = match point.basis {
                SetPointBasis::Computed => "Set",
                SetPointBasis::Confirmed => "Keep",
            };
            let mut sentence = format!("{keep} {}", input.show(point.to_set));
            if let (Some(below), Some(above)) = (point.margin_below, point.margin_above) {
                let (below, above) = (input.show_difference(below), input.show_difference(above));
                sentence += &format!(", {below} from the cool end of the band and {above} from its hot end");
            }
            sentence + "." + &reserve(input, point)
        }
    }
}

/// What holds the set point where it is, if anything does.
fn reserve(input: &TrialInput, point: &SetPoint) -> String {
    let kept = input.show_difference(input.policy.open_edge_reserve);
    let because = |limit: &Limit| match limit {
        Limit::LowerReserve => Some(format!(" A reserve of {kept} is kept above the coolest sound step.")),
        Limit::UpperReserve => Some(format!(" A reserve of {kept} is kept below the hottest sound step.")),
        Limit::MakerCeiling => Some(" The membrane maker's ceiling holds it there.".to_owned()),
        Limit::OrganizationCeiling => Some(" The organization's ceiling holds it there.".to_owned()),
        Limit::UnitMaximum => Some(" The unit's highest setting holds it there.".to_owned()),
        Limit::CoolestSound | Limit::HottestSound => Some(" It stays inside the sound steps.".to_owned()),
        Limit::ColdShare | Limit::HotShare | Limit::CoolestStep | Limit::HottestStep => None,
    };
    let mut sentences: Vec<String> = point.limited_by.iter().filter_map(because).collect();
    sentences.dedup();
    sentences.concat()
}
