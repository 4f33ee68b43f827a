//! What can go wrong below HTTP.

use uuid::Uuid;

use crate::model::Finding;
use crate::storage;

/// Result of the service layer.
pub type Result<T> = std::result::Result<T, Error>;

/// Why a service operation did not happen; HTTP-free. Nothing was stored when one is returned.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Rules that the record breaks.
    #[error("{} rules are broken", .0.len())]
    Invalid(Vec<Finding>),
    /// No such thing in this organization; names the kind of thing.
    #[error("no such {0}")]
    NotFound(&'static str),
    /// No valid token, or its subject is revoked or disabled.
    #[error("not authenticated")]
    Unauthenticated,
    /// Wrong sign-in name or password.
    #[error("sign-in refused")]
    SignInRefused,
    /// A scope that the caller does not have.
    #[error("the scope {0} is missing")]
    MissingScope(&'static str),
    /// The caller acts for one crew and reached for another's.
    #[error("another crew's record")]
    OtherCrew,
    /// The id was accepted with other content.
    #[error("record {0} was accepted with other content")]
    Conflict(Uuid),
    /// A change to what has been changed since the caller read it; names the kind of thing.
    #[error("the {0} has been changed since")]
    Stale(&'static str),
    /// A key that came with another request before.
    #[error("the key came with another request before")]
    KeyReused,
    /// A held item that was settled before.
    #[error("settled before")]
    Settled,
    /// Bytes that are no photo as it is taken; says why, in a sentence.
    #[error("no photo: {0}")]
    NoPhoto(String),
    /// A photo that is kept and cannot be shown.
    #[error("the picture cannot be decoded")]
    PhotoUnreadable,
    /// Bytes of an upload that do not follow those that have come; says how many have.
    #[error("{0} bytes have come")]
    WrongOffset(u64),
    /// Something that may not be thrown away; says why, in a sentence.
    #[error("still kept: {0}")]
    StillKept(String),
    /// A name that must be unique is in use; says which.
    #[error("the {0} is taken")]
    Taken(&'static str),
    /// Too many failed sign-ins.
    #[error("too many tries")]
    TooManyTries,
    /// A place in the change feed that is not one of it (any more).
    #[error("the cursor leads nowhere")]
    CursorLost,
    /// Others are being served, and will be for a while.
    #[error("busy")]
    Busy,
    /// Every place to wait in is taken.
    #[error("too many are waiting")]
    Crowded,
    /// The database failed.
    #[error(transparent)]
    Storage(#[from] storage::Error),
    /// Something that the code rules out happened all the same.
    #[error("{0}")]
    Internal(String),
}

impl Error {
    /// One broken rule.
    pub fn invalid(pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![Finding::new(pointer, code, detail)])
    }

    /// Whether a record that met this is only to be sent again.
    pub fn is_for_later(&self) -> bool {
        matches!(self, Self::Storage(error) if error.is_unavailable() || error.is_transient())
    }

    /// Whether repeating the whole transaction can help (a deadlock or a serialization failure).
    pub fn is_transient(&self) -> bool {
        matches!(self, Self::Storage(error) if error.is_transient())
    }
}
