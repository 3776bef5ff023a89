//! What the speech program gives: any bytes give a sound at any rate, or an error.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::speech::SpokenSound;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(sound) = SpokenSound::from_wav(bytes) {
        let tidy = sound.tidied();
        assert!(tidy.ms() >= 0.0 && tidy.ms().is_finite());
        assert!(tidy.at_rate(48_000).iter().all(|sample| sample.is_finite()));
    }
});
