//! SoundFonts: any bytes give a font or an error; a font's first presets play, whatever they ask for.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::Cursor;
use underfoot::audio::soundfont;
use underfoot::synth::{Settings, Synthesizer};

fuzz_target!(|bytes: &[u8]| {
    let Ok(font) = soundfont::read(Cursor::new(bytes.to_vec()), bytes.len() as u64) else {
        return;
    };
    let presets: Vec<_> = font.presets().take(2).collect();
    let Ok(sounds) = font.sounds(&presets, 1 << 30) else {
        return;
    };
    let settings = Settings {
        rate_hz: 48_000,
        voices: 64,
        reverb: true,
        chorus: true,
    };
    let mut synth = Synthesizer::new(sounds, &settings);
    let (mut left, mut right) = ([0.0; 256], [0.0; 256]);
    for (channel, preset) in (0u8..).zip(&presets) {
        synth.message([0xC0 | channel, preset.program as u8, 0]);
        for key in [0, 36, 60, 127] {
            synth.message([0x90 | channel, key, 100]);
            synth.render(&mut left, &mut right);
        }
        synth.message([0xB0 | channel, 123, 0]);
        synth.render(&mut left, &mut right);
    }
    assert!(left.iter().chain(&right).all(|sample| sample.is_finite()));
});
