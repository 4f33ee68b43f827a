//! Laws of agreement between two readers.

use lapwatch_domain::acceptance::Reading;
use lapwatch_domain::readers::{PairedReadings, pool};
use proptest::prelude::*;

fn pairs() -> impl Strategy<Value = Vec<(Reading, Reading)>> {
    let reading = || prop::sample::select(Reading::ALL);
    // Most strips are read alike, as in life.
    let pair = (reading(), reading(), 0..3u8)
        .prop_map(|(first, second, alike)| if alike > 0 { (first, first) } else { (first, second) });
    prop::collection::vec(pair, 1..80)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn kappa_stays_between_its_limits(pairs in pairs()) {
        let table: PairedReadings = pairs.iter().copied().collect();
        let Ok(kappa) = table.kappa() else { return Ok(()) };
        prop_assert!(kappa.value >= -1.0 - 1e-12 && kappa.value <= kappa.maximum + 1e-12);
        prop_assert!(kappa.maximum <= 1.0 + 1e-12 && kappa.observed <= 1.0 && kappa.chance < 1.0);
        prop_assert!(kappa.standard_error.is_finite() && kappa.null_standard_error.is_finite());
        let differing: usize = table.confusions().iter().map(|confusion| confusion.strips).sum();
        let share = 1.0 - differing as f64 / table.strips() as f64;
        prop_assert!((share - kappa.observed).abs() < 1e-12);
        if let Some((low, high)) = kappa.interval(0.95) {
            prop_assert!(low <= kappa.value && kappa.value <= high);
            let wider = kappa.interval(0.99).expect("the same standard error");
            prop_assert!(wider.0 <= low && wider.1 >= high);
        }
        for category in table.categories() {
            prop_assert!((0.0..=1.0).contains(&category.share) && category.both <= category.first.min(category.second));
        }
    }

    #[test]
    fn who_is_the_first_reader_does_not_matter(pairs in pairs()) {
        let table: PairedReadings = pairs.iter().copied().collect();
        let swapped: PairedReadings = pairs.iter().map(|(first, second)| (*second, *first)).collect();
        match (table.kappa(), swapped.kappa()) {
            (Ok(a), Ok(b)) => {
                prop_assert!((a.value - b.value).abs() < 1e-12 && (a.maximum - b.maximum).abs() < 1e-12);
                prop_assert!((a.standard_error - b.standard_error).abs() < 1e-9);
            }
            (a, b) => prop_assert_eq!(a.err(), b.err()),
        }
        prop_assert_eq!(table.opposite(), swapped.opposite());
    }

    /// Every strip counted four times: the same kappa with half the error.
    #[test]
    fn more_of_the_same_narrows_the_interval(pairs in pairs()) {
        let table: PairedReadings = pairs.iter().copied().collect();
        let fourfold: PairedReadings = pairs.iter().cycle().take(4 * pairs.len()).copied().collect();
        let (Ok(once), Ok(four)) = (table.kappa(), fourfold.kappa()) else { return Ok(()) };
        prop_assert!((once.value - four.value).abs() < 1e-12);
        prop_assert!((once.standard_error - 2.0 * four.standard_error).abs() < 1e-9);
        prop_assert!((once.null_standard_error - 2.0 * four.null_standard_error).abs() < 1e-9);
    }

    #[test]
    fn a_pooled_kappa_lies_among_those_of_its_sessions(sessions in prop::collection::vec(pairs(), 1..6)) {
        let tables: Vec<PairedReadings> = sessions.into_iter().map(|pairs| pairs.into_iter().collect()).collect();
        let Ok(pooled) = pool(&tables) else { return Ok(()) };
        let values: Vec<f64> = pooled.sessions.iter().flatten().map(|kappa| kappa.value).collect();
        prop_assert_eq!(values.len(), pooled.used);
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        prop_assert!(low - 1e-12 <= pooled.value && pooled.value <= high + 1e-12);
        let twice: Vec<PairedReadings> = [&tables[..], &tables[..]].concat();
        let twice = pool(&twice).expect("the same sessions");
        prop_assert!((twice.value - pooled.value).abs() < 1e-12);
        prop_assert!((twice.standard_error * 2f64.sqrt() - pooled.standard_error).abs() < 1e-12);
        if let Some(differences) = pooled.differences {
            prop_assert!(differences.statistic >= 0.0 && (0.0..=1.0).contains(&differences.probability));
        }
    }
}
