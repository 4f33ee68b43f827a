//! As whom the server runs, and how it gets at its files.
//!
//! An ordinary user's server runs as that user, with plain paths. Root's runs as another user, who may have no right to walk to
//! the data folder; it gets the folder as an open descriptor instead. On Linux `/proc/self/fd/N` leads straight to the open
//! folder, so only the folder itself needs to be the server's, not the way to it. PostgreSQL enters its data folder once
//! and uses relative paths from then on, and its children inherit the descriptor.

use std::fs::{self, File};
use std::io;
use std::os::fd::AsRawFd;
use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::EmbeddedError;

/// The user that PostgreSQL packages make for the server.
const SYSTEM_USER: &str = "postgres";

/// The user and group that the server's programs run as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Account {
    /// As ourselves: we are an ordinary user.
    Ourselves,
    /// We are root, and the server is this user.
    Other { uid: u32, gid: u32 },
}

impl Account {
    /// The account that the cluster belongs to if it exists, and otherwise the one that should own it.
    pub(super) fn for_cluster(cluster: &Path) -> Result<Self, EmbeddedError> {
        if !rustix::process::geteuid().is_root() {
            return Ok(Self::Ourselves);
        }
        if let Ok(owner) = fs::metadata(cluster)
            && owner.uid() != 0
        {
            return Ok(Self::Other { uid: owner.uid(), gid: owner.gid() });
        }
        let (uid, gid) = system_user().ok_or(EmbeddedError::NoAccount)?;
        Ok(Self::Other { uid, gid })
    }

    /// Gives a file or folder to the account, readable by nobody else.
    pub(super) fn give(self, path: &Path) -> Result<(), EmbeddedError> {
        make_private(path)?;
        if let Self::Other { uid, gid } = self {
            chown(path, Some(uid), Some(gid)).map_err(EmbeddedError::folder("give away", path))?;
        }
        Ok(())
    }

    /// Opens a folder for the account's programs, which may not be able to walk to it.
    pub(super) fn share(self, folder: &Path) -> Result<SharedFolder, EmbeddedError> {
        if self == Self::Ourselves {
            return Ok(SharedFolder { open: None, path: folder.to_owned() });
        }
        let open = File::open(folder).map_err(EmbeddedError::folder("open", folder))?;
        let path = PathBuf::from(format!("/proc/self/fd/{}", open.as_raw_fd()));
        if !path.exists() {
            return Err(EmbeddedError::Unreachable { folder: folder.to_owned() });
        }
        Ok(SharedFolder { open: Some(open), path })
    }

    /// Makes a program run as the account, from a folder that every user can enter, in the C locale, in a process group of its own
    /// (so that Ctrl-C in a terminal reaches us alone, and we end the server when we are ready), and ended by an interrupt
    /// when the thread that starts it ends.
    pub(super) fn apply(self, command: &mut Command, shared: SharedFolder) {
        command.current_dir("/").process_group(0).env("LC_ALL", "C");
        // Settings of the caller's own database tools are no business of this server's.
        for name in ["PGDATA", "PGHOST", "PGPORT", "PGUSER", "PGDATABASE", "PGPASSWORD", "PGOPTIONS"] {
            command.env_remove(name);
        }
        if let Self::Other { uid, gid } = self {
            // `uid` also drops the supplementary groups, and does all of it before the hook below; the order matters,
            // because the kernel forgets the death signal when the user changes.
            command.uid(uid).gid(gid);
        }
        let parent = rustix::process::getpid();
        let hook = move || {
            if let Some(folder) = &shared.open {
                rustix::io::fcntl_setfd(folder, rustix::io::FdFlags::empty())?;
            }
            end_with_parent(parent)
        };
        // SAFETY: between fork and exec only async-signal-safe calls are allowed. The hook makes plain system calls on values
        // that were made before the fork; it neither allocates nor takes a lock.
        #[expect(unsafe_code, reason = "the hook that runs in the child before exec has no safe form")]
        unsafe {
            command.pre_exec(hook);
        }
    }
}

/// A folder, and the name by which the account's programs reach it. It has to live until they have started.
#[derive(Debug)]
pub(super) struct SharedFolder {
    open: Option<File>,
    path: PathBuf,
}

impl SharedFolder {
    /// The name to give to the program.
    pub(super) fn path(&self) -> PathBuf {
        self.path.clone()
    }
}

/// Asks the kernel to interrupt this process when its parent ends. An interrupt makes PostgreSQL write everything and end.
#[cfg(target_os = "linux")]
fn end_with_parent(parent: rustix::process::Pid) -> io::Result<()> {
    rustix::process::set_parent_process_death_signal(Some(rustix::process::Signal::INT))?;
    // The parent may have ended before the line above took effect.
    if rustix::process::getppid() != Some(parent) {
        return Err(io::ErrorKind::Interrupted.into());
    }
    Ok(())
}

/// Elsewhere the server outlives a killed parent; the next start ends it.
#[cfg(not(target_os = "linux"))]
fn end_with_parent(_parent: rustix::process::Pid) -> io::Result<()> {
    Ok(())
}

/// Takes all rights from everybody but the owner.
pub(super) fn make_private(path: &Path) -> Result<(), EmbeddedError> {
    let mode = if path.is_dir() { 0o700 } else { 0o600 };
    fs::set_permissions(path, fs::Permissions::from_mode(mode))
        .map_err(EmbeddedError::folder("protect", path))
}

/// The ids of the system's PostgreSQL user, asked of `id`, which knows every source of users that the system has.
fn system_user() -> Option<(u32, u32)> {
    let ask = |flag| {
        let output = Command::new("id").args([flag, SYSTEM_USER]).output().ok()?;
        String::from_utf8(output.stdout).ok()?.trim().parse().ok()
    };
    Some((ask("-u")?, ask("-g")?))
}
