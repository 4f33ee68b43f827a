//! Laws of supply and weather that no single number can show: order, limits, and that cautions are all they change.

use lapwatch_domain::acceptance::{Coupon, Criteria, Mode, Specimen};
use lapwatch_domain::caution::Caution;
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::numerics::normal;
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Length, LengthUnit, Percent, PercentUnit, Quantity, SpeedUnit, Temperature, TemperatureDifference,
    TemperatureDifferenceUnit, TemperatureUnit, Voltage, VoltageUnit, parse,
};
use lapwatch_domain::supply::{
    AtMachine, Cord, CordAdvice, CordGoal, CordQuestion, CordSize, Rating, Reach, Supply, at_machine,
    thinnest,
};
use lapwatch_domain::trial::{Evaluation, Purpose, Surroundings, TrialInput, evaluate};
use lapwatch_domain::weather::{Dryness, Instruments, WeatherError, condensation, dew_point};
use proptest::prelude::*;

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).unwrap()
}

fn kelvin(value: f64) -> TemperatureDifference {
    TemperatureDifference::new(value, TemperatureDifferenceUnit::Kelvin).unwrap()
}

fn in_kelvin(difference: TemperatureDifference) -> f64 {
    difference.value_in(TemperatureDifferenceUnit::Kelvin)
}

fn metres(value: f64) -> Length {
    Length::new(value, LengthUnit::Metre).unwrap()
}

fn volts(value: f64) -> Voltage {
    Voltage::new(value, VoltageUnit::Volt).unwrap()
}

fn percent(value: f64) -> Percent {
    Percent::new(value, PercentUnit::Percent).unwrap()
}

fn rating() -> impl Strategy<Value = Rating> {
    (1.0..=1000.0f64, 1.0..=100_000.0f64)
        .prop_map(|(volts_rated, watts)| Rating::new(volts(volts_rated), parse(watts, "W").unwrap()).unwrap())
}

fn size() -> impl Strategy<Value = CordSize> {
    prop::sample::select(CordSize::ALL)
}

fn through(rating: Rating, source: Option<Voltage>, size: CordSize, length: f64, at: f64) -> AtMachine {
    let cord = Cord::new(size, metres(length)).unwrap().at(celsius(at)).unwrap();
    at_machine(rating, &Supply { source, cord: Some(cord), ..Supply::default() }).unwrap().unwrap()
}

/// A trial with a set point of about 480 °C on a unit of 620 °C.
fn trial(surroundings: Surroundings) -> Evaluation {
    let sheet = Sheet { class: MaterialClass::Tpo, condition: SheetCondition::New };
    let strip = |mode: Mode| Specimen { mode: Some(mode), ..Specimen::default() };
    let coupon = |temperature: f64, mode: Mode| Coupon {
        set_temperature: celsius(temperature),
        speed: None,
        specimens: vec![strip(mode); 3],
    };
    evaluate(&TrialInput {
        purpose: Purpose::Sweep,
        method: WeldMethod::Automatic,
        unit_maximum: celsius(620.0),
        display_step: kelvin(5.0),
        temperature_unit: TemperatureUnit::Celsius,
        ceilings: Ceilings::default(),
        set_point_before: None,
        upper_sheet: sheet,
        lower_sheet: sheet,
        criteria: Criteria::default(),
        policy: Policy::default(),
        coupons: vec![
            coupon(400.0, Mode::InterfaceOpened),
            coupon(440.0, Mode::FilmTear),
            coupon(480.0, Mode::FilmTear),
            coupon(520.0, Mode::FilmTear),
        ],
        supply: None,
        wind: None,
        speed: parse(3.0, "m/min").unwrap(),
        speed_unit: SpeedUnit::MetrePerMinute,
        dwell: None,
        surroundings,
    })
}

/// Any surroundings that can be recorded, implausible ones included.
fn surroundings() -> impl Strategy<Value = Surroundings> {
    let temperature = || prop::option::of((-60.0..90.0f64).prop_map(celsius));
    let voltage = || prop::option::of((0.0..400.0f64).prop_map(volts));
    let cord = (size(), 0.0..500.0f64).prop_map(|(size, length)| Cord::new(size, metres(length)).unwrap());
    let supply = (voltage(), voltage(), voltage(), prop::option::of(cord))
        .prop_map(|(source, idle, loaded, cord)| Supply { source, idle, loaded, cord });
    let humidity = prop::option::of((0.0..=100.0f64).prop_map(percent));
    let plate = prop::option::of(
        (200.0..250.0f64).prop_map(|rated| Rating::new(volts(rated), parse(4.6, "kW").unwrap()).unwrap()),
    );
    (temperature(), temperature(), humidity, plate, supply).prop_map(
        |(sheet, air, humidity, rating, supply)| Surroundings { sheet, air, humidity, rating, supply },
    )
}

/// Rounding of a few operations.
const ROUNDING: f64 = 1e-12;

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_longer_thinner_or_warmer_cord_never_raises_voltage_or_reach(
        rating in rating(), source in 1.0..=1000.0f64, size in size(), other in size(),
        length in 0.0..=10_000.0f64, shorter in 0.0..=1.0f64, at in -60.0..=250.0f64, colder in 0.0..=1.0f64,
    ) {
        let source = Some(volts(source));
        let worse = through(rating, source, size, length, at);
        let better_length = through(rating, source, size, length * shorter, at);
        let better_heat = through(rating, source, size, length, -60.0 + (at + 60.0) * colder);
        let mut better = vec![better_length, better_heat];
        if other.system() == size.system() && other >= size {
            better.push(through(rating, source, other, length, at));
        }
        let reach = Reach::new(celsius(20.0), celsius(620.0)).unwrap();
        for better in better {
            let arrives = |at: &AtMachine| at.voltage.value_in(VoltageUnit::Volt);
            prop_assert!(arrives(&better) >= arrives(&worse) * (1.0 - ROUNDING));
            prop_assert!(better.drop_share.unwrap() <= worse.drop_share.unwrap() + ROUNDING);
            prop_assert!(better.power_share >= worse.power_share * (1.0 - ROUNDING));
            let gained = in_kelvin(reach.reachable(&better) - reach.reachable(&worse));
            prop_assert!(gained >= -ROUNDING * 1e6 * worse.power_share.max(1.0));
        }
    }

    #[test]
    fn a_cord_shares_the_voltage_and_nothing_is_lost(
        rating in rating(), source in 1.0..=1000.0f64, size in size(),
        length in 0.0..=10_000.0f64, at in -60.0..=250.0f64,
    ) {
        let found = through(rating, Some(volts(source)), size, length, at);
        let share = found.drop_share.unwrap();
        prop_assert!((0.0..1.0).contains(&share));
        // Kirchhoff: what the cord takes and what arrives make up the source; Ohm: the same current flows through both.
        let arrives = found.voltage.value_in(VoltageUnit::Volt);
        prop_assert!((arrives + share * source - source).abs() <= 1e-9 * source);
        let cord = Cord::new(size, metres(length)).unwrap().at(celsius(at)).unwrap();
        let line = cord.resistance().unwrap().value_in(lapwatch_domain::quantity::ResistanceUnit::Ohm);
        let amperes = found.current.value_in(lapwatch_domain::quantity::CurrentUnit::Ampere);
        prop_assert!((amperes * line - share * source).abs() <= 1e-9 * source);
    }

    #[test]
    fn advice_is_the_thinnest_that_does(
        rating in rating(), at_least in size(), length in 0.0..=500.0f64, limit in 0.1..=50.0f64, at in -20.0..=90.0f64,
    ) {
        let question = CordQuestion {
            rating,
            source: None,
            length: metres(length),
            conductor: celsius(at),
            at_least,
            goal: CordGoal::Drop(percent(limit)),
        };
        let lost = |size: CordSize| through(rating, None, size, length, at).drop_share.unwrap();
        let does = |size: CordSize| lost(size) <= percent(limit).ratio();
        let allowed: Vec<CordSize> = CordSize::ALL
            .iter()
            .copied()
            .filter(|size| size.system() == at_least.system() && *size >= at_least)
            .collect();
        match thinnest(&question).unwrap() {
            CordAdvice::Enough { size, .. } => {
                prop_assert!(does(size) && allowed.contains(&size));
                prop_assert!(allowed.iter().all(|other| *other >= size || !does(*other)));
            }
            CordAdvice::NoneListed { thickest, .. } => {
                prop_assert!(allowed.iter().all(|size| !does(*size)));
                prop_assert_eq!(Some(&thickest), allowed.last());
            }
            CordAdvice::NoCord { .. } => prop_assert!(false, "nothing is lost without a cord"),
        }
    }

    #[test]
    fn the_dew_point_is_below_the_air_and_rises_with_both(
        air in -40.0..=50.0f64, humidity in 0.01..=100.0f64, warmer in 0.0..=1.0f64, damper in 0.0..=1.0f64,
    ) {
        let found = match dew_point(celsius(air), percent(humidity)) {
            Ok(found) => found,
            // So dry that the formula ends.
            Err(error) => {
                prop_assert_eq!(error, WeatherError::TooDry);
                return Ok(());
            }
        };
        let dew = found.temperature.value_in(TemperatureUnit::Celsius);
        prop_assert!(found.temperature <= celsius(air) && dew >= -40.0);
        prop_assert!(in_kelvin(found.per_percent) > 0.0 && found.per_air > 0.0);
        let warmer = dew_point(celsius(air + (50.0 - air) * warmer), percent(humidity)).unwrap();
        let damper = dew_point(celsius(air), percent(humidity + (100.0 - humidity) * damper)).unwrap();
        prop_assert!(in_kelvin(warmer.temperature - found.temperature) >= -1e-9);
        prop_assert!(in_kelvin(damper.temperature - found.temperature) >= -1e-9);
    }

    #[test]
    fn a_warmer_sheet_is_never_wetter(
        air in -20.0..=50.0f64, humidity in 5.0..=100.0f64, sheet in -30.0..=80.0f64, warmer in 0.0..=30.0f64,
        sd in (0.0..=10.0f64, 0.0..=3.0f64, 0.0..=5.0f64), least in 0.0..=10.0f64,
    ) {
        let instruments = Instruments { humidity: percent(sd.0), air: kelvin(sd.1), sheet: kelvin(sd.2) };
        let weather = (celsius(air), percent(humidity));
        let at = |sheet: f64| condensation(celsius(sheet), weather, &instruments, kelvin(least));
        let (Ok(found), Ok(warmed)) = (at(sheet), at(sheet + warmer)) else { return Ok(()) };
        prop_assert!((0.0..=1.0).contains(&found.chance_wet) && found.chance_wet <= found.chance_too_close);
        prop_assert!(warmed.chance_wet <= found.chance_wet && warmed.chance_too_close <= found.chance_too_close);
        prop_assert!(warmed.verdict <= found.verdict);
        // The verdict is what is more likely than not, once there is any uncertainty.
        if in_kelvin(found.sd) > 0.0 {
            prop_assert_eq!(found.verdict == Dryness::Wet, found.chance_wet >= normal::cdf(0.0));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn surroundings_lead_to_cautions_and_to_nothing_else(surroundings in surroundings(), sag in 0.5..1.0f64) {
        let (with, without) = (trial(surroundings), trial(Surroundings::default()));
        let supply = Caution::SupplySag;
        let theirs = [Caution::NearDewPoint, supply, Caution::Overvoltage];
        prop_assert!(!theirs.iter().any(|caution| without.cautions.contains(caution)));
        let mut others = with.clone();
        others.cautions.retain(|caution| !theirs.contains(caution));
        // Not `assert_eq`: an evaluation fills pages.
        prop_assert!(others == without);
        let once = |caution: &Caution| with.cautions.iter().filter(|given| *given == caution).count() <= 1;
        prop_assert!(theirs.iter().all(once));
        // Less voltage never takes the caution back.
        if let (true, Some(loaded)) = (with.cautions.contains(&supply), surroundings.supply.loaded) {
            let less = Some(volts((loaded.value_in(VoltageUnit::Volt) * sag).max(1.0)));
            let sagging = Surroundings { supply: Supply { loaded: less, ..surroundings.supply }, ..surroundings };
            prop_assert!(trial(sagging).cautions.contains(&supply));
        }
    }
}
