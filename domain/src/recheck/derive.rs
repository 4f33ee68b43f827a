//! The walk through the local days.

use std::collections::BTreeMap;

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use uuid::Uuid;

use super::events::{Trigger, triggers};
use super::interval::edge_finding_days;
use super::local::{local_day_start, local_instant};
use super::{DayPlanFact, Recheck, RecheckInput, RecheckReason, RecheckState, finds_edges};
use crate::drift::TimeToLimit;
use crate::standing::{Decision, DecisionKind, FlagFact, FlagKind, TrialFact};
use crate::trial::{Outcome, Purpose};

/// How many coming days are searched for the next one in use.
const LOOK_AHEAD_DAYS: u64 = 14;

/// The unit's rechecks, oldest first. The last may be one that is due on a coming day.
#[must_use]
pub fn rechecks(input: &RecheckInput<'_>) -> Vec<Recheck> {
    let walk = Walk::new(input);
    let today = walk.local_day(input.as_of);
    let first = today - Days::new(u64::from(input.policy.look_back_days));
    let last = today + Days::new(LOOK_AHEAD_DAYS);
    let mut found: Vec<Recheck> = Vec::new();
    for day in first.iter_days().take_while(|day| *day <= last) {
        // One that is still open today or later leaves no room for another; one from before today gives way.
        if found.last().is_some_and(|last| last.closed_at.is_none() && last.due_on >= today) {
            break;
        }
        let Some(mut recheck) = walk.due(day) else { continue };
        let start = local_day_start(day, input.zone);
        if let Some(older) = found.last_mut().filter(|older| older.closed_at.is_none_or(|at| at >= start)) {
            if day > today {
                break;
            }
            older.state = RecheckState::Missed;
            older.satisfied_by = None;
            older.closed_at = Some(start);
            recheck.fall_due(start, input.as_of);
        }
        found.push(recheck);
    }
    found
}

impl Recheck {
    /// Makes it due at once: it takes the place of one that was missed, so no grace is left.
    fn fall_due(&mut self, start: DateTime<Utc>, as_of: DateTime<Utc>) {
        self.due_at = start;
        if self.state == RecheckState::Open && as_of > start {
            self.state = RecheckState::Overdue;
        }
    }
}

struct Walk<'a> {
    input: &'a RecheckInput<'a>,
    /// Trials with a verdict up to the time asked for, in order.
    trials: Vec<&'a TrialFact>,
    /// The plan that counts for each day.
    plans: BTreeMap<NaiveDate, &'a DayPlanFact>,
    /// Local days on which the unit welded or was tried.
    used: Vec<NaiveDate>,
    waivers: Vec<&'a Decision>,
    triggers: Vec<Trigger>,
}

impl<'a> Walk<'a> {
    fn new(input: &'a RecheckInput<'a>) -> Self {
        let known = |at: &DateTime<Utc>| *at <= input.as_of;
        let mut trials: Vec<&TrialFact> = input
            .trials
            .iter()
            .filter(|trial| known(&trial.at) && trial.outcome != Outcome::NoVerdict)
            .collect();
        trials.sort_by_key(|trial| (trial.at, trial.trial));
        let mut plans: BTreeMap<NaiveDate, &DayPlanFact> = BTreeMap::new();
        for plan in input.day_plans {
            let newest = plans.entry(plan.date).or_insert(plan);
            // Of two written at the same time the one that asks for more counts, whichever came first.
            let rank = |plan: &DayPlanFact| (plan.recorded_at, plan.welding, plan.names_unit);
            if rank(plan) > rank(newest) {
                *newest = plan;
            }
        }
        let day = |at: DateTime<Utc>| at.with_timezone(&input.zone).date_naive();
        let welded =
            input.spans.iter().filter(|span| known(&span.from)).map(|span| day(span.to.min(input.as_of)));
        let tried = input.trials.iter().map(|trial| trial.at).filter(known).map(day);
        let mut used: Vec<NaiveDate> = welded.chain(tried).collect();
        used.sort_unstable();
        let mut waivers: Vec<&Decision> = input
            .decisions
            .iter()
            .filter(|decision| decision.kind == DecisionKind::Waive && known(&decision.at))
            .collect();
        waivers.sort_by_key(|decision| (decision.at, decision.id));
        let triggers = triggers(input, &trials);
        Self { input, trials, plans, used, waivers, triggers }
    }

    fn local_day(&self, at: DateTime<Utc>) -> NaiveDate {
        at.with_timezone(&self.input.zone).date_naive()
    }

    /// Whether the unit is meant to weld on this day.
    fn in_use(&self, day: NaiveDate) -> bool {
        if let Some(plan) = self.plans.get(&day) {
            return plan.welding && plan.names_unit;
        }
        let since = day - Days::new(u64::from(self.input.policy.in_use_days));
        let next = self.used.partition_point(|used| *used < day);
        let lately = next.checked_sub(1).is_some_and(|last| self.used[last] >= since);
        // The very first use makes a day one of use, but no recheck could have been due before it.
        let policy = self.input.policy;
        lately && policy.working_days.contains(&day.weekday()) && !policy.closed_days.contains(&day)
    }

    /// The recheck of one local day, if there is a reason for one.
    fn due(&self, day: NaiveDate) -> Option<Recheck> {
        let zone = self.input.zone;
        let start = local_day_start(day, zone);
        let end = local_day_start(day + Days::new(1), zone);
        let in_use = self.in_use(day);
        // Each reason, with the time from which on a trial settles it; one that is raised again has to be settled again.
        let mut reasons: BTreeMap<RecheckReason, DateTime<Utc>> = BTreeMap::new();
        let mut raise = |reason, at: DateTime<Utc>| {
            let since = reasons.entry(reason).or_insert(at);
            *since = at.max(*since);
        };
        if in_use {
            let earlier = [
                (RecheckReason::FailedTrial, self.unsettled_before(start, FlagKind::FailedTrial)),
                (RecheckReason::MarginLost, self.unsettled_before(start, FlagKind::MarginLost)),
                (RecheckReason::DriftFlag, self.drift_before(start)),
                (RecheckReason::MarginRunsOut, self.margin_runs_out_by(day)),
                (RecheckReason::EdgeFinding, self.edge_finding_due(day)),
                (RecheckReason::Daily, true),
            ];
            earlier.into_iter().filter(|(_, holds)| *holds).for_each(|(reason, _)| raise(reason, start));
            self.pending_triggers(start).for_each(|trigger| raise(trigger.reason, start));
        }
        // What a trial of this very day raised, or an event, which says by itself that the unit is in use.
        let mut first_trouble = None;
        for trial in self.trials.iter().filter(|trial| (start..end).contains(&trial.at)) {
            let reason = match trial.outcome {
                Outcome::Failed => RecheckReason::FailedTrial,
                Outcome::MarginLost => RecheckReason::MarginLost,
                Outcome::Stands | Outcome::NoVerdict => continue,
            };
            first_trouble = first_trouble.or(Some(trial.at));
            raise(reason, trial.at);
        }
        let today = self.triggers.iter().filter(|trigger| (start..end).contains(&trigger.at));
        today.clone().for_each(|trigger| raise(trigger.reason, trigger.at));
        let due_at = self.due_at(day, first_trouble.max(today.map(|trigger| trigger.at).max()));
        (!reasons.is_empty()).then(|| self.settle(day, &reasons, due_at))
    }

    /// The end of the grace after the shift's start; after a failure during the day, the time to repeat if that is later.
    fn due_at(&self, day: NaiveDate, raised_at: Option<DateTime<Utc>>) -> DateTime<Utc> {
        let policy = self.input.policy;
        let daily = local_instant(day.and_time(policy.shift_start), self.input.zone) + policy.grace;
        match raised_at {
            Some(at) => daily.max(at + policy.repeat_within),
            None => daily,
        }
    }

    /// The trial with which all reasons are settled, or the waiver, and the state that follows.
    fn settle(
        &self,
        day: NaiveDate,
        reasons: &BTreeMap<RecheckReason, DateTime<Utc>>,
        due_at: DateTime<Utc>,
    ) -> Recheck {
        let settled_by = |(reason, since): (&RecheckReason, &DateTime<Utc>)| {
            self.trials.iter().find(|trial| trial.at >= *since && satisfies(trial, *reason))
        };
        // A sweep of the morning settles what asked for edges; a check in the afternoon, what a break asked for.
        let outstanding: Vec<RecheckReason> =
            reasons.iter().filter(|entry| settled_by(*entry).is_none()).map(|(reason, _)| *reason).collect();
        let last = reasons.iter().filter_map(settled_by).max_by_key(|trial| (trial.at, trial.trial));
        let satisfied = last.filter(|_| outstanding.is_empty());
        let raised_last = reasons.values().max().copied().unwrap_or(due_at);
        let waived = self.waivers.iter().find(|waiver| waiver.at >= raised_last);
        let waived = waived.filter(|waiver| satisfied.is_none_or(|trial| waiver.at < trial.at));
        let (state, closed_at) = match (waived, satisfied) {
            (Some(waiver), _) => (RecheckState::Waived, Some(waiver.at)),
            (None, Some(trial)) => (RecheckState::Satisfied, Some(trial.at)),
            (None, None) if self.input.as_of > due_at => (RecheckState::Overdue, None),
            (None, None) => (RecheckState::Open, None),
        };
        let asked: Vec<RecheckReason> = reasons.keys().copied().collect();
        let still = if outstanding.is_empty() { &asked } else { &outstanding };
        let edges = still.iter().any(|reason| reason.purpose() == Purpose::Sweep);
        Recheck {
            id: Uuid::new_v5(&self.input.unit, format!("recheck/{day}").as_bytes()),
            purpose: if edges { Purpose::Sweep } else { Purpose::Confirmation },
            reasons: asked,
            due_on: day,
            due_at,
            state,
            satisfied_by: satisfied.filter(|_| state == RecheckState::Satisfied).map(|trial| trial.trial),
            closed_at,
        }
    }

    /// What was raised before `start` and no trial had settled by then.
    fn pending_triggers(&self, start: DateTime<Utc>) -> impl Iterator<Item = &Trigger> {
        self.triggers.iter().filter(move |trigger| {
            let settled = |trial: &&TrialFact| {
                trial.at >= trigger.at && trial.at < start && satisfies(trial, trigger.reason)
            };
            trigger.at < start && !self.trials.iter().any(settled)
        })
    }

    /// Whether a drift may have used up the margin so soon after this day that edges are to be looked for once more, and no
    /// trial has since that could be said.
    fn margin_runs_out_by(&self, day: NaiveDate) -> bool {
        let start = local_day_start(day, self.input.zone);
        let lead = chrono::Duration::days(i64::from(self.input.policy.limit_lead_days));
        self.flags_before(start).any(|flag| {
            let due_from = match flag.time_to_limit {
                Some(TimeToLimit::Between { earliest, .. }) => earliest - lead,
                Some(TimeToLimit::Reached) => flag.opened_at,
                Some(TimeToLimit::NotApproaching | TimeToLimit::TooEarly) | None => return false,
            };
            let looked = |trial: &&TrialFact| trial.at >= due_from && trial.at < start && finds_edges(trial);
            due_from < local_day_start(day + Days::new(1), self.input.zone) && !self.trials.iter().any(looked)
        })
    }

    /// Whether a flag of this kind was raised that nothing had settled before `start`.
    fn unsettled_before(&self, start: DateTime<Utc>, kind: FlagKind) -> bool {
        self.flags_before(start).any(|flag| flag.kind == kind)
    }

    /// Whether a drift flag stood at `start` whose edges no trial had looked for since it was raised.
    fn drift_before(&self, start: DateTime<Utc>) -> bool {
        self.flags_before(start).any(|flag| {
            let looked =
                |trial: &&TrialFact| trial.at > flag.opened_at && trial.at < start && finds_edges(trial);
            matches!(flag.kind, FlagKind::DriftUp | FlagKind::DriftDown) && !self.trials.iter().any(looked)
        })
    }

    fn flags_before(&self, start: DateTime<Utc>) -> impl Iterator<Item = &'a FlagFact> {
        self.input
            .flags
            .iter()
            .filter(move |flag| flag.opened_at < start && (flag.stands() || flag.state_since >= start))
    }

    /// Whether the last trial that looked for both edges lies too many days back.
    fn edge_finding_due(&self, day: NaiveDate) -> bool {
        let last = self
            .trials
            .iter()
            .filter(|trial| finds_edges(trial))
            .map(|trial| self.local_day(trial.at))
            .rfind(|tried| *tried < day);
        let start = local_day_start(day, self.input.zone);
        let interval = edge_finding_days(self.input.policy, &self.trials, self.input.flags, start);
        last.is_none_or(|last| (day - last).num_days() >= i64::from(interval))
    }
}

/// Whether the trial stands and is strong enough for the reason.
fn satisfies(trial: &TrialFact, reason: RecheckReason) -> bool {
    trial.outcome == Outcome::Stands && (finds_edges(trial) || !reason.needs_edges())
}
