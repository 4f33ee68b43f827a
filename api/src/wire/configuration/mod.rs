//! Sites, crews, membranes, lots, units, criteria and policy.
//!
//! One type serves a kind of subject in both directions. Members that a request may leave out and an answer always
//! has are marked so. Answers give measurements in `Cel`, `K`, `mm`, `V` and `W`.

mod crew;
mod criteria;
mod criteria_exception;
mod lot;
mod membrane;
mod policy;
mod site;
mod unit;

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::Reader;
use crate::model::{Finding, Version};

pub use crew::Crew;
pub use criteria::Criteria;
pub use criteria_exception::CriteriaException;
pub use lot::Lot;
pub use membrane::Membrane;
pub use policy::Policy;
pub use site::Site;
pub use unit::Unit;

/// A JSON form of a kind of subject.
pub trait Form: Sized {
    /// What it stands for.
    type Subject;

    /// The version it describes, in force from `now` unless it says otherwise; `id` is the address's, if it has one.
    ///
    /// # Errors
    /// Every broken rule with its pointer.
    fn read(self, id: Option<Uuid>, now: DateTime<Utc>) -> Result<Version<Self::Subject>, Vec<Finding>>;

    /// The form of a version.
    fn show(version: &Version<Self::Subject>) -> Self;
}

/// Members that every form has, read alike.
struct Head {
    id: Option<Uuid>,
    effective_from: Option<DateTime<Utc>>,
    retired: Option<bool>,
}

impl Head {
    fn version<T>(
        self,
        address: Option<Uuid>,
        now: DateTime<Utc>,
        mut reader: Reader,
        value: Option<T>,
    ) -> Result<Version<T>, Vec<Finding>> {
        let same = address.is_none() || self.id.is_none() || self.id == address;
        reader.require(
            same,
            "/id",
            "wrong_id",
            "The id differs from the one in the address; leave it out or correct it.",
        );
        reader.time("/effective_from", self.effective_from.unwrap_or(now));
        let value = reader.findings.into_result(value)?;
        Ok(Version {
            id: address.or(self.id).unwrap_or_else(Uuid::now_v7),
            effective_from: self.effective_from.unwrap_or(now),
            retired: self.retired.unwrap_or(false),
            value,
        })
    }
}
