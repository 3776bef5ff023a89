use super::*;

const RATE: f32 = 48_000.0;

/// Even noise, the same each time.
struct Noise(u32);

impl Noise {
    fn next(&mut self) -> f32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (self.0 >> 8) as f32 / (1 << 23) as f32 - 1.0
    }
}

/// A band of plucked notes, four a second, each of another pitch, with a click of noise at its beginning.
fn band(seconds: f32) -> Vec<f32> {
    let mut noise = Noise(7);
    let count = (seconds * RATE) as usize;
    (0..count)
        .map(|n| {
            let (note, t) = (n / 12_000, (n % 12_000) as f32 / RATE);
            let hz = 70.0 * 1.06_f32.powi((note * 7 % 25) as i32);
            let tone = |h: f32| (std::f32::consts::TAU * hz * h * t).sin() / h;
            let click = noise.next() * (-t * 400.0).exp();
            (-t * 4.0).exp() * (tone(1.0) + tone(2.0) + tone(3.0) + tone(7.0)) * 0.2 + 0.2 * click
        })
        .collect()
}

/// How the band comes back: late, by the loudspeaker and three walls.
fn back(band: &[f32], late: usize, gain: f32) -> Vec<f32> {
    let paths = [(0, 1.0), (31, -0.4), (230, 0.3), (770, 0.2), (1400, -0.1)];
    let at = |n: usize| {
        let of = |(more, part): (usize, f32)| {
            n.checked_sub(late + more)
                .map_or(0.0, |from| part * band[from])
        };
        gain * paths.into_iter().map(of).sum::<f32>()
    };
    (0..band.len()).map(at).collect()
}

/// A player's string: another note every 0.31 s.
fn player(count: usize, gain: f32) -> Vec<f32> {
    let sample = |n: usize| {
        let (note, t) = (n / 14_880, (n % 14_880) as f32 / RATE);
        let hz = 196.0 * 1.06_f32.powi((note * 5 % 19) as i32);
        let tone = |h: f32| (std::f32::consts::TAU * hz * h * t).sin() / h;
        gain * (-t * 3.0).exp() * (tone(1.0) + tone(2.0) + tone(3.0) + tone(4.0))
    };
    (0..count).map(sample).collect()
}

/// What the canceller leaves of `heard`.
fn left(heard: &[f32], band: &[f32]) -> Vec<f32> {
    let mut canceller = Canceller::new(RATE);
    let mut left = Vec::new();
    for (sound, band) in heard.chunks(16).zip(band.chunks(16)) {
        if let Some(block) = canceller.push(sound, band) {
            left.extend_from_slice(block);
        }
    }
    left.extend(canceller.rest());
    left
}

/// By how many decibels `bleed` is less in `left` than in what was heard, from `from_s` on; `own` is the player's sound.
fn less_db(left: &[f32], own: &[f32], bleed: &[f32], from_s: f32) -> f32 {
    let from = (from_s * RATE) as usize;
    let power = |samples: &mut dyn Iterator<Item = f32>| samples.map(|x| x * x).sum::<f32>();
    let was = power(&mut bleed[from..].iter().copied());
    let is = power(&mut left[from..].iter().zip(&own[from..]).map(|(a, b)| a - b));
    10.0 * (was / is).log10()
}

fn sum(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

#[test]
fn the_band_is_taken_out_whatever_its_way() {
    let band = band(8.0);
    // How late (in frames), how loud it comes back, how loud the player; from when on, by how many decibels at least.
    for (late, gain, own, from_s, least_db) in [
        (480, 0.3, 0.0, 2.0, 10.0),
        (2_400, 0.3, 0.0, 2.0, 9.0),
        (7_000, 1.5, 0.0, 2.0, 9.0),
        (10, 0.02, 0.0, 2.0, 10.0),
        (2_400, 0.1, 0.1, 3.0, 5.0),
        (900, 0.03, 0.1, 4.0, 2.5),
    ] {
        let bleed = back(&band, late, gain);
        let own = player(band.len(), own);
        let left = left(&sum(&own, &bleed), &band);
        let less = less_db(&left, &own, &bleed, from_s);
        assert!(less > least_db, "{late} {gain}: {less} dB");
    }
}

#[test]
fn a_sound_without_the_band_stays_as_it_is() {
    let band = band(6.0);
    let own = player(band.len(), 0.2);
    let less = less_db(&left(&own, &band), &own, &own, 0.0);
    assert!(
        less > 30.0,
        "what is put in lies only {less} dB under the player"
    );
    // Nothing is played; nothing is heard.
    let silence = vec![0.0; band.len()];
    assert!(left(&own, &silence) == own && left(&silence, &band) == silence);
}

#[test]
fn another_way_is_found_when_the_first_is_no_more() {
    let band = band(16.0);
    let (near, far) = (back(&band, 600, 0.3), back(&band, 5_000, 0.3));
    let half = band.len() / 2;
    let bleed: Vec<f32> = near[..half].iter().chain(&far[half..]).copied().collect();
    let none = vec![0.0; band.len()];
    let left = left(&bleed, &band);
    let less = less_db(&left, &none, &bleed, 13.0);
    assert!(less > 12.0, "{less} dB");
}

#[test]
fn every_frame_comes_out_once() {
    let band = band(1.0);
    let sound = back(&band, 300, 0.2);
    for count in [0, 1, 63, 64, 65, 1_000, 40_000] {
        assert_eq!(left(&sound[..count], &band).len(), count);
    }
}

#[test]
fn nothing_makes_it_tell_what_is_no_number() {
    let mut noise = Noise(3);
    let hostile: Vec<f32> = (0..96_000)
        .map(|n| {
            if n % 977 < 400 {
                4.0 * noise.next().signum()
            } else {
                0.0
            }
        })
        .collect();
    let later: Vec<f32> = hostile.iter().skip(333).copied().collect();
    assert!(left(&later, &hostile).iter().all(|x| x.is_finite()));
}
