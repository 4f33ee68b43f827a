use super::*;

/// Normal readings with a standard deviation of 15 K, every other day, on levels from 380 °C on.
const GRID: (f64, f64) = (380.0, 2.0);
const COLUMNS: usize = 120;

fn reading(at: f64) -> Vec<f64> {
    (0..COLUMNS).map(|column| -0.5 * ((GRID.0 + GRID.1 * column as f64 - at) / 15.0).powi(2)).collect()
}

fn since<'a>(trials: &'a [Told<'a>], onsets: &'a [f64]) -> Since<'a> {
    Since {
        trials,
        grid: GRID,
        before: (430.0, 4.0),
        onsets,
        direction: Direction::Up,
        fade_rate: FadeRate::default(),
        at: DateTime::UNIX_EPOCH,
    }
}

/// Probability of going on, by taking every trial for every path alone.
fn still_moving_plainly(told: &Since<'_>) -> f64 {
    let (mut going, mut stood) = (Vec::new(), Vec::new());
    for onset in told.onsets() {
        for (level, ln_level) in normal_points(LEVEL_POINTS) {
            let level = told.before.0 + told.before.1 * level;
            for (node, ln_weight) in normal_points(RATE_POINTS) {
                let rate = libm::exp(told.fade_rate.ln_mean + told.fade_rate.ln_sd * node);
                let size = libm::exp(LN_STEP.0 + LN_STEP.1 * node);
                let each = |moved: &dyn Fn(f64) -> f64| -> f64 {
                    told.trials
                        .iter()
                        .map(|trial| told.at(trial.ln_likelihood, level + moved(trial.day)))
                        .sum()
                };
                going.push(ln_level + ln_weight + each(&|day| rate * (day - onset).max(0.0)));
                stood.push(ln_level + ln_weight + each(&|day| if day > onset { size } else { 0.0 }));
            }
        }
    }
    (1.0 + libm::exp(ln_sum(stood.into_iter()) - ln_sum(going.into_iter()))).recip()
}

#[test]
fn trials_taken_together_count_as_each_alone() {
    let days: Vec<f64> = (0..40).map(|trial| 2.0 * f64::from(trial)).collect();
    let onsets: Vec<f64> = days.iter().copied().take(30).collect();
    let fade = |day: f64| 430.0 + 0.5 * (day - 20.0).max(0.0);
    let step = |day: f64| if day > 40.0 { 455.0 } else { 430.0 };
    for (levels, range) in [(&fade as &dyn Fn(f64) -> f64, 0.8..1.0), (&step, 0.0..0.1)] {
        let readings: Vec<Vec<f64>> = days
            .iter()
            .enumerate()
            .map(|(trial, &day)| reading(levels(day) + [-9.0, 3.0, 11.0, -5.0][trial % 4]))
            .collect();
        let trials: Vec<Told<'_>> =
            days.iter().zip(&readings).map(|(&day, ln_likelihood)| Told { day, ln_likelihood }).collect();
        let told = since(&trials, &onsets);
        let (course, (first, last)) = Course::since(&told).unwrap();
        let plainly = still_moving_plainly(&told);
        assert!((course.still_moving - plainly).abs() < 1e-12, "{} {plainly}", course.still_moving);
        assert!(range.contains(&plainly), "{plainly}");
        assert!(first <= last && last <= 58.0);
    }
}
