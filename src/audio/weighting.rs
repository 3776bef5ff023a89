//! The ear's weighting of loudness meters, as ITU-R BS.1770-4 draws it: a shelf for the head, then a high pass.
//!
//! A meter of a library is for threads that may allocate; this one runs in the audio callback, and is tested against it.

use std::f64::consts::PI;

/// The mean square of a weighted signal, both sides added, as LUFS.
pub(super) fn lufs(mean_square: f64) -> f64 {
    -0.691 + 10.0 * mean_square.log10()
}

/// A filter of second order; direct form II, transposed.
#[derive(Debug, Clone, Copy, Default)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
    kept: [f64; 2],
}

impl Section {
    fn next(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.kept[0];
        self.kept[0] = self.b[1] * x - self.a[0] * y + self.kept[1];
        self.kept[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// Weights one channel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighting {
    shelf: Section,
    high_pass: Section,
}

impl Weighting {
    /// The standard's table is for 48 kHz; the corner, gain and quality of the analogue filters that it was made from, by which
    /// other rates are reached, are those that meters have in common (common practice; checked against one in the tests).
    pub(super) fn new(rate: u32) -> Weighting {
        let (corner, quality, gain_db) = (
            1_681.974_450_955_533,
            0.707_175_236_955_419_6,
            3.999_843_853_973_347,
        );
        let k = (PI * corner / f64::from(rate)).tan();
        let high = 10f64.powf(gain_db / 20.0);
        let band = high.powf(0.499_666_774_154_541_6);
        let whole = 1.0 + k / quality + k * k;
        let shelf = Section {
            b: [
                (high + band * k / quality + k * k) / whole,
                2.0 * (k * k - high) / whole,
                (high - band * k / quality + k * k) / whole,
            ],
            a: [
                2.0 * (k * k - 1.0) / whole,
                (1.0 - k / quality + k * k) / whole,
            ],
            kept: [0.0; 2],
        };
        let (corner, quality) = (38.135_470_876_024_44, 0.500_327_037_323_877_3);
        let k = (PI * corner / f64::from(rate)).tan();
        let whole = 1.0 + k / quality + k * k;
        let high_pass = Section {
            b: [1.0, -2.0, 1.0],
            a: [
                2.0 * (k * k - 1.0) / whole,
                (1.0 - k / quality + k * k) / whole,
            ],
            kept: [0.0; 2],
        };
        Weighting { shelf, high_pass }
    }

    /// Forgets what it heard.
    pub(super) fn reset(&mut self) {
        self.shelf.kept = [0.0; 2];
        self.high_pass.kept = [0.0; 2];
    }

    /// The sum of the squares of what is weighted.
    pub(super) fn energy(&mut self, samples: &[f32]) -> f64 {
        let square = |x: &f32| self.high_pass.next(self.shelf.next(f64::from(*x))).powi(2);
        samples.iter().map(square).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ebur128::{EbuR128, Mode};

    /// The gated loudness of a steady sound is its loudness.
    #[test]
    fn it_measures_what_a_library_measures_at_every_rate() {
        for rate in [22_050, 44_100, 48_000, 96_000] {
            for hz in [30.0, 100.0, 440.0, 1_000.0, 3_000.0, 9_000.0] {
                let at =
                    |n: u32| (0.2 * (f64::from(n) * hz * 2.0 * PI / f64::from(rate)).sin()) as f32;
                let sound: Vec<f32> = (0..rate * 4).map(at).collect();
                let mut meter = EbuR128::new(1, rate, Mode::I).unwrap();
                meter.add_frames_f32(&sound).unwrap();
                let own = lufs(Weighting::new(rate).energy(&sound) / sound.len() as f64);
                let library = meter.loudness_global().unwrap();
                assert!(
                    (own - library).abs() < 0.1,
                    "{rate} {hz}: {own:.2} {library:.2}"
                );
            }
        }
    }

    /// ITU-R BS.1770-4, tables 1 and 2.
    #[test]
    fn the_standards_table_for_48_khz() {
        let made = Weighting::new(48_000);
        let table = [
            (made.shelf.b[0], 1.535_124_859_586_97),
            (made.shelf.b[1], -2.691_696_189_406_38),
            (made.shelf.b[2], 1.198_392_810_852_85),
            (made.shelf.a[0], -1.690_659_293_182_41),
            (made.shelf.a[1], 0.732_480_774_215_85),
            (made.high_pass.a[0], -1.990_047_454_833_98),
            (made.high_pass.a[1], 0.990_072_250_366_21),
        ];
        for (index, (own, standard)) in table.into_iter().enumerate() {
            assert!((own - standard).abs() < 1e-6, "{index}: {own} {standard}");
        }
    }
}
