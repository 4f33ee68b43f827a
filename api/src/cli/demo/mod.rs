//! `lapwatch demo`

pub(super) mod load;
pub(super) mod state;

use crate::clock::Clock;
use std::path::PathBuf;

use anyhow::{Context, Result, bail, ensure};
use chrono::{DateTime, Months, Utc};
use lapwatch_fixtures::{FaultPlan, Scenario};

use self::state::{Load, State};

/// The seed of the demo that the quick start loads.
const SEED: u64 = 7;

/// What to simulate; what is not given is the demo's.
#[derive(Debug, clap::Args)]
pub(super) struct ScenarioArgs {
    /// Chooses weather, machines, habits and every strip.
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Number of units.
    #[arg(long, value_name = "N")]
    units: Option<usize>,
    /// Number of crews.
    #[arg(long, value_name = "N")]
    crews: Option<usize>,
    /// Length in months, ending today.
    #[arg(long, value_name = "N")]
    months: Option<u32>,
    /// What goes wrong, such as `SM-07:fade@2026-05-01/0.5K_per_day; crew-5:silent@2026-08-30`, or `none`.
    #[arg(long, value_name = "PLAN")]
    faults: Option<FaultPlan>,
}

#[derive(Debug, clap::Args)]
pub(super) struct DemoArgs {
    /// Continues the fleet that was loaded before, up to now.
    #[arg(long, conflicts_with = "ScenarioArgs")]
    advance: bool,
    #[command(flatten)]
    scenario: ScenarioArgs,
    /// Address of the service. Default: the one remembered in the data folder.
    #[arg(long, value_name = "URL")]
    url: Option<String>,
    /// Access token with the rights to write configuration, trials and plans. Default: the one remembered.
    #[arg(long, env = "LAPWATCH_TOKEN", hide_env_values = true)]
    token: Option<String>,
    /// Where the quick start keeps its data; the scenario is remembered there.
    #[arg(long, value_name = "DIR", env = "LAPWATCH_DATA", default_value = ".lapwatch")]
    data: PathBuf,
}

pub(super) async fn run(args: DemoArgs) -> Result<()> {
    let mut state = State::open(&args.data)?;
    let url = args.url.clone().or_else(|| state.url.clone());
    let url = url
        .context("no service is remembered in the data folder: name one with --url and --token, or --data")?;
    if args.token.is_some() {
        state.token.clone_from(&args.token);
    }
    state.url = Some(url.clone());
    state.load = Some(next_load(&args, state.load.as_ref(), Clock::system().now())?);
    state.save()?;
    load::finish(&mut state, &url).await?;
    Ok(())
}

/// What to load, given what was loaded before. A load that was cut off is finished first.
fn next_load(args: &DemoArgs, before: Option<&Load>, now: DateTime<Utc>) -> Result<Load> {
    match before {
        Some(load) if !load.complete => Ok(load.clone()),
        Some(load) if args.advance => Ok(load.next(now)),
        Some(load) => bail!(
            "{} holds a fleet loaded up to {}: continue it with --advance, or load another one with another --data",
            args.data.display(),
            load.until
        ),
        None if args.advance => bail!("nothing was loaded yet that could be continued"),
        None => Ok(Load::first(&args.scenario.scenario(now)?, now)),
    }
}

impl ScenarioArgs {
    /// The scenario, ending on the day of `now`.
    pub(super) fn scenario(&self, now: DateTime<Utc>) -> Result<Scenario> {
        let demo = Scenario::demo(self.seed.unwrap_or(SEED), now);
        let months = self.months.unwrap_or(demo.months);
        let scenario = Scenario {
            units: self.units.unwrap_or(demo.units),
            crews: self.crews.unwrap_or(demo.crews),
            months,
            started_on: demo.ends_on() - Months::new(months),
            faults: self.faults.clone().unwrap_or_else(|| demo.faults.clone()),
            ..demo
        };
        ensure!(scenario.units > 0 && scenario.crews > 0, "--units and --crews have to be at least 1");
        let stray = scenario.stray_targets();
        // The demo's own plan is for the demo's own size; in a smaller fleet the rest of it is without effect.
        ensure!(
            self.faults.is_none() || stray.is_empty(),
            "the fault plan names {}, which is not there",
            stray.join(", ")
        );
        Ok(scenario)
    }
}
