//! Phrases (pure) and the espeak-ng renderer with its cache.
//!
//! Promise: what is said fits its time or is not said; a voice that is missing or slow holds up nobody.

mod cache;
mod calls;
mod engine;
mod lengths;
mod menu_words;
pub mod phrases;
mod sound;
mod speaker;
pub mod spoken;
pub mod words;

pub use cache::{Cache, CacheKey, DISK_BYTES, MEMORY_BYTES};
pub use calls::{
    Call, Doing, Hand, ORDER_NOTES, about_ms, call_phrases, degree_word, octave_word, place_said,
};
pub use engine::{Engine, EngineError, EngineSettings};
pub use lengths::Lengths;
pub use menu_words::menu_phrases;
pub use phrases::{
    FormLimit, PhraseSet, SpokenNote, form_limit, stage_phrases, status_sentence, target_phrases,
};
pub use sound::{SoundError, SpokenSound};
pub use speaker::{Answer, ClipChoices, Speaker, SpeakerThread, SpeechSettings};
pub use words::{number_word, say};
