//! The likelihood that fits rest on against a published fit, and what fits say in words.

use chrono::{TimeZone, Utc};
use uuid::Uuid;

use super::*;
use crate::drift::ChartSettings;
use crate::edges::{CouponLikelihood, Edge, Observation, Tally, ln_by_scatter};
use crate::membrane::MaterialClass;
use crate::quantity::{Temperature, TemperatureUnit};
use crate::trial::Purpose;

/// Where a function with one top has it.
fn top(mut low: f64, mut high: f64, function: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let (left, right) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if function(left) < function(right) {
            low = left;
        } else {
            high = right;
        }
    }
    0.5 * (low + high)
}

/// Litters of 16 treated rats: pups alive after 4 days, and of them after 21 (Weil, *Selection of the valid number of
/// sampling units*, Food and Cosmetics Toxicology 8, 1970; printed as data of an example of the NLMIXED procedure in
/// the SAS/STAT User's Guide). Pups of a litter are strips of a coupon: the model is the same, with t = x·√(1+s²) and
/// s² = ρ/(1−ρ).
///
/// McCulloch, *Maximum likelihood variance components estimation for binary data*, JASA 89, 1994, fits t .94 and s
/// 1.03; the guide prints .9475 and 1.0292 (both from memory). Recomputed with SciPy and 80 nodes: t .947468, s
/// 1.029492, hence ρ .514529, and −ln L 31.373287.
#[test]
fn rats_of_a_litter_are_as_alike_as_published() {
    let litters = [
        (12, 12),
        (11, 11),
        (10, 10),
        (9, 9),
        (11, 10),
        (10, 9),
        (10, 9),
        (9, 8),
        (9, 8),
        (5, 4),
        (9, 7),
        (7, 4),
        (10, 5),
        (6, 3),
        (10, 3),
        (7, 0),
    ];
    let at = |rho: f64| -> (f64, f64) {
        let likelihoods: Vec<CouponLikelihood> =
            litters.iter().map(|(pups, alive)| CouponLikelihood::new(*alive, *pups, rho)).collect();
        let ln = |x: f64| likelihoods.iter().map(|litter| litter.ln_at(x)).sum::<f64>();
        let x = top(0.3, 1.2, ln);
        (x, ln(x))
    };
    let (x, ln) = at(0.514_529);
    let (t, s) = (x / (1.0 - 0.514_529_f64).sqrt(), (0.514_529_f64 / (1.0 - 0.514_529)).sqrt());
    assert!((t - 0.947_468).abs() < 1e-6 && (s - 1.029_492).abs() < 1e-6, "{t} {s}");
    assert!((ln + 31.373_287).abs() < 1e-6, "{ln}");
    // It is likeliest there.
    let [below, here, above] = [0.494_529, 0.514_529, 0.534_529].map(|rho| at(rho).1);
    let top = 0.514_529 + 0.02 * 0.5 * (below - above) / (below - 2.0 * here + above);
    assert!((top - 0.514_529).abs() < 5e-4, "{top}");
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn tallies(steps: &[(f64, usize, usize)]) -> Vec<Tally> {
    let tally =
        |&(at, beyond, short): &(f64, usize, usize)| Tally { temperature: celsius(at), beyond, short };
    steps.iter().map(tally).collect()
}

/// The grid that follows each row's hill sums to what a plain sum over every tenth of a degree does, wherever the steps
/// lie.
#[test]
fn the_edge_is_integrated_out() {
    let steps = [(380.0, 0, 3), (420.0, 2, 1), (460.0, 3, 0), (500.0, 1, 2), (540.0, 3, 0)];
    for sigma in [4.0, 17.0, 60.0] {
        for rho in [0.05, 0.5, 0.9] {
            let found = ln_by_scatter(&tallies(&steps), &[rho], &[sigma])[0][0];
            let likelihoods: Vec<_> = steps
                .iter()
                .map(|(at, beyond, short)| (*at, CouponLikelihood::new(*beyond, beyond + short, rho)))
                .collect();
            let at = |mu: f64| {
                libm::exp(likelihoods.iter().map(|(t, coupon)| coupon.ln_at((t - mu) / sigma)).sum())
            };
            let sum: f64 = (0..=4600).map(|tenth| 0.1 * at(230.0 + 0.1 * f64::from(tenth))).sum();
            assert!((found - sum.ln()).abs() < 2e-3, "σ {sigma}, ρ {rho}: {found}, summed {}", sum.ln());
            let moved = steps.map(|(at, beyond, short)| (at + 63.25, beyond, short));
            assert_eq!(ln_by_scatter(&tallies(&moved), &[rho], &[sigma])[0][0], found);
        }
    }
}

fn day(day: u32) -> chrono::DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, 6, day, 7, 0, 0).unwrap()
}

/// So many units with twelve sweeps each, whose strips change within 40 K.
fn fit(units: u128) -> Fit {
    let sweep = |change: &[usize; 4]| {
        let lower = change.iter().zip([380.0, 400.0, 420.0, 440.0]);
        let upper = change.iter().zip([500.0, 520.0, 540.0, 560.0]);
        let seen = |at: f64, cold, sound, hot| Observation { temperature: celsius(at), cold, sound, hot };
        lower
            .map(|(beyond, at)| seen(at, 3 - beyond, *beyond, 0))
            .chain(upper.map(|(beyond, at)| seen(at, 0, 3 - beyond, *beyond)))
            .collect()
    };
    let changes = [[0, 1, 3, 3], [0, 0, 2, 3], [0, 3, 3, 3], [0, 0, 3, 3], [1, 2, 3, 3], [0, 1, 2, 3]];
    let sweeps: Vec<Vec<Observation>> = changes.iter().map(sweep).collect();
    let all = (0..units).flat_map(|unit| sweeps.iter().chain(&sweeps).map(move |steps| (unit, steps)));
    let steps =
        all.map(|(unit, steps)| TrialSteps { unit: Uuid::from_u128(unit), purpose: Purpose::Sweep, steps });
    Fit {
        made_from: MadeFrom { trials: 12 * units as usize, units: units as usize, from: day(1), to: day(30) },
        spread: Spread::fit(steps),
        surface: Surface::fit(&[], &ChartSettings::default()),
        fades: Fades::of([]),
    }
}

#[test]
fn a_fit_says_what_it_found_and_why_not() {
    let few = fit(1);
    assert_eq!(
        few.sentences(TemperatureUnit::Celsius),
        [
            "From 12 trials of 1 unit, 2026-06-01 to 2026-06-30.",
            "The correlation of two strips of one coupon stays at the usual 0.5: 1 of the 3 units it takes searched \
             for an edge and found it.",
            "The scatter of strips about an edge stays at the usual 17 °C: 1 of the 3 units it takes searched for an \
             edge and found it.",
            "The share of the air's heat that a sheet's surface takes on stays at the usual 0.27 for every material: \
             no trial tells.",
            "The rate of a fade stays at the usual 0.50 °C a day: fades of 0 of the 3 units it takes were seen.",
        ]
    );
    let enough = fit(4);
    let (rho, sigma) = (enough.spread.correlation.estimate, enough.spread.scatter);
    // Counts that rise as evenly as these are those of strips that have little in common.
    assert!(rho.high < 0.3 && sigma.median_high.kelvin() < 17.0, "{rho:?} {sigma:?}");
    let sentences = enough.sentences(TemperatureUnit::Fahrenheit);
    assert!(sentences[1].starts_with("Two strips of one coupon are correlated by 0."), "{}", sentences[1]);
    assert!(sentences[1].ends_with("from 688 coupons of 4 units."), "{}", sentences[1]);
    assert!(
        sentences[2].contains(" °F (95 %: ") && sentences[2].ends_with("from 96 edges of 4 units."),
        "{}",
        sentences[2]
    );
    assert!((enough.edge_prior().correlation - rho.mean).abs() <= 0.005);
}

#[test]
fn sentences_on_heat_shares() {
    let estimate = RatioEstimate { mean: 0.314, sd: 0.02, low: 0.28, high: 0.35 };
    let unit = UnitShare {
        unit: Uuid::from_u128(1),
        class: MaterialClass::Tpo,
        trials: 41,
        identified: true,
        narrowing: 0.5,
        estimate,
    };
    assert_eq!(
        unit.sentence(),
        "On TPO this unit's sheet takes on a share of 0.31 of the air's heat (95 %: 0.28 to 0.35), by its own \
         41 trials."
    );
    let vague = UnitShare { identified: false, trials: 1, ..unit };
    assert!(
        vague.sentence().ends_with("its own 1 trial at their sheet temperatures and speeds do not tell.")
    );
    let class = ClassShare {
        class: MaterialClass::Tpo,
        basis: Basis::Fitted,
        units: 5,
        identified: 4,
        mean: estimate,
        between_units: RatioEstimate { mean: 0.02, sd: 0.01, low: 0.01, high: 0.04 },
        predictive_sd: 0.03,
    };
    assert_eq!(
        sentences::class(&class),
        "On TPO the sheet's surface takes on a share of 0.31 of the air's heat (95 %: 0.28 to 0.35), units \
         differing by 0.02; 4 of 5 units tell by themselves."
    );
    let usual = sentences::class(&ClassShare { basis: Basis::Vague, identified: 1, ..class });
    assert!(usual.contains("stays at the usual 0.27") && usual.contains("of 1 of the 3 units"), "{usual}");
}

/// An edge counts only where it was searched for.
#[test]
fn what_counts() {
    let seen = |at: f64, cold, sound, hot| Observation { temperature: celsius(at), cold, sound, hot };
    let edges = |purpose, steps: &[Observation]| {
        let fit = Spread::fit([TrialSteps { unit: Uuid::from_u128(1), purpose, steps }]);
        (fit.evidence.edges, fit.evidence.coupons, fit.evidence.mixed)
    };
    let sweep = [seen(380.0, 2, 1, 0), seen(420.0, 0, 3, 0), seen(460.0, 0, 1, 0), seen(500.0, 0, 0, 3)];
    assert_eq!(edges(Purpose::Sweep, &sweep), (2, 5, 1));
    assert_eq!(edges(Purpose::Commissioning, &sweep), (2, 5, 1));
    assert_eq!(edges(Purpose::Confirmation, &sweep), (0, 0, 0));
    assert_eq!(edges(Purpose::Recheck, &sweep), (0, 0, 0));
    // Begun inside the edge; too short; one side only; too long.
    assert_eq!(edges(Purpose::Sweep, &[seen(380.0, 1, 2, 0), seen(460.0, 0, 3, 0)]), (0, 0, 0));
    assert_eq!(edges(Purpose::Sweep, &[seen(380.0, 3, 0, 0), seen(439.0, 0, 3, 0)]), (0, 0, 0));
    assert_eq!(edges(Purpose::Sweep, &[seen(380.0, 3, 0, 0), seen(460.0, 3, 0, 0)]), (0, 0, 0));
    assert_eq!(edges(Purpose::Sweep, &[seen(-20.0, 3, 0, 0), seen(790.0, 0, 3, 0)]), (0, 0, 0));
    assert_eq!(edges(Purpose::Sweep, &[seen(380.0, 3, 0, 0), seen(440.0, 0, 3, 0)]), (1, 2, 0));
    // Edge::tally leaves out coupons without a counted strip.
    assert_eq!(Edge::Lower.tally(&seen(380.0, 0, 0, 0)), None);
}
