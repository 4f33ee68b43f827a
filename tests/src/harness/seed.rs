//! Seeds of tests that draw at random.

use rand::RngExt;

/// A seed: the one in `LAPWATCH_TEST_SEED`, or any, printed so that the run can be repeated.
#[must_use]
pub fn seed() -> u64 {
    let seed = std::env::var("LAPWATCH_TEST_SEED").ok().and_then(|seed| seed.parse().ok());
    let seed = seed.unwrap_or_else(|| rand::rng().random());
    eprintln!("LAPWATCH_TEST_SEED={seed} repeats this run");
    seed
}
