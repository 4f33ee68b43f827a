//! The passwords of the cluster's logins. They are random, made once, and kept in a file that only its owner can read.

use std::fmt;
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::EmbeddedError;

const FILE: &str = "secrets.json";

/// Passwords of the superuser, the owner and the service.
#[derive(Clone, Serialize, Deserialize)]
pub struct Secrets {
    superuser: String,
    owner: String,
    service: String,
}

impl Secrets {
    /// New random passwords, of 192 bits each.
    #[must_use]
    pub fn random() -> Self {
        Self { superuser: random_password(), owner: random_password(), service: random_password() }
    }

    /// The password of the cluster's superuser.
    #[must_use]
    pub fn superuser(&self) -> &str {
        &self.superuser
    }

    /// The password of the login that owns the tables.
    #[must_use]
    pub fn owner(&self) -> &str {
        &self.owner
    }

    /// The password of the service's login.
    #[must_use]
    pub fn service(&self) -> &str {
        &self.service
    }

    /// Reads the passwords, or makes them when there is no cluster yet that they would have to fit.
    pub(super) fn load_or_make(folder: &Path, cluster_exists: bool) -> Result<Self, EmbeddedError> {
        let path = folder.join(FILE);
        let read = fs::read(&path)
            .map_err(|error| error.to_string())
            .and_then(|bytes| serde_json::from_slice(&bytes).map_err(|error| error.to_string()));
        match read {
            Ok(secrets) => Ok(secrets),
            Err(why) if cluster_exists => Err(EmbeddedError::SecretsLost { path, why }),
            Err(_) => {
                let secrets = Self::random();
                secrets.write(&path).map_err(EmbeddedError::folder("write", &path))?;
                Ok(secrets)
            }
        }
    }

    /// On disk before the cluster is, so that a cluster without passwords cannot come about.
    fn write(&self, path: &Path) -> std::io::Result<()> {
        let mut file = OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(path)?;
        file.write_all(&serde_json::to_vec_pretty(self)?)?;
        file.sync_all()
    }
}

impl fmt::Debug for Secrets {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secrets(not shown)")
    }
}

fn random_password() -> String {
    rand::random::<[u8; 24]>().iter().map(|byte| format!("{byte:02x}")).collect()
}
