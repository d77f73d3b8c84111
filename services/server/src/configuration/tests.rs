use super::*;
use crate::logs::LogFormat;
use crate::private_database::PrivateSettings;
use std::io::Write;
use std::path::PathBuf;
use std::time::Duration;

/// A source of each kind.
struct Given {
    flags: Flags,
    environment: Vec<(&'static str, String)>,
    file: tempfile::NamedTempFile,
}

impl Given {
    fn file(text: &str) -> Self {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(text.as_bytes()).unwrap();
        let flags = Flags { config: Some(file.path().display().to_string()), ..Flags::default() };
        Self { flags, environment: Vec::new(), file }
    }

    fn environment(mut self, name: &'static str, value: &str) -> Self {
        self.environment.push((name, value.to_owned()));
        self
    }

    fn read(&self) -> Result<Configuration, Faults> {
        let environment =
            |name: &str| self.environment.iter().find(|(known, _)| *known == name).map(|(_, value)| value.clone());
        Configuration::from_sources(&self.flags, &environment, true)
    }

    fn faults(&self) -> Vec<String> {
        self.read().unwrap_err().faults
    }
}

#[test]
fn with_nothing_said_everything_has_a_default() {
    let configuration = Given::file("").read().unwrap();
    assert_eq!(configuration.listen.to_string(), "127.0.0.1:7420");
    assert_eq!(configuration.http_listen.to_string(), "127.0.0.1:7421");
    let private = PrivateSettings { data_dir: "/var/lib/leadhand".into(), postgres_bin: None, run_as: None };
    assert_eq!(configuration.database, Database::Private(private));
    assert_eq!(configuration.log.format, LogFormat::Text);
    assert_eq!(configuration.shutdown_grace, Duration::from_secs(10));
    assert_eq!(configuration.poll_interval, Duration::from_millis(500));
}

#[test]
fn the_file_beats_the_default() {
    let configuration = Given::file("listen = '127.0.0.1:1001'\nmax-connections = 7").read().unwrap();
    assert_eq!(configuration.listen.port(), 1001);
    assert_eq!(configuration.max_connections, 7);
}

#[test]
fn the_environment_beats_the_file() {
    let given = Given::file("listen = '127.0.0.1:1001'").environment("LEADHAND_LISTEN", "127.0.0.1:1002");
    assert_eq!(given.read().unwrap().listen.port(), 1002);
}

#[test]
fn a_flag_beats_the_environment() {
    let mut given = Given::file("listen = '127.0.0.1:1001'").environment("LEADHAND_LISTEN", "127.0.0.1:1002");
    given.flags.listen = Some("[::1]:1003".to_owned());
    assert_eq!(given.read().unwrap().listen.to_string(), "[::1]:1003");
}

#[test]
fn a_beaten_source_is_not_even_looked_at() {
    let given = Given::file("listen = 'nonsense'").environment("LEADHAND_LISTEN", "127.0.0.1:1002");
    assert_eq!(given.read().unwrap().listen.port(), 1002);
}

#[test]
fn the_environment_may_name_the_file() {
    let file = Given::file("log-format = 'json'");
    let path = file.file.path().display().to_string();
    let mut given = Given::file("").environment("LEADHAND_CONFIG", &path);
    given.flags.config = None;
    assert_eq!(given.read().unwrap().log.format, LogFormat::Json);
}

#[test]
fn all_faults_are_reported_at_once_each_with_its_origin() {
    let mut given = Given::file("max-connections = 0\ncolour = 'blue'\nlog-format = true\nrun-as = 'somebody'")
        .environment("LEADHAND_POLL_INTERVAL_MS", "often")
        .environment("LEADHAND_DATABASE_URL", "mysql://secret@somewhere");
    given.flags.listen = Some("localhost".to_owned());
    given.flags.log_filter = Some("a=b=c".to_owned());
    let faults = given.faults();
    let path = given.file.path().display().to_string();
    let expected = [
        format!("colour in {path}: is not a setting"),
        format!("log-format in {path}: must be a text"),
        "--listen: \"localhost\" is not an address with a port".to_owned(),
        "LEADHAND_DATABASE_URL: must begin with postgres://".to_owned(),
        format!("run-as in {path}: is for a private database"),
        "--log-filter: the log filter".to_owned(),
        format!("max-connections in {path}: \"0\" is not a whole number from 2 to 1000"),
        "LEADHAND_POLL_INTERVAL_MS: \"often\" is not a whole number from 10 to 60000".to_owned(),
    ];
    for (fault, beginning) in faults.iter().zip(&expected) {
        assert!(fault.starts_with(beginning), "{fault} should begin with {beginning}");
    }
    assert_eq!(faults.len(), expected.len(), "{faults:#?}");
    let shown = Faults { faults }.to_string();
    assert_eq!(shown.lines().count(), 9, "one a line: {shown}");
    assert!(!shown.contains("secret"), "{shown}");
}

#[test]
fn a_file_that_is_missing_or_no_toml_is_one_fault_beside_the_others() {
    let mut given = Given::file("listen = ");
    given.flags.http_listen = Some("nowhere".to_owned());
    let faults = given.faults();
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults[0].contains("not TOML at byte"), "{faults:?}");
    given.flags.config = Some("/nowhere/at/all.toml".to_owned());
    let faults = given.faults();
    assert!(faults[0].starts_with("/nowhere/at/all.toml: cannot be read"), "{faults:?}");
    assert_eq!(faults.len(), 2, "{faults:?}");
}

#[test]
fn plaintext_beyond_loopback_is_refused_on_both_ports() {
    let faults = Given::file("listen = '0.0.0.0:7420'\nhttp-listen = '192.0.2.7:7421'").faults();
    assert_eq!(faults.len(), 2, "{faults:?}");
    assert!(faults.iter().all(|fault| fault.contains("plaintext is for loopback only")), "{faults:?}");
}

#[test]
fn with_certificate_and_key_other_machines_are_served() {
    let text = "listen = '0.0.0.0:7420'\ntls-cert = '/etc/leadhand/cert.pem'\n";
    let both = format!("{text}tls-key = '/etc/leadhand/key.pem'");
    let tls = Given::file(&both).read().unwrap().tls.unwrap();
    assert_eq!((tls.key, tls.client_ca), (PathBuf::from("/etc/leadhand/key.pem"), None));
    let half = Given::file(text).faults();
    assert!(half.len() == 1 && half[0].contains("there is no tls-key beside it"), "{half:?}");
    let clients = Given::file("tls-client-ca = '/etc/leadhand/clients.pem'").faults();
    assert!(clients.len() == 1 && clients[0].contains("there is no tls-cert beside it"), "{clients:?}");
    let relative = Given::file("tls-cert = 'cert.pem'\ntls-key = 'key.pem'").faults();
    assert_eq!(relative.len(), 2, "{relative:?}");
}

#[test]
fn traces_go_to_a_collector_that_is_named_and_leave_the_machine_with_tls_only() {
    assert_eq!(Given::file("").read().unwrap().traces, None);
    for fine in
        ["http://127.0.0.1:4317", "http://localhost:4317", "http://[::1]:4317", "https://collector.example:4317"]
    {
        let traces = Given::file(&format!("otlp-collector = '{fine}'")).read().unwrap().traces;
        assert_eq!(traces.unwrap().collector.authority().unwrap().as_str(), fine.split_once("//").unwrap().1);
    }
    let faults = Given::file("otlp-collector = 'http://collector.example:4317'").faults();
    assert!(faults.len() == 1 && faults[0].contains("in plaintext to another machine"), "{faults:?}");
    for wrong in ["127.0.0.1:4317", "ftp://127.0.0.1", "nonsense", "http://"] {
        let faults = Given::file(&format!("otlp-collector = '{wrong}'")).faults();
        assert!(faults.len() == 1 && faults[0].contains("is not the address of a collector"), "{faults:?}");
    }
}

#[test]
fn one_port_cannot_serve_both() {
    let faults = Given::file("http-listen = '127.0.0.1:7420'").faults();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].starts_with("the default of listen and http-listen in "), "{faults:?}");
    let any = Given::file("listen = '127.0.0.1:0'\nhttp-listen = '127.0.0.1:0'").read().unwrap();
    assert_eq!(any.listen.port(), 0);
}

#[test]
fn an_owner_url_needs_a_database_url() {
    let faults = Given::file("owner-url = 'postgres://owner@db/leadhand'").faults();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].contains("there is no database-url beside it"), "{faults:?}");
}

#[test]
fn urls_are_never_shown() {
    let text = "database-url = 'postgres://app:hush@db/leadhand'\nowner-url = 'postgres://owner:hush@db/leadhand'";
    let configuration = Given::file(text).read().unwrap();
    let shown = format!("{configuration:?}");
    assert!(!shown.contains("hush"), "{shown}");
    assert!(matches!(configuration.database, Database::Given(GivenDatabase { owner_url: Some(_), .. })));
}

#[test]
fn a_user_has_the_data_in_a_directory_of_their_own() {
    let read = |environment: Vec<(&str, &str)>| {
        let look_up = |name: &str| environment.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned());
        let configuration = Configuration::from_sources(&Flags::default(), &look_up, false);
        configuration.map(|configuration| match configuration.database {
            Database::Private(settings) => settings.data_dir,
            Database::Given(_) => panic!("nothing was given"),
        })
    };
    // XDG Base Directory Specification: $HOME/.local/share is the default, relative paths are ignored.
    assert_eq!(read(vec![("HOME", "/home/x")]), Ok(PathBuf::from("/home/x/.local/share/leadhand")));
    assert_eq!(read(vec![("HOME", "/home/x"), ("XDG_DATA_HOME", "/d")]), Ok(PathBuf::from("/d/leadhand")));
    let relative = read(vec![("HOME", "/home/x"), ("XDG_DATA_HOME", "d")]);
    assert_eq!(relative, Ok(PathBuf::from("/home/x/.local/share/leadhand")));
    assert_eq!(read(vec![]).unwrap_err().faults.len(), 1);
}
