use askama::Template;
use chrono::{DateTime, NaiveDate, TimeDelta, TimeZone, Utc};
use lapwatch_domain::membrane::WeldMethod;
use lapwatch_domain::quantity::{
    Length, LengthUnit, Power, PowerUnit, Quantity, SpeedUnit, Temperature, TemperatureDifference,
    TemperatureDifferenceUnit, TemperatureUnit, Voltage, VoltageUnit,
};
use lapwatch_domain::recheck::{RecheckReason, RecheckState};
use lapwatch_domain::standing::StandingCode;
use lapwatch_domain::trial::{Outcome, Purpose};
use uuid::Uuid;

use super::order::Sort;
use super::page::FleetPage;
use super::{Choice, FleetQuery};
use crate::console::response::Frame;
use crate::model::{Crew, Site, Unit, Version};
use crate::service::fleet::FleetRow;
use crate::storage::derived::{Recheck, UnitState};

fn now() -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 11, 25, 14, 0, 0).unwrap()
}

fn version<T>(id: u128, value: T) -> Version<T> {
    Version { id: Uuid::from_u128(id), effective_from: now(), retired: false, value }
}

fn unit(label: &str) -> Unit {
    let millimetres = |value| Length::new(value, LengthUnit::Millimetre).unwrap();
    Unit {
        serial: "1".into(),
        label: label.into(),
        crew_id: Some(Uuid::from_u128(50)),
        weld_method: WeldMethod::Automatic,
        rated_voltage: Voltage::new(230.0, VoltageUnit::Volt).unwrap(),
        rated_power: Power::new(4.6, PowerUnit::Kilowatt).unwrap(),
        maximum_set_temperature: Temperature::new(620.0, TemperatureUnit::Celsius).unwrap(),
        display_step: TemperatureDifference::new(10.0, TemperatureDifferenceUnit::Rankine).unwrap(),
        nozzle_width: millimetres(40.0),
        heated_length: millimetres(25.0),
    }
}

/// A unit of a crew that works in °F, steady, tried this morning, nothing due.
fn row(id: u128, label: &str) -> FleetRow {
    let kelvin = |value| TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).unwrap();
    FleetRow {
        unit: version(id, unit(label)),
        crew: Some(version(
            50,
            Crew {
                name: "Crew Heron".into(),
                site_id: Uuid::from_u128(60),
                temperature_unit: TemperatureUnit::Fahrenheit,
                speed_unit: SpeedUnit::FootPerMinute,
            },
        )),
        site: Some(version(
            60,
            Site { name: "Town".into(), time_zone: chrono_tz::America::Chicago, position_deg: None },
        )),
        state: UnitState {
            unit_id: Uuid::from_u128(id),
            standing: StandingCode::Steady,
            since: Some(now() - TimeDelta::days(30)),
            reasons: vec![],
            last_trial: Some((Uuid::from_u128(id + 1000), now() - TimeDelta::hours(1), Outcome::Stands)),
            set_point: Some(Temperature::new(450.0, TemperatureUnit::Celsius).unwrap()),
            margins: Some((kelvin(20.0), kelvin(30.0))),
            derived_at: Some(now()),
        },
        next_recheck: None,
        flags: vec![],
        unfinished: vec![],
    }
}

fn due(at: DateTime<Utc>) -> Option<Recheck> {
    Some(Recheck {
        id: Uuid::nil(),
        unit_id: Uuid::nil(),
        crew_id: None,
        reasons: vec![RecheckReason::Daily],
        purpose: Purpose::Confirmation,
        due_on: NaiveDate::from_ymd_opt(2026, 11, 25).unwrap(),
        due_at: at,
        state: RecheckState::Open,
        satisfied_by: None,
    })
}

fn html(rows: &[FleetRow], sort: Sort) -> String {
    let choice = Choice { crew: None, sort };
    FleetPage::new(Frame::new("Fleet", None), (rows, &[], 0), choice, now()).render().unwrap()
}

/// Where each text stands, in the order given.
fn places(html: &str, texts: &[&str]) -> Vec<usize> {
    texts
        .iter()
        .map(|text| html.find(text).unwrap_or_else(|| panic!("{text} is missing in {html}")))
        .collect()
}

#[test]
fn what_needs_somebody_comes_first() {
    let mut rows = vec![row(1, "A-steady"), row(2, "B-overdue"), row(3, "C-drifting"), row(4, "D-failed")];
    rows[1].next_recheck = due(now() - TimeDelta::hours(2));
    rows[2].state.standing = StandingCode::Drifting;
    rows[3].state.standing = StandingCode::Warning;
    rows[3].state.last_trial = Some((Uuid::nil(), now(), Outcome::Failed));
    let page = html(&rows, Sort::Attention);
    let order = places(&page, &[">D-failed<", ">C-drifting<", ">B-overdue<", ">A-steady<"]);
    assert!(order.is_sorted(), "{order:?}");
    assert!(page.contains("4 of 4 units tried today. 3 need somebody."), "{page}");
    let by_label = html(&rows, Sort::Label);
    assert!(places(&by_label, &[">A-steady<", ">B-overdue<", ">C-drifting<", ">D-failed<"]).is_sorted());
}

#[test]
fn numbers_are_the_crews_and_times_the_sites() {
    let mut one = row(1, "A");
    one.next_recheck = due(now() + TimeDelta::hours(1));
    let page = html(&[one], Sort::Attention);
    for shown in
        ["842\u{a0}°F", "margin 36 below, 54\u{a0}°F above", "today 07:00\u{a0}CST", "today 09:00\u{a0}CST"]
    {
        assert!(page.contains(shown), "{shown} in {page}");
    }
}

#[test]
fn overdue_is_told_in_words_once_its_time_has_passed() {
    let mut one = row(1, "A");
    one.next_recheck = due(now() + TimeDelta::hours(1));
    assert!(!html(&[one], Sort::Label).contains("</svg>Overdue</span> since"));
    let mut late = row(1, "A");
    late.next_recheck = due(now());
    assert!(html(&[late], Sort::Label).contains("</svg>Overdue</span> since <time"));
}

#[test]
fn labels_are_escaped() {
    let page = html(&[row(1, "<b>&\"")], Sort::Attention);
    assert!(!page.contains("<b>"), "{page}");
    assert!(page.contains("&#60;b&#62;&#38;&#34;"), "{page}");
}

#[test]
fn pages_run_no_script_and_load_nothing_from_elsewhere() {
    let page = html(&[row(1, "A")], Sort::Attention);
    for foreign in ["<script", "style=\"", "http://", "https://", "javascript:", "onclick"] {
        assert!(!page.contains(foreign), "{foreign}");
    }
}

#[test]
fn a_lead_starts_with_their_own_crew_and_can_see_all() {
    let own = Some(Uuid::from_u128(3));
    let query = |crew: Option<&str>| FleetQuery { crew: crew.map(str::to_owned), sort: Some("junk".into()) };
    assert_eq!(Choice::of(&query(None), own).crew, own);
    assert_eq!(Choice::of(&query(Some("all")), own).crew, None);
    let other = Uuid::from_u128(4);
    let choice = Choice::of(&query(Some(&other.to_string())), own);
    assert_eq!((choice.crew, choice.sort), (Some(other), Sort::Attention));
}
