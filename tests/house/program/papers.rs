//! Help, manual pages and completions: made of the command line's own definition, so that they cannot drift from it.

use crate::support::program::command;
use clap::{Command, CommandFactory};
use std::path::Path;
use underfoot::daemon::args::Arguments;
use underfoot::foot::Action;

fn output(arguments: &[&str]) -> (i32, String, String) {
    let home = tempfile::tempdir().expect("a directory");
    let done = command(home.path())
        .args(arguments)
        .output()
        .expect("the program");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        done.status.code().unwrap_or(-1),
        text(&done.stdout),
        text(&done.stderr),
    )
}

/// Every command that is shown, with the words that call it.
fn shown(command: &Command, words: &[String]) -> Vec<(Vec<String>, Command)> {
    let mut all = Vec::new();
    for sub in command.get_subcommands().filter(|sub| !sub.is_hide_set()) {
        let words = [words, &[sub.get_name().to_string()]].concat();
        all.push((words.clone(), sub.clone()));
        all.extend(shown(sub, &words));
    }
    all
}

fn program() -> Vec<(Vec<String>, Command)> {
    let mut program = Arguments::command();
    program.build();
    shown(&program, &[])
}

#[test]
fn help_knows_every_command_and_every_topic() {
    for (words, _) in program() {
        let asked: Vec<&str> = std::iter::once("help")
            .chain(words.iter().map(String::as_str))
            .collect();
        let (code, text, _) = output(&asked);
        assert_eq!(code, 0, "{words:?}");
        assert!(text.contains("Usage:"), "{words:?}: {text}");
    }
    let (code, text, _) = output(&["help"]);
    assert_eq!(code, 0);
    // Each topic that is listed is there, and says what it must.
    let (_, topics) = text.split_once("Topics").expect("topics");
    let names: Vec<&str> = topics
        .lines()
        .skip(1)
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert_eq!(names, ["files", "foot", "words"]);
    for name in names {
        let (code, text, _) = output(&["help", name]);
        assert_eq!(code, 0, "{name}");
        let wanted: Vec<&str> = match name {
            "foot" => Action::ALL.iter().map(|(_, word, _)| *word).collect(),
            "files" => vec!["chart", "drill", "plan", "configuration", "underfoot.toml"],
            _ => vec!["stage", "pass", "figure", "place", "break"],
        };
        for word in wanted {
            assert!(text.contains(word), "{name} does not tell of {word}");
        }
    }
}

#[test]
fn help_for_nothing_that_is_there_names_the_nearest() {
    for (asked, nearest) in [("foots", "foot"), ("rendr", "render"), ("wrods", "words")] {
        let (code, out, error) = output(&["help", asked]);
        assert_eq!((code, out.as_str()), (64, ""), "{asked}");
        assert!(
            error.contains(&format!("\"{nearest}\"")),
            "{asked}: {error}"
        );
    }
}

#[test]
fn manual_pages_and_completions_have_every_command_and_every_flag() {
    let dir = tempfile::tempdir().expect("a directory");
    let (code, _, error) = output(&["papers", dir.path().to_str().expect("a path")]);
    assert_eq!(code, 0, "{error}");
    let read = |path: &Path| {
        std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    };
    let completions = ["underfoot.bash", "_underfoot", "underfoot.fish"];
    let completions = completions.map(|name| read(&dir.path().join("completions").join(name)));
    for (words, command) in program() {
        let page = read(
            &dir.path()
                .join("man")
                .join(format!("underfoot-{}.1", words.join("-"))),
        );
        for flag in command
            .get_arguments()
            .filter(|argument| !argument.is_hide_set())
            .filter_map(clap::Arg::get_long)
        {
            let escaped = flag.replace('-', "\\-");
            assert!(
                page.contains(&format!("\\-\\-{escaped}")),
                "{words:?}: the manual page lacks --{flag}"
            );
            for text in &completions {
                // Fish names flags without their hyphens.
                let named =
                    text.contains(&format!("--{flag}")) || text.contains(&format!("-l {flag}"));
                assert!(named, "{words:?}: a completion lacks --{flag}");
            }
        }
        for text in &completions {
            assert!(text.contains(words.last().expect("a word")), "{words:?}");
        }
    }
}
