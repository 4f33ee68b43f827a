//! What people have decided about a shift, and whether that still holds.

use chrono::{DateTime, Utc};

use super::{NOTABLE_K, SharedShift};
use crate::coded_enum;
use crate::edges::Edge;
use crate::standing::DecisionKind;

coded_enum! {
    /// What is to be done about a notable shift.
    pub enum ShiftState {
        /// Nobody has looked at it yet, or it has moved on since.
        Open = "open",
        /// Somebody has seen it.
        Acknowledged = "acknowledged",
        /// It is settled: nobody needs to be told any more.
        Closed = "closed",
    }
}

/// A decision about a shift.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftDecision<'a> {
    /// What was decided.
    pub kind: DecisionKind,
    /// When.
    pub at: DateTime<Utc>,
    /// The shift as the fit in force at that time had it; `None` when it did not have it.
    pub seen: Option<&'a SharedShift>,
}

impl SharedShift {
    /// Whether one of its edges lies more than 5 K from where it lay when people decided: as far as makes a shift worth telling
    /// of (our choice). An edge that too little is known of counts as unmoved.
    #[must_use]
    pub fn has_moved_since(&self, seen: Option<&Self>) -> bool {
        let mean = |shift: Option<&Self>, edge| {
            shift.and_then(|shift| shift.shifts.of(edge)).map_or(0.0, |shift| shift.mean.kelvin())
        };
        Edge::ALL.iter().any(|edge| (mean(Some(self), *edge) - mean(seen, *edge)).abs() > NOTABLE_K)
    }

    /// What follows from the decisions about it, in whatever order: the latest that acknowledges or closes it holds, until it has
    /// moved since. Of two at one instant, closing outweighs.
    #[must_use]
    pub fn state(&self, decisions: &[ShiftDecision<'_>]) -> ShiftState {
        let settles = |decision: &&ShiftDecision<'_>| {
            matches!(decision.kind, DecisionKind::Acknowledge | DecisionKind::Close)
        };
        let latest = decisions
            .iter()
            .filter(settles)
            .max_by_key(|decision| (decision.at, decision.kind == DecisionKind::Close));
        match latest {
            Some(latest) if self.has_moved_since(latest.seen) => ShiftState::Open,
            Some(latest) if latest.kind == DecisionKind::Close => ShiftState::Closed,
            Some(_) => ShiftState::Acknowledged,
            None => ShiftState::Open,
        }
    }
}

#[cfg(test)]
mod tests {
    use chrono::{TimeDelta, TimeZone};
    use uuid::Uuid;

    use super::*;
    use crate::fleet::{SharedBy, Shift, Shifts};
    use crate::membrane::MaterialClass;
    use crate::quantity::{Quantity as _, TemperatureDifference, TemperatureDifferenceUnit};

    fn at(hour: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2026, 6, 10, hour, 0, 0).unwrap()
    }

    /// A run that moves the lower edge so far.
    fn shift(kelvin: f64) -> SharedShift {
        let apart =
            |kelvin: f64| TemperatureDifference::new(kelvin, TemperatureDifferenceUnit::Kelvin).unwrap();
        let lower = Shift {
            mean: apart(kelvin),
            sd: apart(1.0),
            low: apart(kelvin - 2.0),
            high: apart(kelvin + 2.0),
        };
        SharedShift {
            class: MaterialClass::Pvc,
            by: SharedBy::Lot(Uuid::nil()),
            units: 5,
            trials: 30,
            latest: at(9),
            informing: [5, 0],
            shifts: Shifts { lower: Some(lower), upper: None },
            own: Vec::new(),
        }
    }

    #[test]
    fn the_latest_that_settles_holds_whatever_the_order() {
        let (now, seen) = (shift(14.0), shift(12.0));
        let decided = |kind, hour| ShiftDecision { kind, at: at(hour), seen: Some(&seen) };
        assert_eq!(now.state(&[]), ShiftState::Open);
        let mut decisions = vec![decided(DecisionKind::Acknowledge, 7), decided(DecisionKind::Remark, 9)];
        assert_eq!(now.state(&decisions), ShiftState::Acknowledged);
        decisions.push(decided(DecisionKind::Close, 8));
        assert_eq!(now.state(&decisions), ShiftState::Closed);
        decisions.reverse();
        assert_eq!(now.state(&decisions), ShiftState::Closed);
        decisions.push(decided(DecisionKind::Acknowledge, 8));
        assert_eq!(now.state(&decisions), ShiftState::Closed, "at one instant closing outweighs");
        decisions.push(ShiftDecision {
            at: at(8) + TimeDelta::seconds(1),
            ..decided(DecisionKind::Acknowledge, 8)
        });
        assert_eq!(now.state(&decisions), ShiftState::Acknowledged);
    }

    #[test]
    fn a_shift_that_moves_on_by_more_than_five_kelvin_is_open_again() {
        let seen = shift(12.0);
        let closed = [ShiftDecision { kind: DecisionKind::Close, at: at(8), seen: Some(&seen) }];
        for (kelvin, state) in [
            (17.0, ShiftState::Closed),
            (17.1, ShiftState::Open),
            (7.0, ShiftState::Closed),
            (6.9, ShiftState::Open),
        ] {
            assert_eq!(shift(kelvin).state(&closed), state, "{kelvin} K");
        }
        // One that nobody could see when they decided counts as unmoved then.
        let unseen = [ShiftDecision { seen: None, ..closed[0] }];
        assert_eq!(shift(14.0).state(&unseen), ShiftState::Open);
    }
}
