//! The shapes of a modulator's source (SoundFont 2.04, section 9.5).

/// The concave shape of `value` from 0 to 127: with an amount of 960 centibels 40 log10 of what is left to the end.
pub(super) fn concave(value: f32) -> f32 {
    if value >= 127.0 {
        return 1.0;
    }
    let left = 1.0 - value.max(0.0) / 127.0;
    // 400 / 960 of a logarithm to the base of 10.
    (left.log2() * (-400.0 / 960.0 * std::f32::consts::LOG10_2)).min(1.0)
}

/// The convex shape: the concave one, upside down.
pub(super) fn convex(value: f32) -> f32 {
    1.0 - concave(127.0 - value)
}

/// A source's place between 0 and 1, or -1 and 1, by the shape bits of its enumerator (section 8.2: direction, polarity,
/// type). `value` runs from 0 to 127, and a fraction where a controller has two bytes.
pub(super) fn shaped(value: f32, source: u16) -> f32 {
    let down = source & 0x100 != 0;
    let bipolar = source & 0x200 != 0;
    let shape = source >> 10;
    let unipolar = |value: f32| match shape {
        0 => value / 128.0,
        1 => concave(value),
        2 => convex(value),
        _ => f32::from(value >= 64.0),
    };
    match (shape, bipolar, down) {
        (0, false, true) => 1.0 - value / 128.0,
        (0, true, _) => {
            let place = value / 64.0 - 1.0;
            if down { -place } else { place }
        }
        (_, false, false) => unipolar(value),
        (_, false, true) => unipolar(127.0 - value),
        (_, true, _) => {
            let value = if down { 127.0 - value } else { value };
            match shape {
                1 | 2 if value >= 64.0 => unipolar((value - 64.0) * 127.0 / 63.0),
                1 | 2 => -unipolar((64.0 - value) * 127.0 / 64.0),
                _ => 2.0 * unipolar(value) - 1.0,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_have_the_ends_of_the_standard() {
        // Velocity and volume attenuate by 960 centibels times the falling concave shape: 40 log10(127 / value) decibels
        // (SoundFont 2.04, sections 8.4.1 and 8.4.5).
        for value in [1.0f32, 20.0, 64.0, 100.0, 127.0] {
            let centibels = 960.0 * shaped(value, 0x0502);
            let decibels = (40.0 * (127.0 / value).log10()).min(96.0);
            assert!((centibels / 10.0 - decibels).abs() < 0.01, "{value}");
        }
        // Value, enumerator (section 8.2), place.
        for (value, source, place) in [
            (0.0, 0x0000, 0.0),
            (64.0, 0x0000, 0.5),
            (127.0, 0x0100, 1.0 / 128.0),
            (64.0, 0x0200, 0.0),
            (0.0, 0x0200, -1.0),
            (0.0, 0x0300, 1.0),
            (127.0, 0x0400, 1.0),
            (0.0, 0x0800, 0.0),
            (127.0, 0x0800, 1.0),
            (63.0, 0x0C00, 0.0),
            (64.0, 0x0C00, 1.0),
            (63.0, 0x0E00, -1.0),
        ] {
            assert!(
                (shaped(value, source) - place).abs() < 1e-4,
                "{value} {source:x}"
            );
        }
    }
}
