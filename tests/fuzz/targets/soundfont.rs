//! SoundFonts: any bytes give a font or an error, without a panic past the loader's guard.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::Cursor;
use std::sync::Once;
use underfoot::audio::soundfont;

static QUIET: Once = Once::new();

fuzz_target!(|bytes: &[u8]| {
    // The library's own panics are caught by the loader and told as an error, so the fuzzer's hook, which
    // ends the process at any panic, must not see them. One that gets through still ends it.
    QUIET.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    let _ = soundfont::read(Cursor::new(bytes), bytes.len() as u64);
});
