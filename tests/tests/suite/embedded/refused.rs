//! What is refused, and whether the message helps.

use std::fs;

use anyhow::Result;
use lapwatch_api::embedded::{Embedded, EmbeddedError};
use lapwatch_tests::harness::TestFolder;

use super::holder::Holder;

/// Two services on one folder would ruin it.
#[tokio::test]
async fn second_service_on_the_same_folder() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let holder = Holder::start(&data)?;
    let refused = Embedded::start(&data).await.expect_err("the folder is in use").to_string();
    assert!(refused.contains("in use") && refused.contains("--data"), "{refused}");
    holder.stop()?;
    Embedded::start(&data).await?.stop().await?;
    Ok(())
}

/// A cluster whose passwords are gone is not silently replaced.
#[tokio::test]
async fn lost_passwords() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    Embedded::start(&data).await?.stop().await?;
    fs::remove_file(data.join("secrets.json"))?;
    let refused = Embedded::start(&data).await.expect_err("the passwords are gone");
    assert!(matches!(refused, EmbeddedError::SecretsLost { .. }), "{refused}");
    assert!(refused.to_string().contains("backup"), "{refused}");
    assert!(data.join("postgres/PG_VERSION").exists(), "the data stay");
    Ok(())
}

/// Data of a PostgreSQL that is not installed are left alone.
#[tokio::test]
async fn cluster_of_another_version() -> Result<()> {
    let folder = TestFolder::make()?;
    let cluster = folder.join("data/postgres");
    fs::create_dir_all(&cluster)?;
    fs::write(cluster.join("PG_VERSION"), "9\n")?;
    let refused = Embedded::start(&folder.join("data")).await.expect_err("version 9 is not installed");
    assert!(matches!(refused, EmbeddedError::OtherVersion { made_by: 9, .. }), "{refused}");
    Ok(())
}

/// A file where the folder should be.
#[tokio::test]
async fn folder_that_cannot_be_made() -> Result<()> {
    let folder = TestFolder::make()?;
    let file = folder.join("file");
    fs::write(&file, "")?;
    let refused = Embedded::start(&file.join("data")).await.expect_err("a file is in the way").to_string();
    assert!(refused.contains("could not make") && refused.contains("--data"), "{refused}");
    Ok(())
}
