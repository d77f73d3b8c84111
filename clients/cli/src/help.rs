//! The help: what every command understands is told once, by `leadhand --help`, and each command says in two lines that
//! it is there.

use crate::args::Cli;
use crate::examples;
use clap::{Arg, Command, CommandFactory};

/// What stands below every command's own help.
pub const EVERY_COMMAND: &str = "\
As with every command, --output, --server and --token-file may stand here, and where something is
recorded also --at, --for and --request-id. 'leadhand --help' tells all of them.";

/// The command line with its help as it is shown.
pub fn command() -> Command {
    let whole = Cli::command();
    let global: Vec<Arg> = whole.get_arguments().filter(|argument| argument.is_global_set()).cloned().collect();
    below(whole, &global, "")
}

/// Ends with what clap has to say; a figure that is none is told in words that people use.
pub fn exit(wrong: &clap::Error) -> ! {
    if !wrong.use_stderr() {
        wrong.exit();
    }
    crate::out::aside(&plain(&wrong.render().to_string()));
    std::process::exit(wrong.exit_code());
}

fn plain(text: &str) -> String {
    const SAID: [(&str, &str); 4] = [
        ("invalid digit found in string", "it is not a whole number"),
        ("cannot parse integer from empty string", "it is empty, and a whole number is wanted"),
        ("number too large to fit in target type", "the number is too large"),
        ("number too small to fit in target type", "the number is too small"),
    ];
    SAID.iter().fold(text.to_owned(), |text, (clap, ours)| text.replace(clap, ours))
}

/// Takes the options of every command out of the help of those below this one; they are understood there all the same.
/// `path` is the words that lead here.
fn below(command: Command, global: &[Arg], path: &str) -> Command {
    command.mut_subcommands(|one| {
        let hidden = global.iter().map(|argument| argument.clone().hide(true));
        let path = format!("{path} {}", one.get_name());
        let path = path.trim_start();
        let examples = examples::of(path).map(|lines| lines + "\n").unwrap_or_default();
        below(one.args(hidden).after_help(examples + EVERY_COMMAND), global, path)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::FromArgMatches;

    fn help_of(path: &[&str]) -> String {
        let mut command = command();
        command.build();
        let mut found = &mut command;
        for name in path {
            found = found.find_subcommand_mut(name).unwrap();
        }
        found.render_long_help().to_string()
    }

    fn paths() -> Vec<Vec<String>> {
        fn gather(command: &Command, path: &[String], all: &mut Vec<Vec<String>>) {
            for below in command.get_subcommands().filter(|below| below.get_name() != "help") {
                let path = [path, &[below.get_name().to_owned()]].concat();
                gather(below, &path, all);
                all.push(path);
            }
        }
        let mut all = Vec::new();
        gather(&command(), &[], &mut all);
        all
    }

    #[test]
    fn the_line_is_sound() {
        command().debug_assert();
    }

    /// An option of every command is told once: in the whole help, and in that of no command.
    #[test]
    fn what_every_command_understands_is_told_once() {
        let whole = help_of(&[]);
        let names: Vec<String> =
            Cli::command().get_arguments().filter_map(|global| Some(format!("--{}", global.get_long()?))).collect();
        assert!(names.len() > 8);
        assert!(names.iter().all(|name| whole.contains(&format!("      {name}"))), "{whole}");
        let all = paths();
        assert!(all.len() > 100, "{}", all.len());
        for path in all {
            let path: Vec<&str> = path.iter().map(String::as_str).collect();
            let help = help_of(&path);
            for name in &names {
                let first = |line: &str| line.trim_start().split([' ', ',', '=']).next().map(str::to_owned);
                let told = help.lines().any(|line| line.starts_with(' ') && first(line).as_ref() == Some(name));
                assert!(!told, "{path:?} tells {name}:\n{help}");
            }
            assert!(help.contains("'leadhand --help'"), "{path:?}:\n{help}");
            assert!(!help.contains("[default: \"\"]"), "{path:?} tells that nothing is the default:\n{help}");
        }
    }

    #[test]
    fn the_options_are_understood_before_and_behind_the_command() {
        for line in [
            &["leadhand", "--patience", "3", "--output", "json", "--at", "09:00", "clock", "off"][..],
            &["leadhand", "clock", "off", "--patience", "3", "--output", "json", "--at", "09:00"],
            &["leadhand", "clock", "--patience", "3", "off", "--at", "09:00", "--output", "json"],
        ] {
            let cli = Cli::from_arg_matches(&command().get_matches_from(line)).unwrap();
            let global = cli.global;
            assert_eq!((global.patience, global.at.as_deref()), (3, Some("09:00")), "{line:?}");
            assert_eq!(global.output, crate::out::Format::Json, "{line:?}");
        }
    }

    /// A terminal of 80 columns and 24 lines is what a virtual console has, by common practice.
    #[test]
    fn help_fits_the_terminal() {
        for path in paths() {
            let path: Vec<&str> = path.iter().map(String::as_str).collect();
            let mut command = command().term_width(80);
            command.build();
            let mut found = &mut command;
            for name in &path {
                found = found.find_subcommand_mut(name).unwrap();
            }
            let help = found.render_help().to_string();
            let wide = help.lines().filter(|line| !line.starts_with("Usage:")).find(|line| line.chars().count() > 80);
            assert_eq!(wide, None, "{path:?}");
        }
    }
}
