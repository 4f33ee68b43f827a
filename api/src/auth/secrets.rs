//! The service's own secrets: one signing key, one pepper. They live in a folder that only the service can read.

use std::fmt;
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

use hmac::{Hmac, KeyInit, Mac};
use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};

/// Signing seed and pepper; `Debug` shows neither.
#[derive(Clone)]
pub struct Secrets {
    pub(super) signing_seed: [u8; 32],
    pepper: [u8; 32],
}

/// A secrets folder that cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("the secret {path}: {source}")]
pub struct SecretsError {
    path: PathBuf,
    source: io::Error,
}

impl Secrets {
    /// Reads the secrets in `dir`, making those that are missing.
    ///
    /// # Errors
    /// When a file cannot be read or made, or is not 32 bytes long.
    pub fn load_or_create(dir: &Path) -> Result<Self, SecretsError> {
        std::fs::DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(dir)
            .map_err(|source| SecretsError { path: dir.to_owned(), source })?;
        Ok(Self {
            signing_seed: read_or_create(&dir.join("signing.ed25519"))?,
            pepper: read_or_create(&dir.join("pepper"))?,
        })
    }

    /// Fresh secrets that are kept nowhere.
    pub fn ephemeral() -> Self {
        Self { signing_seed: random_bytes(), pepper: random_bytes() }
    }

    /// The directory's key for a sign-in name: HMAC-SHA-256 of its lower-case form (RFC 2104), so that the table that
    /// all organizations share tells nothing by itself.
    pub fn directory_key(&self, sign_in: &str) -> [u8; 32] {
        self.keyed(&[sign_in.trim().to_lowercase().as_bytes()])
    }

    /// What tells a request from others: HMAC-SHA-256 of its address and body. A bare digest of a body that holds a first
    /// password would let whoever reads the table try passwords at leisure.
    pub fn request_digest(&self, path: &str, body: &[u8]) -> [u8; 32] {
        self.keyed(&[b"request\0", path.as_bytes(), b"\0", body])
    }

    fn keyed(&self, parts: &[&[u8]]) -> [u8; 32] {
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.pepper).expect("HMAC takes a key of any length");
        for part in parts {
            mac.update(part);
        }
        mac.finalize().into_bytes().into()
    }
}

impl fmt::Debug for Secrets {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secrets(…)")
    }
}

/// SHA-256 of `bytes` (FIPS 180-4): what identifies received bytes and what is kept of a session's secret.
pub fn digest(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// 32 random bytes of the operating system as 64 hexadecimal digits: for session cookies and first passwords.
pub fn random_secret() -> String {
    random_bytes().iter().map(|byte| format!("{byte:02x}")).collect()
}

fn random_bytes() -> [u8; 32] {
    let mut bytes = [0; 32];
    SysRng.try_fill_bytes(&mut bytes).expect("the operating system gives random bytes");
    bytes
}

fn read_or_create(path: &Path) -> Result<[u8; 32], SecretsError> {
    let at = |source| SecretsError { path: path.to_owned(), source };
    match std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(path) {
        Ok(mut file) => {
            let bytes = random_bytes();
            file.write_all(&bytes).and_then(|()| file.sync_all()).map_err(at)?;
            Ok(bytes)
        }
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => std::fs::read(path)
            .map_err(at)?
            .try_into()
            .map_err(|_| at(io::Error::new(io::ErrorKind::InvalidData, "it is not 32 bytes long"))),
        Err(error) => Err(at(error)),
    }
}
