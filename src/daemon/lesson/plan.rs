//! Which tracks a lesson has, and what each is made from.

use super::level::{CEILING_DBTP, LOSSY_DB};
use super::stage::{self, Task};
use super::tags::{MADE_BY, Mark, Tags};
use crate::audio::Prepared;
use crate::daemon::args::LessonArgs;
use crate::daemon::config::Config;
use crate::daemon::files::{Failure, exit};
use crate::daemon::{setup, targets as listing};
use crate::drill::{Advance, Drill, Stage};
use crate::practice::{Core, Library};
use crate::speech::SpeechSettings;

/// Frames a second.
pub(super) const RATE: u32 = 48_000;
/// The longest name of a file, its number and end aside.
const NAME_CHARS: usize = 40;

/// The tasks of a lesson, in the order of the drill.
///
/// # Errors
/// Where a stage is asked for that is not there (64).
pub(super) fn tasks(
    args: &LessonArgs,
    config: &Config,
    library: &Library,
    made_with: &str,
) -> Result<Vec<Task>, Failure> {
    let drill = &library.drill;
    let mut asked = Vec::new();
    for name in &args.stage {
        let index = listing::stage_index(drill, Some(name));
        asked.push(index.map_err(|error| Failure::new(exit::USAGE, error.to_string()))?);
    }
    asked.sort_unstable();
    asked.dedup();
    if args.stage.is_empty() {
        asked = (0..drill.stages.len()).collect();
    }
    let of = asked.len();
    let task = |(at, index): (usize, usize)| {
        let stage = alone(drill, index);
        let passes = args.passes.unwrap_or_else(|| passes(&stage));
        let tags = Tags {
            title: format!("{}: {}", library.charts[0].title, stage.name),
            album: drill.title.clone(),
            student: args.student.clone(),
            number: at + 1,
            of,
            qpm: args.tempo.unwrap_or(library.charts[0].tempo_qpm),
            marks: Vec::new(),
        };
        let library = Library {
            charts: library.charts.clone(),
            drill: Drill {
                title: drill.title.clone(),
                stages: vec![stage],
            },
            set: None,
        };
        let from = hash([
            made_with,
            &format!("{:?} {:?}", library.charts[0], library.drill.stages[0]),
            &format!("{passes} {tags:?}"),
        ]);
        let mut core = Core::new(library.clone(), setup::settings(config, RATE), None);
        core.stand(0, args.form);
        Task {
            work: stage::work(&core, passes),
            stem: format!("{:02}-{}", at + 1, plain(&library.drill.stages[0].name)),
            library,
            tags,
            passes,
            from,
        }
    };
    Ok(asked.into_iter().enumerate().map(task).collect())
}

/// A stage as it is where its drill has brought the player to it: what goes round stays what it was.
fn alone(drill: &Drill, index: usize) -> Stage {
    let before = drill.stages[..=index].iter().rev();
    let over = before.map(|stage| stage.over.clone()).find(Option::is_some);
    Stage {
        over: over.flatten(),
        ..drill.stages[index].clone()
    }
}

/// The passes of a stage in a lesson: as many as it has, in whole rounds.
fn passes(stage: &Stage) -> u32 {
    match stage.advance {
        Advance::Passes => stage.passes.max(1),
        _ => stage.passes.max(1).next_multiple_of(stage.cycle.passes()),
    }
}

/// The names of the track that has them all.
pub(super) fn tags_of_all(args: &LessonArgs, library: &Library, marks: Vec<Mark>) -> Tags {
    Tags {
        title: format!("{}: {}", library.charts[0].title, library.drill.title),
        album: library.drill.title.clone(),
        student: args.student.clone(),
        number: 0,
        of: 0,
        qpm: args.tempo.unwrap_or(library.charts[0].tempo_qpm),
        marks,
    }
}

/// The loudness that every track comes to, and the ceiling of its true peaks: with more room where a form rounds them.
pub(super) fn level(args: &LessonArgs) -> (f64, f64) {
    let lossy = args.format.iter().any(|form| form.is_made_of_another());
    (args.lufs, CEILING_DBTP - if lossy { LOSSY_DB } else { 0.0 })
}

/// What every track is made with, as a hash: this very program, the settings, the sounds, whether there is a voice.
pub(super) fn made_with(
    config: &Config,
    prepared: &Prepared,
    speaks: bool,
    args: &LessonArgs,
) -> String {
    let program = std::fs::read("/proc/self/exe").map(|bytes| md5::compute(&bytes));
    let voice = SpeechSettings {
        cache_dir: None,
        ..setup::speech(config, None)
    };
    let sounds = prepared
        .font
        .as_ref()
        .and_then(|font| prepared.band.sounds(font).ok());
    let sounds = sounds.map(|sounds| sounds.fingerprint());
    let band = Prepared {
        font: None,
        ..prepared.clone()
    };
    hash([
        MADE_BY,
        &format!("{:?}", program.ok()),
        &format!("{:?} {voice:?} {speaks}", setup::settings(config, RATE)),
        &format!("{sounds:?} {band:?}"),
        &format!(
            "{:?} {:?} {} {:?}",
            level(args),
            args.tempo,
            args.form,
            args.panel
        ),
    ])
}

/// A hash of texts.
pub(super) fn hash<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    let mut context = md5::Context::new();
    for text in texts {
        context.consume(text.len().to_le_bytes());
        context.consume(text);
    }
    format!("{:x}", context.finalize())
}

/// A name that every file system takes.
fn plain(name: &str) -> String {
    let mut plain = String::new();
    for letter in name.chars().flat_map(char::to_lowercase) {
        match letter {
            letter if letter.is_ascii_alphanumeric() => plain.push(letter),
            _ if plain.ends_with('-') || plain.is_empty() => {}
            _ => plain.push('-'),
        }
    }
    plain.truncate(NAME_CHARS);
    match plain.trim_end_matches('-') {
        "" => "stage".to_string(),
        plain => plain.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_plain() {
        let cases = [
            ("roots", "roots"),
            ("Root, third: \"above\"", "root-third-above"),
            ("../../etc/passwd", "etc-passwd"),
            ("-- ", "stage"),
            ("Ganztöne", "ganzt-ne"),
            (
                "a stage with a name that is so long that nobody would read it",
                "a-stage-with-a-name-that-is-so-long-that",
            ),
        ];
        for (name, expected) in cases {
            assert_eq!(plain(name), expected, "{name}");
        }
    }

    #[test]
    fn texts_that_flow_together_are_not_the_same() {
        assert_ne!(hash(["ab", "c"]), hash(["a", "bc"]));
        assert_eq!(hash([""]), hash([""]));
    }
}
