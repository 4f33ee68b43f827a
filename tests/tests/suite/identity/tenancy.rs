//! The second wall between organizations: row security in the database, under a login that owns nothing.

use anyhow::Result;
use lapwatch_api::clock::Clock;
use lapwatch_api::server;
use lapwatch_tests::harness::{App, Shop, TestDatabase, TestFolder, Trial, an_ordinary_noon, settings};
use tokio_postgres::{Client, Config, NoTls};

async fn log_in(config: &Config) -> Result<Client> {
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}

/// Tables of the schema that are not a tenant's: the history of migrations, and the directory, which holds keyed hashes.
const EXEMPT: [&str; 2] = ["directory", "refinery_schema_history"];

async fn tenant_tables(client: &Client) -> Result<Vec<String>> {
    let sql = "SELECT relname::text FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
               ORDER BY 1";
    let tables: Vec<String> = client.query(sql, &[]).await?.iter().map(|row| row.get(0)).collect();
    for exempt in EXEMPT {
        assert!(tables.iter().any(|table| table == exempt), "{exempt} is listed as exempt and gone");
    }
    Ok(tables.into_iter().filter(|table| !EXEMPT.contains(&table.as_str())).collect())
}

#[tokio::test]
async fn every_tenant_table_has_forced_row_security() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.superuser_config()).await?;
    let tables = tenant_tables(&client).await?;
    assert!(tables.len() >= 24, "{tables:?}");
    for table in tables {
        let row = client
            .query_one(
                "SELECT relrowsecurity, relforcerowsecurity FROM pg_class WHERE relname = $1",
                &[&table],
            )
            .await?;
        assert!(
            row.get::<_, bool>(0) && row.get::<_, bool>(1),
            "{table}: row security is not enabled and forced"
        );
        let policies = client
            .query(
                "SELECT permissive, cmd, qual, with_check FROM pg_policies WHERE tablename = $1",
                &[&table],
            )
            .await?;
        assert_eq!(policies.len(), 1, "{table}: one policy");
        assert_eq!(policies[0].get::<_, &str>("cmd"), "ALL", "{table}");
        assert_eq!(
            policies[0].get::<_, &str>("qual"),
            "(organization_id = current_organization())",
            "{table}"
        );
        assert_eq!(
            policies[0].get::<_, Option<&str>>("with_check"),
            None,
            "{table}: the same for what is written"
        );
    }
    Ok(())
}

/// Without the setting, or with the empty one that `SET LOCAL` leaves behind, there is nothing to see.
#[tokio::test]
async fn the_services_login_sees_no_row_without_an_organization() -> Result<()> {
    let app = App::start().await;
    let shop = Shop::open(&app.director()).await;
    app.director().post("/v1/trials", &Trial::good_sweep(&shop, app.now()).json()).await.expect(201);
    let neighbours = app.found("Dunlin Roofing").await;
    let mut client = log_in(&app.database.service_config()).await?;
    let tables = tenant_tables(&app.superuser().await).await?;
    for table in &tables {
        let count: i64 = client.query_one(&format!("SELECT count(*) FROM {table}"), &[]).await?.get(0);
        assert_eq!(count, 0, "{table}");
    }

    let transaction = client.transaction().await?;
    transaction
        .batch_execute(&format!("SET LOCAL lapwatch.organization = '{}'", app.organization.id))
        .await?;
    let trials: i64 = transaction.query_one("SELECT count(*) FROM trial", &[]).await?.get(0);
    assert_eq!(trials, 1, "with it, one's own");
    // Row security holds for what is written too.
    let smuggle = "INSERT INTO site (organization_id, id, effective_from, recorded_at, name, time_zone)
                   VALUES ($1, gen_random_uuid(), now(), now(), 'x', 'UTC')";
    let refused = transaction.execute(smuggle, &[&neighbours.id]).await.unwrap_err();
    assert_eq!(refused.code().map(|code| code.code()), Some("42501"), "{refused}");
    drop(transaction);

    let trials: i64 = client.query_one("SELECT count(*) FROM trial", &[]).await?.get(0);
    assert_eq!(trials, 0, "after the transaction, nothing again");
    Ok(())
}

/// Received bytes, records and the change feed are append-only for the service.
#[tokio::test]
async fn the_services_login_cannot_rewrite_what_was_received() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.service_config()).await?;
    for table in [
        "submission",
        "trial",
        "coupon",
        "specimen",
        "evidence",
        "service_event",
        "day_plan",
        "production_span",
        "decision",
        "change",
        "site",
        "crew",
        "membrane",
        "lot",
        "unit",
        "criteria",
        "criteria_exception",
        "policy",
        "directory",
    ] {
        let column = if table == "directory" { "subject_id" } else { "organization_id" };
        for sql in [format!("UPDATE {table} SET {column} = {column}"), format!("DELETE FROM {table}")] {
            let refused = client.batch_execute(&sql).await.unwrap_err();
            assert_eq!(refused.code().map(|code| code.code()), Some("42501"), "{sql}: {refused}");
        }
    }
    for sql in [
        "TRUNCATE change",
        "DROP TABLE trial",
        "ALTER TABLE trial DISABLE ROW LEVEL SECURITY",
        "SET ROLE lapwatch_owner",
    ] {
        assert!(client.batch_execute(sql).await.is_err(), "{sql}");
    }
    Ok(())
}

async fn refusal(database: &TestDatabase, login: Config) -> Result<String> {
    let secrets = TestFolder::make()?;
    let mut settings = settings(database, &secrets, 2);
    settings.database = login;
    let started = server::start(&settings, Clock::manual(an_ordinary_noon())).await;
    Ok(format!("{:#}", started.expect_err("the service does not start")))
}

#[tokio::test]
async fn the_service_does_not_start_with_a_login_that_could_see_everything() -> Result<()> {
    let database = TestDatabase::make().await?;
    let owner = refusal(&database, database.owner_config()).await?;
    assert!(owner.contains("an owner of tables") && owner.contains("CREATE ROLE"), "{owner}");
    let superuser = refusal(&database, database.superuser_config()).await?;
    assert!(superuser.contains("a superuser") && superuser.contains("DATABASE_URL"), "{superuser}");

    let client = log_in(&database.superuser_config()).await?;
    let bypassing = format!("bypassing_{}", database.name());
    client
        .batch_execute(&format!(
            "CREATE ROLE {bypassing} LOGIN BYPASSRLS PASSWORD 'x' IN ROLE lapwatch_service"
        ))
        .await?;
    let mut login = database.service_config();
    login.user(&bypassing).password("x");
    let refused = refusal(&database, login).await;
    client.batch_execute(&format!("DROP ROLE {bypassing}")).await?;
    let refused = refused?;
    assert!(refused.contains("allowed to bypass row security"), "{refused}");
    Ok(())
}

/// Roles can be stacked: a login that may become the owner, or a superuser, is no better than that.
#[tokio::test]
async fn nor_with_a_login_that_could_become_one() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.superuser_config()).await?;
    let climbing = format!("climbing_{}", database.name());
    client
        .batch_execute(&format!(
            "CREATE ROLE {climbing} LOGIN PASSWORD 'x' IN ROLE lapwatch_service, lapwatch_owner"
        ))
        .await?;
    let mut login = database.service_config();
    login.user(&climbing).password("x");
    let refused = refusal(&database, login).await;
    client.batch_execute(&format!("DROP ROLE {climbing}")).await?;
    let refused = refused?;
    assert!(refused.contains("owner"), "{refused}");
    Ok(())
}

/// A schema of another version is named, with the command that mends it.
#[tokio::test]
async fn the_service_does_not_start_on_another_schema() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.superuser_config()).await?;
    client
        .batch_execute("DELETE FROM refinery_schema_history WHERE version = (SELECT max(version) FROM refinery_schema_history)")
        .await?;
    let refused = refusal(&database, database.service_config()).await?;
    assert!(refused.contains("lapwatch migrate"), "{refused}");
    client.batch_execute("DROP TABLE refinery_schema_history").await?;
    let refused = refusal(&database, database.service_config()).await?;
    assert!(refused.contains("version 0") && refused.contains("lapwatch migrate"), "{refused}");
    Ok(())
}
