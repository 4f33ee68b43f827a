//! Laws of peel traces.

use lapwatch_domain::peel::{Forces, Peel, PeelError, Region, Strip, Trace, Zero};
use lapwatch_domain::quantity::{ForcePerWidthUnit, ForceUnit, LengthUnit, Quantity, parse};
use proptest::prelude::*;

type Reading = (f64, f64);

/// Slack under a constant force, a rise to a peak, then any forces at any distances, perhaps a break.
fn readings() -> impl Strategy<Value = Vec<Reading>> {
    let steps = prop::collection::vec((0.05..6.0f64, 0.0..80.0f64), 3..60);
    (0.5..8.0f64, 1.0..6.0f64, 60.0..120.0f64, steps, any::<bool>()).prop_map(
        |(slack, rise, peak, steps, breaks)| {
            let mut readings = vec![(0.0, 0.0), (slack, 0.0), (slack + rise, peak)];
            let mut place = slack + rise;
            for (distance, force) in steps {
                place += distance;
                readings.push((place, force));
            }
            if breaks {
                readings.extend([(place + 0.5, 0.0), (place + 20.0, 0.0)]);
            }
            readings
        },
    )
}

fn trace(readings: &[Reading]) -> Trace {
    Trace::new(readings, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found).expect("a trace with load")
}

fn strip() -> Strip {
    Strip { width: parse(25.4, "mm").ok(), bonded: None }
}

/// Mean, maximum, median and minimum, N.
fn numbers(forces: &Forces) -> [f64; 4] {
    [forces.mean, forces.maximum, forces.median, forces.minimum]
        .map(|force| force.value_in(ForceUnit::Newton))
}

fn peels(trace: &Trace) -> Vec<Result<Peel, PeelError>> {
    Region::ALL.iter().map(|region| trace.peel(*region, strip())).collect()
}

/// The same results, forces times `scale`, to 1e-9 relative.
fn assert_same(before: &Trace, after: &Trace, scale: f64) -> Result<(), TestCaseError> {
    for (before, after) in peels(before).iter().zip(peels(after)) {
        match (before, after) {
            (Ok(before), Ok(after)) => {
                for (a, b) in numbers(&before.forces).into_iter().zip(numbers(&after.forces)) {
                    prop_assert!((scale * a - b).abs() <= 1e-9 * scale * 120.0, "{} {a} {b}", before.region);
                }
                let [a, b] = [before.forces.length, after.forces.length]
                    .map(|length| length.value_in(LengthUnit::Millimetre));
                prop_assert!((a - b).abs() <= 1e-9 * a.max(1.0), "{} {a} {b}", before.region);
                prop_assert_eq!(before.too_short, after.too_short);
            }
            (Err(before), Err(after)) => prop_assert_eq!(*before, after),
            (before, after) => prop_assert!(false, "{before:?} {after:?}"),
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_constant_offset_changes_nothing(readings in readings(), offset in -50.0..50.0f64) {
        let shifted: Vec<Reading> = readings.iter().map(|(place, force)| (*place, force + offset)).collect();
        let (before, after) = (trace(&readings), trace(&shifted));
        prop_assert!((after.offset_in(ForceUnit::Newton) - before.offset_in(ForceUnit::Newton) - offset).abs() < 1e-9);
        prop_assert_eq!(before.peaks().count(), after.peaks().count());
        assert_same(&before, &after, 1.0)?;
    }

    #[test]
    fn where_displacement_is_counted_from_changes_nothing(readings in readings(), from in -200.0..200.0f64) {
        let moved: Vec<Reading> = readings.iter().map(|(place, force)| (place + from, *force)).collect();
        assert_same(&trace(&readings), &trace(&moved), 1.0)?;
    }

    #[test]
    fn more_readings_on_the_same_line_change_nothing(
        readings in readings(),
        shares in prop::collection::vec(0.01..0.99f64, 1..80),
    ) {
        let mut refined = Vec::new();
        for (pair, share) in readings.windows(2).zip(shares.iter().cycle()) {
            let ((start, a), (end, b)) = (pair[0], pair[1]);
            refined.extend([(start, a), (start + share * (end - start), a + share * (b - a))]);
        }
        refined.push(readings[readings.len() - 1]);
        assert_same(&trace(&readings), &trace(&refined), 1.0)?;
    }

    #[test]
    fn forces_scale(readings in readings(), scale in 0.01..100.0f64) {
        let scaled: Vec<Reading> = readings.iter().map(|(place, force)| (*place, force * scale)).collect();
        assert_same(&trace(&readings), &trace(&scaled), scale)?;
    }

    #[test]
    fn numbers_are_in_order_and_lengths_inside(readings in readings()) {
        let trace = trace(&readings);
        for (region, peel) in Region::ALL.iter().zip(peels(&trace)) {
            let Ok(peel) = peel else { continue };
            let [mean, maximum, median, minimum] = numbers(&peel.forces);
            prop_assert!(minimum <= median && median <= maximum, "{region} {minimum} {median} {maximum}");
            prop_assert!(minimum <= mean && mean <= maximum, "{region} {minimum} {mean} {maximum}");
            prop_assert!(minimum >= 0.0);
            prop_assert!(peel.from >= trace.load_begins() && peel.to <= trace.load_ends());
            let over = peel.per_width.expect("the width is known").mean;
            let [over, wanted] = [over.value_in(ForcePerWidthUnit::NewtonPerMillimetre), mean / 25.4];
            prop_assert!((over - wanted).abs() <= 1e-12 * wanted.max(1.0));
            let [length, full] =
                [peel.forces.length, region.full_length()].map(|length| length.value_in(LengthUnit::Millimetre));
            prop_assert_eq!(peel.too_short, length < full - 1e-6);
        }
    }

    /// The line runs below its median over half of the length, to within what lies level at the median.
    #[test]
    fn the_median_halves_the_length(readings in readings()) {
        let trace = trace(&readings);
        let Ok(peel) = trace.peel(Region::Central80, strip()) else { return Ok(()) };
        let median = peel.forces.median.value_in(ForceUnit::Newton);
        let [from, to] = [peel.from, peel.to].map(|place| place.value_in(LengthUnit::Millimetre));
        let below = |inclusive: bool| -> f64 {
            let pairs = readings.windows(2).filter_map(|pair| {
                let ((start, a), (end, b)) = (pair[0], pair[1]);
                let (left, right) = (start.max(from), end.min(to));
                (left < right).then(|| {
                    let at = |place: f64| a + (b - a) * (place - start) / (end - start);
                    let (low, high) = (at(left).min(at(right)), at(left).max(at(right)));
                    let margin = if inclusive { 1e-9 } else { -1e-9 };
                    let share = if high - low < 1e-12 {
                        if low <= median + margin { 1.0 } else { 0.0 }
                    } else {
                        ((median + margin - low) / (high - low)).clamp(0.0, 1.0)
                    };
                    share * (right - left)
                })
            });
            pairs.sum()
        };
        let half = 0.5 * (to - from);
        prop_assert!(below(true) >= half - 1e-6 && below(false) <= half + 1e-6);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any numbers at all are answered or refused, never a panic.
    #[test]
    fn any_readings_are_answered(
        readings in prop::collection::vec((-3.0..60.0f64, -5.0..90.0f64), 0..12),
        sorted in any::<bool>(),
    ) {
        let mut readings = readings;
        if sorted {
            readings.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        for zero in [Zero::Found, Zero::Tared, Zero::Before(parse(1.0, "mm").unwrap())] {
            let Ok(trace) = Trace::new(&readings, LengthUnit::Millimetre, ForceUnit::Newton, zero) else { continue };
            for peel in peels(&trace).into_iter().flatten() {
                prop_assert!(numbers(&peel.forces).iter().all(|number| number.is_finite()));
                prop_assert!(peel.from < peel.to);
            }
        }
    }
}
