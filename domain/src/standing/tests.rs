//! Standing and flags from hand-made series, trials and decisions; suspect seams from the flags.

use chrono::{DateTime, Duration, TimeZone, Utc};
use uuid::Uuid;

use super::*;
use crate::drift::{EdgeSeries, Interval, Level, Onset, Point, Signal, SignalEnd, UnitSeries};
use crate::quantity::{Quantity, Speed, SpeedUnit, Temperature, TemperatureUnit};
use crate::suspect::{SpanFact, SuspectReason, Urgency, suspects};

fn day(days: i64) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2025, 3, 3, 7, 0, 0).unwrap() + Duration::days(days)
}

fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

fn trial(number: u128, at: DateTime<Utc>, outcome: Outcome) -> TrialFact {
    TrialFact {
        trial: id(number),
        at,
        class: MaterialClass::Pvc,
        purpose: Purpose::Confirmation,
        outcome,
        margin_below: Some(TemperatureDifference::from_kelvin(12.0)),
        margin_above: Some(TemperatureDifference::from_kelvin(30.0)),
        set_point: Some(Temperature::from_celsius(475.0)),
        sheet: Some(Temperature::from_celsius(20.0)),
        speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).unwrap(),
        wind: None,
        material: Material::default(),
        heater_reserve: None,
    }
}

fn decision(number: u128, kind: DecisionKind, concern: Option<FlagKind>, at: DateTime<Utc>) -> Decision {
    Decision { id: id(number), kind, series: None, concern, at }
}

/// A daily series whose rising chart has these heights (shares of the limit), speaking from the seventh.
fn edge(edge: Edge, heights: &[f64], signals: Vec<Signal>) -> EdgeSeries {
    let celsius = Temperature::from_celsius;
    let points = heights
        .iter()
        .enumerate()
        .map(|(index, height)| Point {
            trial: id(1 + index as u128),
            at: day(index as i64),
            segment: 0,
            interval: Interval { low: celsius(400.0), middle: celsius(430.0), high: celsius(460.0) },
            open_below: false,
            open_above: false,
            up: height * 6.0,
            down: 0.0,
            limit: 6.0,
            speaks: index >= 6,
            effective_trials: index as f64,
        })
        .collect();
    let level = Level { mean: celsius(430.0), sd: TemperatureDifference::from_kelvin(4.0) };
    EdgeSeries {
        edge,
        points,
        level: Some(level),
        limit: 6.0,
        effective_trials: 9.0,
        learning: true,
        signals,
    }
}

fn signal(
    direction: Direction,
    raised: i64,
    end: Option<SignalEnd>,
    closed_at: Option<DateTime<Utc>>,
) -> Signal {
    let onset = |at| Onset { trial: id(1), at };
    Signal {
        direction,
        trial: id(1 + raised as u128),
        at: day(raised),
        onset_first: onset(day(raised - 5)),
        onset_last: onset(day(raised - 2)),
        shift: TemperatureDifference::from_kelvin(31.0),
        shift_sd: TemperatureDifference::from_kelvin(6.0),
        levels: (Temperature::from_celsius(430.0), Temperature::from_celsius(540.0)),
        other_shift: (TemperatureDifference::ZERO, TemperatureDifference::from_kelvin(9.0)),
        chart: 6.3,
        limit: 6.0,
        course: None,
        closed_at,
        end,
    }
}

fn unit(lower: EdgeSeries) -> Vec<UnitSeries> {
    let upper = edge(Edge::Upper, &vec![0.0; lower.points.len()], Vec::new());
    vec![UnitSeries { class: MaterialClass::Pvc, lower, upper, heat_share: (0.27, 0.03) }]
}

struct Scene {
    series: Vec<UnitSeries>,
    trials: Vec<TrialFact>,
    services: Vec<ServiceFact>,
    decisions: Vec<Decision>,
}

impl Scene {
    fn of(series: Vec<UnitSeries>) -> Self {
        let count = series.first().map_or(0, |series| series.lower.points.len());
        let trials =
            (0..count).map(|index| trial(1 + index as u128, day(index as i64), Outcome::Stands)).collect();
        Self { series, trials, services: Vec::new(), decisions: Vec::new() }
    }

    fn at(&self, as_of: DateTime<Utc>) -> (Standing, Vec<FlagFact>) {
        let record = UnitRecord {
            unit: id(99),
            series: &self.series,
            trials: &self.trials,
            services: &self.services,
            decisions: &self.decisions,
            limits: &[],
            channels: &[],
        };
        let flags = flags(&record, as_of);
        (standing(&record, &flags, as_of), flags)
    }
}

#[test]
fn a_unit_whose_sheets_are_not_measured_is_told_so() {
    let reasons = |known: usize| {
        let mut scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 12], Vec::new())));
        let unmeasured = |number: usize| TrialFact {
            sheet: (number < known).then(|| Temperature::from_celsius(20.0)),
            ..trial(number as u128, day(number as i64), Outcome::Stands)
        };
        scene.trials = (0..12).map(unmeasured).collect();
        scene.at(day(12)).0.reasons
    };
    let said = StandingReason::SheetTemperatureMissing;
    // The last ten trials count: of the last five of twelve half lack it, of the last six more than half.
    assert!(!reasons(7).contains(&said));
    assert!(reasons(6).contains(&said));
}

#[test]
fn new_then_steady_then_forgotten() {
    let empty = Scene::of(Vec::new()).at(day(0)).0;
    assert_eq!(
        (empty.code, empty.since, empty.reasons),
        (StandingCode::New, None, vec![StandingReason::NoRecentTrial])
    );
    let young = Scene::of(unit(edge(Edge::Lower, &[0.0; 4], Vec::new()))).at(day(4)).0;
    assert_eq!((young.code, young.reasons), (StandingCode::New, vec![StandingReason::TooFewTrials]));
    let scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 12], Vec::new())));
    let steady = scene.at(day(12)).0;
    assert_eq!((steady.code, steady.since), (StandingCode::Steady, Some(day(6))));
    assert_eq!(steady.reasons, [StandingReason::ChartsQuiet, StandingReason::StillLearning]);
    assert_eq!(scene.at(day(80)).0.reasons, [StandingReason::NoRecentTrial]);
}

#[test]
fn a_chart_near_its_limit_warns_since_it_got_there() {
    let near =
        Scene::of(unit(edge(Edge::Lower, &[0.9, 0., 0., 0., 0., 0., 0.8, 0.2, 0.76, 0.9], Vec::new())));
    let warning = near.at(day(9)).0;
    assert_eq!((warning.code, warning.since), (StandingCode::Warning, Some(day(8))));
    assert_eq!(warning.reasons, [StandingReason::ChartNearLimit]);
    let calm =
        Scene::of(unit(edge(Edge::Lower, &[0., 0., 0., 0., 0., 0., 0.8, 0.2, 0.1], Vec::new()))).at(day(9)).0;
    assert_eq!((calm.code, calm.since), (StandingCode::Steady, Some(day(7))));
}

#[test]
fn a_signal_is_drifting_until_service_a_person_or_later_trials_end_it() {
    let heights = [0.0; 20];
    let with = |signal: Signal| Scene::of(unit(edge(Edge::Lower, &heights, vec![signal])));
    let open = with(signal(Direction::Up, 10, None, None));
    let (standing, flags) = open.at(day(19));
    assert_eq!((standing.code, standing.since), (StandingCode::Drifting, Some(day(10))));
    assert_eq!(standing.reasons, [StandingReason::LowerEdgeUp]);
    let flag = &flags[0];
    assert_eq!(
        (flag.kind, flag.state, flag.severity),
        (FlagKind::DriftUp, FlagState::Open, Severity::Moderate)
    );
    assert_eq!((flag.series.code(), flag.onset), ("pvc.lower".to_owned(), Some((day(5), day(8)))));
    let sentence = flag.sentence(TemperatureUnit::Celsius);
    assert!(sentence.contains("31 °C") && sentence.contains("12 °C of margin"), "{sentence}");
    assert!(flag.sentence(TemperatureUnit::Fahrenheit).contains("56 °F"));
    // Before it was raised there was no flag; it has the same id whenever one asks.
    assert!(open.at(day(9)).1.is_empty());
    assert_eq!(open.at(day(11)).1[0].id, flag.id);

    let serviced = with(signal(Direction::Up, 10, Some(SignalEnd::Service { at: day(15) }), None));
    assert_eq!(serviced.at(day(14)).1[0].state, FlagState::Open);
    assert_eq!(
        (serviced.at(day(16)).1[0].state, serviced.at(day(16)).0.since),
        (FlagState::Closed, Some(day(15)))
    );
    let end = SignalEnd::Subsided { trial: id(15), at: day(14) };
    let (standing, flags) = with(signal(Direction::Up, 10, Some(end), None)).at(day(19));
    assert_eq!((standing.code, flags[0].state), (StandingCode::Steady, FlagState::NotConfirmed));
    // A falling lower edge costs no margin.
    assert_eq!(with(signal(Direction::Down, 10, None, None)).at(day(19)).1[0].severity, Severity::Notice);
}

#[test]
fn decisions_apply_to_the_flag_whose_span_covers_their_time() {
    let mut scene =
        Scene::of(unit(edge(Edge::Lower, &[0.0; 20], vec![signal(Direction::Up, 10, None, None)])));
    scene.decisions = vec![
        decision(70, DecisionKind::Close, Some(FlagKind::DriftUp), day(9)),
        decision(71, DecisionKind::Acknowledge, Some(FlagKind::DriftUp), day(12)),
        decision(72, DecisionKind::Acknowledge, Some(FlagKind::DriftDown), day(12)),
    ];
    let (standing, flags) = scene.at(day(13));
    assert_eq!((flags[0].state, flags[0].state_since), (FlagState::Acknowledged, day(12)));
    assert_eq!(flags[0].decisions, [id(71)]);
    assert_eq!(standing.code, StandingCode::Drifting, "seen is not settled");
    scene.decisions.push(decision(73, DecisionKind::Close, None, day(14)));
    let (standing, flags) = scene.at(day(15));
    assert_eq!((flags[0].state, flags[0].state_since), (FlagState::Closed, day(14)));
    assert_eq!((standing.code, standing.since), (StandingCode::Steady, Some(day(14))));
    // What the charts are told of it: the rising and, as no kind is named, every other drift.
    let quiet = quiet_decisions(&scene.decisions);
    assert!(quiet.iter().any(|quiet| quiet.at == day(14) && quiet.direction == Direction::Up));
    assert!(quiet.iter().all(|quiet| quiet.at != day(9) || quiet.direction == Direction::Up));
    assert!(quiet.iter().all(|quiet| quiet.at != day(12)), "acknowledging does not quieten");
}

#[test]
fn two_failures_withdraw_and_only_mending_trials_and_release_bring_back() {
    let mut scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 10], Vec::new())));
    let add = |scene: &mut Scene, number: u128, hours: i64, outcome| {
        scene.trials.push(trial(number, day(10) + Duration::hours(hours), outcome));
    };
    let now = day(10) + Duration::hours(20);
    add(&mut scene, 20, 0, Outcome::Failed);
    let (standing, flags) = scene.at(now);
    assert_eq!((standing.code, standing.reasons), (StandingCode::Warning, vec![StandingReason::TrialFailed]));
    assert_eq!((flags[0].kind, flags[0].severity), (FlagKind::FailedTrial, Severity::Severe));
    // A trial without a verdict does not break the run.
    add(&mut scene, 21, 1, Outcome::NoVerdict);
    add(&mut scene, 22, 2, Outcome::Failed);
    let awaits = |scene: &Scene| {
        let standing = scene.at(now).0;
        assert_eq!(standing.code, StandingCode::Withdrawn);
        standing.reasons[1]
    };
    assert_eq!(awaits(&scene), StandingReason::AwaitsService);
    // Good trials before mending don't count, nor does a release before the trials.
    add(&mut scene, 23, 3, Outcome::Stands);
    add(&mut scene, 24, 4, Outcome::Stands);
    scene.decisions.push(decision(80, DecisionKind::Release, None, day(10) + Duration::hours(5)));
    assert_eq!(awaits(&scene), StandingReason::AwaitsService);
    scene.services.push(ServiceFact { at: day(10) + Duration::hours(6), affects_heat: true });
    add(&mut scene, 25, 7, Outcome::Stands);
    add(&mut scene, 26, 8, Outcome::Failed);
    add(&mut scene, 27, 9, Outcome::Stands);
    assert_eq!(awaits(&scene), StandingReason::AwaitsTwoGoodTrials);
    add(&mut scene, 28, 10, Outcome::Stands);
    assert_eq!(awaits(&scene), StandingReason::AwaitsRelease);
    scene.decisions.push(decision(81, DecisionKind::Release, None, day(10) + Duration::hours(11)));
    let (standing, flags) = scene.at(now);
    assert_eq!((standing.code, standing.since), (StandingCode::Steady, Some(day(10) + Duration::hours(11))));
    let withdrawn = flags.iter().find(|flag| flag.kind == FlagKind::Withdrawn).unwrap();
    assert_eq!((withdrawn.state, withdrawn.first_evidence), (FlagState::Closed, id(22)));
    // One failure after the release is a first one again.
    add(&mut scene, 29, 12, Outcome::Failed);
    assert_eq!(scene.at(now).0.code, StandingCode::Warning);
}

#[test]
fn a_stated_cause_serves_in_place_of_service() {
    let mut scene = Scene::of(Vec::new());
    scene.trials = [Outcome::Failed, Outcome::Failed, Outcome::Stands, Outcome::Stands]
        .into_iter()
        .enumerate()
        .map(|(index, outcome)| trial(1 + index as u128, day(index as i64 * 2), outcome))
        .collect();
    scene.decisions = vec![
        decision(80, DecisionKind::Close, Some(FlagKind::Withdrawn), day(3)),
        decision(81, DecisionKind::Release, None, day(7)),
    ];
    assert_eq!(scene.at(day(5)).0.code, StandingCode::Withdrawn);
    let (standing, flags) = scene.at(day(8));
    assert_ne!(standing.code, StandingCode::Withdrawn);
    let withdrawn = flags.iter().find(|flag| flag.kind == FlagKind::Withdrawn).unwrap();
    assert_eq!(withdrawn.decisions, [id(80), id(81)]);
}

#[test]
fn lost_margin_and_heater_limit_are_settled_by_better_trials() {
    let mut scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 10], Vec::new())));
    let reserve = |number, days, kelvin: f64, outcome| TrialFact {
        heater_reserve: Some(TemperatureDifference::from_kelvin(kelvin)),
        ..trial(number, day(days), outcome)
    };
    scene.trials.push(reserve(20, 11, 8.0, Outcome::MarginLost));
    let (standing, flags) = scene.at(day(11));
    assert_eq!(standing.reasons, [StandingReason::MarginLost, StandingReason::HeaterNearLimit]);
    assert_eq!(flags.len(), 2);
    assert!(flags.iter().any(|flag| flag.sentence(TemperatureUnit::Celsius).contains("8 °C below")));
    let last = scene.trials.len() - 1;
    scene.trials[last] = reserve(20, 11, -41.0, Outcome::MarginLost);
    let beyond = scene.at(day(11)).1;
    assert!(beyond.iter().any(|flag| flag.sentence(TemperatureUnit::Celsius).contains("41 °C above")));
    scene.trials.push(reserve(21, 12, 55.0, Outcome::Stands));
    let (standing, flags) = scene.at(day(12));
    assert_eq!((standing.code, standing.since), (StandingCode::Steady, Some(day(12))));
    assert!(flags.iter().all(|flag| flag.state == FlagState::Closed));
}

#[test]
fn seams_between_the_last_good_trial_and_the_trouble_are_suspect() {
    let span = |number, from, to| SpanFact { span: id(number), from, to, membrane: None, lot: None };
    let hours = |hours| day(10) + Duration::hours(hours);
    let mut scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 10], Vec::new())));
    scene.trials.push(trial(30, hours(0), Outcome::Stands));
    scene.trials.push(trial(31, hours(6), Outcome::Failed));
    scene.trials.push(trial(32, hours(8), Outcome::Failed));
    let spans = [
        span(1, day(9) + Duration::hours(1), day(9) + Duration::hours(5)),
        span(2, hours(-1), hours(2)),
        span(3, hours(3), hours(5)),
        span(4, hours(7), hours(9)),
    ];
    let found = suspects(&spans, &scene.trials, &scene.at(hours(12)).1, &[]);
    let seen: Vec<_> = found.iter().map(|suspect| (suspect.span, suspect.from, suspect.to)).collect();
    assert_eq!(seen, [(id(2), hours(0), hours(2)), (id(3), hours(3), hours(5)), (id(4), hours(7), hours(8))]);
    assert!(
        found
            .iter()
            .all(|suspect| suspect.urgency == Urgency::BeforeCovering && suspect.last_good == Some(id(30)))
    );
    assert!(found.iter().all(|suspect| suspect.reason == SuspectReason::Withdrawn));
    // After the first failure alone, with its own reason.
    let first = suspects(&spans, &scene.trials[..12], &scene.at(hours(7)).1, &[]);
    assert_eq!(
        first.iter().map(|suspect| suspect.reason).collect::<Vec<_>>(),
        [SuspectReason::FailedTrial; 2]
    );
}

#[test]
fn a_drift_makes_seams_suspect_from_its_onset_if_it_costs_margin() {
    let spans = [
        SpanFact { span: id(1), from: day(2), to: day(3), membrane: None, lot: None },
        SpanFact { span: id(2), from: day(6), to: day(7), membrane: None, lot: None },
    ];
    let suspects_of = |direction| {
        let signals = vec![signal(direction, 10, None, None)];
        let scene = Scene::of(unit(edge(Edge::Lower, &[0.0; 20], signals)));
        suspects(&spans, &scene.trials, &scene.at(day(19)).1, &[])
    };
    let rising = suspects_of(Direction::Up);
    assert_eq!(rising.len(), 1);
    assert_eq!((rising[0].span, rising[0].reason), (id(2), SuspectReason::DriftOnset));
    assert_eq!((rising[0].urgency, rising[0].last_good), (Urgency::NextVisit, Some(id(5))));
    assert!(suspects_of(Direction::Down).is_empty());
}

#[test]
fn series_codes_lead_back() {
    for &class in MaterialClass::ALL {
        for &edge in Edge::ALL {
            let key = SeriesKey::Edge(class, edge);
            assert_eq!(SeriesKey::from_code(&key.code()), Some(key));
        }
    }
    assert_eq!(SeriesKey::from_code("unit"), Some(SeriesKey::Unit));
    assert_eq!(SeriesKey::from_code("pvc.middle"), None);
}
