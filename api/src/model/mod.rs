//! What the layers hand to each other: plain values in domain units, without JSON, SQL or HTTP.

mod access;
pub mod calculations;
mod change;
mod configuration;
mod criteria;
mod custody;
mod day;
mod finding;
mod fit;
mod open_trial;
mod photo;
mod readings;
mod records;
mod retraction;
mod scheduling;
mod shared;
mod sheet;
mod start;

pub use access::{App, Person, Principal, Role, Scope, SubjectKind};
pub use change::{Change, ChangeKind, Concerns, Happening, Place};
pub use configuration::{Crew, Lot, Membrane, Policy, Site, Unit, Version};
pub use criteria::{CriteriaException, CriteriaSet, Weld};
pub use custody::{Actor, CustodyState, Disposition, Held, HeldAs, Settled, Settlement};
pub use day::{DayEvent, SeamCheck};
pub use finding::{Finding, Findings};
pub use fit::{DatedPrior, FleetFit};
pub use open_trial::{OpenState, OpenTrial, SentCoupon, TrialClose};
pub use photo::{Photo, PhotoContent, PictureFacts, PictureForm, Sha256, Upload};
pub use readings::SecondReading;
pub use records::*;
pub use retraction::{Correction, Retraction};
pub use scheduling::{OtherSheet, PolicyQuestion, WeatherQuestion};
pub use shared::{Days, SharedDecision, SharedFit};
pub use sheet::{Directory, SheetProblem, SheetTrial};
pub use start::StartConditions;
