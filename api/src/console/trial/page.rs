//! The page of a trial.

use askama::Template;
use chrono::{DateTime, Utc};
use lapwatch_domain::acceptance::{JudgedCoupon, Reading};
use lapwatch_domain::membrane::{SheetCondition, SupplySource};
use lapwatch_domain::quantity::{
    Percent, PercentUnit, Quantity, SpeedUnit, Voltage, VoltageUnit, WindSpeed, WindSpeedUnit,
};

use crate::console::chart::trial::TrialChart;
use crate::console::fleet::margin_words;
use crate::console::mark::Mark;
use crate::console::place::Place;
use crate::console::response::Frame;
use crate::console::show::{Local, Scale, When, whole};
use crate::console::unit::{SuspectGroup, suspect_groups};
use crate::console::words;
use crate::model::{DatedPrior, Membrane, Sheet, Trial};
use crate::service::trials::Answer;
use crate::storage::photos::Kept;
use crate::wire::digest;

/// The page.
#[derive(Debug, Template)]
#[template(path = "trial.html")]
pub(super) struct TrialPage {
    frame: Frame,
    unit: String,
    unit_address: String,
    place: String,
    purpose: &'static str,
    at: When,
    received: When,
    outcome: Mark,
    outcome_sentence: String,
    set_point: Option<String>,
    margins: Option<String>,
    band: Option<String>,
    next: String,
    chart: Option<TrialChart>,
    readings: Vec<Mark>,
    explanation: Vec<String>,
    /// What the unit's history adds; empty when nothing is carried.
    with_history: Vec<String>,
    cautions: Vec<&'static str>,
    grade: &'static str,
    grade_reasons: Vec<&'static str>,
    assumed: String,
    coupons: Vec<CouponRow>,
    photos: Vec<PhotoShown>,
    seams: usize,
    suspects: Vec<SuspectGroup>,
    conditions: Vec<(&'static str, String)>,
    digest: String,
}

/// A photo of the trial.
#[derive(Debug)]
struct PhotoShown {
    /// Where the picture is; `None` until its bytes come.
    address: Option<String>,
    caption: String,
    taken: When,
}

/// A coupon and what its strips showed.
#[derive(Debug)]
struct CouponRow {
    setting: String,
    measured: Option<String>,
    strips: Vec<StripLine>,
}

/// A strip with the reasons of its reading.
#[derive(Debug)]
struct StripLine {
    reading: Mark,
    reasons: String,
}

impl TrialPage {
    /// The page, on the scale the coupons were entered on: the one that its sentences speak.
    pub(super) fn new(
        frame: Frame,
        answer: &Answer,
        photos: &[Kept],
        place: &Place,
        now: DateTime<Utc>,
    ) -> Self {
        let scale = Scale { temperature: answer.trial.temperature_unit, ..place.scale() };
        let local = place.local(now);
        let (trial, evaluation) = (&answer.trial, &answer.evaluation);
        let judged = &evaluation.judged;
        let set_point = evaluation.set_point.as_ref().ok();
        Self {
            frame,
            unit: answer.context.unit.label.clone(),
            unit_address: format!("/units/{}", trial.unit_id),
            place: place.words(),
            purpose: words::purpose_short(trial.purpose),
            at: local.time(trial.performed_at),
            received: local.time(answer.submission.received_at),
            outcome: Mark::outcome(evaluation.outcome),
            outcome_sentence: evaluation.outcome_sentence.clone(),
            set_point: set_point.map(|point| scale.temperature(point.to_set)),
            margins: set_point
                .and_then(|point| point.margin_below.zip(point.margin_above))
                .map(|(below, above)| margin_words(below, above, scale)),
            band: evaluation
                .band
                .map(|band| format!("{} to {}", whole(scale.value(band.low)), scale.temperature(band.high))),
            next: evaluation.next_sentence.clone(),
            chart: TrialChart::new(evaluation, scale),
            readings: readings_shown(&judged.coupons),
            explanation: evaluation.explanation.clone(),
            with_history: answer
                .carried
                .as_ref()
                .map(|carried| carried.explanation.clone())
                .unwrap_or_default(),
            cautions: evaluation.cautions.iter().map(|caution| caution.text()).collect(),
            grade: words::grade(judged.grade),
            grade_reasons: judged.grade_reasons.iter().map(|reason| reason.sentence()).collect(),
            assumed: DatedPrior::sentence(answer.context.prior.as_ref(), scale.temperature),
            coupons: coupon_rows(trial, &judged.coupons, scale),
            photos: photos.iter().map(|kept| photo_shown(kept, trial, scale, local)).collect(),
            seams: answer.suspects.len(),
            suspects: suspect_groups(&answer.suspects, local),
            conditions: conditions(answer, scale),
            digest: digest::show(&answer.submission.digest),
        }
    }
}

/// A photo under the words of who took it, else under the step that it belongs to.
fn photo_shown((photo, content): &Kept, trial: &Trial, scale: Scale, local: Local) -> PhotoShown {
    let coupon = photo.coupon.and_then(|number| trial.coupons.get(usize::from(number).checked_sub(1)?));
    let step = coupon.map(|coupon| scale.temperature(coupon.set_temperature));
    let words: Vec<String> = step.into_iter().chain(photo.caption.clone()).collect();
    PhotoShown {
        address: content.as_ref().map(|content| format!("/photos/{}", digest::show(&content.sha256))),
        caption: if words.is_empty() { "Photo of the trial".to_owned() } else { words.join(": ") },
        taken: local.time(photo.taken_at),
    }
}

/// The legend: the readings that occur, in the order of the words.
fn readings_shown(coupons: &[JudgedCoupon]) -> Vec<Mark> {
    let occurs = |reading: &&Reading| {
        coupons.iter().flat_map(|coupon| &coupon.specimens).any(|specimen| specimen.reading == **reading)
    };
    Reading::ALL.iter().filter(occurs).map(|reading| Mark::reading(*reading)).collect()
}

fn coupon_rows(trial: &Trial, judged: &[JudgedCoupon], scale: Scale) -> Vec<CouponRow> {
    let row = |(coupon, judged): (&crate::model::Coupon, &JudgedCoupon)| CouponRow {
        setting: match coupon.speed_set {
            Some(speed) => format!("{} at {}", scale.temperature(coupon.set_temperature), scale.speed(speed)),
            None => scale.temperature(coupon.set_temperature),
        },
        measured: coupon.measured_temperature.map(|temperature| scale.temperature(temperature)),
        strips: judged
            .specimens
            .iter()
            .map(|specimen| StripLine {
                reading: Mark::reading(specimen.reading),
                reasons: specimen
                    .reasons
                    .iter()
                    .map(|reason| reason.sentence())
                    .collect::<Vec<_>>()
                    .join(" "),
            })
            .collect(),
    };
    trial.coupons.iter().zip(judged).map(row).collect()
}

/// What is known of the conditions; what was not recorded is left out.
fn conditions(answer: &Answer, scale: Scale) -> Vec<(&'static str, String)> {
    let trial = &answer.trial;
    let mut known = vec![
        ("Upper sheet", sheet_words(&answer.context.upper, &trial.upper_sheet)),
        ("Lower sheet", sheet_words(&answer.context.lower, &trial.lower_sheet)),
        ("Speed set", scale.speed(trial.speed_set)),
    ];
    let volts = |voltage: Voltage| format!("{} V", whole(voltage.value_in(VoltageUnit::Volt)));
    let percent = |share: Percent| format!("{} %", whole(share.value_in(PercentUnit::Percent)));
    let optional = [
        ("Speed timed", trial.speed_timed.map(|speed| scale.speed(speed))),
        ("Set point in use", trial.set_point_before.map(|temperature| scale.temperature(temperature))),
        ("Sheet", trial.sheet_temperature.map(|temperature| scale.temperature(temperature))),
        ("Air", trial.air_temperature.map(|temperature| scale.temperature(temperature))),
        ("Humidity", trial.humidity.map(percent)),
        ("Wind", trial.wind_speed.map(|wind| wind_words(wind, scale))),
        ("Supply", trial.supply_source.map(|source| supply_words(source).to_owned())),
        ("Volts idle", trial.voltage_idle.map(volts)),
        ("Volts under load", trial.voltage_loaded.map(volts)),
        ("Airflow", trial.notes.airflow.map(percent)),
    ];
    known.extend(optional.into_iter().filter_map(|(name, value)| Some((name, value?))));
    known
}

fn sheet_words(membrane: &Membrane, sheet: &Sheet) -> String {
    let condition = match sheet.condition {
        SheetCondition::New => "new",
        SheetCondition::Aged => "aged",
    };
    format!("{} ({}), {condition}", membrane.name, words::material_class(membrane.material_class))
}

fn supply_words(source: SupplySource) -> &'static str {
    match source {
        SupplySource::Mains => "mains",
        SupplySource::Generator => "generator",
    }
}

/// Crews that work in feet read wind in miles.
fn wind_words(wind: WindSpeed, scale: Scale) -> String {
    match scale.speed {
        SpeedUnit::MetrePerMinute => {
            format!("{} km/h", whole(wind.value_in(WindSpeedUnit::KilometrePerHour)))
        }
        SpeedUnit::FootPerMinute => format!("{} mph", whole(wind.value_in(WindSpeedUnit::MilePerHour))),
    }
}
