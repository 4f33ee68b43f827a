//! Sending a simulated fleet through the service's front door.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicUsize, Ordering};

use anyhow::{Context, Result, bail};
use lapwatch_fixtures::send::{self, LoadReport, Progress};
use lapwatch_fixtures::{Fleet, Scenario, generate};

use super::state::State;

/// Enough to keep two cores busy without crowding out whoever looks at the console meanwhile.
const CONNECTIONS: usize = 8;

/// Carries out the load that `state` holds, unless it is complete, and writes down that it is. Repeating a load that was
/// cut off is harmless: what the service has already, it says so of.
pub(in crate::cli) async fn finish(state: &mut State, url: &str) -> Result<Option<Fleet>> {
    let Some(load) = state.load.clone().filter(|load| !load.complete) else { return Ok(None) };
    let token = state.token.clone().context("there is no access token")?;
    let scenario: Scenario = load.scenario.parse().context("the scenario that was begun")?;
    eprintln!(
        "Simulating {} units of {} crews over {} months.",
        scenario.units, scenario.crews, scenario.months
    );
    let fleet = tokio::task::spawn_blocking(move || {
        let fleet = generate(&scenario, load.until);
        match load.since {
            Some(since) => fleet.after(since),
            None => fleet,
        }
    })
    .await?;
    let shown = Shown::default();
    let report = send::load(url, &token, &fleet, CONNECTIONS, |progress| shown.update(progress)).await;
    shown.end();
    let report = report.context("loading the simulated fleet; start again to go on where it stopped")?;
    check(&report)?;
    eprintln!(
        "Loaded {} records in {:.0} s{}.",
        report.created + report.duplicate,
        report.elapsed.as_secs_f64(),
        if report.duplicate > 0 {
            format!(", {} of which were there already", report.duplicate)
        } else {
            String::new()
        },
    );
    if let Some(load) = &mut state.load {
        load.complete = true;
    }
    state.save()?;
    Ok(Some(fleet))
}

fn check(report: &LoadReport) -> Result<()> {
    match &report.first_refusal {
        None => Ok(()),
        Some(refusal) => bail!(
            "{} simulated records were refused; the first: POST {} answered {}: {}",
            report.refused,
            refusal.path,
            refusal.status,
            refusal.problem
        ),
    }
}

/// The percentage on the terminal; every tenth of it as a line where there is none.
#[derive(Debug, Default)]
struct Shown {
    percent: AtomicUsize,
}

impl Shown {
    fn update(&self, progress: Progress) {
        let percent = 100 * progress.done / progress.total.max(1);
        if self.percent.fetch_max(percent, Ordering::Relaxed) >= percent {
            return;
        }
        let mut out = std::io::stderr();
        // Showing progress is not worth failing for.
        if out.is_terminal() {
            write!(out, "\rLoading the demo fleet: {percent} % of {} requests", progress.total).ok();
        } else if percent.is_multiple_of(10) {
            writeln!(out, "Loading the demo fleet: {percent} % of {} requests", progress.total).ok();
        }
    }

    fn end(&self) {
        if std::io::stderr().is_terminal() && self.percent.load(Ordering::Relaxed) > 0 {
            eprintln!();
        }
    }
}
