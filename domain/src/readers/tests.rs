//! Kappa against printed tables.

use super::*;
use crate::acceptance::Reading;

/// A table of counts over the first readings, rows the first reader's.
fn table<const K: usize>(rows: [[usize; K]; K]) -> PairedReadings {
    let mut pairs = PairedReadings::default();
    for (first, row) in Reading::ALL.iter().zip(rows) {
        for (second, strips) in Reading::ALL.iter().zip(row) {
            pairs.add(*first, *second, strips);
        }
    }
    pairs
}

fn assert_printed(found: f64, printed: f64, tolerance: f64) {
    assert!((found - printed).abs() <= tolerance, "{found}, printed {printed}");
}

/// A printout of the FREQ procedure of SAS, kept among the reference results of statsmodels. The second reader never
/// used the first category.
#[test]
fn printout_of_a_three_by_three_table() {
    let kappa = table([[0, 4, 1], [0, 8, 0], [0, 1, 5]]).kappa().unwrap();
    assert_printed(kappa.value, 0.4842, 5.1e-5);
    assert_printed(kappa.standard_error, 0.1380, 5.1e-5);
    assert_printed(kappa.null_standard_error, 0.1484, 5.1e-5);
    assert_printed(kappa.z().unwrap(), 3.2626, 5.1e-5);
    let (low, high) = kappa.interval(0.95).unwrap();
    assert_printed(low, 0.2137, 5.1e-5);
    assert_printed(high, 0.7547, 5.1e-5);
}

/// Anxiety of twenty people as rated by the second and third of three raters, a data set of the R package irr. Its
/// `kappa2` printed −.006289308 and z = −.0604067, kept among the reference results of statsmodels.
#[test]
fn printout_of_ratings_without_agreement() {
    let second = [3, 6, 4, 6, 2, 4, 2, 4, 3, 3, 2, 3, 3, 3, 2, 2, 1, 3, 3, 4];
    let third = [2, 1, 4, 4, 3, 2, 1, 6, 1, 1, 1, 2, 3, 3, 1, 1, 3, 3, 2, 2];
    let pairs = second.iter().zip(third).map(|(a, b): (&usize, usize)| (Reading::ALL[*a], Reading::ALL[b]));
    let kappa = pairs.collect::<PairedReadings>().kappa().unwrap();
    assert_eq!(kappa.strips, 20);
    assert_printed(kappa.value, -0.006_289_308, 5.1e-10);
    assert_printed(kappa.z().unwrap(), -0.060_406_7, 5.1e-8);
}

/// 200 cases, three diagnoses, two judges. Cohen, *Weighted kappa*, Psychological Bulletin 70, 1968, table 1 (the table
/// as quoted in the manual of the R package psych): observed .70, by chance .41, κ .492 (printed values from memory).
#[test]
fn two_judges_of_two_hundred_cases() {
    let kappa = table([[88, 14, 18], [10, 40, 10], [2, 6, 12]]).kappa().unwrap();
    assert_eq!(kappa.strips, 200);
    assert_printed(kappa.observed, 0.70, 1e-12);
    assert_printed(kappa.chance, 0.41, 1e-12);
    assert_printed(kappa.value, 0.492, 5.1e-4);
    // Shares .6 .3 .1 and .5 .3 .2 agree in .9 at most.
    assert_printed(kappa.maximum, (0.9 - 0.41) / 0.59, 1e-12);
}

/// 85 images, normal, benign, suspect or cancer, two readers: the example of two raters in the manual of Stata's
/// command kap (counts as published with a SAS program for the same data; agreement 63.53 %, expected 30.82 %, κ
/// .4728, standard error .0694, z 6.81 from memory of that manual).
#[test]
fn two_readers_of_eighty_five_images() {
    let pairs = table([[21, 12, 0, 0], [4, 17, 1, 0], [3, 9, 15, 2], [0, 0, 0, 1]]);
    let kappa = pairs.kappa().unwrap();
    assert_eq!(kappa.strips, 85);
    assert_printed(100.0 * kappa.observed, 63.53, 5.1e-3);
    assert_printed(100.0 * kappa.chance, 30.82, 5.1e-3);
    assert_printed(kappa.value, 0.4728, 5.1e-5);
    assert_printed(kappa.null_standard_error, 0.0694, 5.1e-5);
    assert_printed(kappa.z().unwrap(), 6.81, 5.1e-3);
    let worst: Vec<usize> = pairs.confusions().iter().map(|confusion| confusion.strips).collect();
    assert_eq!(worst, [12, 9, 4, 3, 2, 1]);
}

/// Fleiss, Levin and Paik, *Statistical Methods for Rates and Proportions*, 3rd edition, ch. 18, table 18.1 with n =
/// 100: observed .89, by chance .66, κ .68, standard error without agreement .076, z 8.95 (from memory). They work
/// with the rounded κ and error; here only what rounding cannot move is checked, and the kappas of single categories
/// against their two-by-two tables by hand.
#[test]
fn a_textbook_table_and_its_categories() {
    let pairs = table([[75, 1, 4], [5, 4, 1], [0, 0, 10]]);
    let kappa = pairs.kappa().unwrap();
    assert_printed(kappa.observed, 0.89, 1e-12);
    assert_printed(kappa.chance, 0.66, 1e-12);
    assert_printed(kappa.value, 0.68, 5.1e-3);
    assert_printed(kappa.null_standard_error, 0.076, 5.1e-4);
    let categories = pairs.categories();
    let [first, second, third] = [0, 1, 2].map(|index| categories[index]);
    assert_eq!((first.reading, first.first, first.second, first.both), (Reading::Cold, 80, 80, 75));
    assert_printed(first.share, 75.0 / 80.0, 1e-12);
    // Observed .90, by chance .8·.8 + .2·.2 = .68.
    assert_printed(first.kappa.unwrap().value, 0.22 / 0.32, 1e-12);
    // Observed .93, by chance .1·.05 + .9·.95 = .86.
    assert_printed(second.kappa.unwrap().value, 0.07 / 0.14, 1e-12);
    // Observed .95, by chance .1·.15 + .9·.85 = .78.
    assert_printed(third.kappa.unwrap().value, 0.17 / 0.22, 1e-12);
    assert_eq!(categories.len(), 3);
    assert_eq!(pairs.opposite(), 4);
}

#[test]
fn degenerate_tables_say_why() {
    let none = PairedReadings::default();
    assert_eq!(none.kappa(), Err(KappaError::NoStrips));
    assert!(none.categories().is_empty() && none.confusions().is_empty());
    let one = table([[0, 0], [0, 9]]);
    let refused = one.kappa().unwrap_err();
    assert_eq!(refused, KappaError::OneReading(Reading::Sound));
    assert_eq!(refused.code(), "one_reading");
    assert!(refused.to_string().contains("every strip as sound"), "{refused}");
    assert_eq!(one.categories()[0].kappa, Err(KappaError::OneReading(Reading::Sound)));
    assert_printed(one.categories()[0].share, 1.0, 0.0);
}

/// Where the formula gives no uncertainty there is no interval.
#[test]
fn no_interval_without_a_standard_error() {
    let perfect = table([[4, 0], [0, 5]]).kappa().unwrap();
    assert_printed(perfect.value, 1.0, 1e-15);
    assert_eq!((perfect.standard_error, perfect.interval(0.95)), (0.0, None));
    assert!(perfect.z().unwrap() > 2.0);
    // One who says "sound" of everything agrees by chance alone, whatever the other says.
    let constant = table([[0, 4], [0, 5]]).kappa().unwrap();
    assert_eq!((constant.value, constant.interval(0.95), constant.z()), (0.0, None, None));
    // Never alike, though both read half of them cold.
    let opposed = table([[0, 4], [4, 0]]).kappa().unwrap();
    assert_printed(opposed.value, -1.0, 1e-15);
    assert_eq!(opposed.interval(0.95), None);
    let some = table([[4, 1], [1, 5]]).kappa().unwrap();
    assert!(some.interval(0.95).is_some());
    for level in [0.0, 1.0, f64::NAN] {
        assert_eq!(some.interval(level), None);
    }
}

/// Two sessions in which the readers agree by chance alone, one of cold strips mostly and one of sound ones: one table
/// of both would show agreement.
#[test]
fn pooling_keeps_sessions_apart() {
    let cold = table([[81, 9], [9, 1]]);
    let sound = table([[1, 9], [9, 81]]);
    let mixed = table([[82, 18], [18, 82]]);
    assert_printed(mixed.kappa().unwrap().value, 0.64, 1e-12);
    let pooled = pool(&[cold, sound]).unwrap();
    assert_printed(pooled.value, 0.0, 1e-12);
    let alone = cold.kappa().unwrap().standard_error;
    assert_printed(pooled.standard_error, alone / 2f64.sqrt(), 1e-12);
    let (low, high) = pooled.interval(0.95).unwrap();
    assert_printed(high, 1.959_963_985 * pooled.standard_error, 1e-9);
    assert_printed(low, -high, 1e-12);
    let differences = pooled.differences.unwrap();
    assert_eq!(differences.degrees_of_freedom, 1);
    assert_printed(differences.probability, 1.0, 1e-6);
}

#[test]
fn sessions_that_differ_are_told() {
    let good = table([[40, 3], [2, 45]]);
    let bad = table([[15, 10], [9, 16]]);
    let dull = table([[12, 0], [0, 0]]);
    let pooled = pool(&[good, dull, bad]).unwrap();
    assert_eq!((pooled.used, pooled.strips), (2, 140));
    assert_eq!(pooled.sessions[1], Err(KappaError::OneReading(Reading::Cold)));
    let [good, bad] = [good, bad].map(|session| session.kappa().unwrap());
    assert_printed(pooled.value, (90.0 * good.value + 50.0 * bad.value) / 140.0, 1e-12);
    let differences = pooled.differences.unwrap();
    // With two sessions Q is the square of their difference over its error.
    let errors = good.standard_error.powi(2) + bad.standard_error.powi(2);
    assert_printed(differences.statistic, (good.value - bad.value).powi(2) / errors, 1e-9);
    assert!(differences.probability < 1e-3);
    assert_eq!(pool(&[dull]).unwrap_err(), KappaError::OneReading(Reading::Cold));
    assert_eq!(pool(&[PairedReadings::default(), dull]).unwrap_err(), KappaError::OneReading(Reading::Cold));
    assert_eq!(pool(&[]).unwrap_err(), KappaError::NoStrips);
}

mod pairs {
    use super::super::{StripReadings, pair_up};
    use crate::acceptance::Reading::{self, Cold, Hot, Sound};

    fn by(reader: &'static str, period: u32, strips: &[Reading]) -> StripReadings<&'static str, u32> {
        StripReadings { reader, period, strips: strips.iter().copied().map(Some).collect() }
    }

    #[test]
    fn who_read_first_does_not_make_another_pair() {
        let pairs = pair_up([
            vec![by("Reed", 1, &[Cold, Sound]), by("Sedge", 1, &[Sound, Sound])],
            vec![by("Sedge", 2, &[Sound, Hot]), by("Reed", 3, &[Cold, Hot])],
        ]);
        assert_eq!(pairs.len(), 1);
        assert_eq!((pairs[0].first, pairs[0].second, pairs[0].trials), ("Reed", "Sedge", 2));
        // Both times Reed said cold and Sedge sound; each trial in the month of its later reading.
        let cold_sound: Vec<(u32, usize)> =
            pairs[0].sessions.iter().map(|(month, table)| (*month, table.count(Cold, Sound))).collect();
        assert_eq!(cold_sound, [(1, 1), (3, 1)]);
    }

    #[test]
    fn three_readers_make_three_pairs() {
        let all = [by("A", 1, &[Cold]), by("B", 1, &[Cold]), by("C", 1, &[Sound])];
        let names: Vec<_> = pair_up([all.to_vec()]).iter().map(|pair| (pair.first, pair.second)).collect();
        assert_eq!(names, [("A", "B"), ("A", "C"), ("B", "C")]);
    }

    #[test]
    fn the_last_reading_of_a_person_counts_and_nobody_pairs_with_themselves() {
        let again = vec![by("Reed", 1, &[Cold]), by("Sedge", 1, &[Sound]), by("Sedge", 2, &[Cold])];
        let pairs = pair_up([again, vec![by("Reed", 1, &[Cold]), by("Reed", 2, &[Hot])]]);
        assert_eq!(pairs.len(), 1);
        let (month, table) = pairs[0].sessions[0];
        assert_eq!((pairs[0].trials, month, table.strips(), table.count(Cold, Cold)), (1, 2, 1, 1));
    }

    #[test]
    fn without_a_strip_in_common_there_is_no_pair() {
        let mut one = by("Reed", 1, &[Cold, Sound]);
        let mut other = by("Sedge", 1, &[Cold, Sound]);
        one.strips[0] = None;
        other.strips[1] = None;
        assert!(pair_up([vec![one, other]]).is_empty());
    }
}
