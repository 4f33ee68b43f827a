//! A record of any kind as it is kept.

use actix_web::get;
use actix_web::web::{Json, Path};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, UnitsRead};
use super::trials::shown;
use super::{Reply, Shared};
use crate::service::kept;
use crate::view::kept::KeptRecord;

/// One record of any kind, whether it counts or not, with every correction of it: what was corrected or withdrawn is here, and no
/// longer in the lists. Needs the scope to read records of its kind.
#[utoipa::path(
    tag = "records", security(("bearer" = ["units:read"])),
    params(("id" = Uuid, Path, description = "Id of the record, as its client made it.")),
    responses((status = 200, description = "The record.", body = KeptRecord))
)]
#[get("/v1/records/{id}")]
async fn get_record(caller: Caller<UnitsRead>, context: Shared, id: Path<Uuid>) -> Reply<Json<KeptRecord>> {
    let kept = kept::get(&context.service, &caller, *id, context.clock.now()).await?;
    let record = shown(&kept.submission.bytes)?;
    Ok(Json(KeptRecord::of(&kept, record)))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(get_record);
}
