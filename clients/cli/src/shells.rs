//! Completions and man pages, from the same definitions as the help.

use crate::failure::{Failure, Outcome};
use crate::help;
use crate::out;
use clap_complete::Shell;
use std::path::Path;

/// Writes what a shell needs to complete commands and options to standard output.
pub fn completions(shell: Shell) -> Outcome {
    let mut command = help::command();
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut command, "leadhand", &mut text);
    out::put(&String::from_utf8_lossy(&text))
}

/// Writes a man page of every command into a directory, which is made when it is not there.
pub fn man(into: &Path) -> Outcome {
    let failed =
        |error: std::io::Error| Failure::Usage(format!("man pages can't be written into {}: {error}", into.display()));
    std::fs::create_dir_all(into).map_err(failed)?;
    clap_mangen::generate_to(help::command(), into).map_err(failed)?;
    let pages = std::fs::read_dir(into).map_err(failed)?.count();
    out::note(&format!(
        "{pages} man pages are in {}; read one with `man -l {}/leadhand.1`",
        into.display(),
        into.display()
    ));
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_a_page_and_is_completed() {
        let dir = tempfile::tempdir().unwrap();
        man(dir.path()).unwrap();
        let page = |name: &str| std::fs::read_to_string(dir.path().join(name)).unwrap();
        assert!(page("leadhand.1").contains("bays"));
        assert!(page("leadhand-strip-off.1").contains(".SH SYNOPSIS"));
        let whole = help::command();
        for noun in whole.get_subcommands() {
            assert!(dir.path().join(format!("leadhand-{}.1", noun.get_name())).exists(), "{}", noun.get_name());
        }
        for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
            let mut text = Vec::new();
            clap_complete::generate(shell, &mut help::command(), "leadhand", &mut text);
            let text = String::from_utf8(text).unwrap();
            assert!(text.contains("as-listed") && text.contains("token-file"), "{shell}: {} bytes", text.len());
        }
    }
}
