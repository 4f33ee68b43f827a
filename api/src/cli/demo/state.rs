//! What is remembered of a demo between runs, in a file that only its owner may read.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use chrono::{DateTime, Utc};
use lapwatch_fixtures::Scenario;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::cli::private_file;

const FILE: &str = "demo.json";

/// The demo's sign-in and how far it is loaded.
#[derive(Serialize, Deserialize)]
pub(in crate::cli) struct State {
    /// Name and password of the director.
    pub(in crate::cli) sign_in: String,
    pub(in crate::cli) password: String,
    /// The organization, once it is made.
    pub(in crate::cli) organization: Option<Uuid>,
    /// An app's token, and the address of the service that issued it.
    pub(in crate::cli) token: Option<String>,
    pub(in crate::cli) url: Option<String>,
    /// The load that was begun last.
    pub(in crate::cli) load: Option<Load>,
    #[serde(skip)]
    path: PathBuf,
}

/// A load. It is written down before it begins, so that one that was cut off can be repeated exactly.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(in crate::cli) struct Load {
    /// The scenario in its text form.
    pub(in crate::cli) scenario: String,
    /// Records up to here were loaded before.
    pub(in crate::cli) since: Option<DateTime<Utc>>,
    /// Records up to here belong to it.
    pub(in crate::cli) until: DateTime<Utc>,
    /// Whether all of it was taken.
    pub(in crate::cli) complete: bool,
}

impl State {
    /// Reads what is remembered in a data folder, or begins with a new password.
    pub(in crate::cli) fn open(data: &Path) -> Result<Self> {
        let path = data.join(FILE);
        let mut state = match fs::read(&path) {
            Ok(bytes) => {
                serde_json::from_slice(&bytes).with_context(|| format!("reading {}", path.display()))?
            }
            Err(error) if error.kind() == ErrorKind::NotFound => Self {
                sign_in: "director@saltmarsh.example".to_owned(),
                password: random_password(),
                organization: None,
                token: None,
                url: None,
                load: None,
                path: PathBuf::new(),
            },
            Err(error) => return Err(error).with_context(|| format!("reading {}", path.display())),
        };
        state.path = path;
        Ok(state)
    }

    /// Writes it down.
    pub(in crate::cli) fn save(&self) -> Result<()> {
        if let Some(folder) = self.path.parent() {
            fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
        }
        private_file::write(&self.path, &serde_json::to_vec_pretty(self)?)
    }
}

impl Load {
    /// The first load of a scenario, up to an instant.
    pub(in crate::cli) fn first(scenario: &Scenario, until: DateTime<Utc>) -> Self {
        Self { scenario: scenario.to_string(), since: None, until, complete: false }
    }

    /// The load that continues this one.
    pub(in crate::cli) fn next(&self, until: DateTime<Utc>) -> Self {
        Self { scenario: self.scenario.clone(), since: Some(self.until), until, complete: false }
    }
}

/// Five groups of four digits: 80 bits, short enough to type.
fn random_password() -> String {
    let bytes: [u8; 10] = rand::random();
    let groups =
        bytes.chunks(2).map(|pair| pair.iter().map(|byte| format!("{byte:02x}")).collect::<String>());
    groups.collect::<Vec<_>>().join("-")
}
