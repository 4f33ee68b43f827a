//! Laws that every trial obeys, on random trials.
//!
//! Some ten thousand trials each time. `LAPWATCH_LAW_CASES=200000` makes a million of it: each law is tried on so many.

mod any;
mod speeds;

use lapwatch_domain::band::SetPoint;
use lapwatch_domain::edges::{Edge, EdgeEvidence, EdgePrior, Observation, Profile, stand_alone};
use lapwatch_domain::quantity::{
    Quantity, Speed, SpeedUnit, Temperature, TemperatureDifference, TemperatureDifferenceUnit,
    TemperatureUnit,
};
use lapwatch_domain::trial::{Evaluation, evaluate};
use proptest::prelude::*;

use any::{celsius, kelvin, number, per_minute, trial};

/// How many trials each of the seven laws is tried on, unless the environment says otherwise.
const CASES: u32 = 2000;

fn cases() -> u32 {
    std::env::var("LAPWATCH_LAW_CASES").map_or(CASES, |count| count.parse().expect("a number of cases"))
}

/// The same speed, entered in feet a minute.
fn in_feet(speed: Speed) -> Speed {
    Speed::new(speed.value_in(SpeedUnit::FootPerMinute), SpeedUnit::FootPerMinute).unwrap()
}

/// Whether two set points are the same, or as good: where the shares are flat, because the edges are sharp and far away,
/// any rounding moves the least sum by degrees.
fn same_place(one: &SetPoint, other: &SetPoint) -> bool {
    let off = (number(one.computed) - number(other.computed)).abs();
    let apart = (one.cold_share - other.cold_share).abs() + (one.hot_share - other.hot_share).abs();
    off < 1e-3 || apart < 1e-9
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
        if let (Ok(one), Ok(other)) = (&one.set_point, &other.set_point) {
            prop_assert!(same_place(one, other), "{one:?} {other:?}");
        }
        prop_assert_eq!(one.held_temperature.is_some(), other.held_temperature.is_some());
        if let (Some(one), Some(other)) = (one.held_temperature, other.held_temperature) {
            for (one, other) in [(one.slow, other.slow), (one.fast, other.fast)] {
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
