//! Trials, histories and rechecks as tables, streamed.

use std::pin::Pin;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION};
use actix_web::web::{Bytes, Query};
use actix_web::{HttpResponse, get};
use chrono::{DateTime, Utc};
use futures_util::StreamExt;
use futures_util::stream::{self, Stream};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::extract::{Caller, RechecksRead, TrialsRead, UnitsRead};
use super::trials::code;
use super::{Reply, Shared};
use crate::model::Principal;
use crate::problem::{Code, Problem};
use crate::service::exports::{self as service, Names};
use crate::service::{Error, units};
use crate::storage::records::TrialFilter;
use crate::view::export::{
    Form, Scales, Table, history_columns, history_rows, recheck_columns, recheck_row, trial_columns,
    trial_rows,
};

/// So many trials are read at a time.
const PAGE: i64 = 200;

type Chunks = Pin<Box<dyn Stream<Item = Result<Bytes, Error>>>>;

/// Which trials, and how.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct TrialTableQuery {
    /// `csv` (RFC 4180, with a line of names; the default) or `ndjson` (a JSON object a line).
    format: Option<String>,
    /// `metric` (Cel, m/min, mm, N; the default) or `us` ([degF], [ft_i]/min, [in_i], [lbf_av]). The unit of each number stands in the
    /// name of its column.
    units: Option<String>,
    /// Of this unit.
    unit_id: Option<Uuid>,
    /// Of this crew.
    crew_id: Option<Uuid>,
    /// Performed at or after.
    from: Option<DateTime<Utc>>,
    /// Performed before.
    to: Option<DateTime<Utc>>,
}

/// Trials as a table, a row for each strip, the latest trial first. Columns that begin `result_` were computed; those withdrawn or
/// superseded say so in `result_disposition`. Texts that a spreadsheet would take for a formula stand behind an apostrophe in CSV. A
/// table that breaks off is not whole: ask again.
#[utoipa::path(
    tag = "exports", security(("bearer" = ["trials:read"])), params(TrialTableQuery),
    responses((status = 200, description = "The table.",
               content((String = "text/csv"), (String = "application/x-ndjson"))))
)]
#[get("/v1/exports/trials")]
async fn export_trials(
    caller: Caller<TrialsRead>,
    context: Shared,
    query: Query<TrialTableQuery>,
) -> Reply<HttpResponse> {
    let (form, scales) = (form(query.format.as_deref())?, scales(query.units.as_deref())?);
    let names = service::names(&context.service, &caller, context.clock.now()).await?;
    let filter = TrialFilter {
        unit_id: query.unit_id,
        crew_id: query.crew_id,
        from: query.from,
        to: query.to,
        limit: PAGE,
        ..TrialFilter::default()
    };
    let table = Table::new(form, trial_columns(&scales));
    let source = Trials { context, caller: caller.clone(), names, scales, filter };
    let head = table.head();
    let pages = stream::try_unfold(Some((source, table)), |state| async move {
        let Some((mut source, table)) = state else { return Ok(None) };
        let (found, last) = service::trials(&source.context.service, &source.caller, &source.filter).await?;
        let rows: Vec<_> =
            found.iter().flat_map(|trial| trial_rows(trial, &source.names, &source.scales)).collect();
        let bytes = Bytes::from(table.rows(&rows));
        source.filter.after = found.last().map(|trial| (trial.row.performed_at, trial.row.id));
        Ok(Some((bytes, (!last).then_some((source, table)))))
    });
    Ok(reply(form, "trials", head, Box::pin(pages)))
}

/// Where the rows of trials come from.
struct Trials {
    context: Shared,
    caller: Principal,
    names: Names,
    scales: Scales,
    filter: TrialFilter,
}

/// Which units, and how.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct UnitTableQuery {
    /// `csv` (RFC 4180, with a line of names; the default) or `ndjson` (a JSON object a line).
    format: Option<String>,
    /// `metric` (Cel; the default) or `us` ([degF]). The unit of each number stands in the name of its column.
    units: Option<String>,
    /// Of this unit.
    unit_id: Option<Uuid>,
}

/// Histories of units as a table: both edges as each trial alone has them, at reference conditions, with the charts after it. A table
/// that breaks off is not whole: ask again.
#[utoipa::path(
    tag = "exports", security(("bearer" = ["units:read"])), params(UnitTableQuery),
    responses((status = 200, description = "The table.",
               content((String = "text/csv"), (String = "application/x-ndjson"))))
)]
#[get("/v1/exports/histories")]
async fn export_histories(
    caller: Caller<UnitsRead>,
    context: Shared,
    query: Query<UnitTableQuery>,
) -> Reply<HttpResponse> {
    let (form, scales) = (form(query.format.as_deref())?, scales(query.units.as_deref())?);
    let now = context.clock.now();
    let units = service::units(&context.service, &caller, query.unit_id, now).await?;
    let table = Table::new(form, history_columns(&scales));
    let head = table.head();
    let source = (context, caller.clone(), table, units.into_iter());
    let pages = stream::try_unfold(source, move |(context, caller, table, mut units)| async move {
        let Some(unit) = units.next() else { return Ok(None) };
        let rows = match units::history(&context.service, &caller, unit, now).await {
            Ok(history) => history_rows(&history, &scales),
            // It has just gone to another crew.
            Err(Error::NotFound(_)) => Vec::new(),
            Err(error) => return Err(error),
        };
        Ok(Some((Bytes::from(table.rows(&rows)), (context, caller, table, units))))
    });
    Ok(reply(form, "histories", head, Box::pin(pages)))
}

/// Which rechecks, and how.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct RecheckTableQuery {
    /// `csv` (RFC 4180, with a line of names; the default) or `ndjson` (a JSON object a line).
    format: Option<String>,
    /// Of this unit.
    unit_id: Option<Uuid>,
}

/// Rechecks as a table, unit by unit, the latest due first. A table that breaks off is not whole: ask again.
#[utoipa::path(
    tag = "exports", security(("bearer" = ["rechecks:read"])), params(RecheckTableQuery),
    responses((status = 200, description = "The table.",
               content((String = "text/csv"), (String = "application/x-ndjson"))))
)]
#[get("/v1/exports/rechecks")]
async fn export_rechecks(
    caller: Caller<RechecksRead>,
    context: Shared,
    query: Query<RecheckTableQuery>,
) -> Reply<HttpResponse> {
    let form = form(query.format.as_deref())?;
    let now = context.clock.now();
    let names = service::names(&context.service, &caller, now).await?;
    let units = service::units(&context.service, &caller, query.unit_id, now).await?;
    let table = Table::new(form, recheck_columns());
    let head = table.head();
    let source = (context, caller.clone(), names, table, units.into_iter());
    let pages = stream::try_unfold(source, move |(context, caller, names, table, mut units)| async move {
        let Some(unit) = units.next() else { return Ok(None) };
        let found = service::rechecks(&context.service, &caller, unit, now).await?;
        let rows: Vec<_> = found.iter().map(|recheck| recheck_row(recheck, &names, now)).collect();
        Ok(Some((Bytes::from(table.rows(&rows)), (context, caller, names, table, units))))
    });
    Ok(reply(form, "rechecks", head, Box::pin(pages)))
}

fn form(given: Option<&str>) -> Reply<Form> {
    Ok(code(given, "format")?.unwrap_or(Form::Csv))
}

fn scales(given: Option<&str>) -> Reply<Scales> {
    match given {
        None | Some("metric") => Ok(Scales::METRIC),
        Some("us") => Ok(Scales::US),
        Some(_) => Err(Problem::new(Code::BadRequest, "`units` is one of `metric`, `us`.")),
    }
}

/// The head and then the pages, none of them empty.
fn reply(form: Form, name: &str, head: Vec<u8>, pages: Chunks) -> HttpResponse {
    let chunks = stream::iter([Ok(Bytes::from(head))]).chain(pages).filter_map(|chunk| async move {
        match chunk {
            Ok(bytes) if bytes.is_empty() => None,
            Ok(bytes) => Some(Ok(bytes)),
            Err(error) => {
                tracing::error!(%error, "a table breaks off");
                Some(Err(actix_web::error::ErrorInternalServerError("the table breaks off")))
            }
        }
    });
    HttpResponse::Ok()
        .content_type(form.media_type())
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}.{}\"", form.code())))
        .streaming(Box::pin(chunks))
}

/// Registers the operations of this file.
pub(super) fn register(config: &mut ServiceConfig<'_>) {
    config.service(export_trials).service(export_histories).service(export_rechecks);
}
