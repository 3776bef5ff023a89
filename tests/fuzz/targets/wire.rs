//! What comes over a wire: our lines, a terminal's keys and MIDI bytes. Real-time bytes put in anywhere leave the other messages
//! as they were (MIDI 1.0 Detailed Specification 4.2, "System Real Time Messages").
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::midi::{ByteParser, MidiMessage};
use underfoot::pedal::board_lines::{BoardLine, LineParser};
use underfoot::pedal::midi::{Control, MidiEdges};
use underfoot::pedal::typed::TypedReader;
use underfoot::time::Frame;

fn messages(bytes: &[u8]) -> Vec<MidiMessage> {
    let mut parser = ByteParser::default();
    bytes.iter().filter_map(|byte| parser.push(*byte)).collect()
}

fuzz_target!(|bytes: &[u8]| {
    let mut lines = LineParser::default();
    for byte in bytes {
        if let Some(BoardLine::Edge(switch, _)) = lines.push(*byte) {
            assert!((1..=8).contains(&switch));
        }
    }

    let mut keys = TypedReader::default();
    for byte in bytes {
        keys.byte(*byte);
    }
    keys.settle();
    // Whatever came before, two letters end it at the latest, and the next is a key.
    let typed = b"xxq".map(|byte| keys.byte(byte));
    assert!(typed[2].is_some());

    let plain: Vec<u8> = bytes.iter().copied().filter(|byte| *byte < 0xf8).collect();
    let woven: Vec<u8> = plain.iter().flat_map(|byte| [0xf8, *byte, 0xfe]).collect();
    let mut others = messages(&woven);
    others.retain(|message| message.kind() < 0xf8);
    assert_eq!(others, messages(&plain));

    let controls: [(u8, Control); 3] = ["note 60", "controller 64 channel 1", "program 3"]
        .map(|text| (1, text.parse().expect("a control")));
    let edges = MidiEdges::new(&controls);
    for message in messages(bytes) {
        assert_eq!(MidiMessage::from_bytes(message.bytes()), Some(message));
        Control::pressed_by(&message);
        for edge in edges.message(&message, Frame(0)) {
            // A note off without its note on tells "up" again: the gestures take it for no change.
            assert_eq!(edge.switch, 1);
        }
    }
});
