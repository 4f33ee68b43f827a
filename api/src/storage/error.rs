//! Failures of the database, told apart by what to do about them.

use deadpool_postgres::PoolError;
use tokio_postgres::error::SqlState;

/// A failed statement or connection.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No connection could be had.
    #[error("no database connection: {0}")]
    Pool(#[from] PoolError),
    /// A statement failed.
    #[error("{0}")]
    Postgres(#[from] tokio_postgres::Error),
    /// The photo store failed.
    #[error("photo store: {0}")]
    Photos(#[from] object_store::Error),
    /// A stored value is not of its form: a bug or foreign hands.
    #[error("stored value: {0}")]
    Corrupt(String),
}

impl Error {
    fn state(&self) -> Option<&SqlState> {
        match self {
            Self::Postgres(error) | Self::Pool(PoolError::Backend(error)) => error.code(),
            _ => None,
        }
    }

    /// A deadlock or serialization failure: repeat the transaction.
    pub fn is_transient(&self) -> bool {
        matches!(self.state(), Some(s) if *s == SqlState::T_R_DEADLOCK_DETECTED || *s == SqlState::T_R_SERIALIZATION_FAILURE)
    }

    /// A key that exists already.
    pub fn is_unique_violation(&self) -> bool {
        self.state() == Some(&SqlState::UNIQUE_VIOLATION)
    }

    /// A value that no column can hold, such as a time before the calendar of the database (SQLSTATE class 22).
    pub fn is_data_exception(&self) -> bool {
        self.state().is_some_and(|state| state.code().starts_with("22"))
    }

    /// The database or the photo store is away, shutting down or out of connections: the caller should try again.
    pub fn is_unavailable(&self) -> bool {
        match self {
            Self::Pool(_) | Self::Photos(_) => true,
            Self::Postgres(error) => {
                error.is_closed()
                    || error.code().is_none_or(|state| {
                        let class = &state.code()[..2];
                        // 08 connection, 53 resources, 57 operator intervention, 25006 became read-only.
                        matches!(class, "08" | "53" | "57") || state.code() == "25006"
                    }) && !is_local(error)
            }
            Self::Corrupt(_) => false,
        }
    }
}

/// Whether the driver itself refused, before anything reached the server: a wrong parameter type, say.
fn is_local(error: &tokio_postgres::Error) -> bool {
    let text = error.to_string();
    text.starts_with("error serializing parameter") || text.starts_with("error deserializing column")
}
