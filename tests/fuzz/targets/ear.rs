//! The ear and the judge: any sound in any blocks at any rate is survived, and what is told is in order and finite.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::judging::{HeardNote, Rules, judge};
use underfoot::listen::{Ear, Found, Instrument, Setup};

fuzz_target!(|bytes: &[u8]| {
    let [first, second, settings, bytes @ ..] = bytes else {
        return;
    };
    let instruments = [Instrument::Guitar, Instrument::Bass, Instrument::Voice];
    let instrument = instruments[usize::from(settings % 3)];
    let given = settings & 0x80 != 0;
    let rate = u32::from(u16::from_le_bytes([*first, *second])) * 6;
    let mut ear = Ear::new(Setup {
        rate,
        instrument,
        a4_hz: 440.0,
        lowest_hz: if given { 82.4 } else { 0.0 },
    });
    let (mut at, mut notes) = (0, Vec::new());
    let sound: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]]))
        .collect();
    // The few samples a fuzzer finds, over and over: a sound needs length.
    for round in 0..40 {
        let block = &sound[..sound.len().min(round * 37)];
        ear.push(
            block,
            given.then_some(&sound[..sound.len() / 2]),
            &mut |found| match found {
                Found::Reading(reading) => {
                    // Two looks may become known with the same block.
                    assert!(reading.at >= at && reading.confidence.is_finite());
                    at = reading.at;
                }
                Found::Named(heard) => {
                    assert!(heard.cents.is_finite() && heard.onset <= heard.known);
                    notes.push(HeardNote {
                        onset_ms: heard.onset as f64,
                        off_ms: None,
                        midi: heard.midi,
                        cents: f64::from(heard.cents),
                        confidence: heard.confidence,
                        also: heard.also,
                        struck: heard.struck,
                    });
                }
                Found::Ended { .. } => {}
            },
        );
    }
    judge(&[], &notes, &Rules::default());
});
