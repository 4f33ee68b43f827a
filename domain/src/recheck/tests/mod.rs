//! Rechecks through days, flags, plans and the changes of clocks.

mod clocks;
mod triggers;

use chrono::{DateTime, Duration, NaiveDate, NaiveTime, TimeZone, Utc};
use chrono_tz::Tz;
use uuid::Uuid;

use super::*;
use crate::edges::Edge;
use crate::heat::HeatShare;
use crate::membrane::MaterialClass;
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference};
use crate::standing::{
    DecisionKind, FlagKind, FlagState, Material, SeriesKey, ServiceFact, Severity, UnitRecord, flags,
};
use crate::trial::Outcome;

const UNIT: Uuid = Uuid::from_u128(7);

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn at(zone: Tz, date: &str, time: &str) -> DateTime<Utc> {
    zone.from_local_datetime(&day(date).and_time(time.parse().unwrap())).unwrap().with_timezone(&Utc)
}

fn trial(id: u128, at: DateTime<Utc>, purpose: Purpose, outcome: Outcome) -> TrialFact {
    TrialFact {
        trial: Uuid::from_u128(id),
        at,
        class: MaterialClass::Pvc,
        purpose,
        outcome,
        margin_below: None,
        margin_above: None,
        set_point: None,
        sheet: Some(Temperature::from_celsius(20.0)),
        speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).unwrap(),
        wind: None,
        material: Material::default(),
        heater_reserve: None,
    }
}

fn plan(date: &str, welding: bool, names_unit: bool) -> DayPlanFact {
    DayPlanFact { date: day(date), welding, names_unit, recorded_at: Utc.timestamp_opt(0, 0).unwrap() }
}

/// One unit's facts, in a zone.
struct Scene {
    zone: Tz,
    policy: RecheckPolicy,
    plans: Vec<DayPlanFact>,
    trials: Vec<TrialFact>,
    spans: Vec<SpanFact>,
    decisions: Vec<Decision>,
    events: Vec<DayEventFact>,
    services: Vec<ServiceFact>,
}

impl Scene {
    fn new(zone: Tz) -> Self {
        Self {
            zone,
            policy: RecheckPolicy::default(),
            plans: Vec::new(),
            trials: Vec::new(),
            spans: Vec::new(),
            decisions: Vec::new(),
            events: Vec::new(),
            services: Vec::new(),
        }
    }

    fn at(&self, as_of: DateTime<Utc>) -> Vec<Recheck> {
        let record = UnitRecord {
            unit: UNIT,
            series: &[],
            trials: &self.trials,
            services: &self.services,
            decisions: &self.decisions,
            limits: &[],
            channels: &[],
        };
        let flags = flags(&record, as_of);
        rechecks(&RecheckInput {
            unit: UNIT,
            policy: &self.policy,
            zone: self.zone,
            day_plans: &self.plans,
            trials: &self.trials,
            spans: &self.spans,
            day_events: &self.events,
            services: &self.services,
            heat_shares: &[],
            flags: &flags,
            decisions: &self.decisions,
            as_of,
        })
    }
}

const PARIS: Tz = chrono_tz::Europe::Paris;

#[test]
fn a_day_from_open_to_satisfied_and_on_to_the_next() {
    let mut scene = Scene::new(PARIS);
    // Monday's sweep makes the unit one in use.
    scene.trials.push(trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    let tuesday = scene.at(at(PARIS, "2025-06-03", "06:00:00"));
    let open = tuesday.last().unwrap();
    assert_eq!((open.state, open.due_on), (RecheckState::Open, day("2025-06-03")));
    assert_eq!(open.due_at, at(PARIS, "2025-06-03", "09:00:00"));
    assert_eq!((open.purpose, open.reasons.as_slice()), (Purpose::Confirmation, &[RecheckReason::Daily][..]));
    assert_eq!(scene.at(at(PARIS, "2025-06-03", "09:00:01")).last().unwrap().state, RecheckState::Overdue);

    scene.trials.push(trial(2, at(PARIS, "2025-06-03", "08:10:00"), Purpose::Confirmation, Outcome::Stands));
    let after = scene.at(at(PARIS, "2025-06-03", "10:00:00"));
    let [.., done, next] = after.as_slice() else { panic!("{after:?}") };
    assert_eq!((done.state, done.satisfied_by), (RecheckState::Satisfied, Some(Uuid::from_u128(2))));
    assert_eq!(done.id, open.id, "a recheck keeps its id");
    assert_eq!((next.state, next.due_on), (RecheckState::Open, day("2025-06-04")));
}

#[test]
fn a_newer_recheck_ends_an_older_one_and_one_at_most_is_open() {
    let mut scene = Scene::new(PARIS);
    scene.trials.push(trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    let thursday = scene.at(at(PARIS, "2025-06-05", "06:00:00"));
    let states: Vec<_> = thursday.iter().map(|recheck| recheck.state).collect();
    // Nobody tried it for two days: Thursday's is overdue before the shift has begun.
    assert_eq!(states, [RecheckState::Missed, RecheckState::Missed, RecheckState::Overdue]);
    assert_eq!(thursday[2].due_at, at(PARIS, "2025-06-05", "00:00:00"));
    // A trial on Thursday does not satisfy Tuesday's recheck after the fact.
    scene.trials.push(trial(2, at(PARIS, "2025-06-05", "07:10:00"), Purpose::Confirmation, Outcome::Stands));
    let later = scene.at(at(PARIS, "2025-06-05", "12:00:00"));
    assert_eq!(later[..2].iter().filter(|recheck| recheck.state == RecheckState::Missed).count(), 2);
    assert_eq!(later[2].state, RecheckState::Satisfied);
    for hour in 0..24 * 21 {
        let as_of = at(PARIS, "2025-06-02", "00:30:00") + Duration::hours(hour);
        let open = |recheck: &&Recheck| matches!(recheck.state, RecheckState::Open | RecheckState::Overdue);
        assert!(scene.at(as_of).iter().filter(open).count() <= 1, "{as_of}");
    }
}

#[test]
fn plans_decide_and_rain_asks_for_nothing() {
    let mut scene = Scene::new(PARIS);
    scene.trials.push(trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    scene.plans = vec![
        plan("2025-06-03", false, true),
        plan("2025-06-04", true, false),
        plan("2025-06-07", true, true),
    ];
    let due = |as_of| scene.at(as_of).iter().map(|recheck| recheck.due_on).collect::<Vec<_>>();
    // Tuesday it rains, Wednesday other units weld; Thursday, without a plan, it is in use.
    assert_eq!(due(at(PARIS, "2025-06-03", "12:00:00")), [day("2025-06-05")]);
    // A Saturday is worked only if planned.
    assert_eq!(
        due(at(PARIS, "2025-06-07", "12:00:00")),
        ["05", "06", "07"].map(|d| day(&format!("2025-06-{d}")))
    );
    // After a week without use nobody expects the unit.
    let later = due(at(PARIS, "2025-06-20", "12:00:00"));
    assert_eq!(later.last(), Some(&day("2025-06-09")), "{later:?}");
    // The latest plan of a day counts.
    scene.plans.push(DayPlanFact {
        recorded_at: Utc.timestamp_opt(9, 0).unwrap(),
        ..plan("2025-06-03", true, true)
    });
    assert_eq!(scene.at(at(PARIS, "2025-06-03", "12:00:00"))[0].due_on, day("2025-06-03"));
}

#[test]
fn a_failure_reopens_the_day_and_a_lost_margin_asks_for_edges() {
    let mut scene = Scene::new(PARIS);
    scene.trials = vec![
        trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands),
        trial(2, at(PARIS, "2025-06-03", "07:30:00"), Purpose::Confirmation, Outcome::Stands),
        trial(3, at(PARIS, "2025-06-03", "13:00:00"), Purpose::Confirmation, Outcome::Failed),
    ];
    let afternoon = scene.at(at(PARIS, "2025-06-03", "13:30:00"));
    let open = afternoon.last().unwrap();
    assert_eq!((open.due_on, open.state), (day("2025-06-03"), RecheckState::Open));
    assert_eq!(open.reasons, [RecheckReason::FailedTrial, RecheckReason::Daily]);
    assert_eq!(open.due_at, at(PARIS, "2025-06-03", "15:00:00"));

    scene.trials.push(trial(
        4,
        at(PARIS, "2025-06-03", "14:00:00"),
        Purpose::Confirmation,
        Outcome::MarginLost,
    ));
    let open = scene.at(at(PARIS, "2025-06-03", "14:30:00")).pop().unwrap();
    assert!(open.reasons.contains(&RecheckReason::MarginLost));
    // Next morning the margin is still lost: a confirmation is too weak, a sweep settles it.
    scene.trials.push(trial(5, at(PARIS, "2025-06-04", "07:30:00"), Purpose::Confirmation, Outcome::Stands));
    assert_eq!(scene.at(at(PARIS, "2025-06-04", "08:00:00")).pop().unwrap().due_on, day("2025-06-04"));
    scene.trials.push(trial(6, at(PARIS, "2025-06-04", "08:30:00"), Purpose::Sweep, Outcome::Stands));
    let settled = scene.at(at(PARIS, "2025-06-04", "09:00:00"));
    assert_eq!(settled[settled.len() - 2].satisfied_by, Some(Uuid::from_u128(6)));
}

#[test]
fn edges_are_looked_for_every_two_weeks() {
    let mut scene = Scene::new(PARIS);
    scene.trials.push(trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    for (index, date) in day("2025-06-03").iter_days().take(13).enumerate() {
        let morning = local_instant(date.and_hms_opt(7, 30, 0).unwrap(), PARIS);
        scene.trials.push(trial(10 + index as u128, morning, Purpose::Confirmation, Outcome::Stands));
    }
    let due = scene.at(at(PARIS, "2025-06-16", "06:00:00")).pop().unwrap();
    assert_eq!((due.due_on, due.purpose), (day("2025-06-16"), Purpose::Sweep));
    assert_eq!(due.reasons, [RecheckReason::EdgeFinding, RecheckReason::Daily]);
    scene.trials.push(trial(90, at(PARIS, "2025-06-16", "07:00:00"), Purpose::Confirmation, Outcome::Stands));
    assert_eq!(scene.at(at(PARIS, "2025-06-16", "08:00:00")).pop().unwrap().due_on, day("2025-06-16"));
    // A sound recheck is strong enough.
    scene.trials.push(trial(91, at(PARIS, "2025-06-16", "08:30:00"), Purpose::Recheck, Outcome::Stands));
    assert_eq!(scene.at(at(PARIS, "2025-06-16", "10:00:00")).pop().unwrap().due_on, day("2025-06-17"));
}

/// A drift flag asks for the edges from the next day in use on, until a trial has looked for them.
#[test]
fn a_drift_flag_asks_for_edges_the_next_day() {
    let monday = at(PARIS, "2025-06-02", "07:30:00");
    let flag = FlagFact {
        id: Uuid::from_u128(60),
        kind: FlagKind::DriftUp,
        series: SeriesKey::Edge(MaterialClass::Pvc, Edge::Lower),
        first_evidence: Uuid::from_u128(1),
        opened_at: monday,
        onset: None,
        severity: Severity::Moderate,
        shift: None,
        chart_share: None,
        margin_left: None,
        heater_reserve: None,
        time_to_limit: None,
        channel_change: None,
        state: FlagState::Open,
        state_since: monday,
        decisions: Vec::new(),
    };
    let mut trials = vec![trial(1, monday, Purpose::Sweep, Outcome::Stands)];
    let policy = RecheckPolicy::default();
    let last = |trials: &[TrialFact], as_of| {
        rechecks(&RecheckInput {
            unit: UNIT,
            policy: &policy,
            zone: PARIS,
            day_plans: &[],
            trials,
            spans: &[],
            day_events: &[],
            services: &[],
            heat_shares: &[],
            flags: std::slice::from_ref(&flag),
            decisions: &[],
            as_of,
        })
        .pop()
        .unwrap()
    };
    let tuesday = last(&trials, at(PARIS, "2025-06-03", "06:00:00"));
    assert_eq!((tuesday.purpose, tuesday.due_on), (Purpose::Sweep, day("2025-06-03")));
    assert_eq!(tuesday.reasons, [RecheckReason::DriftFlag, RecheckReason::Daily]);
    trials.push(trial(2, at(PARIS, "2025-06-03", "07:00:00"), Purpose::Confirmation, Outcome::Stands));
    assert_eq!(last(&trials, at(PARIS, "2025-06-03", "07:30:00")).due_on, day("2025-06-03"));
    trials.push(trial(3, at(PARIS, "2025-06-03", "08:00:00"), Purpose::Sweep, Outcome::Stands));
    let wednesday = last(&trials, at(PARIS, "2025-06-03", "08:30:00"));
    assert_eq!((wednesday.due_on, wednesday.reasons), (day("2025-06-04"), vec![RecheckReason::Daily]));
}

#[test]
fn a_person_may_waive() {
    let mut scene = Scene::new(PARIS);
    scene.trials.push(trial(1, at(PARIS, "2025-06-02", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    let waived_at = at(PARIS, "2025-06-03", "08:00:00");
    scene.decisions.push(Decision {
        id: Uuid::from_u128(50),
        kind: DecisionKind::Waive,
        series: None,
        concern: None,
        at: waived_at,
    });
    let found = scene.at(at(PARIS, "2025-06-03", "12:00:00"));
    assert_eq!((found[0].state, found[0].closed_at), (RecheckState::Waived, Some(waived_at)));
    assert_eq!(found[1].due_on, day("2025-06-04"));
}

/// Clocks go forward at 02:00 in Chicago (9 March 2025) and back at 02:00 (2 November); in Sydney on 5 October and 6
/// April; Kiritimati lies 14 hours ahead of UTC. (IANA time zone data.)
#[test]
fn local_time_survives_the_changes_of_clocks() {
    use chrono_tz::{America::Chicago, Australia::Sydney, Pacific::Apia, Pacific::Kiritimati};
    let time = |hour, minute| NaiveTime::from_hms_opt(hour, minute, 0).unwrap();
    let utc = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
    for (zone, date, clock, expected) in [
        (Chicago, "2025-03-09", time(1, 59), "2025-03-09T07:59:00Z"),
        // Never shown: the instant of the jump.
        (Chicago, "2025-03-09", time(2, 30), "2025-03-09T08:00:00Z"),
        (Chicago, "2025-03-09", time(7, 0), "2025-03-09T12:00:00Z"),
        // Shown twice: the first.
        (Chicago, "2025-11-02", time(1, 30), "2025-11-02T06:30:00Z"),
        (Chicago, "2025-11-02", time(7, 0), "2025-11-02T13:00:00Z"),
        (Sydney, "2025-10-05", time(2, 15), "2025-10-04T16:00:00Z"),
        (Sydney, "2025-10-05", time(7, 0), "2025-10-04T20:00:00Z"),
        (Sydney, "2025-04-06", time(2, 30), "2025-04-05T15:30:00Z"),
        (Sydney, "2025-04-06", time(7, 0), "2025-04-05T21:00:00Z"),
        (Kiritimati, "2025-06-03", time(7, 0), "2025-06-02T17:00:00Z"),
    ] {
        assert_eq!(local_instant(day(date).and_time(clock), zone), utc(expected), "{zone} {date} {clock}");
    }
    // A day that begins at one o'clock, because midnight was skipped; and one that never was.
    assert_eq!(local_day_start(day("2025-04-25"), chrono_tz::Africa::Cairo), utc("2025-04-24T22:00:00Z"));
    assert_eq!(local_day_start(day("2011-12-30"), Apia), local_day_start(day("2011-12-31"), Apia));
}

#[test]
fn a_trial_counts_for_the_local_day_wherever_that_is() {
    let kiritimati = chrono_tz::Pacific::Kiritimati;
    let chicago = chrono_tz::America::Chicago;
    // 00:30 and 23:30 local on the day of the change of clocks are the same local day.
    for (zone, date, before) in [
        (kiritimati, "2025-06-03", "2025-06-02"),
        (chicago, "2025-03-10", "2025-03-07"),
        (chicago, "2025-11-03", "2025-10-31"),
    ] {
        let mut scene = Scene::new(zone);
        scene.trials.push(trial(1, at(zone, before, "07:30:00"), Purpose::Sweep, Outcome::Stands));
        let start = local_day_start(day(date), zone);
        let mut early = Scene { trials: scene.trials.clone(), ..Scene::new(zone) };
        early.trials.push(trial(2, start - Duration::seconds(1), Purpose::Confirmation, Outcome::Stands));
        scene.trials.push(trial(2, start, Purpose::Confirmation, Outcome::Stands));
        let noon = at(zone, date, "12:00:00");
        let of_day =
            |scene: &Scene| scene.at(noon).into_iter().find(|recheck| recheck.due_on == day(date)).unwrap();
        assert_eq!(of_day(&scene).state, RecheckState::Satisfied, "{zone} {date}");
        assert_eq!(of_day(&early).state, RecheckState::Overdue, "{zone} {date}");
        assert_eq!(of_day(&scene).due_at, at(zone, date, "09:00:00"), "{zone} {date}");
    }
}

#[test]
fn order_of_arrival_does_not_matter() {
    let mut scene = Scene::new(PARIS);
    for index in 0..12_u64 {
        let morning = at(PARIS, "2025-06-02", "07:30:00") + Duration::days(index as i64);
        let outcome = if index == 5 { Outcome::Failed } else { Outcome::Stands };
        scene.trials.push(trial(1 + u128::from(index), morning, Purpose::Confirmation, outcome));
    }
    scene.plans = vec![plan("2025-06-05", true, true), plan("2025-06-06", false, true)];
    let as_of = at(PARIS, "2025-06-14", "12:00:00");
    let expected = scene.at(as_of);
    scene.trials.reverse();
    scene.plans.reverse();
    assert_eq!(scene.at(as_of), expected);
    scene.trials.swap(2, 9);
    assert_eq!(scene.at(as_of), expected);
}
