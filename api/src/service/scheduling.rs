//! Rechecks that are not due, or were not: in other weather, by another policy. Reads only.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, Utc};
use lapwatch_domain::quantity::{Temperature, TemperatureUnit};
use lapwatch_domain::recheck::{
    BandShift, DayEventFact, DayEventKind, Recheck, RecheckReason, RecheckState, band_shift, local_day_start,
    local_instant,
};
use lapwatch_domain::standing::{FlagFact, FlagKind, TrialFact};
use lapwatch_domain::trial::{Outcome, Purpose};

use super::derive::{Derived, LOOK_BACK, UnitFacts, recheck_policy};
use super::{Result, Service, open_to_read};
use crate::model::{OtherSheet, PolicyQuestion, Principal, Unit, Version, WeatherQuestion};
use crate::storage::{Tenant, configuration};

/// What would be due of one unit on the day asked about.
#[derive(Debug)]
pub struct Foreseen {
    /// The unit.
    pub unit: Version<Unit>,
    /// The local day.
    pub due_on: NaiveDate,
    /// The purpose that the trial should have.
    pub purpose: Purpose,
    /// Why, the weightiest first.
    pub reasons: Vec<RecheckReason>,
    /// Those of them that the weather adds.
    pub added: Vec<RecheckReason>,
    /// How far the band moves, and the margin on that side, where the last good trial says so.
    pub shift: Option<BandShift>,
    /// The scale on which the unit's crew works.
    pub temperature_unit: TemperatureUnit,
}

/// What would be due of each unit that is in use on the day asked about, by label.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn in_other_weather(
    service: &Service,
    caller: &Principal,
    question: &WeatherQuestion,
    now: DateTime<Utc>,
) -> Result<Vec<Foreseen>> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let mut found = Vec::new();
    for unit in units(&tenant, caller, now).await? {
        let asked = question.unit_id.is_none_or(|id| id == unit.id)
            && question.crew_id.is_none_or(|crew| unit.value.crew_id == Some(crew));
        if asked {
            let facts = UnitFacts::load(&tenant, unit.id, now).await?;
            found.extend(foresee((service, &tenant), facts, unit, question, now).await?);
        }
    }
    Ok(found)
}

/// The units that are not retired and that the caller sees, by label.
async fn units(tenant: &Tenant<'_>, caller: &Principal, now: DateTime<Utc>) -> Result<Vec<Version<Unit>>> {
    let mut units = configuration::all_in_force::<Unit>(tenant, now).await?;
    units.retain(|unit| !unit.retired && caller.acts_for(unit.value.crew_id));
    units.sort_by(|a, b| a.value.label.cmp(&b.value.label).then(a.id.cmp(&b.id)));
    Ok(units)
}

async fn foresee(
    (service, tenant): (&Service, &Tenant<'_>),
    mut facts: UnitFacts,
    unit: Version<Unit>,
    question: &WeatherQuestion,
    now: DateTime<Utc>,
) -> Result<Option<Foreseen>> {
    let tomorrow = now.with_timezone(&facts.zone).date_naive() + Days::new(1);
    let day = question.date.unwrap_or(tomorrow);
    // The sheet is read as the shift begins; today, if it has begun, now.
    let as_of = local_instant(day.and_time(facts.policy.shift_start), facts.zone).max(now);
    if as_of >= local_day_start(day + Days::new(1), facts.zone) {
        return Ok(None);
    }
    let derived = facts.derive(tenant, &service.charts, as_of).await?;
    let usual = due_on(&facts, &derived, day, as_of);
    let Some(usual) = usual else { return Ok(None) };
    let last = last_good(&facts.trials, as_of);
    let sheet = last.and_then(|last| sheet_then(last, question.sheet?));
    let reading = DayEventFact {
        at: as_of,
        kind: DayEventKind::Reading,
        sheet,
        wind: question.wind,
        membrane: None,
        lot: None,
    };
    let share = |trial: &TrialFact| {
        let series = derived.charts.series().iter().find(|series| series.class == trial.class);
        series.map(|series| series.mean_heat_share()).unwrap_or_default()
    };
    let shift = last.zip(sheet).and_then(|(last, sheet)| band_shift(last, sheet, share(last)));
    facts.day_events.push(reading);
    let then = due_on(&facts, &derived, day, as_of).unwrap_or_else(|| usual.clone());
    let added = then.reasons.iter().filter(|reason| !usual.reasons.contains(reason)).copied().collect();
    Ok(Some(Foreseen {
        unit,
        due_on: day,
        purpose: then.purpose,
        reasons: then.reasons,
        added,
        shift,
        temperature_unit: facts.temperature_unit,
    }))
}

fn due_on(facts: &UnitFacts, derived: &Derived, day: NaiveDate, as_of: DateTime<Utc>) -> Option<Recheck> {
    let policy = recheck_policy(&facts.policy);
    let all = facts.scheduled(&policy, (&derived.flags, derived.charts.series()), as_of);
    all.into_iter().find(|recheck| recheck.due_on == day)
}

fn last_good(trials: &[TrialFact], before: DateTime<Utc>) -> Option<&TrialFact> {
    trials.iter().rfind(|trial| trial.at < before && trial.outcome == Outcome::Stands)
}

/// The temperature of the sheet that is asked about; `None` where a change is, and the trial's own was not written down.
fn sheet_then(last: &TrialFact, sheet: OtherSheet) -> Option<Temperature> {
    match sheet {
        OtherSheet::At(temperature) => Some(temperature),
        OtherSheet::By(change) => last.sheet.map(|before| before + change),
    }
}

/// What a policy asked for in a span.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Tally {
    /// Rechecks that were due.
    pub rechecks: usize,
    /// How many of them had this reason; one may have several.
    pub by_reason: BTreeMap<RecheckReason, usize>,
    /// Those whose time passed before anything settled them.
    pub overdue: usize,
    /// Those of them that no trial settled before the next was due.
    pub missed: usize,
    /// Those that a person waived.
    pub waived: usize,
    /// Flags that were raised, by kind.
    pub flags: BTreeMap<FlagKind, usize>,
}

/// What two policies would have asked for of the same records.
#[derive(Debug)]
pub struct Preview {
    /// How many units it was worked out for.
    pub units: usize,
    /// By the policy in force now.
    pub in_force: Tally,
    /// By the one that is asked about.
    pub proposed: Tally,
}

/// What a policy would have asked for, beside the one in force now, of the units as they are and of the records that are there.
///
/// # Errors
/// [`super::Error::Storage`].
pub async fn by_other_policy(
    service: &Service,
    caller: &Principal,
    question: &PolicyQuestion,
    now: DateTime<Utc>,
) -> Result<Preview> {
    let mut client = service.store.client().await?;
    let tenant = open_to_read(&mut client, caller).await?;
    let units = units(&tenant, caller, now).await?;
    let mut preview = Preview { units: units.len(), in_force: Tally::default(), proposed: Tally::default() };
    for unit in units {
        let mut facts = UnitFacts::load_since(&tenant, unit.id, now, question.from - LOOK_BACK).await?;
        facts.forget_after(question.to);
        let derived = facts.derive(&tenant, &service.charts, question.to).await?;
        preview.in_force.add(&facts, &derived, question);
        let same_charts = facts.policy.promise_arl_trials == question.policy.promise_arl_trials;
        facts.settings.promise_arl = question.policy.promise_arl_trials;
        facts.policy = question.policy.clone();
        let derived =
            if same_charts { derived } else { facts.derive(&tenant, &service.charts, question.to).await? };
        preview.proposed.add(&facts, &derived, question);
    }
    Ok(preview)
}

impl UnitFacts {
    /// Leaves out what had not happened by then; what else is dated is left out where it is asked for.
    fn forget_after(&mut self, then: DateTime<Utc>) {
        self.history.retain(|row| row.ordered_at <= then);
        // Both are in order of time.
        self.offsets.truncate(self.history.len());
        self.trials.retain(|trial| trial.at <= then);
        self.services.retain(|service| service.at <= then);
        self.decisions.retain(|decision| decision.at <= then);
        self.spans.retain(|span| span.from <= then);
    }
}

impl Tally {
    /// Counts what the facts' policy asked of one unit.
    fn add(&mut self, facts: &UnitFacts, derived: &Derived, question: &PolicyQuestion) {
        let within = |at: DateTime<Utc>| question.from <= at && at <= question.to;
        let mut policy = recheck_policy(&facts.policy);
        let days = (question.to - question.from).num_days() + 1;
        policy.look_back_days = u32::try_from(days).unwrap_or(u32::MAX);
        let all = facts.scheduled(&policy, (&derived.flags, derived.charts.series()), question.to);
        for recheck in all.iter().filter(|recheck| within(recheck.due_at)) {
            self.rechecks += 1;
            for reason in &recheck.reasons {
                *self.by_reason.entry(*reason).or_default() += 1;
            }
            let settled_late = recheck.closed_at.is_some_and(|at| at > recheck.due_at);
            self.overdue += usize::from(settled_late || recheck.state == RecheckState::Overdue);
            self.missed += usize::from(recheck.state == RecheckState::Missed);
            self.waived += usize::from(recheck.state == RecheckState::Waived);
        }
        let raised = |flag: &&FlagFact| within(flag.opened_at);
        for flag in derived.flags.iter().filter(raised) {
            *self.flags.entry(flag.kind).or_default() += 1;
        }
    }
}
