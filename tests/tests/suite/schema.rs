//! The schema: every statement fits it, every key keeps tenants apart.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use lapwatch_tests::harness::TestDatabase;
use tokio_postgres::{Client, Config, NoTls};

async fn log_in(config: &Config) -> Result<Client> {
    let (client, connection) = config.connect(NoTls).await?;
    tokio::spawn(connection);
    Ok(client)
}

fn files_below(folder: &Path, extension: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
        let path = entry.expect("an entry can be read").path();
        if path.is_dir() {
            found.extend(files_below(&path, extension));
        } else if path.extension().is_some_and(|found| found == extension) {
            found.push(path);
        }
    }
    found.sort();
    found
}

fn storage() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../api/src/storage")
}

/// The string literals of a Rust file that are statements.
fn statements(source: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = source;
    while let Some(start) = rest.find('"') {
        rest = &rest[start + 1..];
        let mut text = String::new();
        let mut characters = rest.char_indices();
        let mut end = rest.len();
        while let Some((place, character)) = characters.next() {
            match character {
                '"' => {
                    end = place;
                    break;
                }
                // A line that is continued, a quote, a line feed.
                '\\' => match characters.next() {
                    Some((_, '\n')) => text.push(' '),
                    Some((_, escaped)) => text.push(if escaped == 'n' { '\n' } else { escaped }),
                    None => break,
                },
                other => text.push(other),
            }
        }
        rest = rest.get(end + 1..).unwrap_or_default();
        if ["SELECT ", "INSERT INTO ", "UPDATE ", "DELETE FROM ", "WITH "]
            .iter()
            .any(|verb| text.starts_with(verb))
        {
            found.push(text);
        }
    }
    found
}

/// A statement that does not fit the schema fails here and not on a roof.
#[tokio::test]
async fn every_statement_is_accepted_by_the_migrated_schema() -> Result<()> {
    let database = TestDatabase::make().await?;
    let service = log_in(&database.service_config()).await?;
    let files = files_below(&storage(), "sql");
    assert!(files.len() >= 40, "{} files", files.len());
    let mut sources = 0;
    for file in &files {
        let sql = std::fs::read_to_string(file)?;
        service.prepare(&sql).await.with_context(|| file.display().to_string())?;
        let name = file.file_name().and_then(|name| name.to_str()).context("a name")?;
        let owner = file.parent().context("a folder")?.with_extension("rs");
        let source = std::fs::read_to_string(&owner)?;
        let sibling = files_below(file.parent().context("a folder")?, "rs");
        let used = source.contains(&format!("/{name}\""))
            || sibling
                .iter()
                .any(|sibling| std::fs::read_to_string(sibling).is_ok_and(|text| text.contains(name)));
        assert!(used, "{} is run by nobody", file.display());
    }
    for file in files_below(&storage(), "rs") {
        for sql in statements(&std::fs::read_to_string(&file)?) {
            service.prepare(&sql).await.with_context(|| format!("{}: {sql}", file.display()))?;
            sources += 1;
        }
    }
    assert!(sources >= 10, "only {sources} statements were found in sources");
    Ok(())
}

/// Tables whose keys do not begin with the organization.
const EXEMPT: [&str; 2] = ["directory", "refinery_schema_history"];

/// A key that is unique over all organizations would tell one about another, and could not be distributed.
#[tokio::test]
async fn every_key_begins_with_the_organization() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.superuser_config()).await?;
    let sql = "SELECT c.relname::text, i.indexrelid::regclass::text, a.attname::text
               FROM pg_index i
               JOIN pg_class c ON c.oid = i.indrelid AND c.relnamespace = 'public'::regnamespace
               LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum = i.indkey[0]";
    let mut checked = 0;
    for row in client.query(sql, &[]).await? {
        let (table, index, first): (&str, &str, Option<&str>) = (row.get(0), row.get(1), row.get(2));
        if !EXEMPT.contains(&table) {
            assert_eq!(first, Some("organization_id"), "{index} of {table}");
            checked += 1;
        }
    }
    assert!(checked >= 30, "{checked} indexes");

    let sql = "SELECT conrelid::regclass::text, conname::text, a.attname::text
               FROM pg_constraint JOIN pg_attribute a ON a.attrelid = conrelid AND a.attnum = conkey[1]
               WHERE contype = 'f'";
    for row in client.query(sql, &[]).await? {
        let (table, key, first): (&str, &str, &str) = (row.get(0), row.get(1), row.get(2));
        assert_eq!(first, "organization_id", "{key} of {table}");
    }
    Ok(())
}

/// Nothing that happens behind a statement's back, and nothing that a distributed database would refuse.
#[tokio::test]
async fn there_are_no_triggers_and_no_sequences() -> Result<()> {
    let database = TestDatabase::make().await?;
    let client = log_in(&database.superuser_config()).await?;
    let triggers = client.query("SELECT tgname::text FROM pg_trigger WHERE NOT tgisinternal", &[]).await?;
    assert!(triggers.is_empty(), "{triggers:?}");
    let sql =
        "SELECT relname::text FROM pg_class WHERE relkind = 'S' AND relnamespace = 'public'::regnamespace";
    let sequences = client.query(sql, &[]).await?;
    assert!(sequences.is_empty(), "{sequences:?}");
    let functions = client
        .query(
            "SELECT proname::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace AND prosecdef",
            &[],
        )
        .await?;
    assert!(functions.is_empty(), "functions that run with their owner's rights: {functions:?}");
    Ok(())
}
