//! What it costs to schedule a large fleet: every recheck of 5,000 units, anew from all their facts.
//!
//! `cargo bench -p lapwatch-domain --bench rechecks` prints the table that `rechecks.md` holds.

use std::time::{Duration as Elapsed, Instant};

use chrono::{DateTime, Datelike, Duration, NaiveDate, Utc, Weekday};
use chrono_tz::Tz;
use lapwatch_domain::heat::HeatShare;
use lapwatch_domain::membrane::MaterialClass;
use lapwatch_domain::quantity::{Quantity, parse};
use lapwatch_domain::recheck::{
    DayEventFact, DayEventKind, DayPlanFact, Recheck, RecheckInput, RecheckPolicy, RecheckState,
    local_day_start, local_instant, rechecks,
};
use lapwatch_domain::standing::{Material, ServiceFact, TrialFact};
use lapwatch_domain::suspect::SpanFact;
use lapwatch_domain::trial::{Outcome, Purpose};
use uuid::Uuid;

const UNITS: usize = 5_000;
/// Eleven months.
const DAYS: i64 = 330;
/// Spans, plans and events are read for so many days back.
const LOOK_BACK_DAYS: i64 = 63;
/// Both sides of the date line, both hemispheres, halves of hours.
const ZONES: [Tz; 6] = [
    chrono_tz::America::Chicago,
    chrono_tz::Australia::Sydney,
    chrono_tz::Pacific::Kiritimati,
    chrono_tz::Pacific::Pago_Pago,
    chrono_tz::Asia::Kolkata,
    chrono_tz::Europe::Paris,
];

/// Everything that one unit's rechecks follow from.
struct Facts {
    zone: Tz,
    trials: Vec<TrialFact>,
    spans: Vec<SpanFact>,
    plans: Vec<DayPlanFact>,
    events: Vec<DayEventFact>,
    services: Vec<ServiceFact>,
}

/// A quantity that is right as it stands here.
fn given<Q: Quantity>(value: f64, unit: &str) -> Q {
    parse(value, unit).expect("a quantity")
}

fn material(lot: i64) -> Material {
    Material { membranes: [Uuid::from_u128(70); 2], lots: [Some(Uuid::from_u128(80 + lot as u128)); 2] }
}

/// The trial of a morning: a sweep every two weeks, a failure now and then, repeated an hour later; some mornings without.
fn trials_of(index: usize, day: NaiveDate, number: i64, morning: DateTime<Utc>) -> Vec<TrialFact> {
    let turn = index as i64 + number;
    let trial = |step: u128, outcome, purpose| TrialFact {
        trial: Uuid::from_u128((index as u128) << 64 | (day.num_days_from_ce() as u128) << 8 | step),
        at: morning + Duration::hours(step as i64),
        class: MaterialClass::Pvc,
        purpose,
        outcome,
        margin_below: Some(given(25.0, "K")),
        margin_above: Some(given(30.0, "K")),
        set_point: Some(given(470.0, "Cel")),
        sheet: Some(given(20.0 + 10.0 * (0.02 * number as f64).sin(), "Cel")),
        speed: given(3.05, "m/min"),
        wind: Some(given(3.0, "m/s")),
        material: material(number / 30),
        heater_reserve: None,
    };
    match turn % 37 {
        0 => Vec::new(),
        1 => {
            vec![trial(0, Outcome::Failed, Purpose::Confirmation), trial(1, Outcome::Stands, Purpose::Sweep)]
        }
        _ if turn % 14 == 0 => vec![trial(0, Outcome::Stands, Purpose::Sweep)],
        _ => vec![trial(0, Outcome::Stands, Purpose::Confirmation)],
    }
}

/// A unit that works on weekdays, but for a rain day in ten.
fn facts(index: usize, first: NaiveDate) -> Facts {
    let zone = ZONES[index % ZONES.len()];
    let mut facts = Facts {
        zone,
        trials: Vec::new(),
        spans: Vec::new(),
        plans: Vec::new(),
        events: Vec::new(),
        services: Vec::new(),
    };
    for number in 0..DAYS {
        let day = first + Duration::days(number);
        if matches!(day.weekday(), Weekday::Sat | Weekday::Sun) {
            continue;
        }
        let rain = (index as i64 + number) % 10 == 3;
        let morning = local_instant(day.and_hms_opt(7, 30, 0).expect("a time of day"), zone);
        if !rain {
            facts.trials.extend(trials_of(index, day, number, morning));
        }
        if number % 150 == 100 {
            facts.services.push(ServiceFact { at: morning, affects_heat: true });
        }
        if number < DAYS - LOOK_BACK_DAYS {
            continue;
        }
        let recorded_at = local_day_start(day, zone) - Duration::hours(8);
        facts.plans.push(DayPlanFact { date: day, welding: !rain, names_unit: true, recorded_at });
        if rain {
            continue;
        }
        for (step, kind) in [(5, DayEventKind::Restart), (7, DayEventKind::Reading)] {
            facts.events.push(DayEventFact {
                at: morning + Duration::hours(step),
                kind,
                sheet: Some(given(24.0, "Cel")),
                wind: None,
                membrane: None,
                lot: None,
            });
        }
        // Most crews make their check after the restart.
        if (index as i64 + number) % 5 != 0
            && let Some(last) = facts.trials.last().copied()
        {
            facts.trials.push(TrialFact {
                trial: Uuid::from_u128(last.trial.as_u128() | 0x80),
                at: morning + Duration::minutes(330),
                purpose: Purpose::Confirmation,
                outcome: Outcome::Stands,
                ..last
            });
        }
        for step in [2, 6] {
            facts.spans.push(SpanFact {
                span: Uuid::from_u128((index as u128) << 64 | (number as u128) << 8 | step as u128),
                from: morning + Duration::hours(step),
                to: morning + Duration::hours(step + 3),
                membrane: Some(Uuid::from_u128(70)),
                lot: material(number / 30).lots[0],
            });
        }
    }
    facts
}

fn schedule(index: usize, facts: &Facts, policy: &RecheckPolicy, as_of: DateTime<Utc>) -> Vec<Recheck> {
    rechecks(&RecheckInput {
        unit: Uuid::from_u128(index as u128),
        policy,
        zone: facts.zone,
        day_plans: &facts.plans,
        trials: &facts.trials,
        spans: &facts.spans,
        day_events: &facts.events,
        services: &facts.services,
        heat_shares: &[(MaterialClass::Pvc, HeatShare::default())],
        flags: &[],
        decisions: &[],
        as_of,
    })
}

/// Resident memory of this process, MB, by the kernel's account; `None` where there is none.
fn resident_mb(line: &str) -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let found = status.lines().find_map(|found| found.strip_prefix(line))?;
    found.trim_end_matches("kB").trim().parse::<f64>().ok().map(|kilobytes| kilobytes / 1024.0)
}

fn main() {
    let policy =
        RecheckPolicy { least_edge_finding_days: 7, most_edge_finding_days: 28, ..RecheckPolicy::default() };
    let first = NaiveDate::from_ymd_opt(2025, 1, 6).expect("a day");
    let as_of = first.and_hms_opt(12, 0, 0).expect("a time of day").and_utc() + Duration::days(DAYS);

    // One unit after the other, as the service does.
    let (mut took, mut found, mut trials) = (Vec::with_capacity(UNITS), 0, 0);
    let (mut waiting, mut overdue) = (0, 0);
    for index in 0..UNITS {
        let facts = facts(index, first);
        trials += facts.trials.len();
        let began = Instant::now();
        let all = schedule(index, &facts, &policy, as_of);
        took.push(began.elapsed());
        found += all.len();
        waiting += usize::from(all.last().is_some_and(|last| last.state == RecheckState::Open));
        overdue += usize::from(all.last().is_some_and(|last| last.state == RecheckState::Overdue));
    }
    let one_by_one = resident_mb("VmHWM:");
    took.sort_unstable();
    let whole: Elapsed = took.iter().sum();

    // All facts at once in memory: what a caller would need who did not go one by one.
    let held: Vec<Facts> = (0..UNITS).map(|index| facts(index, first)).collect();
    let at_once = resident_mb("VmHWM:");
    assert_eq!(held.len(), UNITS);

    let megabytes =
        |found: Option<f64>| found.map_or_else(|| "not told".to_owned(), |mb| format!("{mb:.0} MB"));
    println!("| what | {UNITS} units |");
    println!("| --- | --- |");
    println!("| trials, in all | {trials} |");
    println!("| rechecks of the last 60 days | {found} |");
    println!("| of the last of each unit: open, overdue | {waiting}, {overdue} |");
    println!("| time for all | {:.2} s |", whole.as_secs_f64());
    println!("| time for one: median, slowest | {:?}, {:?} |", took[UNITS / 2], took[UNITS - 1]);
    println!("| greatest resident memory, unit by unit | {} |", megabytes(one_by_one));
    println!("| the same with all facts held at once | {} |", megabytes(at_once));
}
