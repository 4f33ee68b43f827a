use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Scorching, Specimen};
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Length, LengthUnit, Quantity, Speed, SpeedUnit, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit,
};
use lapwatch_domain::trial::{Purpose, TrialInput, evaluate};

use super::*;

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).unwrap()
}

fn strip(mode: Mode, scorching: Vec<Scorching>) -> Specimen {
    Specimen {
        width: None,
        mode: Some(mode),
        passed: None,
        bonded_width: Some(Length::new(45.0, LengthUnit::Millimetre).unwrap()),
        scorching,
        contamination: vec![],
        cut: None,
        faults: vec![],
    }
}

/// A sweep with three strips a step: `c`old, `s`ound or `h`ot.
fn sweep(steps: &[(f64, &str)]) -> Evaluation {
    let specimen = |reading| match reading {
        'c' => strip(Mode::InterfaceOpened, vec![]),
        'h' => strip(Mode::FilmTear, vec![Scorching::Char]),
        _ => strip(Mode::FilmTear, vec![]),
    };
    let coupons = steps.iter().map(|(set, readings)| Coupon {
        set_temperature: celsius(*set),
        speed: None,
        specimens: readings.chars().map(specimen).collect(),
    });
    let sheet = Sheet { class: MaterialClass::Pvc, condition: SheetCondition::New };
    evaluate(&TrialInput {
        purpose: Purpose::Sweep,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(620.0),
        display_step: TemperatureDifference::new(5.0, TemperatureDifferenceUnit::Kelvin).unwrap(),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: None,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons: coupons.collect(),
        supply: None,
        wind: None,
        speed: Speed::new(3.05, SpeedUnit::MetrePerMinute).unwrap(),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings: Default::default(),
    })
}

#[test]
fn every_strip_is_drawn_over_its_step() {
    let evaluation = sweep(&[(400.0, "ccc"), (440.0, "css"), (480.0, "sss"), (520.0, "shh"), (560.0, "hhh")]);
    let chart = TrialChart::new(&evaluation, Scale::default()).unwrap();
    let svg = chart.render().unwrap();
    for (class, count) in [("cold", 4), ("sound", 6), ("hot", 5)] {
        assert_eq!(svg.matches(&format!("strip-mark {class}\"")).count(), count, "{class}");
    }
    assert!(chart.steps.windows(2).all(|pair| pair[0].x < pair[1].x));
    assert_eq!(svg.matches("class=\"median\"").count(), 2, "both edges were found");
}

#[test]
fn an_edge_that_no_strip_reached_is_drawn_open() {
    let evaluation = sweep(&[(400.0, "ccc"), (440.0, "sss"), (480.0, "sss"), (520.0, "sss")]);
    let chart = TrialChart::new(&evaluation, Scale::default()).unwrap();
    let upper = chart.lanes.iter().find(|lane| lane.class == "upper-edge").unwrap();
    let Body::Open { towards, cap, fade_x, .. } = &upper.body else { panic!("{upper:?}") };
    assert_eq!((*towards, cap), ("right", fade_x));
    assert_eq!(
        chart.render().unwrap().matches("class=\"median\"").count(),
        1,
        "the lower edge alone has a point"
    );
}

#[test]
fn without_a_sound_strip_there_is_neither_band_nor_set_point() {
    let chart = TrialChart::new(&sweep(&[(400.0, "ccc"), (440.0, "ccc")]), Scale::default()).unwrap();
    assert!(matches!(chart.lanes[0].body, Body::Nothing { .. }));
    assert!(chart.set_point.is_none());
    assert!(TrialChart::new(&sweep(&[]), Scale::default()).is_none(), "nothing welded, nothing drawn");
}
