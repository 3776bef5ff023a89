//! How long texts take to say, all by one run of the engine: what is only measured need not be kept.
//!
//! espeak-ng is given them as paragraphs with long pauses between (SSML, W3C), and what it says is cut there. A text said so is
//! as long as one said alone, to two in a hundred. Another engine knows no such pauses: it says each by itself.

use super::engine::{Engine, EngineError, EngineSettings};
use super::sound::SpokenSound;
use super::speaker::{Speaker, SpeechSettings};
use std::collections::{BTreeSet, HashMap};

/// What is put between two texts, in ms, and how long a silence must be to be one of these: no phrase has such a pause.
const PAUSE_MS: u32 = 1_500;
const CUT_S: f64 = 1.0;
/// Below this magnitude there is silence.
const FLOOR: u16 = 24;

/// The lengths of texts.
#[derive(Debug, Default)]
pub struct Lengths {
    known: HashMap<String, f64>,
    /// What says each by itself.
    speaker: Option<Speaker>,
}

impl Lengths {
    /// Measures these. Where there is nothing to say no engine is started.
    pub fn of(settings: &SpeechSettings, texts: &BTreeSet<String>) -> Lengths {
        let Some(engine) = settings.engine.as_ref().filter(|_| !texts.is_empty()) else {
            return Lengths::default();
        };
        let together = match engine.command {
            Some(_) => None,
            None => together(engine, texts).transpose(),
        };
        match together {
            Some(Ok(known)) => Lengths {
                known,
                speaker: None,
            },
            // Not there at all, or without the voice: nothing is said.
            Some(Err(_)) => Lengths::default(),
            None => Lengths {
                known: HashMap::new(),
                speaker: Some(Speaker::new(settings)),
            },
        }
    }

    /// Whether anything can be said.
    pub fn can_speak(&self) -> bool {
        !self.known.is_empty() || self.speaker.as_ref().is_some_and(Speaker::can_speak)
    }

    /// How long a text takes to say, in ms; none where it cannot be said.
    pub fn ms(&mut self, text: &str) -> Option<f64> {
        let known = self.known.get(text).copied();
        known.or_else(|| self.speaker.as_mut()?.length_ms(text))
    }
}

/// All of them by one run; none where what was said does not fall into as many parts.
fn together(
    engine: &EngineSettings,
    texts: &BTreeSet<String>,
) -> Result<Option<HashMap<String, f64>>, EngineError> {
    let forms = texts.iter().map(|text| Engine::form_of(engine, text));
    let paragraphs = forms.map(|form| format!("<p>{form}</p><break time=\"{PAUSE_MS}ms\"/>"));
    let document = format!("<speak>{}</speak>", paragraphs.collect::<String>());
    // It may take as long for each dozen as for one.
    let patience = engine.patience * (1 + texts.len() as u32 / 12);
    let engine = EngineSettings {
        patience,
        ..engine.clone()
    };
    let said = SpokenSound::from_long_wav(&Engine::say_document(&engine, &document)?)?;
    let parts = parts(&said);
    let is_whole = parts.len() == texts.len();
    let lengths = parts.iter().map(|part| part.tidied().ms());
    Ok(is_whole.then(|| texts.iter().cloned().zip(lengths).collect()))
}

/// What lies between the long silences.
fn parts(said: &SpokenSound) -> Vec<SpokenSound> {
    let cut = (CUT_S * f64::from(said.rate)) as usize;
    let mut parts: Vec<std::ops::Range<usize>> = Vec::new();
    let loud = said.samples.iter().enumerate();
    for (at, _) in loud.filter(|(_, sample)| sample.unsigned_abs() > FLOOR) {
        match parts.last_mut() {
            Some(last) if at - last.end < cut => last.end = at + 1,
            _ => parts.push(at..at + 1),
        }
    }
    let part = |range: std::ops::Range<usize>| SpokenSound {
        rate: said.rate,
        samples: said.samples.get(range).unwrap_or_default().to_vec(),
    };
    parts.into_iter().map(part).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_said_is_cut_at_long_silences_only() {
        // Lengths of sound and of silence by turns, in hundredths of a second.
        let said = |hundredths: &[usize]| SpokenSound {
            rate: 1_000,
            samples: (0..)
                .zip(hundredths)
                .flat_map(|(turn, len)| vec![if turn % 2 == 0 { 500 } else { 3 }; len * 10])
                .collect(),
        };
        for (hundredths, wanted) in [
            (&[30][..], &[300.0][..]),
            (&[30, 90, 20], &[1_400.0]),
            (&[30, 150, 20, 40, 10, 150], &[300.0, 700.0]),
            (&[], &[]),
        ] {
            let found: Vec<f64> = parts(&said(hundredths))
                .iter()
                .map(SpokenSound::ms)
                .collect();
            assert_eq!(found, wanted, "{hundredths:?}");
        }
    }
}
