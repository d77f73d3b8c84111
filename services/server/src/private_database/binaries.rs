//! Where the Postgres binaries are, and of which version.

use super::PrivateError;
use super::account::Account;
use std::path::{Path, PathBuf};

/// The oldest major version that the server is tested with.
pub const LEAST_MAJOR: u32 = 15;

/// One installed Postgres.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Binaries {
    /// The directory that holds them.
    pub directory: PathBuf,
    /// Their major version.
    pub major: u32,
}

impl Binaries {
    /// The path of one of them.
    pub fn tool(&self, name: &str) -> PathBuf {
        self.directory.join(name)
    }

    /// The binaries for a cluster that was written by `written`, or the newest for a new one.
    pub async fn find(
        configured: Option<&Path>,
        cluster: &Path,
        written: Option<&str>,
        account: &Account,
    ) -> Result<Self, PrivateError> {
        let found = match configured {
            Some(directory) => vec![Self::at(directory, account).await?],
            None => Self::installed(account).await?,
        };
        choose(found, cluster, written)
    }

    async fn installed(account: &Account) -> Result<Vec<Self>, PrivateError> {
        let mut found = Vec::new();
        for directory in candidates("postgres") {
            if let Ok(binaries) = Self::at(&directory, account).await {
                found.push(binaries);
            }
        }
        if found.is_empty() {
            let looked = "/usr/lib/postgresql/*/bin, /usr/pgsql-*/bin and PATH".to_owned();
            return Err(PrivateError::NoBinaries { least: LEAST_MAJOR, looked });
        }
        Ok(found)
    }

    async fn at(directory: &Path, account: &Account) -> Result<Self, PrivateError> {
        let bad = |why: String| PrivateError::BadBinaries { path: directory.to_path_buf(), why };
        for tool in ["initdb", "psql"] {
            if !directory.join(tool).is_file() {
                return Err(bad(format!("there is no {tool}")));
            }
        }
        let output = account.command(&directory.join("postgres")).arg("--version").output().await;
        let said = output.map_err(|fault| bad(format!("postgres: {fault}")))?.stdout;
        let said = String::from_utf8_lossy(&said).trim().to_owned();
        let major = major_of(&said).ok_or_else(|| bad(format!("postgres --version says {said:?}")))?;
        Ok(Self { directory: directory.to_path_buf(), major })
    }
}

/// The first number in what `postgres --version` says.
pub(crate) fn major_of(said: &str) -> Option<u32> {
    let version = said.split_whitespace().find(|word| word.starts_with(|c: char| c.is_ascii_digit()))?;
    let digits: String = version.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().ok()
}

fn choose(mut found: Vec<Binaries>, cluster: &Path, written: Option<&str>) -> Result<Binaries, PrivateError> {
    found.sort_by_key(|binaries| std::cmp::Reverse(binaries.major));
    let versions = found.iter().map(|b| b.major.to_string()).collect::<Vec<_>>().join(", ");
    if let Some(written) = written {
        return found.into_iter().find(|b| b.major.to_string() == written).ok_or_else(|| {
            PrivateError::VersionDiffers { data: cluster.to_path_buf(), written: written.to_owned(), found: versions }
        });
    }
    found.into_iter().find(|b| b.major >= LEAST_MAJOR).ok_or_else(|| PrivateError::NoBinaries {
        least: LEAST_MAJOR,
        looked: format!("directories that hold versions {versions}"),
    })
}

/// Directories that hold a program: the usual ones of packages first, then whatever is on the path.
pub(crate) fn candidates(program: &str) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for (parent, prefix, suffix) in [("/usr/lib/postgresql", "", "bin"), ("/usr", "pgsql-", "bin")] {
        for entry in std::fs::read_dir(parent).into_iter().flatten().flatten() {
            if entry.file_name().to_string_lossy().starts_with(prefix) {
                all.push(entry.path().join(suffix));
            }
        }
    }
    let path = std::env::var_os("PATH").unwrap_or_default();
    all.extend(std::env::split_paths(&path));
    all.retain(|directory| directory.join(program).is_file());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn binaries(major: u32) -> Binaries {
        Binaries { directory: format!("/somewhere/{major}").into(), major }
    }

    // The forms are those that the vendor's, Debian's and a development build print.
    #[test]
    fn the_version_is_read_from_what_postgres_says() {
        assert_eq!(major_of("postgres (PostgreSQL) 15.18 (Debian 15.18-0+deb12u1)"), Some(15));
        assert_eq!(major_of("postgres (PostgreSQL) 17.2"), Some(17));
        assert_eq!(major_of("postgres (PostgreSQL) 18devel"), Some(18));
        assert_eq!(major_of("something else"), None);
    }

    #[test]
    fn a_new_cluster_takes_the_newest_and_an_old_one_its_own() {
        let found = vec![binaries(15), binaries(17), binaries(16)];
        let cluster = Path::new("/data/postgres");
        assert_eq!(choose(found.clone(), cluster, None).unwrap(), binaries(17));
        assert_eq!(choose(found, cluster, Some("15")).unwrap(), binaries(15));
    }

    #[test]
    fn a_cluster_of_a_version_that_is_not_installed_is_refused_with_the_way_out() {
        let refusal = choose(vec![binaries(17)], Path::new("/data/postgres"), Some("15")).unwrap_err().to_string();
        assert!(refusal.contains("written by Postgres 15"), "{refusal}");
        assert!(refusal.contains("leadhandd upgrade-database"), "{refusal}");
    }

    #[test]
    fn binaries_that_are_too_old_are_refused() {
        let refusal = choose(vec![binaries(11)], Path::new("/data/postgres"), None).unwrap_err();
        assert!(matches!(refusal, PrivateError::NoBinaries { least: LEAST_MAJOR, .. }), "{refusal}");
    }
}
