//! Derived state: standings, chart ends, flags, rechecks.

mod flags;
mod histories;
mod rechecks;
mod state;

use futures_util::future::try_join_all;
use tokio_postgres::Row;
use uuid::Uuid;

use super::access::decode;
use super::{Result, Tenant};

pub use flags::{Flag, FlagFilter, flags, replace_flags};
pub use histories::{ChartEnd, histories, replace_histories};
pub use rechecks::{Recheck, RecheckFilter, Working, pending_rechecks, rechecks, replace_rechecks, working};
pub use state::{UnitState, ensure_unit_state, lock_units, stale_units, unit_states, update_unit_state};

/// Deletes rows one by one, sent together: each is found by its key, whatever the plan was made for.
async fn delete(tenant: &Tenant<'_>, sql: &str, ids: &[Uuid]) -> Result<()> {
    try_join_all(ids.iter().map(async |id| tenant.execute(sql, &[id]).await)).await?;
    Ok(())
}

fn codes<T: lapwatch_domain::Coded>(row: &Row, column: &str) -> Result<Vec<T>> {
    row.get::<_, Vec<&str>>(column).into_iter().map(decode).collect()
}
