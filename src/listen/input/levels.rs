//! How quiet it gets, and how loud: windows of 50 ms, counted by their level.

/// A window.
const WINDOW_S: f32 = 0.05;
/// Levels from here on are told apart, a bin for each dB.
const LOWEST_DB: f32 = -120.0;
const BINS: usize = 128;
/// So much of all windows is quieter than the pauses' level.
const QUIET: f32 = 0.03;

/// What came in, by its level.
#[derive(Debug, Clone)]
pub(super) struct Levels {
    counts: [u32; BINS],
    window: u32,
    in_window: u32,
    sum: f64,
    mean: f64,
    peak: f32,
}

impl Levels {
    pub(super) fn new(rate: u32) -> Levels {
        Levels {
            counts: [0; BINS],
            window: ((WINDOW_S * rate as f32) as u32).max(1),
            in_window: 0,
            sum: 0.0,
            mean: 0.0,
            peak: 0.0,
        }
    }

    pub(super) fn push(&mut self, sample: f32) {
        self.peak = self.peak.max(sample.abs());
        self.sum += f64::from(sample).powi(2);
        self.mean += f64::from(sample);
        self.in_window += 1;
        if self.in_window == self.window {
            self.close();
        }
    }

    /// A window of zeros says nothing: no cable, or a server that has nothing to give. An offset of the converter is no sound.
    fn close(&mut self) {
        let count = f64::from(self.window);
        if self.sum > 0.0 {
            let power = (self.sum / count - (self.mean / count).powi(2)).max(1e-12);
            let bin = (10.0 * power.log10() as f32 - LOWEST_DB).round();
            self.counts[(bin.max(0.0) as usize).min(BINS - 1)] += 1;
        }
        (self.in_window, self.sum, self.mean) = (0, 0.0, 0.0);
    }

    /// The level of the pauses; none before anything came in.
    pub(super) fn quiet_db(&self) -> Option<f32> {
        let all: u32 = self.counts.iter().sum();
        let wanted = (QUIET * all as f32) as u32;
        let mut below = 0;
        let bin = self.counts.iter().position(|count| {
            below += count;
            below > wanted
        });
        bin.map(|bin| bin as f32 + LOWEST_DB)
    }

    pub(super) fn peak_db(&self) -> f32 {
        20.0 * self.peak.max(1e-6).log10()
    }
}
