//! What the units of a fleet share. Temperatures are differences in K.

use chrono::{DateTime, NaiveDate, Utc};
use lapwatch_domain::edges::Edge;
use lapwatch_domain::fleet::{SharedBy, SharedShift, Shift, TrialNoise};
use lapwatch_domain::quantity::TemperatureUnit::{self, Celsius};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::apart;
use crate::model;
use crate::service::shared_decisions::Decided;
use crate::wire::Measurement;
use crate::wire::records::RecordForm;
use crate::wire::shared::SharedDecision;

/// What the units of a fleet share, as of a moment. It never changes: a later fit stands beside it, and charts go by the latest.
#[derive(Debug, Serialize, ToSchema)]
pub struct SharedFit {
    /// Id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// How many trials were looked at: those of the last half year.
    #[schema(example = 3100)]
    pub trials: usize,
    /// How many units made them.
    #[schema(example = 26)]
    pub units: usize,
    /// When the first of those trials was performed.
    pub first_trial_at: DateTime<Utc>,
    /// When the last of them was performed.
    pub last_trial_at: DateTime<Utc>,
    /// How much an edge varies from trial to trial at the same conditions.
    pub trial_noise: FoundNoise,
    /// How much products, production runs and days differ.
    pub ordinary: Vec<OrdinaryShift>,
}

/// A fit with its shifts.
#[derive(Debug, Serialize, ToSchema)]
pub struct WholeSharedFit {
    /// The fit.
    pub fit: SharedFit,
    /// What stands out, and all else that at least three units inform, by class; days only where they stand out.
    pub shifts: Vec<FoundShift>,
}

/// How much an edge varies from trial to trial, a standard deviation.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundNoise {
    /// `fitted` when it is the fleet's; `few_units`, `few_trials` or `vague` say why the usual value stays.
    #[schema(example = "fitted")]
    pub basis: &'static str,
    /// Differences between one trial and the next that it is from.
    #[schema(example = 240)]
    pub differences: usize,
    /// The value. Charts keep the usual 8 K: part of what differs from trial to trial is in what each trial's strips leave
    /// open, and so this comes out low.
    pub value: Measurement,
    /// 95 % interval by the fleet's trials: its lower end.
    pub low: Measurement,
    /// Its upper end.
    pub high: Measurement,
}

/// How much the shifts of one kind differ.
#[derive(Debug, Serialize, ToSchema)]
pub struct OrdinaryShift {
    /// `membrane` (a product), `lot` (a production run) or `day` (a day on a site).
    #[schema(example = "lot")]
    pub kind: &'static str,
    /// Shifts of an edge that at least three units inform.
    #[schema(example = 14)]
    pub informed: usize,
    /// Standard deviation of the ordinary ones.
    pub standard_deviation: Measurement,
}

/// How far a product, a production run or a day moves the edges of all welders that meet it.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundShift {
    /// `membrane`, `lot` or `day`.
    #[schema(example = "lot")]
    pub kind: &'static str,
    /// The membrane.
    pub membrane_id: Option<Uuid>,
    /// The lot.
    pub lot_id: Option<Uuid>,
    /// The site of the day.
    pub site_id: Option<Uuid>,
    /// The date there.
    pub date: Option<NaiveDate>,
    /// Sheet class.
    #[schema(example = "pvc")]
    pub material_class: &'static str,
    /// Units that met it.
    #[schema(example = 5)]
    pub units: usize,
    /// Trials that they made with it.
    #[schema(example = 31)]
    pub trials: usize,
    /// When the latest of them was performed.
    pub latest_at: DateTime<Utc>,
    /// Whether an edge is moved by more than 5 K, with all of the 95 % interval: tell people.
    pub notable: bool,
    /// The lower edge; null while fewer than three units inform it, and it is taken as unmoved.
    pub lower: Option<EdgeShift>,
    /// The upper edge, likewise.
    pub upper: Option<EdgeShift>,
    /// Of a notable shift what is to be done: `open`, `acknowledged`, or `closed`: nobody is told of it any more. A decision holds
    /// until the shift has moved by more than 5 K since.
    #[schema(example = "open")]
    pub state: Option<&'static str>,
    /// What people decided about it, in order of time.
    pub decisions: Vec<SharedDecision>,
    /// The same in plain sentences.
    pub sentences: Vec<String>,
}

/// How far an edge is moved, at reference conditions, positive upwards.
#[derive(Debug, Serialize, ToSchema)]
pub struct EdgeShift {
    /// Units that inform it.
    #[schema(example = 4)]
    pub informing: usize,
    /// Mean.
    pub mean: Measurement,
    /// Standard deviation.
    pub standard_deviation: Measurement,
    /// 2.5 % point.
    pub low: Measurement,
    /// 97.5 % point.
    pub high: Measurement,
}

impl From<&model::SharedFit> for SharedFit {
    fn from(fit: &model::SharedFit) -> Self {
        let made = &fit.made_from;
        Self {
            id: fit.id,
            made_at: fit.made_at,
            trials: made.trials,
            units: made.units,
            first_trial_at: made.from,
            last_trial_at: made.to,
            trial_noise: FoundNoise::from(&fit.shared.noise),
            ordinary: fit
                .shared
                .ordinary
                .iter()
                .map(|kind| OrdinaryShift {
                    kind: kind.kind.code(),
                    informed: kind.informed,
                    standard_deviation: apart(Celsius, kind.sd),
                })
                .collect(),
        }
    }
}

impl WholeSharedFit {
    /// A fit, with what people decided about each of its shifts.
    pub fn new(fit: &model::SharedFit, decided: &[Decided]) -> Self {
        let mut shifts: Vec<(&SharedShift, &Decided)> = fit.shared.shifts.iter().zip(decided).collect();
        shifts.sort_by_key(|(shift, _)| !shift.is_notable());
        Self {
            fit: SharedFit::from(fit),
            shifts: shifts
                .into_iter()
                .map(|(shift, decided)| FoundShift::of(shift, decided, Celsius))
                .collect(),
        }
    }
}

impl From<&TrialNoise> for FoundNoise {
    fn from(noise: &TrialNoise) -> Self {
        Self {
            basis: noise.basis.code(),
            differences: noise.differences,
            value: apart(Celsius, noise.mean),
            low: apart(Celsius, noise.low),
            high: apart(Celsius, noise.high),
        }
    }
}

impl FoundShift {
    fn of(shift: &SharedShift, decided: &Decided, unit: TemperatureUnit) -> Self {
        let (membrane_id, lot_id, day) = match shift.by {
            SharedBy::Membrane(id) => (Some(id), None, None),
            SharedBy::Lot(id) => (None, Some(id), None),
            SharedBy::Day(site, date) => (None, None, Some((site, date))),
        };
        let (site_id, date) = day.unzip();
        let edge = |edge: Edge| {
            shift.shifts.of(edge).map(|found| EdgeShift::of(found, shift.informing[edge as usize], unit))
        };
        Self {
            kind: shift.by.kind().code(),
            membrane_id,
            lot_id,
            site_id,
            date,
            material_class: shift.class.code(),
            units: shift.units,
            trials: shift.trials,
            latest_at: shift.latest,
            notable: shift.is_notable(),
            lower: edge(Edge::Lower),
            upper: edge(Edge::Upper),
            state: shift.is_notable().then(|| decided.state.code()),
            decisions: decided.decisions.iter().map(SharedDecision::show).collect(),
            sentences: shift.sentences(unit),
        }
    }
}

impl EdgeShift {
    fn of(shift: &Shift, informing: usize, unit: TemperatureUnit) -> Self {
        Self {
            informing,
            mean: apart(unit, shift.mean),
            standard_deviation: apart(unit, shift.sd),
            low: apart(unit, shift.low),
            high: apart(unit, shift.high),
        }
    }
}
