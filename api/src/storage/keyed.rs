//! Requests that carry a key of their client.

use uuid::Uuid;

use super::{Error, Result, Tenant};
use crate::model::{KeyedRequest, Made};

/// Keeps what a request makes; `false` when its actor used the key before. Where that request is still being answered, waits
/// for its end.
pub async fn insert(tenant: &Tenant<'_>, actor: Uuid, request: &KeyedRequest, made: Made) -> Result<bool> {
    let sql = include_str!("keyed/insert.sql");
    let digest = request.digest.as_slice();
    Ok(tenant.execute(sql, &[&actor, &request.key, &digest, &made.id, &made.at]).await? == 1)
}

/// What was asked under a key before, as its digest, and what that made.
pub async fn get(tenant: &Tenant<'_>, actor: Uuid, key: &str) -> Result<Option<([u8; 32], Made)>> {
    let row = tenant.row(include_str!("keyed/get.sql"), &[&actor, &key]).await?;
    row.map(|row| {
        let digest = <[u8; 32]>::try_from(row.get::<_, &[u8]>("digest"))
            .map_err(|_| Error::Corrupt("a digest of another length".to_owned()))?;
        Ok((digest, Made { id: row.get("made_id"), at: row.get("made_at") }))
    })
    .transpose()
}
