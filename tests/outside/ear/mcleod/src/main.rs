//! McLeod's method as the crate pitch-detection has it, window 2048, hop 256: for every WAV file (mono, PCM16) given,
//! `FILE.mcleod` with a line `time hz clarity` a hop.
use pitch_detection::detector::{PitchDetector, mcleod::McLeodDetector};
use std::error::Error;
use std::io::Write;

const WINDOW: usize = 2048;
const HOP: usize = 256;

fn main() -> Result<(), Box<dyn Error>> {
    for file in std::env::args().skip(1) {
        let mut reader = hound::WavReader::open(&file)?;
        let rate = reader.spec().sample_rate as usize;
        let sound = reader
            .samples::<i16>()
            .map(|sample| Ok(f64::from(sample?) / 32768.0))
            .collect::<Result<Vec<f64>, hound::Error>>()?;
        let mut detector = McLeodDetector::new(WINDOW, WINDOW / 2);
        let mut out = std::io::BufWriter::new(std::fs::File::create(format!("{file}.mcleod"))?);
        for end in (WINDOW..=sound.len()).step_by(HOP) {
            let pitch = detector.get_pitch(&sound[end - WINDOW..end], rate, 0.0, 0.9);
            let (hz, clarity) = pitch.map_or((0.0, 0.0), |pitch| (pitch.frequency, pitch.clarity));
            writeln!(out, "{:.5} {hz:.4} {clarity:.4}", end as f64 / rate as f64)?;
        }
    }
    Ok(())
}
