//! One Chromium for all browser tests of a process run.

use std::io::{BufRead, BufReader};
use std::os::unix::process::CommandExt;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result, ensure};
use thirtyfour::{ChromiumLikeCapabilities, DesiredCapabilities, WebDriver};

use super::TestFolder;

/// As root Chromium needs `--no-sandbox`; the others keep it from talking to anybody but the service.
const ARGUMENTS: [&str; 11] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1280,1000",
    // Whatever a page asks for elsewhere is not found, and the test sees that it asked.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
];

/// A browser with a fresh profile. It ends with this value.
#[derive(Debug)]
pub struct Browser {
    /// What steers it.
    pub driver: WebDriver,
    chromedriver: Child,
    _profile: TestFolder,
}

impl Browser {
    /// Starts Chromium's driver on a free port, and Chromium through it.
    ///
    /// # Errors
    ///
    /// When either is not installed or does not start.
    pub async fn start() -> Result<Self> {
        let mut chromedriver = Command::new("chromedriver")
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            // A group of its own, so that the browser ends with its driver.
            .process_group(0)
            .spawn()
            .context("starting `chromedriver`; `tests/run` installs it")?;
        let port = port_of(&mut chromedriver);
        let profile = TestFolder::make()?;
        let driver = match port {
            Ok(port) => connect(port, &profile).await,
            Err(error) => Err(error),
        };
        match driver {
            Ok(driver) => Ok(Self { driver, chromedriver, _profile: profile }),
            Err(error) => {
                end(&mut chromedriver);
                Err(error)
            }
        }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        end(&mut self.chromedriver);
    }
}

async fn connect(port: u16, profile: &TestFolder) -> Result<WebDriver> {
    let mut capabilities = DesiredCapabilities::chrome();
    for argument in ARGUMENTS {
        capabilities.add_arg(argument)?;
    }
    capabilities.add_arg(&format!("--user-data-dir={}", profile.path().display()))?;
    WebDriver::new(format!("http://127.0.0.1:{port}"), capabilities).await.context("starting Chromium")
}

/// The port that the driver says it has taken.
fn port_of(chromedriver: &mut Child) -> Result<u16> {
    let output = chromedriver.stdout.take().context("standard output")?;
    let mut lines = BufReader::new(output).lines();
    let port = loop {
        let line = lines.next().context("the driver ended before it named its port")??;
        if let Some((_, port)) = line.split_once("started successfully on port ") {
            break port.trim_end_matches('.').parse()?;
        }
    };
    ensure!(port != 0, "the driver named no port");
    // What it goes on to say is read by nobody; a full pipe would stop it.
    std::thread::spawn(move || lines.for_each(drop));
    Ok(port)
}

/// Ends a driver and the browsers that it started.
fn end(chromedriver: &mut Child) {
    let group = format!("-{}", chromedriver.id());
    // If it has ended by itself there is nothing left to do.
    Command::new("kill").args(["-TERM", "--", &group]).stderr(Stdio::null()).status().ok();
    chromedriver.wait().ok();
}
