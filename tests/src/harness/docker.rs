//! PostgreSQL from a container image.

use std::env;
use std::fmt;
use std::process::{Command, Stdio};
use std::time::Duration;

use anyhow::{Context, Result, bail};
use testcontainers::core::{IntoContainerPort, WaitFor};
use testcontainers::runners::AsyncRunner;
use testcontainers::{ContainerAsync, GenericImage, ImageExt};
use tokio::time::{Instant, sleep};
use tokio_postgres::{Config, NoTls};

use super::at_exit::AtExit;

/// Names another image than the official one; it has to be used like that.
const VARIABLE: &str = "LAPWATCH_TEST_IMAGE";
const OFFICIAL: &str = "postgres:17";

/// How long `auto` waits for an image before it takes the local server.
const PULL_PATIENCE: Duration = Duration::from_secs(30);
const START_PATIENCE: Duration = Duration::from_secs(60);

/// The port inside the container.
const PORT: u16 = 5432;

/// An image that is used like the official one of PostgreSQL.
#[derive(Debug)]
pub(super) struct Image {
    name: String,
    tag: String,
}

/// Keeps the container, and removes it when this process has ended.
#[derive(Debug)]
pub(super) struct Running {
    _container: ContainerAsync<GenericImage>,
    _at_exit: AtExit,
}

impl Image {
    /// The image that the environment names, or the official one.
    pub(super) fn from_environment() -> Self {
        Self::parse(&env::var(VARIABLE).unwrap_or_else(|_| OFFICIAL.to_owned()))
    }

    /// The tag is what follows the last colon, unless that is the port of the image's host.
    fn parse(text: &str) -> Self {
        match text.rsplit_once(':') {
            Some((name, tag)) if !tag.contains('/') => Self { name: name.to_owned(), tag: tag.to_owned() },
            _ => Self { name: text.to_owned(), tag: "latest".to_owned() },
        }
    }

    /// Whether Docker runs here and has the image or gets it soon; and why, or why not.
    pub(super) async fn is_at_hand(&self) -> Result<String, String> {
        if !docker(&["info"], Duration::from_secs(10)).await {
            return Err("Docker does not answer".to_owned());
        }
        let name = self.to_string();
        if docker(&["image", "inspect", &name], Duration::from_secs(10)).await {
            return Ok("Docker runs and has the image".to_owned());
        }
        if docker(&["pull", "--quiet", &name], PULL_PATIENCE).await {
            return Ok("Docker runs and has pulled the image".to_owned());
        }
        Err(format!(
            "Docker runs, but the image {name} did not come within {} seconds",
            PULL_PATIENCE.as_secs()
        ))
    }

    /// Starts a container whose superuser has this password, and waits until it answers.
    pub(super) async fn start(&self, password: &str) -> Result<(Config, Running)> {
        let container = GenericImage::new(&self.name, &self.tag)
            .with_exposed_port(PORT.tcp())
            .with_wait_for(WaitFor::message_on_stderr("database system is ready to accept connections"))
            .with_env_var("POSTGRES_PASSWORD", password)
            .with_startup_timeout(START_PATIENCE)
            // As many connections as the private server allows.
            .with_cmd(["postgres", "-c", "max_connections=200"])
            .start()
            .await
            .with_context(|| format!("starting the image {self}"))?;
        let at_exit = AtExit::run("docker rm --force --volumes \"$1\"", &[container.id()])?;
        let mut config = Config::new();
        config
            .host(container.get_host().await?.to_string())
            .port(container.get_host_port_ipv4(PORT).await?)
            .user("postgres")
            .password(password)
            .dbname("postgres");
        wait_until_it_answers(&config).await?;
        Ok((config, Running { _container: container, _at_exit: at_exit }))
    }
}

impl fmt::Display for Image {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.name, self.tag)
    }
}

/// The official image says that it is ready while it still runs its first scripts, and then restarts.
async fn wait_until_it_answers(config: &Config) -> Result<()> {
    let deadline = Instant::now() + START_PATIENCE;
    loop {
        match config.connect(NoTls).await {
            Ok(_) => return Ok(()),
            Err(error) if Instant::now() >= deadline => bail!("the container does not answer: {error}"),
            Err(_) => sleep(Duration::from_millis(50)).await,
        }
    }
}

/// Whether a Docker command succeeds in time.
async fn docker(arguments: &[&str], patience: Duration) -> bool {
    let mut command = Command::new("docker");
    command.args(arguments).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let Ok(mut child) = command.spawn() else { return false };
    let deadline = Instant::now() + patience;
    loop {
        match child.try_wait() {
            Ok(Some(status)) => return status.success(),
            Ok(None) if Instant::now() < deadline => sleep(Duration::from_millis(20)).await,
            _ => {
                // It may have ended just now; either way there is nothing left to wait for.
                child.kill().ok();
                child.wait().ok();
                return false;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn image_names_with_and_without_tag_and_port() {
        for (text, name, tag) in [
            ("postgres:17", "postgres", "17"),
            ("postgres", "postgres", "latest"),
            ("images.example:5000/team/postgres", "images.example:5000/team/postgres", "latest"),
            ("images.example:5000/team/postgres:16", "images.example:5000/team/postgres", "16"),
        ] {
            let image = Image::parse(text);
            assert_eq!((image.name.as_str(), image.tag.as_str()), (name, tag), "{text}");
        }
    }
}
