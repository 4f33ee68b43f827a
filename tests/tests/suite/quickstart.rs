//! What the quick start does once it is built: a stranger's first five minutes, with a small fleet.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use lapwatch_tests::harness::TestFolder;
use serde_json::Value;

use crate::embedded::holder::{user_of, wait_until_gone};

const PROGRAM: &str = env!("CARGO_BIN_EXE_lapwatch-under-test");

/// Two units of one crew over two months: all kinds of records, some seconds to load.
const SMALL: [&str; 8] = ["--units", "2", "--crews", "1", "--months", "2", "--faults", "none"];

struct QuickStart {
    child: Child,
    /// What it printed, up to its last line.
    said: String,
    _out: BufReader<ChildStdout>,
}

impl QuickStart {
    fn start(data: &Path) -> Result<Self> {
        let mut child = Command::new(PROGRAM)
            .args(["serve", "--embedded", "--demo", "--bind", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(SMALL)
            .env_remove("DATABASE_URL")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()?;
        let mut out = BufReader::new(child.stdout.take().context("standard output")?);
        let mut said = String::new();
        while !said.contains("Ctrl-C stops it") {
            let before = said.len();
            out.read_line(&mut said)?;
            if said.len() == before {
                let log = fs::read_to_string(data.join("lapwatch.log")).unwrap_or_default();
                anyhow::bail!("it ended, having said {said:?}; its log:\n{log}");
            }
        }
        Ok(Self { child, said, _out: out })
    }

    /// The value behind a label of the printed list.
    fn printed(&self, label: &str) -> Result<&str> {
        let line = self.said.lines().find_map(|line| line.trim_start().strip_prefix(label));
        Ok(line.with_context(|| format!("{label} in {}", self.said))?.trim())
    }

    /// Ctrl-C.
    fn interrupt(mut self) -> Result<()> {
        let sent = Command::new("kill").args(["-INT", &self.child.id().to_string()]).status()?;
        ensure!(sent.success(), "kill");
        let status = self.child.wait()?;
        ensure!(status.success(), "it ended with {status}");
        Ok(())
    }
}

impl Drop for QuickStart {
    fn drop(&mut self) {
        // Of use only when the test fails half-way.
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

/// Runs the printed line as it stands, with the status added to what it prints.
fn run_printed_line(quick_start: &QuickStart) -> Result<(u16, Value)> {
    let line = quick_start
        .said
        .lines()
        .find(|line| line.trim_start().starts_with("curl "))
        .context("a curl line")?;
    let output = Command::new("sh").args(["-c", &format!("{line} -w '\\n%{{http_code}}'")]).output()?;
    let text = String::from_utf8(output.stdout)?;
    let (body, status) = text.rsplit_once('\n').with_context(|| format!("status in {text:?}"))?;
    Ok((status.parse()?, serde_json::from_str(body)?))
}

/// The server's process id, from the cluster.
fn database_server(data: &Path) -> Result<u32> {
    let noted = fs::read_to_string(data.join("postgres/postmaster.pid"))?;
    Ok(noted.lines().next().context("a process id")?.trim().parse()?)
}

async fn get(url: &str, token: &str) -> Result<(u16, Value)> {
    let reply = reqwest::Client::new().get(url).bearer_auth(token).send().await?;
    Ok((reply.status().as_u16(), reply.json().await?))
}

/// Start, paste the printed line, look at the fleet, Ctrl-C, start again.
#[tokio::test(flavor = "multi_thread")]
async fn strangers_first_five_minutes() -> Result<()> {
    let folder = TestFolder::make()?;
    // A blank in the path: the printed line has to be quoted for the shell.
    let data = folder.join("data folder");
    let first = QuickStart::start(&data)?;
    let (status, answer) = run_printed_line(&first)?;
    assert_eq!(status, 201, "{answer}");
    assert!(answer["band"]["low"]["value"].is_number(), "{answer}");
    assert!(answer["set_point"]["to_set"]["value"].is_number(), "{answer}");
    assert!(answer["standing"]["code"].is_string(), "{answer}");
    let (status, again) = run_printed_line(&first)?;
    assert_eq!((status, &again["duplicate"]), (200, &Value::Bool(true)), "the same line again adds nothing");

    let console = first.printed("Console")?.trim_end_matches('/').to_owned();
    let token = first.printed("Token")?.to_owned();
    let (status, fleet) = get(&format!("{console}/v1/fleet"), &token).await?;
    assert_eq!((status, fleet["units"].as_array().map(Vec::len)), (200, Some(2)), "{fleet}");
    let sign_in =
        serde_json::json!({"sign_in": first.printed("Sign in as")?, "password": first.printed("Password")?});
    let reply =
        reqwest::Client::new().post(format!("{console}/v1/access-tokens")).json(&sign_in).send().await?;
    assert!(reply.status().is_success(), "{}", reply.text().await?);
    let server = database_server(&data)?;
    let password = first.printed("Password")?.to_owned();
    first.interrupt()?;
    assert_eq!(user_of(server), None, "Ctrl-C leaves no process behind");

    let started = Instant::now();
    let second = QuickStart::start(&data)?;
    assert!(started.elapsed() < Duration::from_secs(15), "the second start took {:?}", started.elapsed());
    assert_eq!(second.printed("Password")?, password);
    let console = second.printed("Console")?.trim_end_matches('/').to_owned();
    let id = answer["trial"]["id"].as_str().context("the trial's id")?;
    let (status, kept) = get(&format!("{console}/v1/trials/{id}"), second.printed("Token")?).await?;
    assert_eq!((status, &kept["answer"]["trial"]["digest"]), (200, &answer["trial"]["digest"]), "{kept}");
    let (status, _) = run_printed_line(&second)?;
    assert_eq!(status, 201, "the second start has made a new example");
    second.interrupt()
}

/// Killed in the middle of its first load, it leaves no process, and the next start completes the load.
#[tokio::test(flavor = "multi_thread")]
async fn killed_while_loading() -> Result<()> {
    let folder = TestFolder::make()?;
    let data = folder.join("data");
    let mut child = Command::new(PROGRAM)
        .args(["serve", "--embedded", "--demo", "--bind", "127.0.0.1:0", "--data"])
        .arg(&data)
        .args(SMALL)
        .env_remove("DATABASE_URL")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()?;
    let mut progress = BufReader::new(child.stderr.take().context("standard error")?);
    let mut line = String::new();
    while !line.starts_with("Loading") {
        line.clear();
        ensure!(progress.read_line(&mut line)? > 0, "it ended before it loaded anything");
    }
    let server = database_server(&data)?;
    child.kill()?;
    child.wait()?;
    wait_until_gone(server)?;

    let next = QuickStart::start(&data)?;
    let console = next.printed("Console")?.trim_end_matches('/').to_owned();
    let (status, fleet) = get(&format!("{console}/v1/fleet"), next.printed("Token")?).await?;
    assert_eq!((status, fleet["units"].as_array().map(Vec::len)), (200, Some(2)), "{fleet}");
    next.interrupt()
}
