//! What stands in a track besides its sound: names, and places to jump to.

use serde::{Deserialize, Serialize};

/// A place in a track.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Seconds from the beginning.
    pub at_s: f64,
    /// In a few words.
    pub words: String,
}

/// The names of a track.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tags {
    pub(super) title: String,
    /// What all tracks of the folder are.
    pub(super) album: String,
    /// Whom it is for.
    pub(super) student: Option<String>,
    /// Its number, from 1; 0: all of them in one.
    pub(super) number: usize,
    pub(super) of: usize,
    pub(super) qpm: f64,
    pub(super) marks: Vec<Mark>,
}

/// What made it.
pub(super) const MADE_BY: &str = concat!("underfoot ", env!("CARGO_PKG_VERSION"));

impl Tags {
    /// As Vorbis comments name them; marks as the chapters that players of FLAC and Ogg files know.
    pub(super) fn comments(&self) -> Vec<(String, String)> {
        let mut comments = vec![
            ("TITLE".to_string(), self.title.clone()),
            ("ALBUM".to_string(), self.album.clone()),
            ("ENCODER".to_string(), MADE_BY.to_string()),
        ];
        let mut add = |name: &str, value: String| comments.push((name.to_string(), value));
        if let Some(student) = &self.student {
            add("COMMENT", format!("for {student}"));
        }
        if self.number > 0 {
            add("TRACKNUMBER", self.number.to_string());
            add("TRACKTOTAL", self.of.to_string());
            add("BPM", format!("{:.0}", self.qpm));
        }
        for (index, mark) in self.marks.iter().enumerate() {
            add(&format!("CHAPTER{:03}", index + 1), clock(mark.at_s));
            add(&format!("CHAPTER{:03}NAME", index + 1), mark.words.clone());
        }
        comments
    }

    /// As the chunks of a RIFF file name them (Multimedia Programming Interface and Data Specifications 1.0): INFO, cue points
    /// and their labels.
    pub(super) fn chunks(&self, rate: u32) -> Vec<u8> {
        let text = |name: &[u8; 4], text: &str| {
            let mut bytes = text.as_bytes().to_vec();
            bytes.push(0);
            chunk(name, &bytes)
        };
        let mut info = b"INFO".to_vec();
        info.extend(text(b"INAM", &self.title));
        info.extend(text(b"IPRD", &self.album));
        info.extend(text(b"ISFT", MADE_BY));
        if let Some(student) = &self.student {
            info.extend(text(b"ICMT", &format!("for {student}")));
        }
        if self.number > 0 {
            info.extend(text(b"ITRK", &self.number.to_string()));
        }
        let mut cues = (self.marks.len() as u32).to_le_bytes().to_vec();
        let mut labels = b"adtl".to_vec();
        for (mark, id) in self.marks.iter().zip(1u32..) {
            let frame = (mark.at_s * f64::from(rate)).round() as u32;
            let data = u32::from_le_bytes(*b"data");
            for number in [id, frame, data, 0, 0, frame] {
                cues.extend(number.to_le_bytes());
            }
            let mut label = id.to_le_bytes().to_vec();
            label.extend(mark.words.as_bytes());
            label.push(0);
            labels.extend(chunk(b"labl", &label));
        }
        [
            chunk(b"LIST", &info),
            chunk(b"cue ", &cues),
            chunk(b"LIST", &labels),
        ]
        .concat()
    }
}

/// A chunk of a RIFF file, filled up to an even length.
fn chunk(name: &[u8; 4], bytes: &[u8]) -> Vec<u8> {
    let mut whole = name.to_vec();
    whole.extend((bytes.len() as u32).to_le_bytes());
    whole.extend(bytes);
    whole.resize(whole.len().next_multiple_of(2), 0);
    whole
}

/// Hours, minutes, seconds.
fn clock(at_s: f64) -> String {
    let ms = (at_s * 1000.0).round() as u64;
    let (hours, minutes, seconds) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1000 % 60);
    format!("{hours:02}:{minutes:02}:{seconds:02}.{:03}", ms % 1000)
}

/// A length as people say it: minutes and seconds.
pub(super) fn minutes(seconds: f64) -> String {
    let seconds = seconds.round() as u64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}
