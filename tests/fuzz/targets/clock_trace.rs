//! Recorded clocks, and bytes taken for one: whatever comes, ticks sound in order, at finite times.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::clock::{ClockMessage, trace};
use underfoot::midi::ByteParser;

fn play(messages: &[(f64, ClockMessage)]) {
    let mut last_s = f64::NEG_INFINITY;
    trace::replay(messages, 2, |tick| {
        assert!(tick.at_s.is_finite() && tick.at_s >= last_s);
        assert!(tick.qpm.is_none_or(|qpm| qpm.is_finite() && qpm > 0.0));
        last_s = tick.at_s;
    });
}

fuzz_target!(|bytes: &[u8]| {
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(messages) = trace::read(text)
    {
        play(&messages);
    }
    // Each byte comes some time after the one before: the byte before says how long.
    let (mut parser, mut at_us, mut messages) = (ByteParser::default(), 0.0, Vec::new());
    for pair in bytes.chunks_exact(2) {
        at_us += f64::from(pair[0]) * 500.0;
        let message = parser.push(pair[1]);
        let clock = message.and_then(|message| ClockMessage::from_bytes(message.bytes()));
        messages.extend(clock.map(|message| (at_us, message)));
    }
    play(&messages);
});
