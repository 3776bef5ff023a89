//! The speech engine: a program that is given a text and writes a WAVE stream.
//!
//! espeak-ng is run as a program and never opens a sound device; any other engine can be named by a command.
//! Without an engine everything else goes on: one warning, and silence.

// Running the engine is what this adapter is for; a child that hangs must be timed out.
#![allow(clippy::disallowed_methods)]

use super::sound::{SoundError, SpokenSound};
use super::spoken::{Language, SELF_TEST, bare, spoken_form};
use std::io::{Read, Write};
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// The most bytes taken from an engine for one phrase.
const MOST_BYTES: u64 = 8 * 1024 * 1024;

/// The same for many phrases at once: some 50 minutes.
const MOST_OF_ALL_BYTES: u64 = 128 * 1024 * 1024;

/// Which engine, and how it speaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EngineSettings {
    /// The espeak-ng program: a name or a path.
    pub program: String,
    /// Its voice ("en", which is a seventh shorter than "en-us").
    pub voice: String,
    /// Words a minute, 80 to 450.
    pub words_per_minute: u32,
    /// Another engine instead: program and arguments. `{text}` in an argument is the text; without it the
    /// text goes to the standard input. It must write a WAVE stream to its standard output.
    pub command: Option<Vec<String>>,
    /// How long it may take for one phrase; then it is ended.
    pub patience: Duration,
}

impl Default for EngineSettings {
    fn default() -> EngineSettings {
        EngineSettings {
            program: "espeak-ng".to_string(),
            voice: "en".to_string(),
            words_per_minute: 175,
            command: None,
            patience: Duration::from_secs(10),
        }
    }
}

/// What went wrong with an engine.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EngineError {
    /// It is not there.
    #[error("speech engine \"{program}\" cannot be started ({reason}): nothing will be spoken")]
    Missing {
        program: String,
        /// What the system said.
        reason: String,
    },
    /// It ended with an error.
    #[error("speech engine \"{program}\" failed ({reason})")]
    Failed {
        program: String,
        /// Its exit, or what broke.
        reason: String,
    },
    /// It took too long.
    #[error("speech engine \"{0}\" took too long for a phrase")]
    TooSlow(String),
    /// It does not know the voice, and would take another in silence.
    #[error(
        "speech engine \"{program}\" does not know the voice \"{voice}\": nothing will be spoken"
    )]
    Voice { program: String, voice: String },
    /// What it wrote is no sound.
    #[error("speech engine: {0}")]
    SpokenSound(#[from] SoundError),
}

/// An engine that was found.
#[derive(Debug, Clone)]
pub struct Engine {
    settings: EngineSettings,
    identity: String,
}

impl Engine {
    /// Looks for the engine and asks for its version.
    ///
    /// # Errors
    /// When it cannot be started or does not know the voice.
    pub fn find(settings: EngineSettings) -> Result<Engine, EngineError> {
        let identity = match &settings.command {
            Some(command) => format!("command {}", command.join(" ")),
            None => {
                let out = run(
                    &settings.program,
                    &["--version".to_string()],
                    "",
                    settings.patience,
                )?;
                check_voice(&settings)?;
                let version = String::from_utf8_lossy(&out);
                // The rest of the line tells where its data lie.
                let version = version.split("Data at").next().unwrap_or_default().trim();
                format!(
                    "{version} voice {} rate {}",
                    settings.voice, settings.words_per_minute
                )
            }
        };
        Ok(Engine { settings, identity })
    }

    /// What the sound depends on besides the text: version, voice, rate.
    pub fn identity(&self) -> &str {
        &self.identity
    }

    /// The text as the engine is told it: two texts of one form sound the same.
    pub fn form(&self, text: &str) -> String {
        Engine::form_of(&self.settings, text)
    }

    /// The same for an engine that was not looked for.
    pub(super) fn form_of(settings: &EngineSettings, text: &str) -> String {
        match settings.command {
            Some(_) => text.to_string(),
            None => spoken_form(text, Language::of_voice(&settings.voice)),
        }
    }

    /// What espeak-ng writes when it says a document in SSML; it is started once, and not looked for before.
    pub(super) fn say_document(
        settings: &EngineSettings,
        document: &str,
    ) -> Result<Vec<u8>, EngineError> {
        espeak(
            settings,
            &["--stdout", "-z", "-m"],
            document,
            MOST_OF_ALL_BYTES,
        )
    }

    /// Speaks a plain text: the sound as the engine made it.
    ///
    /// # Errors
    /// When the engine fails, hangs, or writes no sound.
    pub fn render(&self, text: &str) -> Result<SpokenSound, EngineError> {
        let bytes = match &self.settings.command {
            Some(command) => run_command(command, text, self.settings.patience)?,
            None => {
                let how = ["--stdout", "-z"];
                espeak(&self.settings, &how, &self.form(text), MOST_BYTES)?
            }
        };
        Ok(SpokenSound::from_wav(&bytes)?)
    }

    /// The phonemes of a plain text, as espeak-ng writes them; empty for other engines.
    ///
    /// # Errors
    /// When the engine fails or hangs.
    pub fn phonemes(&self, text: &str) -> Result<String, EngineError> {
        if self.settings.command.is_some() {
            return Ok(String::new());
        }
        let out = espeak(&self.settings, &["-q", "-x"], &self.form(text), MOST_BYTES)?;
        Ok(String::from_utf8_lossy(&out).into_owned())
    }

    /// Compares what the installed engine makes of a table of words with what it must be. One line for each
    /// that differs; empty if all is well (or the voice is not English, for which there is no table).
    pub fn self_test(&self) -> Vec<String> {
        if self.settings.command.is_some() || self.language() != Language::English {
            return Vec::new();
        }
        let check = |(text, wanted): &(&str, &str)| match self.phonemes(text) {
            Ok(found) if bare(&found) == *wanted => None,
            Ok(found) => Some(format!("\"{text}\" is said as {}", found.trim())),
            Err(error) => Some(error.to_string()),
        };
        SELF_TEST.iter().filter_map(check).collect()
    }

    fn language(&self) -> Language {
        Language::of_voice(&self.settings.voice)
    }
}

fn espeak(
    settings: &EngineSettings,
    how: &[&str],
    form: &str,
    most_bytes: u64,
) -> Result<Vec<u8>, EngineError> {
    let rate = settings.words_per_minute.clamp(80, 450).to_string();
    let mut arguments: Vec<String> = how.iter().map(ToString::to_string).collect();
    arguments.extend(["--stdin", "-v", &settings.voice, "-s", &rate].map(String::from));
    let limits = (settings.patience, most_bytes);
    run_within(&settings.program, &arguments, form, limits)
}

/// espeak-ng takes its usual voice for one that it does not know, without a word; so the list is looked at.
fn check_voice(settings: &EngineSettings) -> Result<(), EngineError> {
    let out = run(
        &settings.program,
        &["--voices".to_string()],
        "",
        settings.patience,
    )?;
    let list = String::from_utf8_lossy(&out).to_lowercase();
    // A voice may carry a variant: "en+f3".
    let wanted = settings.voice.split('+').next().unwrap_or_default();
    let wanted = wanted.to_lowercase();
    // Columns: priority, language, age and gender, name, file, then other languages as "(en 2)".
    let words = list.split([' ', '\n', '(', ')', '/']);
    if words.clone().any(|word| word == wanted) && !wanted.is_empty() {
        return Ok(());
    }
    Err(EngineError::Voice {
        program: settings.program.clone(),
        voice: settings.voice.clone(),
    })
}

fn run_command(command: &[String], text: &str, patience: Duration) -> Result<Vec<u8>, EngineError> {
    let Some((program, arguments)) = command.split_first() else {
        return Err(EngineError::Missing {
            program: String::new(),
            reason: "the command is empty".to_string(),
        });
    };
    let in_arguments = arguments.iter().any(|argument| argument.contains("{text}"));
    let arguments: Vec<String> = arguments
        .iter()
        .map(|argument| argument.replace("{text}", text))
        .collect();
    let input = if in_arguments { "" } else { text };
    run(program, &arguments, input, patience)
}

fn run(
    program: &str,
    arguments: &[String],
    input: &str,
    patience: Duration,
) -> Result<Vec<u8>, EngineError> {
    run_within(program, arguments, input, (patience, MOST_BYTES))
}

/// Runs a program to its end, gives it `input`, takes its output. Writing may block on a program that does not
/// read, reading on one that does not end: neither may hang us, so each has its thread.
fn run_within(
    program: &str,
    arguments: &[String],
    input: &str,
    (patience, most_bytes): (Duration, u64),
) -> Result<Vec<u8>, EngineError> {
    let failed = |reason: String| EngineError::Failed {
        program: program.to_string(),
        reason,
    };
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|error| EngineError::Missing {
            program: program.to_string(),
            reason: error.to_string(),
        })?;
    if let Some(mut stdin) = child.stdin.take() {
        let text = input.to_string();
        // A program that does not want its input is free to close it.
        std::thread::spawn(move || drop(stdin.write_all(text.as_bytes())));
    }
    let stdout = child.stdout.take().map(|from| read_all(from, most_bytes));
    let stderr = child.stderr.take().map(|from| read_all(from, MOST_BYTES));
    let bytes = match stdout.map(|stdout| stdout.recv_timeout(patience)) {
        None => Ok(Vec::new()),
        Some(Ok(bytes)) => bytes.map_err(|error| failed(error.to_string())),
        Some(Err(_)) => Err(EngineError::TooSlow(program.to_string())),
    };
    if bytes
        .as_ref()
        .map_or(true, |bytes| bytes.len() as u64 >= most_bytes)
    {
        // It may be gone already; then there is nothing to end.
        let _ = child.kill();
    }
    let status = child.wait().map_err(|error| failed(error.to_string()))?;
    let stdout = bytes?;
    if status.success() {
        return Ok(stdout);
    }
    // Something that it started may keep the pipe open: then there is nothing to tell.
    let stderr = stderr.and_then(|stderr| stderr.recv_timeout(Duration::from_millis(200)).ok());
    let stderr = stderr.and_then(Result::ok).unwrap_or_default();
    let told = String::from_utf8_lossy(&stderr);
    let told = told.lines().next().unwrap_or_default().trim();
    Err(failed(format!("{status} {told}").trim().to_string()))
}

fn read_all(
    from: impl Read + Send + 'static,
    most_bytes: u64,
) -> mpsc::Receiver<std::io::Result<Vec<u8>>> {
    let (done, bytes) = mpsc::channel();
    std::thread::spawn(move || {
        let mut read = Vec::new();
        let result = from.take(most_bytes).read_to_end(&mut read);
        // Nobody waits any more: then it was too late.
        let _ = done.send(result.map(|_| read));
    });
    bytes
}
