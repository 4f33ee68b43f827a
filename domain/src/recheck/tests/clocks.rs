//! Weeks in which clocks change, and both sides of the date line.

use chrono_tz::America::Chicago;
use chrono_tz::Australia::{Lord_Howe, Sydney};
use chrono_tz::Pacific::{Kiritimati, Pago_Pago};

use super::*;

/// Every day of a week in which the clocks change is due at nine by the clock, so once an hour sooner or later than a day after
/// the one before: in the north in March and November, in the south in October and April, by half an hour on Lord Howe. (IANA
/// time zone data.)
#[test]
fn nine_o_clock_stays_nine_o_clock() {
    for (zone, first, changes_by) in [
        (Chicago, "2025-03-05", -60),
        (Chicago, "2025-10-29", 60),
        (PARIS, "2025-03-26", -60),
        (Sydney, "2025-10-01", -60),
        (Sydney, "2025-04-02", 60),
        (Lord_Howe, "2025-10-01", -30),
        (Kiritimati, "2025-03-05", 0),
    ] {
        let mut scene = Scene::new(zone);
        scene.trials.push(trial(1, at(zone, first, "07:30:00"), Purpose::Sweep, Outcome::Stands));
        scene.policy.in_use_days = 30;
        scene.policy.working_days = (0..7).map(|day| Weekday::try_from(day).unwrap()).collect();
        let days: Vec<NaiveDate> = day(first).iter_days().skip(1).take(8).collect();
        let due: Vec<DateTime<Utc>> = days
            .iter()
            .map(|date| {
                let early = local_day_start(*date, zone);
                // Checked every morning, so that no day gives way to the next.
                let mut checked = Scene { trials: scene.trials.clone(), ..Scene::new(zone) };
                checked.policy = scene.policy.clone();
                let before = date.pred_opt().unwrap().and_hms_opt(8, 0, 0).unwrap();
                let check = local_instant(before, zone);
                checked.trials.push(trial(2, check, Purpose::Confirmation, Outcome::Stands));
                let found = checked.at(early + Duration::minutes(1)).pop().unwrap();
                assert_eq!(found.due_on, *date, "{zone}");
                found.due_at
            })
            .collect();
        for due in &due {
            assert_eq!(due.with_timezone(&zone).time(), NaiveTime::from_hms_opt(9, 0, 0).unwrap(), "{zone}");
        }
        let apart: Vec<i64> =
            due.windows(2).map(|pair| (pair[1] - pair[0]).num_minutes() - 24 * 60).collect();
        let changed: Vec<i64> = apart.into_iter().filter(|minutes| *minutes != 0).collect();
        let expected: Vec<i64> = [changes_by].into_iter().filter(|minutes| *minutes != 0).collect();
        assert_eq!(changed, expected, "{zone} {first}");
    }
}

/// At one instant it is Tuesday morning east of the date line and Wednesday morning west of it.
#[test]
fn the_date_line_lies_between_two_crews() {
    let now: DateTime<Utc> = "2025-06-03T18:30:00Z".parse().unwrap();
    let due = |zone: Tz| {
        let mut scene = Scene::new(zone);
        scene.trials.push(trial(1, now - Duration::days(1), Purpose::Sweep, Outcome::Stands));
        let found = scene.at(now).pop().unwrap();
        (found.due_on, found.due_at)
    };
    assert_eq!(due(Pago_Pago), (day("2025-06-03"), "2025-06-03T20:00:00Z".parse().unwrap()));
    assert_eq!(due(Kiritimati), (day("2025-06-04"), "2025-06-03T19:00:00Z".parse().unwrap()));
}
