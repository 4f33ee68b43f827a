//! Peel traces against numbers computed independently, and what is refused or repaired.

use super::*;
use crate::quantity::{ForcePerWidthUnit, ForceUnit, Length, LengthUnit, Quantity, parse};

fn mm(value: f64) -> Length {
    parse(value, "mm").unwrap()
}

fn trace(readings: &[(f64, f64)]) -> Result<Trace, PeelError> {
    Trace::new(readings, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Found)
}

fn newtons(force: crate::quantity::Force) -> f64 {
    force.value_in(ForceUnit::Newton)
}

fn millimetres(length: Length) -> f64 {
    length.value_in(LengthUnit::Millimetre)
}

fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected}");
}

/// d = 0, 1, … 160 mm; F = 10 d below 8 mm, then 40 + 3 sin(d/4).
fn wave() -> Vec<(f64, f64)> {
    let force = |d: f64| if d < 8.0 { 10.0 * d } else { 40.0 + 3.0 * libm::sin(d / 4.0) };
    (0..=160).map(f64::from).map(|d| (d, force(d))).collect()
}

/// Computed independently: means with NumPy's trapezoidal rule, medians by bisection on the length below a force.
#[test]
fn means_of_a_wave() {
    let trace = trace(&wave()).unwrap();
    for (from, to, mean) in [
        (25.0, 125.0, 40.001_574),
        (8.0, 135.0, 40.025_863),
        (40.0, 120.0, 39.851_778),
        (16.0, 144.0, 39.950_974),
    ] {
        assert_near(newtons(trace.between(mm(from), mm(to)).unwrap().mean), mean, 5.1e-7);
    }
    for (from, to, median) in [(25.0, 125.0, 40.024_415_5), (16.0, 144.0, 39.912_718_0)] {
        assert_near(newtons(trace.between(mm(from), mm(to)).unwrap().median), median, 5.1e-8);
    }
}

/// Computed independently in the same way; the peak is the reading at 7 mm.
#[test]
fn regions_of_a_wave() {
    let trace = trace(&wave()).unwrap();
    assert_eq!(trace.offset_in(ForceUnit::Newton), 0.0);
    assert_eq!(trace.remarks(), [Remark::NothingBeforeLoad]);
    // 10·7 N at 7 mm; the next reading is 42.7 N.
    let peak = trace.initial_peak().unwrap();
    assert_eq!((millimetres(peak.at), newtons(peak.force)), (7.0, 70.0));
    let strip = Strip { width: Some(mm(25.4)), bonded: None };
    for (region, from, to, mean) in [
        (Region::AfterPeak127, 7.0, 134.0, 40.135_889_1),
        (Region::Skip25Take100, 25.0, 125.0, 40.001_573_8),
        (Region::Central80, 16.0, 144.0, 39.950_974_5),
        (Region::Central50, 40.0, 120.0, 39.851_778_4),
    ] {
        let peel = trace.peel(region, strip).unwrap();
        assert_near(millimetres(peel.from), from, 1e-9);
        assert_near(millimetres(peel.to), to, 1e-9);
        assert_near(millimetres(peel.forces.length), to - from, 1e-9);
        assert_near(newtons(peel.forces.mean), mean, 5.1e-8);
        let over = peel.per_width.unwrap().mean.value_in(ForcePerWidthUnit::NewtonPerMillimetre);
        assert_near(over, mean / 25.4, 1e-8);
        assert_eq!((peel.too_short, peel.label), (false, PeelLabel::FullLength));
    }
}

/// The mean is that of the line. Here four of six readings lie on a short rise, and their own mean would be 65 N.
#[test]
fn crowded_readings_weigh_no_more() {
    let trace =
        trace(&[(0.0, 0.0), (10.0, 40.0), (60.0, 40.0), (61.0, 90.0), (62.0, 90.0), (63.0, 90.0)]).unwrap();
    let forces = trace.between(mm(10.0), mm(63.0)).unwrap();
    assert_near(newtons(forces.mean), (50.0 * 40.0 + 65.0 + 2.0 * 90.0) / 53.0, 1e-12);
    // Level over more than half of the length.
    assert_eq!(newtons(forces.median), 40.0);
    assert_eq!((newtons(forces.minimum), newtons(forces.maximum)), (40.0, 90.0));
    // Ends between readings are interpolated: the force rises from 65 to 90 N over half a millimetre.
    let end = trace.between(mm(60.5), mm(61.0)).unwrap();
    assert_near(newtons(end.mean), 77.5, 1e-12);
    assert_near(newtons(end.median), 77.5, 1e-12);
    assert_near(newtons(end.minimum), 65.0, 1e-12);
}

#[test]
fn zero_is_the_median_before_the_load() {
    // One spike of noise among eleven readings without load.
    let mut readings: Vec<(f64, f64)> = (0..=10).map(|d| (f64::from(d), 1.5)).collect();
    readings[4].1 = 3.0;
    readings.extend([(14.0, 61.5), (20.0, 51.5), (60.0, 51.5)]);
    let found = trace(&readings).unwrap();
    assert_near(found.offset_in(ForceUnit::Newton), 1.5, 1e-12);
    assert_near(millimetres(found.load_begins()), 10.0, 1e-12);
    assert_near(newtons(found.initial_peak().unwrap().force), 60.0, 1e-12);
    assert_eq!(found.remarks(), []);
    // Regions count from where the load begins: the pull is from 10 to 60 mm.
    let ends = |region| {
        let peel = found.peel(region, Strip::default()).unwrap();
        (millimetres(peel.from), millimetres(peel.to))
    };
    assert_eq!(ends(Region::Skip25Take100), (35.0, 60.0));
    assert_eq!(ends(Region::Central80), (15.0, 55.0));
    assert_eq!(ends(Region::Central50), (22.5, 47.5));
    assert_eq!(ends(Region::AfterPeak127), (14.0, 60.0));
    let given = |zero| Trace::new(&readings, LengthUnit::Millimetre, ForceUnit::Newton, zero).unwrap();
    assert_near(given(Zero::Before(mm(9.0))).offset_in(ForceUnit::Newton), 1.5, 1e-12);
    let tared = given(Zero::Tared);
    assert_eq!(tared.offset_in(ForceUnit::PoundForce), 0.0);
    assert_near(newtons(tared.initial_peak().unwrap().force), 61.5, 1e-12);
    // Several readings with the grips at rest give a zero too.
    let rest = [(0.0, -2.0), (0.0, -2.0), (0.0, 9.0), (5.0, 48.0), (40.0, 48.0)];
    let rest = trace(&rest).unwrap();
    assert_near(rest.offset_in(ForceUnit::Newton), -2.0, 1e-12);
    assert_eq!(rest.remarks(), [Remark::Merged]);
}

#[test]
fn several_peaks() {
    let readings = [
        (0.0, 0.0),
        (1.0, 4.0), // a clamp slips: below a tenth of the greatest force
        (1.5, 1.0),
        (4.0, 50.0), // falls to 47 only
        (5.0, 47.0),
        (6.0, 60.0), // the initial peak
        (8.0, 40.0),
        (9.0, 43.0), // 40 is more than 90 % of it
        (10.0, 38.0),
        (12.0, 55.0), // the second
        (14.0, 30.0),
        (30.0, 30.0),
    ];
    let trace = trace(&readings).unwrap();
    let peaks: Vec<(f64, f64)> =
        trace.peaks().map(|peak| (millimetres(peak.at), newtons(peak.force))).collect();
    assert_eq!(peaks, [(6.0, 60.0), (12.0, 55.0)]);
    // A fall of 10 % counts, one of less does not.
    let fall = |to| self::trace(&[(0.0, 0.0), (5.0, 50.0), (6.0, to), (50.0, 49.0)]).unwrap();
    assert!(fall(45.0).initial_peak().is_some());
    let rising = fall(45.1);
    assert_eq!(rising.initial_peak(), None);
    assert_eq!(rising.peel(Region::AfterPeak127, Strip::default()), Err(PeelError::NoInitialPeak));
    assert!(rising.peel(Region::Central80, Strip::default()).is_ok());
}

/// A one-inch strip across a weld of 38 mm, peeled through: at most 76 mm.
#[test]
fn a_strip_across_a_weld_is_short() {
    let readings = [(0.0, 0.0), (3.0, 80.0), (5.0, 60.0), (79.0, 60.0), (80.0, 0.0), (120.0, 0.0)];
    let trace = trace(&readings).unwrap();
    let strip = Strip { width: parse(1.0, "[in_i]").ok(), bonded: Some(mm(38.0)) };
    for &region in Region::ALL {
        let peel = trace.peel(region, strip).unwrap();
        assert!(peel.too_short && peel.label == PeelLabel::ShortLength, "{region}");
        assert!(peel.remarks.contains(&Remark::WeldTooNarrow) && peel.remarks.contains(&Remark::EndLeftOut));
    }
    // 5 % of 80 N are passed at 79 + 56/60 mm.
    assert_near(millimetres(trace.load_ends()), 79.0 + 56.0 / 60.0, 1e-9);
    let after = trace.peel(Region::AfterPeak127, Strip::default()).unwrap();
    assert_near(millimetres(after.forces.length), 76.0 + 56.0 / 60.0, 1e-9);
    assert_eq!(after.label.text(), "short-length peel, not standard");
    assert_eq!(after.per_width, None);
    // A sheet that stretches makes the trace long, not the peel.
    let stretched = self::trace(&[(0.0, 0.0), (3.0, 80.0), (5.0, 60.0), (300.0, 60.0)]).unwrap();
    assert!(stretched.peel(Region::Central80, strip).unwrap().too_short);
    assert!(!stretched.peel(Region::Central80, Strip { bonded: None, ..strip }).unwrap().too_short);
    // Torn at once: nothing is left after 25 mm.
    let torn = self::trace(&[(0.0, 0.0), (20.0, 300.0), (21.0, 0.0), (60.0, 0.0)]).unwrap();
    assert_eq!(torn.peel(Region::Skip25Take100, strip), Err(PeelError::EndsBeforeRegion));
    assert!(torn.peel(Region::AfterPeak127, strip).unwrap().too_short);
}

#[test]
fn what_is_refused() {
    for bad in [f64::NAN, f64::INFINITY, -1e10] {
        for reading in [(bad, 1.0), (2.0, bad)] {
            let readings = [(0.0, 0.0), reading, (3.0, 1.0)];
            assert_eq!(trace(&readings).unwrap_err(), PeelError::NotFinite { reading: 1 });
        }
    }
    let back = trace(&[(0.0, 0.0), (5.0, 9.0), (9.0, 9.0), (8.49, 9.0)]).unwrap_err();
    assert_eq!((back, back.code()), (PeelError::GoesBack { reading: 3 }, "displacement_goes_back"));
    assert!(back.to_string().starts_with("at reading 4 "), "{back}");
    for few in [&[][..], &[(1.0, 2.0)], &[(1.0, 2.0), (1.0, 3.0)]] {
        assert_eq!(trace(few).unwrap_err(), PeelError::TooFewReadings);
    }
    assert_eq!(trace(&[(0.0, 0.0), (5.0, -9.0), (9.0, -9.0)]).unwrap_err(), PeelError::NoLoad);
    assert_eq!(trace(&[(0.0, 7.0), (5.0, 7.0)]).unwrap_err(), PeelError::NoLoad);
    let below = [(0.0, -9.0), (5.0, -1.0), (9.0, -1.0)];
    let tared = Trace::new(&below, LengthUnit::Millimetre, ForceUnit::Newton, Zero::Tared);
    assert_eq!(tared.unwrap_err(), PeelError::NoLoad);
    let all_slack = Trace::new(&wave(), LengthUnit::Millimetre, ForceUnit::Newton, Zero::Before(mm(160.0)));
    assert_eq!(all_slack.unwrap_err(), PeelError::OutsideTrace);
    let wave = trace(&wave()).unwrap();
    for (from, to) in [(5.0, 5.0), (9.0, 5.0), (100.0, 161.0)] {
        assert_eq!(wave.between(mm(from), mm(to)), Err(PeelError::OutsideTrace));
    }
    let no_width = Strip { width: Some(mm(0.0)), bonded: None };
    assert_eq!(wave.peel(Region::Central80, no_width), Err(PeelError::NoWidth));
}

#[test]
fn what_is_repaired() {
    // Half a millimetre back is play of the machine.
    let shaken = trace(&[(0.0, 0.0), (5.0, 50.0), (4.5, 45.0), (40.0, 50.0)]).unwrap();
    let straight = trace(&[(0.0, 0.0), (4.5, 45.0), (5.0, 50.0), (40.0, 50.0)]).unwrap();
    assert!(shaken.remarks().contains(&Remark::Reordered));
    assert_eq!(shaken.between(mm(1.0), mm(39.0)), straight.between(mm(1.0), mm(39.0)));
    // A coarse sensor: three readings at one place.
    let coarse = trace(&[(0.0, 0.0), (5.0, 49.0), (5.0, 52.0), (5.0, 50.0), (40.0, 50.0)]).unwrap();
    assert!(coarse.remarks().contains(&Remark::Merged));
    assert_near(newtons(coarse.between(mm(5.0), mm(40.0)).unwrap().mean), 50.0, 1e-12);
    // Noise below zero inside a region.
    let noisy = trace(&[(0.0, 0.0), (5.0, 50.0), (20.0, -1.0), (40.0, 50.0)]).unwrap();
    let peel = noisy.peel(Region::Central80, Strip::default()).unwrap();
    assert_eq!(newtons(peel.forces.minimum), 0.0);
    assert!(peel.remarks.contains(&Remark::BelowZero));
    assert!(Remark::ALL.iter().all(|remark| remark.sentence().ends_with('.')));
}

/// Displacements count from the first reading, and units are those of the test.
#[test]
fn inches_and_pounds_say_the_same() {
    let metric = trace(&wave()).unwrap();
    let readings: Vec<(f64, f64)> =
        wave().iter().map(|(d, f)| ((d - 12.0) / 25.4, f / 4.448_221_615_260_5)).collect();
    let imperial = Trace::new(&readings, LengthUnit::Inch, ForceUnit::PoundForce, Zero::Found).unwrap();
    for &region in Region::ALL {
        let [a, b] = [&metric, &imperial].map(|trace| trace.peel(region, Strip::default()).unwrap());
        assert_near(newtons(a.forces.mean), newtons(b.forces.mean), 1e-9);
        assert_near(newtons(a.forces.median), newtons(b.forces.median), 1e-9);
        assert_near(millimetres(a.to), millimetres(b.to), 1e-9);
        assert_eq!(a.too_short, b.too_short);
    }
}
