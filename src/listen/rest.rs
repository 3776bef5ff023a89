//! Whether a pitch rests: the way of the last looks.
//!
//! A note is where the pitch rests; a bend or a slide on its way there passes through others.

/// Looks that are kept: 43 ms.
const KEPT: usize = 32;

/// The pitches of the last looks.
#[derive(Debug)]
pub(super) struct Way {
    /// In octaves; NaN where nothing is clear.
    looks: [f32; KEPT],
    at: usize,
}

impl Way {
    pub(super) fn new() -> Way {
        Way {
            looks: [f32::NAN; KEPT],
            at: 0,
        }
    }

    /// Takes a look; 0 Hz where nothing is clear.
    pub(super) fn push(&mut self, hz: f32) {
        self.at = (self.at + 1) % KEPT;
        self.looks[self.at] = if hz > 0.0 { hz.log2() } else { f32::NAN };
    }

    /// How far the pitch has come in so many looks, in cents: from the mean of their first quarter to that of the last one, so that
    /// a swing of single looks is no way. None where one of them was unclear.
    pub(super) fn cents(&self, looks: usize) -> Option<f32> {
        let looks = looks.clamp(4, KEPT);
        let part = looks / 4;
        let mean = |from: usize| {
            let back = from..from + part;
            let look = |back: usize| self.looks[(self.at + KEPT - back) % KEPT];
            back.map(look).sum::<f32>() / part as f32
        };
        let way = 1200.0 * (mean(0) - mean(looks - part));
        way.is_finite().then_some(way.abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_moves_is_told_from_what_rests() {
        // Cents a look, a swing of single looks in cents; how far it comes in 32 looks.
        for (step, swing, least, most) in [
            (0.0, 0.0, 0.0, 0.1),
            (0.0, 10.0, 0.0, 0.1),
            (0.7, 0.0, 16.0, 18.0),
            (-1.8, 5.0, 42.0, 45.0),
        ] {
            let mut way = Way::new();
            for look in 0..50 {
                let odd = if look % 2 == 0 { swing } else { -swing };
                way.push(220.0 * ((step * look as f32 + odd) / 1200.0).exp2());
            }
            let cents = way.cents(32).unwrap();
            assert!((least..=most).contains(&cents), "{step} {swing}: {cents}");
        }
        let mut way = Way::new();
        (0..20).for_each(|_| way.push(220.0));
        way.push(0.0);
        assert_eq!(way.cents(8), None);
    }
}
