//! Any trial that can be recorded.

use lapwatch_domain::acceptance::{Contamination, Coupon, Criteria, CutDirection, Mode, Scorching, Specimen};
use lapwatch_domain::edges::EdgePrior;
use lapwatch_domain::heat::Dwell;
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Length, LengthUnit, Percent, PercentUnit, Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference,
    TemperatureDifferenceUnit, TemperatureUnit,
};
use lapwatch_domain::trial::{Purpose, Surroundings, TrialInput};
use proptest::prelude::*;

pub(crate) fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn difference(kelvin: f64) -> TemperatureDifference {
    TemperatureDifference::new(kelvin, TemperatureDifferenceUnit::Kelvin).expect("finite")
}

pub(crate) fn number(temperature: Temperature) -> f64 {
    temperature.value_in(TemperatureUnit::Celsius)
}

pub(crate) fn kelvin(difference: TemperatureDifference) -> f64 {
    difference.value_in(TemperatureDifferenceUnit::Kelvin)
}

/// Any strip that can be recorded, mostly plain ones.
fn specimen() -> impl Strategy<Value = Specimen> {
    let width =
        prop::option::of((20.0..60.0f64).prop_map(|mm| Length::new(mm, LengthUnit::Millimetre).unwrap()));
    let mode = prop::option::weighted(0.9, prop::sample::select(Mode::ALL));
    let passed = prop::option::weighted(0.3, any::<bool>());
    let scorching = prop::collection::vec(prop::sample::select(Scorching::ALL), 0..2);
    let dirt = prop::option::weighted(0.1, prop::sample::select(Contamination::ALL));
    let cut = prop::option::weighted(0.1, prop::sample::select(CutDirection::ALL));
    (width, mode, passed, scorching, dirt, cut).prop_map(
        |(bonded_width, mode, passed, scorching, dirt, cut)| Specimen {
            bonded_width,
            mode,
            passed,
            scorching,
            contamination: dirt.into_iter().collect(),
            cut,
            ..Specimen::default()
        },
    )
}

/// A setting as a crew would choose it, or any number.
fn setting() -> impl Strategy<Value = Temperature> {
    prop_oneof![4 => (20..70u32).prop_map(|tens| celsius(f64::from(tens) * 10.0)), 1 => (50.0..1000.0).prop_map(celsius)]
}

/// What an organization may have decided, and what a fleet fit may have found.
fn policy() -> impl Strategy<Value = Policy> {
    let shares = (1.0..50.0f64, 0.0..3.0f64, 0.1..3.0f64);
    let kelvin = (0.0..60.0f64, 5.0..120.0f64, 3.0..40.0f64);
    // Few correlations: each needs tables of its own.
    let prior = (2.0..80.0f64, 0.0..1.5f64, prop::sample::select(vec![0.0, 0.3, 0.5, 0.9]));
    let any = (shares, kelvin, prior, 1..30usize, 300.0..500.0f64).prop_map(
        |((limit, cold, hot), (reserve, step, target), (median, spread, correlation), coupons, first)| {
            Policy {
                share_limit: Percent::new(limit, PercentUnit::Percent).unwrap(),
                cold_weight: cold,
                hot_weight: hot,
                open_edge_reserve: difference(reserve),
                largest_step_up: difference(step),
                target_sd: difference(target),
                maximum_coupons: coupons,
                first_temperature: celsius(first),
                edge_prior: EdgePrior { sigma_median: difference(median), ln_sigma_sd: spread, correlation },
                ..Policy::default()
            }
        },
    );
    prop_oneof![1 => Just(Policy::default()), 1 => any]
}

fn coupon() -> impl Strategy<Value = Coupon> {
    let specimens = prop_oneof![
        4 => prop::collection::vec(specimen(), 0..6),
        1 => prop::collection::vec(specimen(), 12),
        // Coupons that are all sound, so that there often is a set point.
        5 => Just(vec![Specimen { mode: Some(Mode::FilmTear), ..Specimen::default() }; 3]),
    ];
    (setting(), specimens).prop_map(|(set_temperature, specimens)| Coupon {
        set_temperature,
        speed: None,
        specimens,
    })
}

pub(crate) fn metres_a_minute(value: f64) -> Speed {
    Speed::new(value, SpeedUnit::MetrePerMinute).expect("above zero")
}

pub(crate) fn per_minute(speed: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute)
}

/// A speed as a crew would choose it, or any number.
fn speed() -> impl Strategy<Value = Speed> {
    prop_oneof![
        8 => (8..70u32).prop_map(|tenths| metres_a_minute(f64::from(tenths) / 10.0)),
        1 => (0.001..1000.0).prop_map(metres_a_minute),
    ]
}

/// How a crew steps the speed.
#[derive(Debug)]
struct Speeds {
    held: Speed,
    /// Those of the coupons, in turn.
    of_coupons: Vec<Option<Speed>>,
    /// Whether every coupon has the temperature of the first.
    holds_temperature: bool,
    sheet: Option<Temperature>,
    dwell: Option<Dwell>,
}

/// Half of the trials hold their speed; of the others half hold the temperature.
fn speeds() -> impl Strategy<Value = Speeds> {
    let stepped = prop::collection::vec(prop::option::of(speed()), 1..8);
    let of_coupons = prop_oneof![
        2 => Just((vec![None], false)),
        2 => (stepped, any::<bool>()),
    ];
    let millimetres = |value: f64| Length::new(value, LengthUnit::Millimetre).unwrap();
    let dwell = (5.0..60.0f64, 0.5..3.0f64).prop_map(move |(heated, thickness)| Dwell {
        heated: millimetres(heated),
        thickness: millimetres(thickness),
    });
    let sheet = prop::option::of((-20.0..70.0f64).prop_map(celsius));
    (speed(), of_coupons, sheet, prop::option::of(dwell)).prop_map(
        |(held, (of_coupons, holds_temperature), sheet, dwell)| Speeds {
            held,
            of_coupons,
            holds_temperature,
            sheet,
            dwell,
        },
    )
}

pub(crate) fn trial() -> impl Strategy<Value = TrialInput> {
    let coupons =
        prop_oneof![39 => prop::collection::vec(coupon(), 0..9), 1 => prop::collection::vec(coupon(), 60)];
    let ceilings = (prop::option::of(300.0..700.0f64), prop::option::of(300.0..700.0f64));
    let scale = prop::sample::select(vec![TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit]);
    let purpose = prop::sample::select(Purpose::ALL);
    let in_use = prop::option::of(30..60u32);
    let step = prop::sample::select(vec![1.0, 5.0, 10.0]);
    (coupons, ceilings, scale, purpose, in_use, step, 240.0..1000.0f64, (policy(), speeds())).prop_map(
        |(
            mut coupons,
            (maker, organization),
            temperature_unit,
            purpose,
            in_use,
            step,
            maximum,
            (policy, speeds),
        )| {
            let held =
                coupons.first().map(|coupon| coupon.set_temperature).filter(|_| speeds.holds_temperature);
            for (coupon, speed) in coupons.iter_mut().zip(speeds.of_coupons.iter().cycle()) {
                coupon.speed = *speed;
                coupon.set_temperature = held.unwrap_or(coupon.set_temperature);
            }
            let sheet = Sheet { class: MaterialClass::Kee, condition: SheetCondition::New };
            TrialInput {
                purpose,
                method: WeldMethod::Automatic,
                unit_maximum: celsius(maximum),
                display_step: TemperatureDifference::new(step, temperature_unit.difference_unit()).unwrap(),
                temperature_unit,
                ceilings: Ceilings { maker: maker.map(celsius), organization: organization.map(celsius) },
                set_point_before: in_use.map(|tens| celsius(f64::from(tens) * 10.0)),
                upper_sheet: sheet,
                lower_sheet: sheet,
                criteria: Criteria::default(),
                policy,
                coupons,
                supply: None,
                wind: None,
                speed: speeds.held,
                speed_unit: SpeedUnit::MetrePerMinute,
                dwell: speeds.dwell,
                surroundings: Surroundings { sheet: speeds.sheet, ..Surroundings::default() },
            }
        },
    )
}
