//! Laws that every trial obeys, on random trials.
//!
//! Some ten thousand trials each time. `LAPWATCH_LAW_CASES=200000` makes a million of it: each law is tried on so many.

use lapwatch_domain::acceptance::{Contamination, Coupon, Criteria, CutDirection, Mode, Scorching, Specimen};
use lapwatch_domain::edges::{Edge, EdgeEvidence, EdgePrior, Observation, Profile, stand_alone};
use lapwatch_domain::heat::{Conditions, Dwell, HeatShare, equivalent, surface_share};
use lapwatch_domain::membrane::{MaterialClass, Sheet, SheetCondition, WeldMethod};
use lapwatch_domain::policy::{Ceilings, Policy};
use lapwatch_domain::quantity::{
    Length, LengthUnit, Percent, PercentUnit, Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference,
    TemperatureDifferenceUnit, TemperatureUnit,
};
use lapwatch_domain::trial::{Evaluation, Purpose, Surroundings, TrialInput, evaluate};
use proptest::prelude::*;

/// How many trials each of the seven laws is tried on, unless the environment says otherwise.
const CASES: u32 = 2000;

fn cases() -> u32 {
    std::env::var("LAPWATCH_LAW_CASES").map_or(CASES, |count| count.parse().expect("a number of cases"))
}

fn celsius(value: f64) -> Temperature {
    Temperature::new(value, TemperatureUnit::Celsius).expect("above absolute zero")
}

fn difference(kelvin: f64) -> TemperatureDifference {
    TemperatureDifference::new(kelvin, TemperatureDifferenceUnit::Kelvin).expect("finite")
}

fn number(temperature: Temperature) -> f64 {
    temperature.value_in(TemperatureUnit::Celsius)
}

fn kelvin(difference: TemperatureDifference) -> f64 {
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

fn metres_a_minute(value: f64) -> Speed {
    Speed::new(value, SpeedUnit::MetrePerMinute).expect("above zero")
}

fn per_minute(speed: Speed) -> f64 {
    speed.value_in(SpeedUnit::MetrePerMinute)
}

/// A speed as a crew would choose it, or any number.
fn speed() -> impl Strategy<Value = Speed> {
    prop_oneof![
        8 => (8..70u32).prop_map(|tenths| metres_a_minute(f64::from(tenths) / 10.0)),
        1 => (0.001..1000.0).prop_map(metres_a_minute),
    ]
}

/// Held speed, speeds of coupons in turn, sheet temperature and nozzle. Half of the trials hold their speed.
fn speeds() -> impl Strategy<Value = (Speed, Vec<Option<Speed>>, Option<f64>, Option<Dwell>)> {
    let stepped = prop::collection::vec(prop::option::of(speed()), 1..8);
    let of_coupons = prop_oneof![Just(vec![None]), stepped];
    let millimetres = |value: f64| Length::new(value, LengthUnit::Millimetre).unwrap();
    let dwell = (5.0..60.0f64, 0.5..3.0f64).prop_map(move |(heated, thickness)| Dwell {
        heated: millimetres(heated),
        thickness: millimetres(thickness),
    });
    (speed(), of_coupons, prop::option::of(-20.0..70.0f64), prop::option::of(dwell))
}

fn trial() -> impl Strategy<Value = TrialInput> {
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
            let (speed, of_coupons, on_the_sheet, dwell) = speeds;
            for (coupon, speed) in coupons.iter_mut().zip(of_coupons.iter().cycle()) {
                coupon.speed = *speed;
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
                speed,
                speed_unit: SpeedUnit::MetrePerMinute,
                dwell,
                surroundings: Surroundings { sheet: on_the_sheet.map(celsius), ..Surroundings::default() },
            }
        },
    )
}

/// The same speed, entered in feet a minute.
fn in_feet(speed: Speed) -> Speed {
    Speed::new(speed.value_in(SpeedUnit::FootPerMinute), SpeedUnit::FootPerMinute).unwrap()
}

/// Every number of an answer is a number.
fn assert_all_finite(evaluation: &Evaluation) {
    for edge in [&evaluation.evidence.lower, &evaluation.evidence.upper] {
        let profile = edge.profile.values();
        assert!(
            !profile.is_empty() && profile.iter().all(|value| value.is_finite() && *value <= 0.0),
            "{profile:?}"
        );
        assert_eq!(profile.iter().copied().fold(f32::NEG_INFINITY, f32::max), 0.0);
        if let Some(estimate) = edge.estimate {
            let numbers =
                [number(estimate.mean), kelvin(estimate.sd), number(estimate.q025), number(estimate.q975)];
            assert!(numbers.iter().all(|value| value.is_finite()), "{estimate:?}");
            assert!(
                kelvin(estimate.sd) >= 0.0
                    && estimate.q025 <= estimate.q500
                    && estimate.q500 <= estimate.q975
            );
        }
        assert!(edge.bound.is_none_or(|bound| number(bound).is_finite()));
        assert_eq!(Profile::from_bytes(&edge.profile.to_bytes()).as_ref(), Ok(&edge.profile));
        assert!(
            edge.profile.ln_at(celsius(0.0)).is_finite() && edge.profile.ln_at(celsius(1500.0)).is_finite()
        );
    }
    if let Ok(point) = &evaluation.set_point {
        assert!(number(point.to_set).is_finite() && number(point.computed).is_finite());
        assert!((0.0..=1.0).contains(&point.cold_share) && (0.0..=1.0).contains(&point.hot_share));
    }
    for coupon in &evaluation.judged.coupons {
        assert!(number(coupon.at_held_speed).is_finite(), "{coupon:?}");
    }
    if let Some(how) = &evaluation.speeds {
        assert!(kelvin(how.largest_sd).is_finite() && kelvin(how.largest_sd) >= 0.0);
    }
    assert!(
        evaluation.explanation.iter().all(|sentence| !sentence.contains("NaN") && !sentence.contains("inf "))
    );
}

fn observations() -> impl Strategy<Value = Vec<Observation>> {
    let one = (30..60u32, 0..4usize, 0..4usize, 0..4usize).prop_map(|(tens, cold, sound, hot)| Observation {
        temperature: celsius(f64::from(tens) * 10.0),
        cold,
        sound,
        hot,
    });
    prop::collection::vec(one, 1..7)
}

/// A prior under which σ is known.
fn known_scatter() -> EdgePrior {
    EdgePrior { ln_sigma_sd: 0.0, ..EdgePrior::default() }
}

/// Mean of an edge's profile: also for open edges, which have no estimate.
fn centre(edge: &EdgeEvidence) -> f64 {
    let weights = edge.profile.values().iter().map(|ln| f64::from(*ln).exp());
    let places = (0..edge.profile.len()).map(|index| number(edge.profile.temperature(index)));
    let (sum, moment) = weights.zip(places).fold((0.0, 0.0), |(s, m), (w, t)| (s + w, m + w * t));
    moment / sum
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), max_shrink_iters: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_trial_is_answered_with_numbers_inside_their_limits(input in trial()) {
        let evaluation = evaluate(&input);
        assert_all_finite(&evaluation);
        let rounding = TemperatureDifference::new(1e-5, TemperatureDifferenceUnit::Kelvin).unwrap();
        let ceilings = [input.ceilings.maker, input.ceilings.organization, Some(input.unit_maximum)];
        let below_ceilings = |setting: Temperature| {
            ceilings.into_iter().flatten().all(|ceiling| setting <= ceiling + rounding)
        };
        if let Ok(point) = &evaluation.set_point {
            let (coolest, hottest) = evaluation.judged.all_sound_range().expect("a sound step");
            for setting in [point.computed, point.to_set] {
                prop_assert!(setting >= coolest - rounding && setting <= hottest + rounding);
                prop_assert!(below_ceilings(setting));
            }
        }
        if let Some(band) = &evaluation.band {
            prop_assert!(band.low <= band.high && below_ceilings(band.high));
            prop_assert!(evaluation.judged.steps.iter().any(|step| step.temperature >= band.high - rounding));
            prop_assert!(evaluation.judged.steps.iter().any(|step| step.temperature <= band.low + rounding));
        }
        if let Some(next) = evaluation.next_coupon.temperature() {
            prop_assert!(below_ceilings(next));
            let scorched = evaluation.judged.coupons.iter()
                .filter(|judged| judged.counts.hot > 0).map(|judged| judged.at_held_speed).min();
            prop_assert!(scorched.is_none_or(|scorched| next < scorched));
            let hottest = evaluation.judged.coupons.iter()
                .filter(|judged| judged.set_aside.is_none()).map(|judged| judged.at_held_speed).max();
            let step_up = input.policy.largest_step_up + rounding;
            prop_assert!(hottest.is_none_or(|hottest| next <= hottest + step_up));
        }
    }

    #[test]
    fn slower_is_hotter_and_the_held_speed_is_left_alone(input in trial()) {
        let evaluation = evaluate(&input);
        let held = per_minute(input.speed);
        let sheet = input.surroundings.sheet.unwrap_or(celsius(20.0));
        for (coupon, judged) in input.coupons.iter().zip(&evaluation.judged.coupons) {
            let (set, there) = (coupon.set_temperature, judged.at_held_speed);
            let ratio = coupon.speed.map_or(1.0, |speed| per_minute(speed) / held);
            prop_assert!(ratio != 1.0 || (set == there && judged.set_aside.is_none()));
            // Air cooler than the sheet heats nothing.
            if set > sheet {
                prop_assert!(there > sheet);
                prop_assert!(ratio > 1.0 - 1e-5 || there > set);
                prop_assert!(ratio < 1.0 + 1e-5 || there < set);
            }
            prop_assert!((0.33..3.01).contains(&ratio) || judged.set_aside.is_some());
            prop_assert!(judged.set_aside.is_none() || judged.counts.counted() == 0);
        }
        if let Some(band) = &evaluation.held_temperature {
            let compared = input.coupons.iter().zip(&evaluation.judged.coupons)
                .filter(|(_, judged)| judged.set_aside.is_none());
            let tried: Vec<f64> =
                compared.map(|(coupon, _)| per_minute(coupon.speed.unwrap_or(input.speed))).collect();
            let slowest = tried.iter().copied().fold(f64::INFINITY, f64::min) * (1.0 - 1e-4);
            let fastest = tried.iter().copied().fold(0.0, f64::max) * (1.0 + 1e-4);
            prop_assert!(band.slow <= band.fast);
            for speed in [band.slow, band.fast, band.computed, band.to_set] {
                prop_assert!((slowest..=fastest).contains(&per_minute(speed)), "{band:?} {tried:?}");
            }
        }
    }

    /// Stepping the speed at one temperature is stepping the temperature at one speed.
    #[test]
    fn a_trial_of_speeds_is_a_trial_of_temperatures(
        input in trial(), temperature in 350.0..560.0f64, ratios in prop::collection::vec(0.4..2.5f64, 1..9),
    ) {
        let held = per_minute(input.speed);
        let mut stepped = TrialInput { unit_maximum: celsius(1000.0), dwell: None, ..input };
        for (coupon, ratio) in stepped.coupons.iter_mut().zip(ratios.iter().cycle()) {
            coupon.set_temperature = celsius(temperature);
            coupon.speed = Some(metres_a_minute(held * ratio));
        }
        let mut swept = stepped.clone();
        let sheet = stepped.surroundings.sheet.map_or(20.0, number);
        let beta = HeatShare::default().beta();
        let share = |speed: f64| surface_share(beta * (3.05 / speed).sqrt());
        for coupon in &mut swept.coupons {
            let speed = per_minute(coupon.speed.take().expect("a speed"));
            coupon.set_temperature = celsius(sheet + (temperature - sheet) * share(speed) / share(held));
        }
        let (one, other) = (evaluate(&stepped), evaluate(&swept));
        for edge in Edge::ALL {
            let (one, other) = (one.evidence.of(*edge), other.evidence.of(*edge));
            prop_assert_eq!(one.class, other.class);
            if let (Some(one), Some(other)) = (one.estimate, other.estimate) {
                prop_assert!((number(one.mean) - number(other.mean)).abs() < 1e-6);
                prop_assert!((kelvin(one.sd) - kelvin(other.sd)).abs() < 1e-6, "{one:?} {other:?}");
            }
        }
        prop_assert_eq!(one.outcome, other.outcome);
        prop_assert_eq!(one.set_point.as_ref().err(), other.set_point.as_ref().err());
        if let (Ok(one), Ok(other)) = (&one.set_point, &other.set_point) {
            prop_assert!((number(one.computed) - number(other.computed)).abs() < 1e-3, "{one:?} {other:?}");
        }
        prop_assert_eq!(one.band.is_some(), other.band.is_some());
        // Seen as speeds the band is the same band.
        if let (Some(speeds), Some(band)) = (one.held_temperature, one.band) {
            let to = Conditions { sheet: celsius(sheet), speed: stepped.speed };
            let at = |speed| {
                let from = Conditions { speed, ..to };
                number(equivalent(speeds.temperature, from, to, HeatShare::default()).set_point)
            };
            if stepped.ceilings.maker.is_none() && stepped.ceilings.organization.is_none() {
                prop_assert!((at(speeds.slow) - number(band.high)).abs() < 1e-5);
                prop_assert!((at(speeds.fast) - number(band.low)).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn the_order_of_coupons_and_strips_does_not_matter(input in trial(), turn in 0..5usize) {
        let mut shuffled = input.clone();
        shuffled.coupons.reverse();
        let count = shuffled.coupons.len().max(1);
        shuffled.coupons.rotate_left(turn % count);
        shuffled.coupons.iter_mut().for_each(|coupon| coupon.specimens.reverse());
        let (one, other) = (evaluate(&input), evaluate(&shuffled));
        prop_assert_eq!(one.evidence, other.evidence);
        prop_assert_eq!(one.set_point, other.set_point);
        prop_assert_eq!(one.next_coupon, other.next_coupon);
        prop_assert_eq!(one.outcome, other.outcome);
        prop_assert_eq!(one.judged.steps, other.judged.steps);
        prop_assert_eq!(one.explanation, other.explanation);
        prop_assert_eq!(one.speeds, other.speeds);
        prop_assert_eq!(one.held_temperature, other.held_temperature);
    }

    #[test]
    fn the_scale_of_entry_does_not_matter(input in trial()) {
        let mut entered = input.clone();
        for coupon in &mut entered.coupons {
            let fahrenheit = coupon.set_temperature.value_in(TemperatureUnit::Fahrenheit);
            coupon.set_temperature = Temperature::new(fahrenheit, TemperatureUnit::Fahrenheit).unwrap();
            coupon.speed = coupon.speed.map(in_feet);
        }
        entered.speed = in_feet(input.speed);
        entered.surroundings.sheet = input.surroundings.sheet.map(|sheet| {
            Temperature::new(sheet.value_in(TemperatureUnit::Fahrenheit), TemperatureUnit::Fahrenheit).unwrap()
        });
        let (one, other) = (evaluate(&input), evaluate(&entered));
        for edge in Edge::ALL {
            let (one, other) = (one.evidence.of(*edge), other.evidence.of(*edge));
            prop_assert_eq!(one.class, other.class);
            if let (Some(one), Some(other)) = (one.estimate, other.estimate) {
                prop_assert!((number(one.mean) - number(other.mean)).abs() < 1e-9);
                prop_assert!((kelvin(one.sd) - kelvin(other.sd)).abs() < 1e-9, "{one:?} {other:?}");
            }
        }
        prop_assert_eq!(one.outcome, other.outcome);
        prop_assert_eq!(one.band.is_some(), other.band.is_some());
        prop_assert_eq!(one.set_point.is_ok(), other.set_point.is_ok());
        // Found by iteration, to a tolerance of their own.
        if let (Some(one), Some(other)) = (one.band, other.band) {
            prop_assert!((number(one.low) - number(other.low)).abs() < 1e-5);
            prop_assert!((number(one.high) - number(other.high)).abs() < 1e-5);
        }
        if let (Ok(one), Ok(other)) = (one.set_point, other.set_point) {
            prop_assert!((number(one.computed) - number(other.computed)).abs() < 1e-3, "{one:?} {other:?}");
        }
        prop_assert_eq!(one.held_temperature.is_some(), other.held_temperature.is_some());
        if let (Some(one), Some(other)) = (one.held_temperature, other.held_temperature) {
            for (one, other) in [(one.slow, other.slow), (one.fast, other.fast), (one.computed, other.computed)] {
                prop_assert!((per_minute(one) / per_minute(other) - 1.0).abs() < 1e-5, "{one:?} {other:?}");
            }
        }
    }

    #[test]
    fn with_known_scatter_a_failing_strip_never_moves_an_edge_outwards(
        observations in observations(), place in 0..7usize,
    ) {
        let place = place % observations.len();
        let evidence = stand_alone(&observations, celsius(620.0), &known_scatter());
        let (mut colder, mut hotter) = (observations.clone(), observations.clone());
        if colder[place].sound > 0 {
            (colder[place].sound, colder[place].cold) = (colder[place].sound - 1, colder[place].cold + 1);
            let moved = stand_alone(&colder, celsius(620.0), &known_scatter());
            prop_assert!(centre(&moved.lower) >= centre(&evidence.lower) - 1e-3);
            prop_assert!(moved.lower.bracket.failing >= evidence.lower.bracket.failing);
            (hotter[place].sound, hotter[place].hot) = (hotter[place].sound - 1, hotter[place].hot + 1);
            let moved = stand_alone(&hotter, celsius(620.0), &known_scatter());
            prop_assert!(centre(&moved.upper) <= centre(&evidence.upper) + 1e-3);
            if let Some(failing) = evidence.upper.bracket.failing {
                prop_assert!(moved.upper.bracket.failing.is_some_and(|moved| moved <= failing));
            }
        }
    }

    #[test]
    fn with_known_scatter_repeating_every_coupon_never_widens_an_interval(observations in observations()) {
        let once = stand_alone(&observations, celsius(620.0), &known_scatter());
        let twice = stand_alone(&[observations.clone(), observations].concat(), celsius(620.0), &known_scatter());
        for edge in Edge::ALL {
            if let (Some(once), Some(twice)) = (once.of(*edge).estimate, twice.of(*edge).estimate) {
                prop_assert!(kelvin(twice.sd) <= kelvin(once.sd) + 1e-6);
                prop_assert!(kelvin(twice.q975 - twice.q025) <= kelvin(once.q975 - once.q025) + 1.0);
            }
        }
    }
}
