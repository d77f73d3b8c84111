//! Where a setting was said: the text of each with its origin.

use crate::cli::Flags;
use std::collections::BTreeMap;

/// Every setting, named as its flag and as its key in the file.
pub const KEYS: [&str; 17] = [
    "listen",
    "http-listen",
    "database-url",
    "owner-url",
    "data-dir",
    "postgres-bin",
    "run-as",
    "tls-cert",
    "tls-key",
    "tls-client-ca",
    "log-format",
    "log-filter",
    "otlp-collector",
    "shutdown-grace-seconds",
    "max-connections",
    "poll-interval-ms",
    "grpc-web",
];

/// One setting as it was said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Said {
    pub value: String,
    /// For people: `--listen`, `LEADHAND_LISTEN`, `listen in /etc/leadhand.toml`.
    pub origin: String,
}

/// What was said, the strongest source of each setting only.
#[derive(Debug, Default)]
pub(super) struct Sources {
    said: BTreeMap<&'static str, Said>,
}

impl Sources {
    /// Reads all three sources; what cannot be read becomes a fault.
    pub fn gather(flags: &Flags, environment: &dyn Fn(&str) -> Option<String>, faults: &mut Vec<String>) -> Self {
        let path = flags.get("config").map(str::to_owned).or_else(|| environment("LEADHAND_CONFIG"));
        let file = path.map(|path| read_file(&path, faults)).unwrap_or_default();
        let mut said = BTreeMap::new();
        for key in KEYS {
            let name = variable(key);
            let flag = flags.get(key).map(|value| Said { value: value.to_owned(), origin: format!("--{key}") });
            let from_environment = || environment(&name).map(|value| Said { value, origin: name.clone() });
            let from_file = || file.get(key).cloned();
            if let Some(found) = flag.or_else(from_environment).or_else(from_file) {
                said.insert(key, found);
            }
        }
        Self { said }
    }

    /// What was said of a setting.
    pub fn get(&self, key: &str) -> Option<&Said> {
        self.said.get(key)
    }
}

/// The environment's name of a setting.
fn variable(key: &str) -> String {
    format!("LEADHAND_{}", key.replace('-', "_").to_uppercase())
}

fn read_file(path: &str, faults: &mut Vec<String>) -> BTreeMap<String, Said> {
    let table = match std::fs::read_to_string(path).map(|text| text.parse::<toml::Table>()) {
        Ok(Ok(table)) => table,
        Ok(Err(fault)) => {
            // Only what and where: the offending line may hold a password.
            let place = fault.span().map(|span| span.start).unwrap_or_default();
            faults.push(format!("{path}: not TOML at byte {place}: {}", fault.message()));
            return BTreeMap::new();
        }
        Err(fault) => {
            faults.push(format!("{path}: cannot be read: {fault}"));
            return BTreeMap::new();
        }
    };
    let mut said = BTreeMap::new();
    for (key, value) in table {
        match text_of(&key, &value) {
            Ok(value) => {
                let origin = format!("{key} in {path}");
                said.insert(key, Said { value, origin });
            }
            Err(fault) => faults.push(format!("{key} in {path}: {fault}")),
        }
    }
    said
}

fn text_of(key: &str, value: &toml::Value) -> Result<String, String> {
    if !KEYS.contains(&key) {
        return Err(format!("is not a setting; there are {}", KEYS.join(", ")));
    }
    match value {
        toml::Value::String(text) => Ok(text.clone()),
        toml::Value::Integer(number) => Ok(number.to_string()),
        other => Err(format!("must be a text or a whole number, not a {}", other.type_str())),
    }
}
