//! A spoken sound: read from what an engine writes, trimmed, levelled, brought to the player's rate.

use ebur128::{EbuR128, Mode};
use rubato::audioadapter::Adapter;
use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler};
use std::sync::Arc;

/// The longest sound taken, in seconds.
const LONGEST_S: usize = 60;
/// The same of many phrases together.
const LONGEST_OF_ALL_S: usize = 3_600;
/// Where silence begins: this far below the peak.
const SILENCE_DB: f32 = -45.0;
/// What is left of the silence at both ends, in ms, faded.
const EDGE_MS: u32 = 3;
/// Every phrase sounds as loud as every other, by ITU-R BS.1770.
const LUFS: f64 = -21.0;
/// What is metered in one go: less than four tenths of a second the meter does not judge.
const METERED_S: f32 = 0.5;
/// And no phrase peaks above.
const PEAK_DB: f32 = -3.0;

/// Mono samples at the engine's own rate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpokenSound {
    /// Samples a second.
    pub rate: u32,
    pub samples: Vec<i16>,
}

/// Why a sound could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("not a sound that can be read: {0}")]
pub struct SoundError(pub &'static str);

impl SpokenSound {
    /// How long it is.
    pub fn ms(&self) -> f64 {
        self.samples.len() as f64 * 1000.0 / f64::from(self.rate.max(1))
    }

    /// Reads a RIFF WAVE stream of 16-bit PCM, mono or stereo, 8 to 192 kHz. Sizes in the header are not
    /// believed: an engine that writes to a pipe cannot know them (espeak-ng announces 2 GiB).
    ///
    /// # Errors
    /// When the bytes are no such stream.
    pub fn from_wav(bytes: &[u8]) -> Result<SpokenSound, SoundError> {
        SpokenSound::read(bytes, LONGEST_S)
    }

    /// The same where many phrases follow each other.
    pub(super) fn from_long_wav(bytes: &[u8]) -> Result<SpokenSound, SoundError> {
        SpokenSound::read(bytes, LONGEST_OF_ALL_S)
    }

    fn read(bytes: &[u8], longest_s: usize) -> Result<SpokenSound, SoundError> {
        if bytes.get(..4) != Some(b"RIFF") || bytes.get(8..12) != Some(b"WAVE") {
            return Err(SoundError("no RIFF WAVE header"));
        }
        let mut at = 12;
        let mut format = None;
        loop {
            let head = bytes.get(at..at + 8).ok_or(SoundError("no data chunk"))?;
            let size = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
            let body = &bytes[at + 8..];
            match &head[..4] {
                b"fmt " => format = Some(read_format(body)?),
                b"data" => {
                    let (channels, rate) = format.ok_or(SoundError("data before its format"))?;
                    let data = &body[..size.min(body.len())];
                    return Ok(from_data(data, channels, (rate, longest_s)));
                }
                _ => {}
            }
            // Chunks are padded to an even length.
            at = at
                .saturating_add(8)
                .saturating_add(size)
                .saturating_add(size & 1);
        }
    }

    /// Without the silence at both ends, at the common level.
    #[must_use]
    pub fn tidied(&self) -> SpokenSound {
        let peak = self.samples.iter().map(|s| s.unsigned_abs()).max();
        let peak = f32::from(peak.unwrap_or(0));
        let floor = peak * db(SILENCE_DB);
        let loud = |sample: &i16| f32::from(sample.unsigned_abs()) > floor;
        let (Some(first), Some(last)) = (
            self.samples.iter().position(loud),
            self.samples.iter().rposition(loud),
        ) else {
            return SpokenSound {
                rate: self.rate,
                samples: Vec::new(),
            };
        };
        let edge = (self.rate * EDGE_MS / 1000) as usize;
        let from = first.saturating_sub(edge);
        let to = (last + 1 + edge).min(self.samples.len());
        let kept = &self.samples[from..to];
        let full = f32::from(i16::MAX);
        let highest = db(PEAK_DB) * full / peak;
        let gain =
            loudness(kept, self.rate).map_or(highest, |lufs| db((LUFS - lufs) as f32).min(highest));
        let count = kept.len();
        let levelled = kept.iter().enumerate().map(|(index, &sample)| {
            let from_end = index.min(count - 1 - index);
            let fade = ((from_end + 1) as f32 / (edge + 1) as f32).min(1.0);
            (f32::from(sample) * gain * fade).round() as i16
        });
        SpokenSound {
            rate: self.rate,
            samples: levelled.collect(),
        }
    }

    /// What it measures as one channel, in LUFS; `None`: silence.
    pub fn lufs(&self) -> Option<f64> {
        loudness(&self.samples, self.rate)
    }

    /// The sound at `rate` samples a second, as the player takes it; silence if that cannot be done.
    pub fn at_rate(&self, rate: u32) -> Arc<[f32]> {
        let plain: Vec<f32> = self
            .samples
            .iter()
            .map(|&sample| f32::from(sample) / 32_768.0)
            .collect();
        if rate == self.rate || plain.is_empty() {
            return plain.into();
        }
        resampled(&plain, self.rate, rate)
            .unwrap_or_default()
            .into()
    }
}

fn resampled(samples: &[f32], from: u32, to: u32) -> Option<Vec<f32>> {
    let mut resampler =
        Fft::<f32>::new(from as usize, to as usize, 1024, 1, FixedSync::Both).ok()?;
    let input = InterleavedSlice::new(samples, 1, samples.len()).ok()?;
    let output = resampler.process_all(&input, samples.len(), None).ok()?;
    let frames = output.frames();
    Some(
        (0..frames)
            .filter_map(|at| output.read_sample(0, at))
            .collect(),
    )
}

fn read_format(body: &[u8]) -> Result<(usize, u32), SoundError> {
    let format = body.get(..16).ok_or(SoundError("format cut short"))?;
    let short = |at: usize| u16::from_le_bytes([format[at], format[at + 1]]);
    let rate = u32::from_le_bytes([format[4], format[5], format[6], format[7]]);
    // 0xfffe is the extensible form of the same.
    if !matches!(short(0), 1 | 0xfffe) || short(14) != 16 {
        return Err(SoundError("not 16-bit PCM"));
    }
    if !matches!(short(2), 1 | 2) || !(8_000..=192_000).contains(&rate) {
        return Err(SoundError("not mono or stereo at 8 to 192 kHz"));
    }
    Ok((usize::from(short(2)), rate))
}

fn from_data(data: &[u8], channels: usize, (rate, longest_s): (u32, usize)) -> SpokenSound {
    let frames = data
        .chunks_exact(2 * channels)
        .take(longest_s * rate as usize);
    let mono = frames.map(|frame| {
        let sum: i32 = frame
            .chunks_exact(2)
            .map(|pair| i32::from(i16::from_le_bytes([pair[0], pair[1]])))
            .sum();
        (sum / channels as i32) as i16
    });
    SpokenSound {
        rate,
        samples: mono.collect(),
    }
}

fn db(db: f32) -> f32 {
    10f32.powf(db / 20.0)
}

/// The loudness of samples as one channel, by EBU R 128, whose gate leaves pauses out; said again until the meter has enough.
fn loudness(samples: &[i16], rate: u32) -> Option<f64> {
    let mut meter = EbuR128::new(1, rate, Mode::I).ok()?;
    let times = (METERED_S * rate as f32 / samples.len().max(1) as f32).ceil();
    for _ in 0..times.max(1.0) as usize {
        meter.add_frames_i16(samples).ok()?;
    }
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wav(channels: u16, rate: u32, bits: u16, data: &[u8]) -> Vec<u8> {
        let mut bytes = b"RIFF\x24\xf0\xff\x7fWAVEfmt \x10\0\0\0\x01\0".to_vec();
        bytes.extend(channels.to_le_bytes());
        bytes.extend(rate.to_le_bytes());
        bytes.extend([0; 6]);
        bytes.extend(bits.to_le_bytes());
        bytes.extend(b"data\0\xf0\xff\x7f");
        bytes.extend(data);
        bytes
    }

    #[test]
    fn a_stream_with_placeholder_sizes_is_read_to_its_end() {
        let read = SpokenSound::from_wav(&wav(1, 22_050, 16, &[1, 0, 2, 0, 255, 255, 9])).unwrap();
        assert_eq!((read.rate, read.samples), (22_050, vec![1, 2, -1]));
        let read = SpokenSound::from_wav(&wav(2, 48_000, 16, &[2, 0, 4, 0])).unwrap();
        assert_eq!(read.samples, [3]);
    }

    #[test]
    fn what_is_no_such_stream_is_refused() {
        let long = wav(1, 22_050, 16, &[]);
        let cases = [
            (b"".to_vec(), "no RIFF WAVE header"),
            (long[..30].to_vec(), "format cut short"),
            (long[..36].to_vec(), "no data chunk"),
            (wav(1, 22_050, 8, &[]), "not 16-bit PCM"),
            (
                wav(6, 22_050, 16, &[]),
                "not mono or stereo at 8 to 192 kHz",
            ),
            (wav(1, 1, 16, &[]), "not mono or stereo at 8 to 192 kHz"),
        ];
        for (bytes, rule) in cases {
            assert_eq!(SpokenSound::from_wav(&bytes), Err(SoundError(rule)));
        }
    }

    fn tone(
        rate: u32,
        hz: f32,
        level: f32,
        before: usize,
        len: usize,
        after: usize,
    ) -> SpokenSound {
        let wave = (0..len).map(|at| {
            let turn = std::f32::consts::TAU * hz * at as f32 / rate as f32;
            (turn.cos() * level * 32_767.0) as i16
        });
        let mut samples = vec![0; before];
        samples.extend(wave);
        samples.resize(before + len + after, 0);
        SpokenSound { rate, samples }
    }

    #[test]
    fn silence_goes_and_the_level_is_always_the_same() {
        for level in [0.05, 0.3, 1.0] {
            let tidy = tone(22_050, 200.0, level, 4000, 11_025, 6000).tidied();
            assert!((tidy.ms() - 506.0).abs() < 1.0, "{}", tidy.ms());
            let lufs = tidy.lufs().unwrap();
            assert!((lufs - LUFS).abs() < 0.3, "{lufs}");
            assert!(tidy.samples[0].abs() < 400, "fades in");
        }
        let silence = SpokenSound {
            rate: 22_050,
            samples: vec![0; 500],
        };
        assert_eq!(silence.tidied().samples, [0i16; 0]);
    }

    #[test]
    fn the_rate_changes_but_neither_length_nor_pitch_nor_level() {
        let sound = tone(22_050, 1000.0, 0.5, 0, 22_050, 0);
        for rate in [22_050, 44_100, 48_000, 96_000] {
            let out = sound.at_rate(rate);
            assert!(
                (out.len() as i64 - i64::from(rate)).abs() <= 2,
                "{rate}: {}",
                out.len()
            );
            let middle = &out[out.len() / 4..out.len() * 3 / 4];
            let crossings = middle
                .windows(2)
                .filter(|w| w[0] < 0.0 && w[1] >= 0.0)
                .count();
            assert!((crossings as i64 - 500).abs() <= 1, "{rate}: {crossings}");
            let peak = middle.iter().fold(0f32, |peak, s| peak.max(s.abs()));
            assert!((peak - 0.5).abs() < 0.01, "{rate}: {peak}");
        }
    }

    proptest! {
        #[test]
        fn hostile_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), cut in 0usize..60) {
            let _ = SpokenSound::from_wav(&bytes);
            let mut near = wav(1, 22_050, 16, &bytes);
            near.truncate(cut + 12);
            near.extend(&bytes);
            if let Ok(sound) = SpokenSound::from_wav(&near) {
                let _ = sound.tidied().at_rate(48_000);
            }
        }
    }
}
