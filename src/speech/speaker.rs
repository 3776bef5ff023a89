//! The speaker: texts in, clips out, at once (for the offline renderer) or on its own thread.

// The thread is what this adapter is for.
#![allow(clippy::disallowed_methods)]

use super::cache::{Cache, CacheKey};
use super::engine::{Engine, EngineError, EngineSettings};
use super::phrases::{FormLimit, PhraseSet};
use super::sound::SpokenSound;
use crate::audio::{CUE_CHOICES, CueChoice};
use arrayvec::ArrayVec;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;

/// The lengths of a phrase as clips, fullest first; empty: nothing can be said.
pub type ClipChoices = ArrayVec<CueChoice, CUE_CHOICES>;

/// What a speaker needs to know.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SpeechSettings {
    /// The engine; `None`: no speech is wanted.
    pub engine: Option<EngineSettings>,
    /// Where sounds are kept on disk; `None`: in memory alone.
    pub cache_dir: Option<PathBuf>,
}

/// Speaks. Without an engine it is silent, and said so once.
#[derive(Debug)]
pub struct Speaker {
    engine: Option<Engine>,
    cache: Cache,
    warnings: Vec<String>,
    warned: bool,
    rendered: u64,
}

impl Speaker {
    /// Looks for the engine and tests it; whatever fails becomes a warning.
    pub fn new(settings: &SpeechSettings) -> Speaker {
        let mut warnings = Vec::new();
        let engine = settings.engine.clone().map(Engine::find);
        let engine = match engine.transpose() {
            Ok(engine) => engine,
            Err(error) => {
                warnings.push(error.to_string());
                None
            }
        };
        let cache = Cache::open(settings.cache_dir.as_deref()).unwrap_or_else(|error| {
            warnings.push(format!("spoken sounds are not kept on disk: {error}"));
            Cache::default()
        });
        if let Some(differences) = engine.as_ref().map(Engine::self_test)
            && !differences.is_empty()
        {
            warnings.push(format!(
                "this speech engine says words unlike the one the phrases were made for: {}",
                differences.join("; ")
            ));
        }
        Speaker {
            engine,
            cache,
            warnings,
            warned: false,
            rendered: 0,
        }
    }

    /// A speaker that never says anything.
    pub fn silent() -> Speaker {
        Speaker::new(&SpeechSettings::default())
    }

    /// Whether there is an engine.
    pub fn can_speak(&self) -> bool {
        self.engine.is_some()
    }

    /// Warnings since the last call. The same trouble is told once.
    pub fn take_warnings(&mut self) -> Vec<String> {
        std::mem::take(&mut self.warnings)
    }

    /// How often the engine was run for a sound.
    pub fn rendered(&self) -> u64 {
        self.rendered
    }

    /// The clips of what may be said within `limit`, at `rate` samples a second. Runs the engine for what is
    /// not kept yet. Each is shorter than the one before it.
    pub fn clips_now(&mut self, set: &PhraseSet, limit: FormLimit, rate: u32) -> ClipChoices {
        let mut clips = ClipChoices::new();
        for (form, text) in set.choices(limit).into_iter().take(CUE_CHOICES) {
            let sound = self.sound(text).filter(|sound| !sound.samples.is_empty());
            let Some(samples) = sound.map(|sound| louder(&sound.at_rate(rate))) else {
                continue;
            };
            // "D half diminished" takes longer than "D, F": then it is no way out.
            let shorter = |last: &CueChoice| samples.len() < last.samples.len();
            if clips.last().is_none_or(shorter) {
                clips.push(CueChoice { form, samples });
            }
        }
        clips
    }

    /// How long a text takes to say; `None` without an engine.
    pub fn length_ms(&mut self, text: &str) -> Option<f64> {
        self.sound(text).map(|sound| sound.ms())
    }

    /// Sees to it that a text is kept.
    pub fn prepare(&mut self, text: &str) {
        self.sound(text);
    }

    fn sound(&mut self, text: &str) -> Option<Arc<SpokenSound>> {
        let engine = self.engine.as_ref()?;
        let key = CacheKey::new(engine.identity(), &engine.form(text));
        if let Some(known) = self.cache.get(key) {
            return Some(known);
        }
        self.rendered += 1;
        let made: Result<SpokenSound, EngineError> = engine.render(text);
        match made {
            Ok(sound) => {
                let (sound, written) = self.cache.put(key, sound.tidied());
                if let Err(error) = written {
                    self.warn(format!("a spoken sound could not be kept: {error}"));
                }
                Some(sound)
            }
            Err(error) => {
                self.warn(error.to_string());
                None
            }
        }
    }

    fn warn(&mut self, text: String) {
        if !std::mem::replace(&mut self.warned, true) {
            self.warnings.push(text);
        }
    }
}

/// What brings the common level of spoken sounds to 3 LU above the band: -17 LUFS in both outputs, at the cue's built-in level
/// of -12 dB. What comes of its highest peaks is the limiter's.
const CLIP_GAIN: f32 = 4.467;

fn louder(samples: &[f32]) -> Arc<[f32]> {
    samples.iter().map(|sample| sample * CLIP_GAIN).collect()
}

/// Clips that were asked for.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The number given with the question.
    pub id: u32,
    /// The clips; empty: nothing can be said.
    pub clips: ClipChoices,
}

enum Question {
    Prepare(Vec<PhraseSet>),
    Clips {
        id: u32,
        set: PhraseSet,
        limit: FormLimit,
        rate: u32,
    },
}

/// A speaker on its own thread. Asking and looking for answers never block. Questions are answered before more
/// is prepared.
#[derive(Debug)]
pub struct SpeakerThread {
    questions: Option<SyncSender<Question>>,
    answers: Receiver<Answer>,
    thread: Option<JoinHandle<()>>,
}

/// Questions that may wait.
const QUEUE: usize = 64;

impl SpeakerThread {
    /// Starts the thread; the engine is looked for there.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(settings: SpeechSettings) -> std::io::Result<SpeakerThread> {
        let (questions, asked) = sync_channel(QUEUE);
        let (answer, answers) = sync_channel(QUEUE);
        let thread = std::thread::Builder::new()
            .name("speech".to_string())
            .spawn(move || serve(&settings, &asked, &answer))?;
        Ok(SpeakerThread {
            questions: Some(questions),
            answers,
            thread: Some(thread),
        })
    }

    /// Asks for phrases to be rendered ahead, when nothing else is asked. Handed back if too much waits.
    ///
    /// # Errors
    /// The phrases, when the queue is full or the thread is gone.
    pub fn prepare(&self, sets: Vec<PhraseSet>) -> Result<(), Vec<PhraseSet>> {
        self.ask_thread(Question::Prepare(sets))
            .map_err(|back| match back {
                Question::Prepare(sets) => sets,
                Question::Clips { .. } => Vec::new(),
            })
    }

    /// Asks for clips; the answer carries `id`. `false`: too much waits already.
    pub fn ask(&self, id: u32, set: PhraseSet, limit: FormLimit, rate: u32) -> bool {
        let question = Question::Clips {
            id,
            set,
            limit,
            rate,
        };
        self.ask_thread(question).is_ok()
    }

    /// The next answer, if there is one.
    pub fn poll(&self) -> Option<Answer> {
        self.answers.try_recv().ok()
    }

    /// The next answer, waiting for it up to `patience`.
    pub fn wait(&self, patience: std::time::Duration) -> Option<Answer> {
        self.answers.recv_timeout(patience).ok()
    }

    fn ask_thread(&self, question: Question) -> Result<(), Question> {
        let Some(questions) = &self.questions else {
            return Err(question);
        };
        questions.try_send(question).map_err(|error| match error {
            TrySendError::Full(back) | TrySendError::Disconnected(back) => back,
        })
    }
}

impl Drop for SpeakerThread {
    fn drop(&mut self) {
        // Hanging up ends the thread; it is waited for so that no engine outlives us. Answers are read away,
        // or it could wait for room in the queue for ever.
        self.questions = None;
        if let Some(thread) = self.thread.take() {
            while !thread.is_finished() {
                let _ = self
                    .answers
                    .recv_timeout(std::time::Duration::from_millis(20));
            }
            // A panic of the speech thread is not ours to repeat.
            let _ = thread.join();
        }
    }
}

fn serve(settings: &SpeechSettings, asked: &Receiver<Question>, answer: &SyncSender<Answer>) {
    let mut speaker = Speaker::new(settings);
    let mut ahead: std::collections::VecDeque<String> = std::collections::VecDeque::new();
    loop {
        for warning in speaker.take_warnings() {
            log::warn!("{warning}");
        }
        let question = if ahead.is_empty() {
            asked.recv().ok()
        } else {
            match asked.try_recv() {
                Ok(question) => Some(question),
                Err(std::sync::mpsc::TryRecvError::Disconnected) => None,
                Err(std::sync::mpsc::TryRecvError::Empty) => {
                    if let Some(text) = ahead.pop_front() {
                        speaker.prepare(&text);
                    }
                    continue;
                }
            }
        };
        match question {
            None => return,
            Some(Question::Prepare(sets)) => {
                let texts = sets
                    .into_iter()
                    .flat_map(|set| [set.full, set.short, set.root]);
                for text in texts.filter(|text| !text.is_empty()) {
                    if !ahead.contains(&text) {
                        ahead.push_back(text);
                    }
                }
            }
            Some(Question::Clips {
                id,
                set,
                limit,
                rate,
            }) => {
                let clips = speaker.clips_now(&set, limit, rate);
                if answer.send(Answer { id, clips }).is_err() {
                    return;
                }
            }
        }
    }
}
