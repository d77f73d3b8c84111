//! `leadhand profile`: one name for a server, a token's file and certificates, for whoever runs several
//! shops. The file holds paths and no secret; what the command line or the environment says comes first.

use crate::args::Global;
use crate::failure::{Failure, Outcome};
use crate::out::{self, Format, Table};
use clap::{Args, Subcommand};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// The server of whoever says nothing.
const SERVER_USUAL: &str = "http://127.0.0.1:7420";

/// Profiles.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a profile, or set one anew
    Add(Add),
    /// Profiles; the one in use has a star
    List,
    /// Use a profile from now on
    Use {
        /// Its name
        name: String,
    },
    /// Remove a profile; the files that it names stay
    Remove {
        /// Its name
        name: String,
    },
}

/// What a profile stands for: the options that every command has.
#[derive(Debug, Args)]
pub struct Add {
    /// Its name; --server, --token-file, --ca, --client-cert and --client-key say what it stands for
    name: String,
}

/// What a profile stands for.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Profile {
    #[serde(skip_serializing_if = "Option::is_none")]
    server: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    token_file: Option<PathBuf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ca: Option<PathBuf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    client_cert: Option<PathBuf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    client_key: Option<PathBuf>,
}

#[derive(Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Profiles {
    #[serde(rename = "use", skip_serializing_if = "Option::is_none")]
    in_use: Option<String>,
    #[serde(default, rename = "profile")]
    profiles: BTreeMap<String, Profile>,
}

impl Profiles {
    fn load(path: &Path) -> Outcome<Self> {
        match std::fs::read_to_string(path) {
            Ok(text) => toml::from_str(&text).map_err(|error| {
                Failure::Usage(format!("{} can't be understood: {}", path.display(), error.message()))
            }),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(Failure::Usage(format!("{} can't be read: {error}", path.display()))),
        }
    }

    /// Writes a new file beside the old one and puts it in its place, so that there is always a whole one.
    fn save(&self, path: &Path) -> Outcome {
        let failed = |error: std::io::Error| Failure::Usage(format!("{} can't be written: {error}", path.display()));
        let text = toml::to_string(self).map_err(|error| Failure::Defect(error.to_string()))?;
        let new = path.with_extension(format!("new-{}", std::process::id()));
        if let Some(dir) = path.parent() {
            std::fs::create_dir_all(dir).map_err(failed)?;
        }
        let mut file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&new).map_err(failed)?;
        file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(failed)?;
        std::fs::rename(&new, path).map_err(failed)
    }

    fn named(&self, name: &str) -> Outcome<&Profile> {
        let known: Vec<&str> = self.profiles.keys().map(String::as_str).collect();
        let known =
            if known.is_empty() { "there is none yet".to_owned() } else { format!("known: {}", known.join(", ")) };
        let unknown =
            || Failure::Usage(format!("there is no profile '{name}' ({known}); add it with 'leadhand profile add'"));
        self.profiles.get(name).ok_or_else(unknown)
    }
}

/// Where profiles are kept: `$XDG_CONFIG_HOME`, or `~/.config`.
fn path() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let dir = set("XDG_CONFIG_HOME").or_else(|| set("HOME").map(|home| home.join(".config")))?;
    Some(dir.join("leadhand/profiles.toml"))
}

fn path_needed() -> Outcome<PathBuf> {
    path().ok_or_else(|| Failure::Usage("neither XDG_CONFIG_HOME nor HOME says where profiles are kept".to_owned()))
}

/// What the command line and the environment leave open, filled in from the profile that is named or in use.
pub fn filled(global: Global) -> Outcome<Global> {
    let profiles = path().map_or_else(|| Ok(Profiles::default()), |path| Profiles::load(&path))?;
    let has_token = ["LEADHAND_TOKEN_FILE", "LEADHAND_TOKEN"]
        .iter()
        .any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty()));
    fill(global, &profiles, has_token)
}

fn fill(mut global: Global, profiles: &Profiles, has_token: bool) -> Outcome<Global> {
    let named = global.profile.as_ref().or(profiles.in_use.as_ref());
    let profile = named.map_or_else(|| Ok(Profile::default()), |name| profiles.named(name).cloned())?;
    // The server of one shop must not get the token of another: whoever names another server brings a token.
    let same_server = global.server.is_none() || global.server == profile.server;
    global.server = global.server.or(profile.server).or_else(|| Some(SERVER_USUAL.to_owned()));
    if !has_token && same_server {
        global.token_file = global.token_file.or(profile.token_file);
    }
    global.ca = global.ca.or(profile.ca);
    if global.client_cert.is_none() && global.client_key.is_none() && same_server {
        (global.client_cert, global.client_key) = (profile.client_cert, profile.client_key);
    }
    Ok(global)
}

/// Runs it. Nothing is sent.
pub fn run(global: &Global, command: Command) -> Outcome {
    let path = path_needed()?;
    let mut profiles = Profiles::load(&path)?;
    match command {
        Command::Add(Add { name }) => {
            let whole = |path: &Option<PathBuf>| path.as_ref().map(std::path::absolute).transpose();
            let wrong = |error: std::io::Error| Failure::Usage(format!("a path can't be completed: {error}"));
            let profile = Profile {
                server: global.server.clone(),
                token_file: whole(&global.token_file).map_err(wrong)?,
                ca: whole(&global.ca).map_err(wrong)?,
                client_cert: whole(&global.client_cert).map_err(wrong)?,
                client_key: whole(&global.client_key).map_err(wrong)?,
            };
            if profile.server.is_none() || profile.token_file.is_none() {
                return Err(Failure::Usage("say --server and --token-file: a profile stands for them".to_owned()));
            }
            profiles.profiles.insert(name.clone(), profile);
            profiles.save(&path)?;
            out::note(&format!("profile {} is there", out::clean(&name)));
        }
        Command::List => return list(global, &profiles),
        Command::Use { name } => {
            profiles.named(&name)?;
            profiles.in_use = Some(name);
            profiles.save(&path)?;
        }
        Command::Remove { name } => {
            profiles.named(&name)?;
            profiles.profiles.remove(&name);
            profiles.in_use = profiles.in_use.filter(|used| *used != name);
            profiles.save(&path)?;
        }
    }
    Ok(())
}

fn list(global: &Global, profiles: &Profiles) -> Outcome {
    if global.output == Format::Json {
        let value = serde_json::to_value(profiles).map_err(|error| Failure::Defect(error.to_string()))?;
        return out::value(&value);
    }
    let mut table = Table::new("profiles", &["", "profile", "server", "token file"]);
    for (name, profile) in &profiles.profiles {
        let star = if profiles.in_use.as_ref() == Some(name) { "*" } else { "" };
        let file = profile.token_file.as_ref().map(|path| path.display().to_string()).unwrap_or_default();
        table.row([star.to_owned(), name.clone(), profile.server.clone().unwrap_or_default(), file]);
    }
    out::Out::new(global.output, global.no_colour).table(&table)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]
mod tests {
    use super::*;
    use crate::args::Cli;
    use clap::Parser;

    fn global(line: &str) -> Global {
        Cli::try_parse_from(line.split(' ')).unwrap().global
    }

    fn two() -> Profiles {
        let text = "use = \"north\"\n[profile.north]\nserver = \"https://north:1\"\ntoken-file = \"/n\"\nca = \"/n.pem\"\n\
            [profile.south]\nserver = \"https://south:1\"\ntoken-file = \"/s\"\n";
        toml::from_str(text).unwrap()
    }

    fn told(line: &str, has_token: bool) -> (String, Option<PathBuf>) {
        let filled = fill(global(line), &two(), has_token).unwrap();
        (filled.server.unwrap(), filled.token_file)
    }

    #[test]
    fn what_is_said_comes_before_the_profile_and_that_before_the_usual() {
        assert_eq!(told("leadhand whoami", false), ("https://north:1".into(), Some("/n".into())));
        assert_eq!(told("leadhand --profile south whoami", false), ("https://south:1".into(), Some("/s".into())));
        assert_eq!(told("leadhand --token-file /mine whoami", false), ("https://north:1".into(), Some("/mine".into())));
        assert_eq!(told("leadhand whoami", true).1, None, "the environment's token comes first");
        assert_eq!(told("leadhand --server http://other:1 whoami", false), ("http://other:1".into(), None));
        let usual = fill(global("leadhand whoami"), &Profiles::default(), false).unwrap();
        assert_eq!(usual.server.as_deref(), Some(SERVER_USUAL));
    }

    #[test]
    fn an_unknown_profile_is_said_in_one_sentence() {
        let Err(Failure::Usage(said)) = fill(global("leadhand --profile west whoami"), &two(), false) else { panic!() };
        assert!(said.contains("no profile 'west'") && said.contains("north, south"), "{said}");
    }

    #[test]
    fn the_file_is_its_owner_s_alone_and_comes_back() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("leadhand/profiles.toml");
        assert_eq!(Profiles::load(&path).unwrap(), Profiles::default());
        two().save(&path).unwrap();
        assert_eq!(Profiles::load(&path).unwrap(), two());
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        assert_eq!(std::fs::read_dir(path.parent().unwrap()).unwrap().count(), 1);
    }
}
