//! Charts kept between requests.
//!
//! A unit's charts after its latest trial are those before it and one step. Kept here, they spare reading and going
//! through the unit's whole history for each record. They are never trusted: they are used only when the history that
//! the database holds begins with exactly the trials and restarts that they were made from, and they are kept only once
//! what they were made from is committed.

use std::collections::HashMap;
use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, Utc};
use lapwatch_domain::drift::{
    ChartSettings, HistoryEntry, Knowledge, Offsets, Quiet, UnitCharts, UnitSeries,
};
use lapwatch_domain::membrane::MaterialClass;
use lru::LruCache;
use uuid::Uuid;

use super::Result;
use crate::storage::records::{self, HistoryRow, Profiles};
use crate::storage::{Error, Tenant};

/// The charts of so many units are kept: those of a large fleet's morning, not of all units there are.
const KEPT_UNITS: NonZeroUsize = NonZeroUsize::new(256).expect("some are kept");

/// More new trials than this are read with the whole history at once.
const FEW_TRIALS: usize = 16;

/// The charts of the units that were asked for latest.
#[derive(Debug, Clone)]
pub struct ChartCache(Arc<Mutex<Charts>>);

/// By organization and unit.
type Charts = LruCache<(Uuid, Uuid), Arc<Kept>>;

/// A unit's charts, and what they were made from.
#[derive(Debug)]
pub(super) struct Kept {
    charts: UnitCharts,
    resets: Vec<DateTime<Utc>>,
    quiet: Vec<Quiet>,
    series: Arc<[UnitSeries]>,
}

impl Kept {
    /// The series, one a sheet class.
    pub(super) fn series(&self) -> &Arc<[UnitSeries]> {
        &self.series
    }

    /// What the history knew of the unit's edges before one of its latest trials.
    pub(super) fn before(&self, trial: Uuid) -> Option<&Knowledge> {
        self.charts.before(trial)
    }

    /// What other units say of a trial's sheets and day.
    pub(super) fn offsets(&self, trial: Uuid) -> Offsets {
        self.charts.offsets(trial).unwrap_or_default()
    }

    /// What it knows of them now, on a sheet class.
    pub(super) fn now(&self, class: MaterialClass) -> Option<Knowledge> {
        self.charts.now(class, &self.resets)
    }
}

impl Default for ChartCache {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(LruCache::new(KEPT_UNITS))))
    }
}

/// What a unit's charts follow from, beside the likelihoods of its trials.
#[derive(Debug)]
pub(super) struct ChartFacts<'a> {
    /// The unit.
    pub(super) unit: Uuid,
    /// Its trials, in order.
    pub(super) history: &'a [HistoryRow],
    /// What is taken off each of them.
    pub(super) offsets: &'a [Offsets],
    /// When service affected its heat, ascending.
    pub(super) resets: Vec<DateTime<Utc>>,
    /// What people closed.
    pub(super) quiet: Vec<Quiet>,
    /// How the charts are made.
    pub(super) settings: ChartSettings,
}

impl ChartFacts<'_> {
    fn taken(&self) -> impl Iterator<Item = (&HistoryRow, &Offsets)> {
        self.history.iter().zip(self.offsets)
    }
}

impl ChartCache {
    /// The charts of a unit, going on from the charts that are kept if they are of the beginning of its history.
    ///
    /// # Errors
    /// [`super::Error::Storage`].
    pub(super) async fn charts(&self, tenant: &Tenant<'_>, facts: ChartFacts<'_>) -> Result<Arc<Kept>> {
        let key = (tenant.organization(), facts.unit);
        let keys: Vec<_> =
            facts.taken().map(|(row, offsets)| ((row.ordered_at, row.trial_id), *offsets)).collect();
        let kept = self.get(key).filter(|kept| kept.charts.lead_to(&keys, &facts.resets, &facts.settings));
        if let Some(kept) = &kept
            && kept.charts.taken() == keys.len()
            && kept.resets == facts.resets
            && kept.quiet == facts.quiet
        {
            return Ok(Arc::clone(kept));
        }
        let charts = match kept {
            Some(kept) => go_on(tenant, &kept.charts, &facts).await?,
            None => begin(tenant, &facts).await?,
        };
        let series: Arc<[UnitSeries]> = charts.series(&facts.resets, &facts.quiet).into();
        let kept = Arc::new(Kept { charts, resets: facts.resets, quiet: facts.quiet, series });
        let (cache, to_keep) = (self.clone(), Arc::clone(&kept));
        tenant.once_committed(move || cache.put(key, to_keep));
        Ok(kept)
    }

    fn get(&self, key: (Uuid, Uuid)) -> Option<Arc<Kept>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned()
    }

    fn put(&self, key: (Uuid, Uuid), kept: Arc<Kept>) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).put(key, kept);
    }
}

/// Goes on from kept charts; begins again where that would not be less to read, or where they are too short.
async fn go_on(tenant: &Tenant<'_>, kept: &UnitCharts, facts: &ChartFacts<'_>) -> Result<UnitCharts> {
    let rest = &facts.history[kept.taken()..];
    if rest.len() > FEW_TRIALS {
        return begin(tenant, facts).await;
    }
    let ids: Vec<Uuid> = rest.iter().map(|row| row.trial_id).collect();
    let profiles = records::trial_profiles(tenant, &ids).await?;
    if longest(&profiles) > kept.profile_points() {
        return begin(tenant, facts).await;
    }
    take_rest(kept.clone(), facts, &profiles)
}

/// Goes through the whole history.
async fn begin(tenant: &Tenant<'_>, facts: &ChartFacts<'_>) -> Result<UnitCharts> {
    let profiles = records::unit_profiles(tenant, facts.unit).await?;
    take_rest(UnitCharts::new(facts.settings.clone(), longest(&profiles)), facts, &profiles)
}

fn longest(profiles: &HashMap<Uuid, Profiles>) -> usize {
    profiles.values().map(Profiles::points).max().unwrap_or(0)
}

/// Takes the trials that the charts have not taken yet.
fn take_rest(
    mut charts: UnitCharts,
    facts: &ChartFacts<'_>,
    profiles: &HashMap<Uuid, Profiles>,
) -> Result<UnitCharts> {
    let before = charts.taken();
    for (row, offsets) in facts.taken().skip(before) {
        let entry = entry(row, profiles.get(&row.trial_id))?;
        charts.take(&HistoryEntry { offsets: *offsets, ..entry }, &facts.resets);
    }
    Ok(charts)
}

/// A trial as charts and fits see it, with nothing taken off.
pub(super) fn entry<'a>(row: &HistoryRow, profiles: Option<&'a Profiles>) -> Result<HistoryEntry<'a>> {
    let profiles =
        profiles.ok_or_else(|| Error::Corrupt(format!("trial {} lacks evidence", row.trial_id)))?;
    Ok(HistoryEntry {
        trial: row.trial_id,
        at: row.ordered_at,
        class: row.material_class,
        sheet: row.sheet_temperature,
        speed: row.speed,
        lower: &profiles.lower,
        upper: &profiles.upper,
        offsets: Offsets::default(),
    })
}
