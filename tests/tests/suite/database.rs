//! The databases that tests are given.

use anyhow::Result;
use lapwatch_tests::harness::TestDatabase;
use tokio_postgres::{Client, Config, NoTls};

async fn log_in(config: &Config) -> Result<Client> {
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}

/// Each test has its own, with the tables in place; the service cannot change them; it goes when the test does.
#[tokio::test]
async fn each_test_has_its_own() -> Result<()> {
    let one = TestDatabase::make().await?;
    let other = TestDatabase::make().await?;
    log_in(&one.owner_config()).await?.batch_execute("CREATE TABLE only_here (n int)").await?;
    let look = "SELECT count(*) FROM pg_class WHERE relname = $1";
    for (database, table, expected) in
        [(&one, "only_here", 1), (&other, "only_here", 0), (&other, "refinery_schema_history", 1)]
    {
        let found: i64 = log_in(&database.service_config()).await?.query_one(look, &[&table]).await?.get(0);
        assert_eq!(found, expected, "{table}");
    }
    let refused =
        log_in(&one.service_config()).await?.batch_execute("DROP TABLE only_here").await.unwrap_err();
    assert_eq!(refused.code().map(|code| code.code()), Some("42501"), "{refused}");

    let name = one.name().to_owned();
    let mut elsewhere = other.superuser_config();
    elsewhere.dbname("postgres");
    let connected = log_in(&one.service_config()).await?;
    drop(one);
    assert!(connected.batch_execute("SELECT").await.is_err(), "whoever was connected is thrown out");
    let left =
        log_in(&elsewhere).await?.query("SELECT FROM pg_database WHERE datname = $1", &[&name]).await?;
    assert!(left.is_empty(), "the database is dropped");
    Ok(())
}
