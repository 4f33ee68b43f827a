//! What happens in the course of a day.

use super::*;
use crate::quantity::parse;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn kelvin(value: f64) -> Option<TemperatureDifference> {
    Some(TemperatureDifference::from_kelvin(value))
}

fn event(kind: DayEventKind, at: DateTime<Utc>) -> DayEventFact {
    DayEventFact { at, kind, sheet: None, wind: None, membrane: None, lot: None }
}

/// Monday's sweep and Tuesday's check: 480 °C on a sheet of 20 °C, 15 K of margin below and 30 above.
fn a_good_tuesday_morning() -> Scene {
    let mut scene = Scene::new(PARIS);
    let good = |id, date: &str, purpose| TrialFact {
        set_point: Some(celsius(480.0)),
        margin_below: kelvin(15.0),
        margin_above: kelvin(30.0),
        material: Material { membranes: [Uuid::from_u128(70); 2], lots: [Some(Uuid::from_u128(80)); 2] },
        ..trial(id, at(PARIS, date, "07:30:00"), purpose, Outcome::Stands)
    };
    scene.trials = vec![good(1, "2025-06-02", Purpose::Sweep), good(2, "2025-06-03", Purpose::Confirmation)];
    scene
}

fn noon() -> DateTime<Utc> {
    at(PARIS, "2025-06-03", "12:00:00")
}

/// The reasons of the recheck that is open an hour after the event, if it is of the event's day.
fn reasons_after(event: DayEventFact) -> Option<Vec<RecheckReason>> {
    let mut scene = a_good_tuesday_morning();
    scene.events.push(event);
    open_reasons(&scene)
}

fn open_reasons(scene: &Scene) -> Option<Vec<RecheckReason>> {
    let last = scene.at(noon() + Duration::hours(1)).pop()?;
    (last.due_on == day("2025-06-03")).then_some(last.reasons)
}

#[test]
fn events_that_touch_the_welder_reopen_the_day() {
    use DayEventKind::{
        AirflowChanged, Break, CordChanged, NozzleChanged, OperatorChanged, PowerLoss, Reading, Restart,
        Start, SupplyChanged,
    };
    let set_up = [SupplyChanged, CordChanged, NozzleChanged, AirflowChanged];
    for kind in set_up {
        let expected = vec![RecheckReason::SetUpChanged, RecheckReason::Daily];
        assert_eq!(reasons_after(event(kind, noon())), Some(expected), "{kind}");
    }
    for kind in [Restart, PowerLoss] {
        let expected = vec![RecheckReason::Restarted, RecheckReason::Daily];
        assert_eq!(reasons_after(event(kind, noon())), Some(expected), "{kind}");
    }
    for kind in [Start, Break, Reading, OperatorChanged] {
        assert_eq!(reasons_after(event(kind, noon())), None, "{kind}");
    }
    let mut scene = a_good_tuesday_morning();
    scene.events.push(event(OperatorChanged, noon()));
    scene.policy.operator_checks = true;
    assert_eq!(open_reasons(&scene), Some(vec![RecheckReason::OperatorChanged, RecheckReason::Daily]));
}

#[test]
fn a_trial_after_the_event_settles_it_and_one_before_does_not() {
    let mut scene = a_good_tuesday_morning();
    scene.events.push(event(DayEventKind::PowerLoss, noon()));
    let open = scene.at(noon() + Duration::minutes(1)).pop().unwrap();
    assert_eq!((open.state, open.due_at), (RecheckState::Open, noon() + Duration::hours(2)));
    assert_eq!(open.purpose, Purpose::Confirmation);
    scene.trials.push(trial(3, noon() + Duration::minutes(40), Purpose::Confirmation, Outcome::Stands));
    let after = scene.at(noon() + Duration::hours(1));
    assert_eq!(after[after.len() - 2].satisfied_by, Some(Uuid::from_u128(3)));
    assert_eq!(after.last().unwrap().due_on, day("2025-06-04"));
    // Nobody did: the morning after it is still a reason.
    scene.trials.pop();
    let morning = scene.at(at(PARIS, "2025-06-04", "06:00:00"));
    assert!(morning.last().unwrap().reasons.contains(&RecheckReason::Restarted));
    assert_eq!(morning[morning.len() - 2].state, RecheckState::Missed);
}

/// A sweep in the morning settles what asked for edges; after a restart a check is enough. A waiver covers what was there before it.
#[test]
fn each_reason_is_settled_by_a_trial_of_its_own() {
    let mut scene = a_good_tuesday_morning();
    scene.policy.edge_finding_days = 1;
    scene.policy.least_edge_finding_days = 1;
    scene.policy.most_edge_finding_days = 1;
    let sweep = TrialFact { purpose: Purpose::Sweep, ..scene.trials[1] };
    scene.trials[1] = sweep;
    assert_eq!(open_reasons(&scene), None, "the sweep was the trial of the day and of its edges");
    scene.events.push(event(DayEventKind::PowerLoss, noon()));
    let open = scene.at(noon() + Duration::minutes(30)).pop().unwrap();
    assert_eq!((open.state, open.purpose), (RecheckState::Open, Purpose::Confirmation));
    let waiver = |hour: &str| Decision {
        id: Uuid::from_u128(50),
        kind: DecisionKind::Waive,
        series: None,
        concern: None,
        at: at(PARIS, "2025-06-03", hour),
    };
    scene.decisions.push(waiver("08:00:00"));
    assert_eq!(scene.at(noon() + Duration::minutes(30)).pop().unwrap().state, RecheckState::Open);
    scene.decisions[0] = waiver("12:10:00");
    let waived = scene.at(noon() + Duration::minutes(30));
    assert_eq!(waived.iter().find(|r| r.due_on == day("2025-06-03")).unwrap().state, RecheckState::Waived);
    scene.decisions.clear();
    scene.trials.push(trial(3, noon() + Duration::minutes(10), Purpose::Confirmation, Outcome::Stands));
    let done = scene.at(noon() + Duration::minutes(30));
    let tuesday = done.iter().find(|r| r.due_on == day("2025-06-03")).unwrap();
    assert_eq!((tuesday.state, tuesday.satisfied_by), (RecheckState::Satisfied, Some(Uuid::from_u128(3))));
}

/// With φ .27 a sheet colder by 10 K takes the edges up by 27 K: more than the 15 K below. Warmer by 10 K it takes them down by
/// 27 K: less than the 30 K above. (Carslaw and Jaeger's surface share, see `heat`.)
#[test]
fn the_margin_decides_what_another_sheet_temperature_asks_for() {
    let read =
        |sheet: f64| DayEventFact { sheet: Some(celsius(sheet)), ..event(DayEventKind::Reading, noon()) };
    let changed = Some(vec![RecheckReason::ConditionsChanged, RecheckReason::Daily]);
    assert_eq!(reasons_after(read(10.0)), changed);
    assert_eq!(reasons_after(read(15.0)), None, "13.5 K of 15");
    assert_eq!(reasons_after(read(30.0)), None, "27 K of 30");
    assert_eq!(reasons_after(read(32.0)), changed);
    let mut careful = a_good_tuesday_morning();
    careful.policy.carry_share = 0.5;
    careful.events.push(read(15.0));
    assert_eq!(open_reasons(&careful), changed);
    let last = *a_good_tuesday_morning().trials.last().unwrap();
    let shift = band_shift(&last, celsius(10.0), HeatShare::default()).unwrap();
    assert!((shift.by.kelvin() - 10.0 * (1.0 / 0.27 - 1.0)).abs() < 1e-9, "{shift:?}");
    assert_eq!(shift.margin, kelvin(15.0).unwrap());
}

#[test]
fn wind_beyond_what_the_trial_had_asks_for_a_new_one() {
    let wind = |speed: f64| {
        let wind = parse(speed, "m/s").ok();
        reasons_after(DayEventFact { wind, ..event(DayEventKind::Reading, noon()) })
    };
    assert_eq!(wind(5.0), None);
    assert_eq!(wind(8.0), Some(vec![RecheckReason::ConditionsChanged, RecheckReason::Daily]));
}

#[test]
fn another_sheet_asks_for_a_trial_of_it() {
    let change = |membrane: u128, lot: u128| {
        reasons_after(DayEventFact {
            membrane: Some(Uuid::from_u128(membrane)),
            lot: Some(Uuid::from_u128(lot)),
            ..event(DayEventKind::SheetChanged, noon())
        })
    };
    let expected = Some(vec![RecheckReason::NewSheet, RecheckReason::Daily]);
    assert_eq!(change(71, 80), expected);
    assert_eq!(change(70, 81), expected);
    assert_eq!(change(70, 80), None, "what the morning's trial was made of");
    // A span of another product says the same, without an event.
    let mut scene = a_good_tuesday_morning();
    let span = SpanFact {
        span: Uuid::from_u128(90),
        from: noon(),
        to: noon() + Duration::minutes(30),
        membrane: Some(Uuid::from_u128(71)),
        lot: None,
    };
    scene.spans.push(span);
    assert_eq!(open_reasons(&scene), expected);
    scene.spans[0].membrane = Some(Uuid::from_u128(70));
    assert_eq!(open_reasons(&scene), None);
}

#[test]
fn service_that_affects_heat_asks_for_edges() {
    let mut scene = a_good_tuesday_morning();
    scene.services.push(ServiceFact { at: noon(), affects_heat: false });
    assert_eq!(open_reasons(&scene), None);
    scene.services.push(ServiceFact { at: noon(), affects_heat: true });
    assert_eq!(open_reasons(&scene), Some(vec![RecheckReason::Service, RecheckReason::Daily]));
    scene.trials.push(trial(3, noon() + Duration::minutes(20), Purpose::Confirmation, Outcome::Stands));
    assert!(open_reasons(&scene).is_some(), "a check does not find the edges");
    scene.trials.push(trial(4, noon() + Duration::minutes(40), Purpose::Sweep, Outcome::Stands));
    assert_eq!(open_reasons(&scene), None);
}

/// 14 days to begin with, between 7 and 28: three good sweeps lengthen to 28 at most; a failure halves.
#[test]
fn the_interval_lengthens_with_evidence_and_shortens_with_trouble() {
    let mut scene = Scene::new(PARIS);
    scene.policy.least_edge_finding_days = 7;
    scene.policy.most_edge_finding_days = 28;
    let due_after = |scene: &Scene, last: &str| {
        let trials: Vec<&TrialFact> = scene.trials.iter().collect();
        crate::recheck::interval::edge_finding_days(&scene.policy, &trials, &[], at(PARIS, last, "23:00:00"))
    };
    assert_eq!(due_after(&scene, "2025-06-01"), 14);
    for (index, date) in ["2025-06-02", "2025-06-16", "2025-06-30", "2025-07-14"].into_iter().enumerate() {
        let sweep = trial(index as u128, at(PARIS, date, "07:30:00"), Purpose::Sweep, Outcome::Stands);
        scene.trials.push(sweep);
    }
    assert_eq!(due_after(&scene, "2025-06-02"), 17);
    assert_eq!(due_after(&scene, "2025-07-14"), 28);
    let failed = trial(9, at(PARIS, "2025-07-15", "07:30:00"), Purpose::Confirmation, Outcome::Failed);
    scene.trials.push(failed);
    assert_eq!(due_after(&scene, "2025-07-15"), 14);
    scene.trials.push(TrialFact { at: at(PARIS, "2025-07-16", "07:30:00"), ..failed });
    scene.trials.push(TrialFact { at: at(PARIS, "2025-07-17", "07:30:00"), ..failed });
    assert_eq!(due_after(&scene, "2025-07-17"), 7);
}

#[test]
fn a_margin_that_runs_out_is_looked_at_before_it_does() {
    let scene = a_good_tuesday_morning();
    let due = |earliest: &str, as_of: &str| {
        let earliest = at(PARIS, earliest, "12:00:00");
        let flag = FlagFact {
            id: Uuid::from_u128(60),
            kind: FlagKind::DriftUp,
            series: SeriesKey::Edge(MaterialClass::Pvc, Edge::Lower),
            first_evidence: Uuid::from_u128(1),
            // A sweep has looked for the edges since.
            opened_at: at(PARIS, "2025-06-01", "07:30:00"),
            onset: None,
            severity: Severity::Moderate,
            shift: None,
            chart_share: None,
            margin_left: None,
            heater_reserve: None,
            time_to_limit: Some(crate::drift::TimeToLimit::Between {
                earliest,
                middle: earliest + Duration::days(10),
                latest: earliest + Duration::days(30),
            }),
            channel_change: None,
            state: FlagState::Open,
            state_since: at(PARIS, "2025-06-01", "07:30:00"),
            decisions: Vec::new(),
        };
        let found = rechecks(&RecheckInput {
            unit: UNIT,
            policy: &scene.policy,
            zone: PARIS,
            day_plans: &[],
            trials: &scene.trials,
            spans: &[],
            day_events: &[],
            services: &[],
            heat_shares: &[],
            flags: &[flag],
            decisions: &[],
            as_of: at(PARIS, as_of, "06:00:00"),
        });
        found.last().unwrap().reasons.clone()
    };
    assert_eq!(due("2025-06-08", "2025-06-04"), [RecheckReason::Daily]);
    assert_eq!(due("2025-06-07", "2025-06-04"), [RecheckReason::MarginRunsOut, RecheckReason::Daily]);
}

/// 29 February is a day like any other, also where Sydney's clocks are an hour ahead; closed days and crews without working days
/// ask for nothing by themselves, an event does.
#[test]
fn leap_days_closed_days_and_crews_without_working_days() {
    let sydney = chrono_tz::Australia::Sydney;
    let mut scene = Scene::new(sydney);
    scene.trials.push(trial(1, at(sydney, "2028-02-28", "07:30:00"), Purpose::Sweep, Outcome::Stands));
    let leap = scene.at(at(sydney, "2028-02-29", "06:00:00")).pop().unwrap();
    assert_eq!((leap.due_on, leap.due_at), (day("2028-02-29"), at(sydney, "2028-02-29", "09:00:00")));
    scene.policy.closed_days.push(day("2028-02-29"));
    assert_eq!(scene.at(at(sydney, "2028-02-29", "06:00:00")).pop().unwrap().due_on, day("2028-03-01"));
    scene.policy.working_days.clear();
    let noon = at(sydney, "2028-02-29", "12:00:00");
    assert!(scene.at(noon).is_empty(), "nobody works");
    scene.events.push(event(DayEventKind::PowerLoss, noon));
    let asked = scene.at(noon + Duration::minutes(1)).pop().unwrap();
    assert_eq!((asked.due_on, asked.reasons), (day("2028-02-29"), vec![RecheckReason::Restarted]));
    // A plan for a closed day counts.
    scene.events.clear();
    scene.plans.push(plan("2028-02-29", true, true));
    assert_eq!(scene.at(at(sydney, "2028-02-29", "06:00:00"))[0].reasons, [RecheckReason::Daily]);
}

/// Any order of arrival, of everything that asks for a trial.
#[test]
fn the_order_of_events_does_not_matter() {
    let mut scene = a_good_tuesday_morning();
    scene.policy.operator_checks = true;
    let kinds = DayEventKind::ALL.iter().cycle().take(25);
    scene.events = kinds
        .enumerate()
        .map(|(index, kind)| event(*kind, noon() + Duration::hours(5 * index as i64)))
        .collect();
    for days in 1..6 {
        let morning = at(PARIS, "2025-06-03", "07:30:00") + Duration::days(days);
        scene.trials.push(trial(10 + days as u128, morning, Purpose::Confirmation, Outcome::Stands));
        scene.services.push(ServiceFact { at: morning + Duration::hours(3), affects_heat: days % 2 == 0 });
    }
    let as_of = at(PARIS, "2025-06-09", "15:00:00");
    let expected = scene.at(as_of);
    assert!(expected.len() > 4);
    for turn in 1..7 {
        scene.events.rotate_left(turn);
        scene.services.rotate_left(turn % 5);
        scene.trials.rotate_left(turn % 7);
        scene.events.reverse();
        assert_eq!(scene.at(as_of), expected);
    }
}
