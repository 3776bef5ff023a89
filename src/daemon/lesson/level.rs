//! A track brought to a loudness: metered by ITU-R BS.1770 (EBU R 128), then one gain, and where a stroke would go over the
//! ceiling a short dip around it.
//!
//! Where strokes stand 30 dB over all else it falls short by a loudness unit or so rather than flatten them.
//!
//! Everything is reckoned in blocks of [`BLOCK`] frames from what a first reading metered, so that a second reading applies
//! it: nothing of the sound is kept in memory.

use ebur128::{EbuR128, Mode};

/// Frames of a block.
pub(super) const BLOCK: usize = 64;
/// No true peak goes over this, in dBTP. A little under what is promised: the next device may round, too.
pub(super) const CEILING_DBTP: f64 = -1.2;
/// What a form that does not keep every sample may add to a peak, in dB.
pub(super) const LOSSY_DB: f64 = 1.0;
/// A true peak is less than this times the samples around it: the interpolator's taps, by their size, add up to less.
const MOST_OVER: f32 = 2.0;
/// How quickly the gain falls before a stroke, and comes back after it, in dB a second.
const FALL_DB_S: f64 = 700.0;
const RISE_DB_S: f64 = 15.0;
/// Where the dips take more than this of the loudness, the gain makes up for it.
const CLOSE_LU: f64 = 0.02;
const TRIES: usize = 8;

/// The first reading.
pub(super) struct Meter {
    meter: EbuR128,
    metered: Metered,
}

/// What it found.
#[derive(Debug, Clone, Default)]
pub(super) struct Metered {
    pub(super) rate: u32,
    /// Integrated loudness; `None`: silence.
    pub(super) lufs: Option<f64>,
    /// The highest sample and the energy of each block.
    peaks: Vec<f32>,
    energies: Vec<f32>,
}

impl Meter {
    pub(super) fn new(rate: u32) -> Result<Meter, ebur128::Error> {
        Ok(Meter {
            meter: EbuR128::new(2, rate, Mode::I)?,
            metered: Metered {
                rate,
                ..Metered::default()
            },
        })
    }

    /// Takes whole blocks.
    pub(super) fn take(&mut self, left: &[f32], right: &[f32]) -> Result<(), ebur128::Error> {
        let blocks = left.chunks_exact(BLOCK).zip(right.chunks_exact(BLOCK));
        for (left, right) in blocks {
            let (mut peak, mut energy) = (0f32, 0f32);
            for (l, r) in left.iter().zip(right) {
                peak = peak.max(l.abs()).max(r.abs());
                energy += l * l + r * r;
            }
            self.metered.peaks.push(peak);
            self.metered.energies.push(energy);
        }
        self.meter.add_frames_planar_f32(&[left, right])
    }

    pub(super) fn finish(mut self) -> Metered {
        let lufs = self.meter.loudness_global().ok();
        self.metered.lufs = lufs.filter(|lufs| lufs.is_finite());
        self.metered
    }
}

/// What brings a track to its loudness.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Levelling {
    gain: f32,
    /// What is left of the gain at the edges of the blocks; empty: all of it.
    edges: Vec<f32>,
    /// The deepest dip, in dB; 0: none.
    pub(super) deepest_db: f64,
}

/// The true peaks of blocks, from the sound itself.
pub(super) trait TruePeaks {
    /// The highest of each block from `from` up to `to`.
    fn of(&mut self, from: usize, to: usize) -> std::io::Result<Vec<f32>>;
}

impl Levelling {
    /// Reckons how to bring what was metered to `lufs`, under a ceiling in dBTP.
    pub(super) fn to(
        metered: &Metered,
        (lufs, ceiling_dbtp): (f64, f64),
        sound: &mut dyn TruePeaks,
    ) -> std::io::Result<Levelling> {
        let Some(was) = metered.lufs else {
            return Ok(Levelling {
                gain: 1.0,
                edges: Vec::new(),
                deepest_db: 0.0,
            });
        };
        let mut known = vec![None; metered.peaks.len()];
        let mut more_lu = 0.0;
        let gain = |more_lu: f64| (lufs - was + more_lu, ceiling_dbtp);
        let mut levelling = Levelling::with(metered, gain(0.0), &mut known, sound)?;
        for _ in 0..TRIES {
            let short = levelling.lost_lu(metered) - more_lu;
            if short < CLOSE_LU {
                break;
            }
            more_lu += short;
            levelling = Levelling::with(metered, gain(more_lu), &mut known, sound)?;
        }
        Ok(levelling)
    }

    fn with(
        metered: &Metered,
        (gain_db, ceiling_dbtp): (f64, f64),
        known: &mut [Option<f32>],
        sound: &mut dyn TruePeaks,
    ) -> std::io::Result<Levelling> {
        let (gain, ceiling) = (linear(gain_db), linear(ceiling_dbtp));
        let hot = |peak: f32| peak * gain * MOST_OVER > ceiling;
        look_closer(&metered.peaks, hot, known, sound)?;
        let room = |block: usize| match known[block] {
            Some(peak) if peak * gain > ceiling => ceiling / (peak * gain),
            _ => 1.0,
        };
        let blocks = metered.peaks.len();
        if (0..blocks).all(|block| room(block) == 1.0) {
            return Ok(Levelling {
                gain,
                edges: Vec::new(),
                deepest_db: 0.0,
            });
        }
        let mut edges = vec![1.0f32; blocks + 1];
        for block in 0..blocks {
            let room = room(block);
            edges[block] = edges[block].min(room);
            edges[block + 1] = room;
        }
        let a_block = |db_s: f64| linear(db_s * BLOCK as f64 / f64::from(metered.rate));
        let (rise, fall) = (a_block(RISE_DB_S), a_block(FALL_DB_S));
        for at in 1..edges.len() {
            edges[at] = edges[at].min(edges[at - 1] * rise);
        }
        for at in (1..edges.len()).rev() {
            edges[at - 1] = edges[at - 1].min(edges[at] * fall);
        }
        let lowest = edges.iter().copied().fold(1.0, f32::min);
        Ok(Levelling {
            gain,
            edges,
            deepest_db: -20.0 * f64::from(lowest).log10(),
        })
    }

    /// What the dips take of the loudness, by the energy that they take.
    fn lost_lu(&self, metered: &Metered) -> f64 {
        if self.edges.is_empty() {
            return 0.0;
        }
        let (mut before, mut after) = (0.0, 0.0);
        for (energy, edges) in metered.energies.iter().zip(self.edges.windows(2)) {
            let left = f64::from((edges[0] + edges[1]) / 2.0);
            before += f64::from(*energy);
            after += f64::from(*energy) * left * left;
        }
        match after > 0.0 {
            true => 10.0 * (before / after).log10(),
            false => 0.0,
        }
    }

    /// Brings one block to its level.
    pub(super) fn apply(&self, block: usize, samples: &mut [f32]) {
        let Some([from, to]) = self.edges.get(block..block + 2) else {
            samples.iter_mut().for_each(|sample| *sample *= self.gain);
            return;
        };
        let step = (to - from) / BLOCK as f32;
        for (at, sample) in samples.iter_mut().enumerate() {
            *sample *= self.gain * (from + step * at as f32);
        }
    }
}

/// Asks for the true peaks where the samples alone do not settle it, stretch by stretch.
fn look_closer(
    peaks: &[f32],
    hot: impl Fn(f32) -> bool,
    known: &mut [Option<f32>],
    sound: &mut dyn TruePeaks,
) -> std::io::Result<()> {
    const LONGEST: usize = 1024;
    let mut at = 0;
    while at < peaks.len() {
        let wanted = |block: usize| hot(peaks[block]) && known[block].is_none();
        if !wanted(at) {
            at += 1;
            continue;
        }
        let end = peaks.len().min(at + LONGEST);
        let end = (at..end).find(|block| !wanted(*block)).unwrap_or(end);
        for (block, peak) in (at..end).zip(sound.of(at, end)?) {
            known[block] = Some(peak);
        }
        at = end;
    }
    Ok(())
}

fn linear(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    /// A sound in memory, whose samples are its true peaks.
    struct Samples<'a>(&'a [f32]);

    impl TruePeaks for Samples<'_> {
        fn of(&mut self, from: usize, to: usize) -> std::io::Result<Vec<f32>> {
            let highest = |block: &[f32]| block.iter().fold(0f32, |most, s| most.max(s.abs()));
            let blocks = self.0[from * BLOCK..to * BLOCK].chunks_exact(BLOCK);
            Ok(blocks.map(highest).collect())
        }
    }

    fn levelled(sound: &[f32], lufs: f64) -> (Vec<f32>, f64) {
        let mut meter = Meter::new(RATE).unwrap();
        meter.take(sound, sound).unwrap();
        let levelling =
            Levelling::to(&meter.finish(), (lufs, CEILING_DBTP), &mut Samples(sound)).unwrap();
        let mut out = sound.to_vec();
        for (block, samples) in out.chunks_exact_mut(BLOCK).enumerate() {
            levelling.apply(block, samples);
        }
        (out, levelling.deepest_db)
    }

    fn lufs(sound: &[f32]) -> f64 {
        let mut meter = Meter::new(RATE).unwrap();
        meter.take(sound, sound).unwrap();
        meter.finish().lufs.unwrap_or(f64::NEG_INFINITY)
    }

    /// Ten seconds of a tone with a stroke each half second, so many times as loud.
    fn strokes(times: f32) -> Vec<f32> {
        let at = |frame: usize| {
            let stroke = if frame % 24_000 < 300 { times } else { 1.0 };
            0.02 * stroke * (frame as f32 * 0.13).sin()
        };
        (0..480_000).map(at).collect()
    }

    #[test]
    fn every_track_comes_to_its_loudness_and_stays_under_the_ceiling() {
        // How much louder the strokes are, the target, and whether strokes must give way.
        let cases = [
            (1.0, -23.0, false),
            (4.0, -23.0, false),
            (4.0, -14.0, false),
            (16.0, -18.0, true),
        ];
        for (times, target, dips) in cases {
            let (out, deepest) = levelled(&strokes(times), target);
            let peak = out.iter().fold(0f32, |most, sample| most.max(sample.abs()));
            assert!(
                (lufs(&out) - target).abs() < 0.3,
                "{times} {target}: {}",
                lufs(&out)
            );
            assert!(
                peak <= linear(CEILING_DBTP) * 1.0001,
                "{times} {target}: {peak}"
            );
            assert_eq!(deepest > 0.0, dips, "{times} {target}: {deepest}");
        }
    }

    #[test]
    fn silence_stays_silence() {
        let (out, deepest) = levelled(&[0.0; 64 * 750], -18.0);
        assert!(out.iter().all(|sample| *sample == 0.0));
        assert_eq!(deepest, 0.0);
    }

    #[test]
    fn a_true_peak_is_never_so_much_over_its_samples() {
        // Samples of one size whose signs follow the interpolator's taps: the worst there is.
        let mut meter = EbuR128::new(1, RATE, Mode::TRUE_PEAK).unwrap();
        let sign = |at: i32| {
            if (at.rem_euclid(2) == 0) == (at < 0) {
                0.5
            } else {
                -0.5
            }
        };
        let worst: Vec<f32> = (-64..64).map(sign).collect();
        meter.add_frames_f32(&worst).unwrap();
        let peak = meter.true_peak(0).unwrap();
        assert!(peak > 0.6 && peak < 0.5 * f64::from(MOST_OVER), "{peak}");
    }
}
