//! The lock that keeps two services off one data folder.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::Path;

use super::EmbeddedError;

const FILE: &str = "lock";

/// Held for as long as the data folder is in use. The kernel gives it up when the process ends, however it ends, so there
/// are no stale ones.
#[derive(Debug)]
pub(super) struct FolderLock {
    file: File,
}

impl FolderLock {
    pub(super) fn take(folder: &Path) -> Result<Self, EmbeddedError> {
        let path = folder.join(FILE);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(EmbeddedError::folder("open", &path))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                // Only for the message, so failing to read it is no reason to say something else.
                file.read_to_string(&mut holder).ok();
                return Err(EmbeddedError::InUse {
                    folder: folder.to_owned(),
                    holder: holder.trim().parse().ok(),
                });
            }
            Err(TryLockError::Error(source)) => return Err(EmbeddedError::folder("lock", &path)(source)),
        }
        let note = |file: &mut File| {
            file.set_len(0)?;
            file.rewind()?;
            writeln!(file, "{}", std::process::id())
        };
        note(&mut file).map_err(EmbeddedError::folder("write", &path))?;
        Ok(Self { file })
    }
}

impl Drop for FolderLock {
    /// Closing the file would not do: a child that is just being started holds it open too, up to its `exec`.
    fn drop(&mut self) {
        // Should it fail, the kernel gives the lock up with the last of those.
        self.file.unlock().ok();
    }
}
