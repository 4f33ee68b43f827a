//! Where PostgreSQL's programs are.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::EmbeddedError;

/// The oldest major version that the migrations work on: they use views with the caller's rights, which came with 15.
const OLDEST: u32 = 15;

/// Folders of versions, as distributions lay them out: `<folder>/<version>/bin`, or the version in the name.
const VERSION_FOLDERS: [&str; 4] =
    ["/usr/lib/postgresql", "/usr/local/lib/postgresql", "/opt/postgresql", "/usr/local/opt"];

/// Folders that hold the programs themselves.
const PLAIN_FOLDERS: [&str; 7] = [
    "/usr/bin",
    "/usr/local/bin",
    "/usr/local/pgsql/bin",
    "/usr/lib/postgresql/bin",
    "/usr/libexec/postgresql",
    "/opt/homebrew/bin",
    "/Applications/Postgres.app/Contents/Versions/latest/bin",
];

/// One installed PostgreSQL server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Installation {
    /// Its major version.
    version: u32,
    folder: PathBuf,
}

impl Installation {
    /// Finds the installation to use: the one that made the cluster if there is one; otherwise the first in `PATH` that is new
    /// enough, or else the newest found in the usual places.
    pub(super) fn find(cluster_version: Option<u32>) -> Result<Self, EmbeddedError> {
        let folders = candidate_folders();
        let found: Vec<Self> = folders.iter().filter_map(|folder| Self::at(folder)).collect();
        choose(found, cluster_version, &folders)
    }

    pub(super) fn initdb(&self) -> PathBuf {
        self.folder.join("initdb")
    }

    pub(super) fn postgres(&self) -> PathBuf {
        self.folder.join("postgres")
    }

    /// The installation whose programs are in a folder. Links are followed first: `initdb` finds its companions by the folder it
    /// is really in, and a link in `PATH` may stand alone.
    fn at(folder: &Path) -> Option<Self> {
        let initdb = fs::canonicalize(folder.join("initdb")).ok()?;
        let folder = initdb.parent()?.to_owned();
        let output = Command::new(folder.join("postgres")).arg("--version").output().ok()?;
        let version = major_version(&String::from_utf8(output.stdout).ok()?)?;
        Some(Self { version, folder })
    }
}

fn choose(
    found: Vec<Installation>,
    cluster_version: Option<u32>,
    folders: &[PathBuf],
) -> Result<Installation, EmbeddedError> {
    let Some(newest) = found.iter().map(|one| one.version).max() else {
        let searched =
            folders.iter().map(|folder| folder.display().to_string()).collect::<Vec<_>>().join(", ");
        return Err(EmbeddedError::NotInstalled { searched });
    };
    if let Some(made_by) = cluster_version {
        let installed: BTreeSet<u32> = found.iter().map(|one| one.version).collect();
        return found.into_iter().find(|one| one.version == made_by).ok_or_else(|| {
            EmbeddedError::OtherVersion {
                made_by,
                installed: installed.iter().map(u32::to_string).collect::<Vec<_>>().join(", "),
            }
        });
    }
    found
        .into_iter()
        .find(|one| one.version >= OLDEST)
        .ok_or(EmbeddedError::TooOld { found: newest, needed: OLDEST })
}

/// `PATH` first, then the usual places, newest version first.
fn candidate_folders() -> Vec<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut folders: Vec<PathBuf> =
        std::env::split_paths(&path).filter(|folder| folder.is_absolute()).collect();
    for parent in VERSION_FOLDERS {
        let mut versions: Vec<(u32, PathBuf)> = fs::read_dir(parent)
            .into_iter()
            .flatten()
            .filter_map(|entry| {
                let path = entry.ok()?.path();
                let name = path.file_name()?.to_str()?;
                let version = name.strip_prefix("postgresql@").unwrap_or(name).parse().ok()?;
                Some((version, path.join("bin")))
            })
            .collect();
        versions.sort_by(|a, b| b.cmp(a));
        folders.extend(versions.into_iter().map(|(_, folder)| folder));
    }
    folders.extend(PLAIN_FOLDERS.map(PathBuf::from));
    let mut seen = BTreeSet::new();
    folders.retain(|folder| seen.insert(folder.clone()));
    folders
}

/// The major version in what `postgres --version` prints, such as `postgres (PostgreSQL) 15.18 (Debian 15.18-0)`.
fn major_version(text: &str) -> Option<u32> {
    let number = text.split(')').nth(1)?.trim_start();
    let digits = number.find(|c: char| !c.is_ascii_digit()).map_or(number, |end| &number[..end]);
    digits.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn installed(version: u32) -> Installation {
        Installation { version, folder: PathBuf::from(format!("/somewhere/{version}/bin")) }
    }

    #[test]
    fn version_is_read_from_the_programs_words() {
        assert_eq!(major_version("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)\n"), Some(15));
        assert_eq!(major_version("postgres (PostgreSQL) 18beta1\n"), Some(18));
        assert_eq!(major_version("postgres: command not found\n"), None);
    }

    #[test]
    fn first_found_that_is_new_enough_makes_a_new_cluster() {
        let chosen = choose(vec![installed(13), installed(16), installed(17)], None, &[]).unwrap();
        assert_eq!(chosen.version, 16);
    }

    #[test]
    fn an_existing_cluster_keeps_its_version() {
        let chosen = choose(vec![installed(17), installed(15)], Some(15), &[]).unwrap();
        assert_eq!(chosen.version, 15);
        let refused = choose(vec![installed(17), installed(16)], Some(15), &[]).unwrap_err().to_string();
        assert!(refused.contains("PostgreSQL 15") && refused.contains("16, 17"), "{refused}");
    }

    #[test]
    fn old_and_missing_are_told_apart() {
        assert!(matches!(
            choose(vec![installed(13)], None, &[]),
            Err(EmbeddedError::TooOld { found: 13, .. })
        ));
        let refused = choose(vec![], None, &[PathBuf::from("/usr/bin")]).unwrap_err().to_string();
        assert!(refused.contains("/usr/bin") && refused.contains("apt-get install postgresql"), "{refused}");
    }
}
