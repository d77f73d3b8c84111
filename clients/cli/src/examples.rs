//! Lines to copy, shown below the help of the commands that are used most. A test parses each.

/// Commands, each with lines as they are typed into a shell.
const EXAMPLES: &[(&str, &[&str])] = &[
    ("board", &["leadhand board --live"]),
    ("shop hours set", &["leadhand shop hours set 'mon-fri 08:00-12:00,12:30-17:30' 'sat 09:00-13:00'"]),
    ("bay add", &["leadhand bay add lift-1 --kind two-post-lift --rated-kg 3500"]),
    ("bay ready", &["leadhand bay ready lift-1"]),
    ("person add", &["leadhand person add 'Flint' --skill engine --skill service"]),
    ("person pin", &["leadhand person pin 'Wren' --role lead"]),
    (
        "token issue",
        &[
            "leadhand token issue --role technician --person 'Flint' --into flint.token",
            "leadhand token issue --role viewer --label 'wall screen' --into wall.token",
        ],
    ),
    ("token rotate", &["leadhand token rotate --overlap 24h --into new.token"]),
    ("template check", &["leadhand template check head-gasket-20.toml"]),
    ("template diff", &["leadhand template diff head-gasket-20"]),
    ("template lessons", &["leadhand template lessons head-gasket-20 --propose next.toml"]),
    ("customer add", &["leadhand customer add 'Heather'"]),
    ("vehicle state", &["leadhand vehicle state 7 battery-isolated"]),
    (
        "job open",
        &[
            "leadhand job open 'green estate' --template head-gasket-20 --promised '2031-03-07 17:00'",
            "leadhand job open 'blue van' --title 'A noise at the front'",
        ],
    ),
    ("job assign", &["leadhand job assign 7 lift-1"]),
    ("job show", &["leadhand job show 7 --stage drain"]),
    (
        "job complete",
        &["leadhand job complete 7 --dry-run", "leadhand job complete 7 --line places:airbox='the customer brings it'"],
    ),
    ("job sheet", &["leadhand job sheet 7 --format html --out sheet.html"]),
    ("stage start", &["leadhand stage start 7 drain", "leadhand stage start 7 drain --for 'Flint' --at 09:10"]),
    ("stage finish", &["leadhand stage finish 7 drain --as-listed"]),
    ("stage ready", &["leadhand stage ready 7 refit-head"]),
    ("step done", &["leadhand step done 7 drain 1 2"]),
    (
        "strip off",
        &[
            "leadhand strip off 7 strip --as-listed",
            "leadhand strip off 7 strip manifold-nuts --found 5 --missing 1 --note 'one stud is bare'",
        ],
    ),
    ("strip refit", &["leadhand strip refit 7"]),
    ("reading record", &["leadhand reading record 7 compression 12.4 8.1 12.6 12.2 --with 'gauge 2'"]),
    ("reckon torque", &["leadhand reckon torque M10 10.9 --preload 75% --friction 0.12"]),
    ("tool lend", &["leadhand tool lend cam-lock-20 --bay lift-1"]),
    ("fluid out", &["leadhand fluid out 7 coolant 5.2L"]),
    ("blocker raise", &["leadhand blocker raise 7 drain part --note 'the seal is not here'"]),
    ("clock work", &["leadhand clock work 7 drain 09:10 10:40 --for 'Flint'"]),
    (
        "item fluid",
        &["leadhand item fluid coolant-concentrate coolant --strength 100%", "leadhand item fluid engine-oil-5w30 oil"],
    ),
    ("item supplier", &["leadhand item supplier hg-bolts-20 north-parts"]),
    ("supplier add", &["leadhand supplier add north-parts 'North parts' --round 'mon-fri 10:30, here 14:00'"]),
    ("stock import", &["leadhand stock import items.csv --dry-run", "leadhand stock import items.csv"]),
    ("stock receive", &["leadhand stock receive coolant 20L --into bin-a1 --expires 2031-12-31"]),
    ("stock reserve", &["leadhand stock reserve 7 --dry-run", "leadhand stock reserve 7"]),
    ("stock issue", &["leadhand stock issue 7 --stage refit-head"]),
    ("stock count", &["leadhand stock count hg-bolts-20 bin-a1 12 --reason 'counted on Friday' --dry-run"]),
    ("stock statement", &["leadhand stock statement hg-bolts-20"]),
    ("plan propose", &["leadhand plan propose --chart"]),
    ("plan what-if", &["leadhand plan what-if --without 7"]),
    ("plan pin", &["leadhand plan pin 7 drain --bay lift-1 --person 'Flint'"]),
    (
        "time audit",
        &[
            "leadhand time audit --job 7 --segments",
            "leadhand time audit --by template-stage --from '2030-01-01 00:00' --output csv",
        ],
    ),
    ("journal follow", &["leadhand journal follow --from 0 --output json"]),
    ("completions", &["leadhand completions bash > ~/.local/share/bash-completion/completions/leadhand"]),
];

/// The lines of a command, as its help ends with them; nothing for one that has none.
pub fn of(path: &str) -> Option<String> {
    let (_, lines) = EXAMPLES.iter().find(|(known, _)| *known == path)?;
    let title = if lines.len() == 1 { "Example" } else { "Examples" };
    let lines: Vec<String> = lines.iter().map(|line| format!("  {line}\n")).collect();
    Some(format!("{title}:\n{}\n", lines.concat()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::args::Cli;
    use clap::FromArgMatches;

    /// As a shell takes it apart (POSIX, 2.2.2): blanks divide words, single quotes keep them together; what is behind `>`
    /// is the shell's own.
    fn words(line: &str) -> Vec<String> {
        let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
        let (line, _) = line.split_once(" > ").unwrap_or((line, ""));
        for letter in line.chars() {
            match letter {
                '\'' => quoted = !quoted,
                ' ' if !quoted => words.push(std::mem::take(&mut word)),
                other => word.push(other),
            }
        }
        words.push(word);
        assert!(!quoted, "{line}");
        words
    }

    #[test]
    fn every_example_is_understood_and_is_of_its_command() {
        for (path, lines) in EXAMPLES {
            assert!(!lines.is_empty(), "{path}");
            for line in *lines {
                assert!(line.starts_with(&format!("leadhand {path}")), "{line} is no example of {path}");
                let typed = crate::help::command().try_get_matches_from(words(line));
                let typed = typed.unwrap_or_else(|wrong| panic!("{line}: {wrong}"));
                Cli::from_arg_matches(&typed).unwrap_or_else(|wrong| panic!("{line}: {wrong}"));
            }
        }
    }

    #[test]
    fn examples_stand_in_the_help() {
        for (path, lines) in EXAMPLES {
            let mut command = crate::help::command();
            command.build();
            let mut found = &mut command;
            for name in path.split(' ') {
                found = found.find_subcommand_mut(name).unwrap();
            }
            let help = found.render_help().to_string();
            assert!(lines.iter().all(|line| help.contains(line)), "{help}");
        }
    }

    /// Whoever looks for the first time looks at a noun's main verb.
    #[test]
    fn what_is_used_most_has_examples() {
        let nouns: std::collections::BTreeSet<&str> =
            EXAMPLES.iter().filter_map(|(path, _)| path.split(' ').next()).collect();
        for noun in ["bay", "job", "stage", "step", "strip", "stock", "clock", "blocker", "plan", "time", "board"] {
            assert!(nouns.contains(noun), "{noun}");
        }
    }
}
