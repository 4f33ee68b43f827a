//! The folder that the server's socket is in.
//!
//! A socket's path may have 107 bytes and the data folder's often has more, so the socket gets a short folder of its own under
//! the system's temporary folder, which nobody but the server's user (and root) can enter.

use std::fs::{self, DirBuilder};
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

use super::EmbeddedError;
use super::account::Account;

/// Names the socket; nothing listens on a network port.
pub(super) const PORT: u16 = 5432;

/// The file in the data folder that names the socket folder, for the next start.
const NOTE: &str = "socket";

const PREFIX: &str = "lapwatch-";

/// Exists as long as the server runs; removed with this value.
#[derive(Debug)]
pub(super) struct SocketFolder {
    path: PathBuf,
}

impl SocketFolder {
    /// Makes the folder of this run, and removes that of an earlier run which was killed.
    pub(super) fn make(data_folder: &Path, account: &Account) -> Result<Self, EmbeddedError> {
        let note = data_folder.join(NOTE);
        remove_left_over(&note);
        let path = parent().join(format!("{PREFIX}{:016x}", rand::random::<u64>()));
        // Fails if the name is taken, so nobody can slip in a folder of their own.
        DirBuilder::new().mode(0o700).create(&path).map_err(EmbeddedError::folder("make", &path))?;
        let folder = Self { path };
        account.give(&folder.path)?;
        fs::write(&note, folder.path.as_os_str().as_encoded_bytes())
            .map_err(EmbeddedError::folder("write", &note))?;
        Ok(folder)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for SocketFolder {
    fn drop(&mut self) {
        // An empty folder left behind does no harm, and the next start tries again.
        fs::remove_dir_all(&self.path).ok();
    }
}

/// `/tmp` where there is one, because the personal temporary folder may be long, or closed to the server's user.
fn parent() -> PathBuf {
    let tmp = PathBuf::from("/tmp");
    if tmp.is_dir() { tmp } else { std::env::temp_dir() }
}

/// The note is a file that somebody might have changed: only a folder of our making, holding nothing but sockets, goes.
fn remove_left_over(note: &Path) {
    let Ok(text) = fs::read_to_string(note) else { return };
    let path = PathBuf::from(text.trim());
    let ours = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(PREFIX));
    if !ours || path.parent() != Some(&parent()) {
        return;
    }
    for entry in fs::read_dir(&path).into_iter().flatten().flatten() {
        if entry.file_name().to_string_lossy().starts_with(".s.PGSQL.") {
            fs::remove_file(entry.path()).ok();
        }
    }
    fs::remove_dir(&path).ok();
}
