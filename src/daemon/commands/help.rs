//! `underfoot help`: commands as they explain themselves, and topics that belong to no command.

use super::output::write_text;
use crate::daemon::args::{Arguments, HelpArgs};
use crate::daemon::config::config_places;
use crate::daemon::files::{Failure, exit};
use crate::fault::nearest_hint;
use crate::foot::{Action, Moment};
use clap::CommandFactory;

/// The topics, each with what it is about.
const TOPICS: [(&str, &str); 3] = [
    (
        "files",
        "Charts, drills and the other files, and where they are",
    ),
    ("foot", "Gestures, and every action with its moment"),
    ("words", "What a stage, a pass, a place and the others are"),
];

/// `underfoot help`.
///
/// # Errors
/// Where there is neither such a command nor such a topic (64).
pub fn help(args: &HelpArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    let mut program = Arguments::command();
    program.build();
    let asked: Vec<&str> = args.topic.iter().map(String::as_str).collect();
    let text = match asked[..] {
        [] => format!("{}\n{}", program.render_help(), topics()),
        ["files"] => files(variable),
        ["foot"] => foot(),
        ["words"] => include_str!("topics/words.txt").to_string(),
        _ => of_command(&program, &asked)?,
    };
    write_text(None, &text)
}

fn topics() -> String {
    let line = |(name, about): &(&str, &str)| format!("  {name:<8} {about}\n");
    let lines: String = TOPICS.iter().map(line).collect();
    format!("Topics (underfoot help TOPIC):\n{lines}")
}

fn of_command(program: &clap::Command, asked: &[&str]) -> Result<String, Failure> {
    let mut command = program;
    for name in asked {
        let known = || command.get_subcommands().map(clap::Command::get_name);
        let Some(found) = command.find_subcommand(name) else {
            let topics = TOPICS.iter().map(|(topic, _)| *topic);
            let hint = nearest_hint(name, known().chain(topics));
            let text = format!(
                "there is no command and no topic \"{name}\"{hint}; `underfoot help` lists them"
            );
            return Err(Failure::new(exit::USAGE, text));
        };
        command = found;
    }
    Ok(command.clone().render_long_help().to_string())
}

fn files(variable: &dyn Fn(&str) -> Option<String>) -> String {
    let mut text = include_str!("topics/files.txt").to_string();
    for place in config_places(variable) {
        text += &format!("  {}\n", place.display());
    }
    text
}

fn foot() -> String {
    let mut text = include_str!("topics/foot.txt").to_string();
    for (_, name, moment) in Action::ALL {
        let when = match moment {
            Moment::Now => "at once",
            Moment::NextBar => "at the next bar",
            Moment::SectionEnd => "at the section's end",
        };
        text += &format!("  {name:<22} {when}\n");
    }
    text
}
