//! `/v1/changes`: every entry once, in order, to whoever asks, waits or follows.

mod crowd;
mod pages;
mod sight;
mod stream;

use lapwatch_tests::harness::{App, Caller};
use serde_json::{Value, json};
use uuid::Uuid;

/// What a reader was told: number, kind, id.
type Told = (i64, String, String);

fn told(change: &Value) -> Told {
    let text = |member: &str| change[member].as_str().expect("a text").to_owned();
    (change["sequence"].as_i64().expect("a number"), text("kind"), text("id"))
}

/// What the feed of the app's organization holds.
async fn stored(app: &App) -> Vec<Told> {
    let sql = "SELECT seq, kind, subject_id FROM change WHERE organization_id = $1 ORDER BY seq";
    let rows = app.superuser().await.query(sql, &[&app.organization.id]).await.expect("the feed is read");
    rows.iter().map(|row| (row.get(0), row.get(1), row.get::<_, Uuid>(2).to_string())).collect()
}

/// A service event about a unit.
fn event(unit: Uuid, at: chrono::DateTime<chrono::Utc>) -> Value {
    json!({ "id": Uuid::now_v7(), "unit_id": unit, "performed_at": at, "kind": "inspection", "affects_heat": false })
}

/// Everything from a place on, page by page; the answers' place at the end.
async fn read_all(caller: &Caller<'_>, query: &str, after: Option<&str>) -> (Vec<Value>, String) {
    let mut items = Vec::new();
    let mut after = after.map(str::to_owned);
    loop {
        let place = after.map(|after| format!("after={after}&")).unwrap_or_default();
        let page = caller.get(&format!("/v1/changes?{place}{query}")).await.expect(200);
        items.extend(page["items"].as_array().expect("items").iter().cloned());
        let through = page["through"].as_str().expect("a cursor").to_owned();
        if page["more"] == false {
            return (items, through);
        }
        after = Some(through);
    }
}
