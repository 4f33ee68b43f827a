//! What each trial of a unit says of its edges, summed up.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::Setting;
use crate::drift::{ChartSettings, HistoryEntry, Knowledge, UnitCharts};
use crate::edges::{Edge, Profile};
use crate::fleet::UnitHistory;
use crate::heat::{self, Conditions, HeatShare};
use crate::membrane::MaterialClass;

/// Standard deviation (K) of the prior that meets a trial's likelihood: wider than units differ from trial to trial, narrow
/// enough that an open edge is not placed by the width of a grid.
const WIDE_K: f64 = 25.0;
/// A trial that knows an edge no better than this (K) is left out.
const VAGUE_K: f64 = 150.0;

/// What the trials of one unit say, boiled down.
#[derive(Debug, Clone)]
pub struct SharedEvidence {
    pub(super) unit: Uuid,
    /// In order of time.
    pub(super) trials: Vec<Told>,
}

/// What one trial says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    pub(super) at: DateTime<Utc>,
    pub(super) class: MaterialClass,
    /// How many services affected the heat before it.
    pub(super) segment: usize,
    pub(super) setting: Setting,
    /// Lower edge, upper edge.
    pub(super) edges: [Option<Site>; 2],
}

/// A normal likelihood of an edge at reference conditions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Site {
    /// °C.
    pub(super) mean: f64,
    /// K⁻².
    pub(super) precision: f64,
}

impl SharedEvidence {
    /// What a unit's trials say; `settings` holds the setting of each entry of its history, in the same order. Charts of the
    /// unit tell its levels and heat share; they are made with `charts`.
    ///
    /// # Panics
    ///
    /// When there are not as many settings as trials.
    #[must_use]
    pub fn of(unit: &UnitHistory<'_>, settings: &[Setting], charts: &ChartSettings) -> Self {
        assert_eq!(unit.history.len(), settings.len(), "each trial has its setting");
        let mut entries: Vec<(&HistoryEntry<'_>, Setting)> =
            unit.history.iter().zip(settings.iter().copied()).collect();
        entries.sort_by_key(|(entry, _)| entry.key());
        entries.dedup_by_key(|(entry, _)| entry.key());
        let mut resets = unit.resets.to_vec();
        resets.sort_unstable();
        let segment = |at: DateTime<Utc>| resets.partition_point(|reset| *reset <= at);
        let known = levels(&entries, &resets, charts);
        let told = |(entry, setting): &(&HistoryEntry<'_>, Setting)| {
            let sheet = entry.sheet?;
            let segment = segment(entry.at);
            let (share, middle) = known.get(&(entry.class, segment))?;
            let line = heat::line(Conditions::reference(), Conditions { sheet, speed: entry.speed }, *share);
            let site = |edge| Site::of(profile(entry, edge), line, middle[edge as usize]);
            let edges = [Edge::Lower, Edge::Upper].map(site);
            edges.iter().any(Option::is_some).then_some(Told {
                at: entry.at,
                class: entry.class,
                segment,
                setting: *setting,
                edges,
            })
        };
        Self { unit: unit.unit, trials: entries.iter().filter_map(told).collect() }
    }
}

const fn profile<'a>(entry: &HistoryEntry<'a>, edge: Edge) -> &'a Profile {
    match edge {
        Edge::Lower => entry.lower,
        Edge::Upper => entry.upper,
    }
}

/// Mean heat share and levels (°C) of each class at the end of each segment.
fn levels(
    entries: &[(&HistoryEntry<'_>, Setting)],
    resets: &[DateTime<Utc>],
    settings: &ChartSettings,
) -> HashMap<(MaterialClass, usize), (HeatShare, [f64; 2])> {
    let points = entries.iter().map(|(entry, _)| entry.profile_points()).max().unwrap_or(1);
    let mut charts = UnitCharts::new(settings.clone(), points);
    let mut found = HashMap::new();
    let mut entries = entries.iter().map(|(entry, _)| entry).peekable();
    while let Some(entry) = entries.next() {
        let segment = resets.partition_point(|reset| *reset <= entry.at);
        charts.take(entry, resets);
        let next = entries.peek().map(|next| resets.partition_point(|reset| *reset <= next.at));
        if next == Some(segment) {
            continue;
        }
        for class in MaterialClass::ALL {
            if let Some(knowledge) = charts.now(*class, &resets[..segment]) {
                found.insert((*class, segment), summed_up(&knowledge));
            }
        }
    }
    found
}

fn summed_up(knowledge: &Knowledge) -> (HeatShare, [f64; 2]) {
    let share = knowledge.heat_shares().iter().map(|(share, weight)| weight * share.ratio()).sum();
    let level = |edge| knowledge.level(edge).mean.celsius();
    (HeatShare::new(share).unwrap_or_default(), [level(Edge::Lower), level(Edge::Upper)])
}

impl Site {
    /// What a profile says of an edge that a line (intercept in °C, slope) carries to the trial's conditions, near the level
    /// `middle` (°C). `None` when that is next to nothing.
    fn of(profile: &Profile, (start, slope): (f64, f64), middle: f64) -> Option<Self> {
        let likely: Vec<f64> = profile.values().iter().map(|ln| libm::exp(f64::from(*ln))).collect();
        let stray = ChartSettings::default().stray_share;
        let floor = stray * likely.iter().sum::<f64>() / likely.len() as f64;
        let (mut total, mut first, mut second) = (0.0, 0.0, 0.0);
        for (index, likely) in likely.iter().enumerate() {
            let off = (profile.temperature(index).celsius() - start) / slope - middle;
            let mass = ((1.0 - stray) * likely + floor) * libm::exp(-0.5 * (off / WIDE_K).powi(2));
            total += mass;
            first += mass * off;
            second += mass * off * off;
        }
        let mean = first / total;
        let variance = second / total - mean * mean;
        let precision = variance.recip() - (WIDE_K * WIDE_K).recip();
        (total > 0.0 && precision > (VAGUE_K * VAGUE_K).recip())
            .then(|| Self { mean: middle + mean / variance / precision, precision })
    }
}
