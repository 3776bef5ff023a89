//! The forms of a track.

use clap::ValueEnum;

/// A form that a track is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, ValueEnum)]
pub enum Form {
    /// 16 bits, as they are
    Wav,
    /// The same samples in about half the room; telephones play it
    Flac,
    /// Small, for telephones; made by ffmpeg
    Opus,
    /// Small, for whatever plays nothing else; made by ffmpeg
    Mp3,
}

impl Form {
    /// The end of the file's name.
    pub fn ending(self) -> &'static str {
        match self {
            Form::Wav => "wav",
            Form::Flac => "flac",
            Form::Opus => "opus",
            Form::Mp3 => "mp3",
        }
    }

    /// What a browser calls it.
    pub fn media_type(self) -> &'static str {
        match self {
            Form::Wav => "audio/wav",
            Form::Flac => "audio/flac",
            Form::Opus => "audio/ogg; codecs=opus",
            Form::Mp3 => "audio/mpeg",
        }
    }

    /// Whether another program makes it, of a track in a form that keeps every sample.
    pub fn is_made_of_another(self) -> bool {
        matches!(self, Form::Opus | Form::Mp3)
    }

    /// The forms to write, each once, smallest last; one that keeps every sample is among them.
    pub fn all(asked: &[Form]) -> Vec<Form> {
        let mut forms = asked.to_vec();
        if forms.iter().all(|form| form.is_made_of_another()) {
            forms.push(Form::Flac);
        }
        forms.sort();
        forms.dedup();
        forms
    }
}
