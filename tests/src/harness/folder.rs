//! Folders that tests write to.

use std::fs;
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use uuid::Uuid;

/// An empty folder of the test's own, removed with its contents when the value is dropped.
#[derive(Debug)]
pub struct TestFolder {
    path: PathBuf,
}

impl TestFolder {
    /// Makes the folder in the system's temporary folder; every user may enter it.
    ///
    /// # Errors
    ///
    /// When it cannot be made.
    pub fn make() -> io::Result<Self> {
        let path = std::env::temp_dir().join(format!("lapwatch-test-{}", Uuid::new_v4().simple()));
        fs::create_dir(&path)?;
        let folder = Self { path };
        fs::set_permissions(&folder.path, fs::Permissions::from_mode(0o755))?;
        Ok(folder)
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The path of something in it.
    #[must_use]
    pub fn join(&self, name: &str) -> PathBuf {
        self.path.join(name)
    }
}

impl Drop for TestFolder {
    fn drop(&mut self) {
        // What stays behind is in the temporary folder, which the system empties.
        fs::remove_dir_all(&self.path).ok();
    }
}
