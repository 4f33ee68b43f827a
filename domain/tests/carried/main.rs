//! Simulated units: is carried advice better than that of a trial alone, and does it hide a failure?
//!
//! Every number is seeded. Run with `--nocapture` to see the tables.

mod laws;
mod speeds;
mod unit;

use std::sync::LazyLock;

use lapwatch_domain::acceptance::Coupon;
use lapwatch_domain::band::SetPoint;
use lapwatch_domain::carried::{Advice, Carried, LEAST_AGREEMENT, NotCarried};
use lapwatch_domain::plan::NextCoupon;
use lapwatch_domain::trial::{Evaluation, Purpose, evaluate};
use unit::{Day, Unit, input, number};

const UNITS: u64 = 160;

/// Units with 30 trials behind them.
static KNOWN: LazyLock<Vec<Unit>> =
    LazyLock::new(|| (0..UNITS).map(|seed| Unit::after(seed * 31 + 7, 30)).collect());

/// A day's sweep after both edges have moved by so many K.
fn sweep_after(unit: &Unit, by_k: f64) -> (Day, Evaluation, Result<Carried, NotCarried>) {
    let mut unit = unit.clone();
    let mut day = unit.day();
    day.edges = day.edges.map(|edge| edge + by_k);
    let coupons = [380.0, 420.0, 460.0, 500.0, 540.0, 580.0].map(|at| unit.weld(&day, at)).to_vec();
    let input = input(Purpose::Sweep, coupons);
    let evaluation = evaluate(&input);
    let carried = unit.carry(&day, &input, &evaluation);
    (day, evaluation, carried)
}

/// Distance of a set point to the nearer edge, K.
fn true_margin(day: &Day, set_point: &SetPoint) -> f64 {
    let at = number(set_point.to_set);
    (at - day.edges[0]).min(day.edges[1] - at)
}

/// What became of the known units' sweeps after a shift.
#[derive(Default)]
struct Tally {
    carried: f64,
    contradicted: f64,
    /// Carried advice was given, and its set point is less than 10 K from a true edge, nearer than that of the trial alone.
    misled: f64,
}

fn tally(by_k: f64) -> Tally {
    let mut tally = Tally::default();
    for unit in KNOWN.iter() {
        let (day, evaluation, carried) = sweep_after(unit, by_k);
        let Ok(carried) = carried else { continue };
        tally.carried += 1.0;
        tally.contradicted += f64::from(carried.advice.is_none());
        assert_eq!(carried.advice.is_none(), carried.agreement < LEAST_AGREEMENT);
        if let Some(Advice { set_point: Ok(point), .. }) = &carried.advice {
            let alone = evaluation.set_point.as_ref().expect("the same limits allow one");
            let (low, high) = evaluation.judged.all_sound_range().expect("there is a set point");
            assert!(point.to_set >= low && point.to_set <= high, "{by_k} K");
            let margin = true_margin(&day, point);
            tally.misled += f64::from(u8::from(margin < 10.0 && margin < true_margin(&day, alone)));
        }
    }
    println!(
        "both edges {by_k:+.0} K: {} of {UNITS} units known, {:.3} contradicted, {:.3} misled",
        tally.carried,
        tally.contradicted / tally.carried,
        tally.misled / tally.carried
    );
    tally
}

#[test]
fn a_failure_is_not_hidden_by_a_good_past() {
    let healthy = tally(0.0);
    assert!(healthy.carried > 0.9 * UNITS as f64);
    assert!(healthy.contradicted <= 0.12 * healthy.carried);
    assert!(healthy.misled <= 0.02 * healthy.carried);
    for by_k in [40.0, -40.0] {
        let shifted = tally(by_k);
        assert!(shifted.contradicted >= 0.70 * shifted.carried);
        assert!(shifted.misled <= 0.03 * shifted.carried);
    }
    let failed = tally(80.0);
    assert!(failed.contradicted >= 0.98 * failed.carried);
}

#[test]
fn carried_edges_are_nearer_to_the_truth_and_honest_about_it() {
    let (mut edges, mut inside, mut together, mut alone) = (0.0, 0.0, 0.0, 0.0);
    for unit in KNOWN.iter() {
        let (day, evaluation, carried) = sweep_after(unit, 0.0);
        let Some(advice) = carried.ok().and_then(|carried| carried.advice) else { continue };
        let found = [advice.edges.lower.estimate, advice.edges.upper.estimate];
        let before = [&evaluation.evidence.lower, &evaluation.evidence.upper];
        for ((found, before), truth) in found.into_iter().zip(before).zip(day.edges) {
            let Some(before) = before.estimate else { continue };
            edges += 1.0;
            inside += f64::from(u8::from(number(found.q025) <= truth && truth <= number(found.q975)));
            together += (number(found.mean) - truth).powi(2);
            alone += (number(before.mean) - truth).powi(2);
        }
    }
    let (coverage, ratio) = (inside / edges, (together / alone).sqrt());
    println!(
        "{edges} edges: 95 % intervals hold {coverage:.3}; error {:.1} K, alone {:.1} K",
        (together / edges).sqrt(),
        (alone / edges).sqrt()
    );
    assert!((0.92..=0.99).contains(&coverage) && ratio < 0.95, "{coverage}, {ratio}");
}

/// Welds as advised until told to stop, and gives the coupons and the advice.
fn welded_as_advised(unit: &mut Unit, day: &Day, with_history: bool) -> (Vec<Coupon>, Option<SetPoint>) {
    let mut coupons = Vec::new();
    loop {
        let input = input(Purpose::Sweep, coupons.clone());
        let evaluation = evaluate(&input);
        let carried = unit.carry(day, &input, &evaluation).ok().and_then(|carried| carried.advice);
        let advice = carried.filter(|_| with_history);
        let next = advice.as_ref().map_or(evaluation.next_coupon, |advice| advice.next_coupon);
        let NextCoupon::Weld { temperature, .. } = next else {
            let set_point = advice.map_or(evaluation.set_point, |advice| advice.set_point);
            return (coupons, set_point.ok());
        };
        coupons.push(unit.weld(day, number(temperature)));
    }
}

#[test]
fn a_known_unit_needs_fewer_coupons() {
    let mut coupons = [0.0; 2];
    let mut margins = [0.0; 2];
    let mut trials = 0.0;
    for unit in KNOWN.iter().take(60) {
        let mut unit = unit.clone();
        let day = unit.day();
        let results = [false, true].map(|known| welded_as_advised(&mut unit, &day, known));
        let [(_, Some(_)), (_, Some(_))] = &results else { continue };
        trials += 1.0;
        for (index, (welded, set_point)) in results.iter().enumerate() {
            coupons[index] += welded.len() as f64;
            margins[index] += set_point.as_ref().map_or(0.0, |point| true_margin(&day, point));
        }
    }
    let [new, known] = coupons.map(|sum| sum / trials);
    let [margin_new, margin_known] = margins.map(|sum| sum / trials);
    println!(
        "coupons: alone {new:.2}, with the history {known:.2}; margin {margin_new:.1} K, {margin_known:.1} K"
    );
    assert!(known <= 0.7 * new, "{known} for {new}");
    assert!(margin_known >= margin_new - 2.0, "{margin_known} K for {margin_new} K");
}

/// What a history is given does not depend on what was carried.
#[test]
fn carrying_leaves_the_evidence_as_it_is() {
    let unit = &KNOWN[0];
    let mut unit = unit.clone();
    let day = unit.day();
    let coupons = [420.0, 460.0, 500.0].map(|at| unit.weld(&day, at)).to_vec();
    let input = input(Purpose::Sweep, coupons);
    let alone = evaluate(&input);
    let bytes = |evaluation: &Evaluation| {
        [&evaluation.evidence.lower, &evaluation.evidence.upper].map(|edge| edge.profile.to_bytes())
    };
    let before = bytes(&alone);
    let carried = unit.carry(&day, &input, &alone).expect("the unit is known");
    assert!(carried.advice.is_some());
    assert_eq!(bytes(&alone), before);
    assert_eq!(alone, evaluate(&input));
}
