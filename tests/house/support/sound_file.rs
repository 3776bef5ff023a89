//! Sound as a file, for a program that reads it.

use std::path::Path;

/// Writes one channel as a WAV file of 32-bit floating point.
pub fn write_wav(path: &Path, sound: &[f32], rate: u32) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a file");
    for sample in sound {
        writer.write_sample(*sample).expect("a sample");
    }
    writer.finalize().expect("a file");
}
