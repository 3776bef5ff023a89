//! The foot board over a pseudo terminal: latency, loss, raw MIDI.
#![cfg(feature = "serial")]
// Time and threads are what is measured here.

use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use underfoot::clock::ClockMessage;
use underfoot::foot::{GestureKind, Gestures, Kinds, SwitchSettings};
use underfoot::pedal::reporter::{Reporter, SourceEvent};
use underfoot::pedal::serial::{Protocol, SerialBoard, SerialSettings};
use underfoot::pedal::source::SourceThread;
use underfoot::pedal::{DeviceState, Edge};
use underfoot::time::Frame;

const RATE: u32 = 48_000;
const PATIENCE: Duration = Duration::from_secs(10);

/// A board's end of a line, and the name of ours.
fn line() -> (TTYPort, String) {
    let (board, ours) = TTYPort::pair().expect("a pseudo terminal");
    let name = ours.name().expect("its name");
    // Our end is opened by the code under test.
    drop(ours);
    (board, name)
}

fn start(
    path: &str,
    baud: u32,
    protocol: Protocol,
) -> (SourceThread, Receiver<(Instant, SourceEvent)>) {
    start_counting(path, baud, protocol, Arc::default())
}

/// The same with what is unread counted.
fn start_counting(
    path: &str,
    baud: u32,
    protocol: Protocol,
    unread: Arc<AtomicU64>,
) -> (SourceThread, Receiver<(Instant, SourceEvent)>) {
    let (send, events) = channel();
    let began = Instant::now();
    let clock = Arc::new(move |age: Duration| {
        let since = began.elapsed().saturating_sub(age);
        Frame((since.as_secs_f64() * f64::from(RATE)) as u64 + 1)
    });
    let settings = SerialSettings {
        path: path.to_string(),
        baud,
        protocol,
    };
    let sink = move |event| {
        // The test may have ended.
        let _ = send.send((Instant::now(), event));
    };
    let reporter = Reporter::new(clock, Box::new(sink));
    let thread =
        SourceThread::supervise("foot board", SerialBoard::new(settings, unread), reporter)
            .unwrap();
    (thread, events)
}

fn next_edge(events: &Receiver<(Instant, SourceEvent)>) -> (Instant, Edge) {
    loop {
        match events.recv_timeout(PATIENCE).expect("an edge") {
            (when, SourceEvent::Edge(edge)) => return (when, edge),
            (_, SourceEvent::State(..) | SourceEvent::Clock(..) | SourceEvent::Song(..)) => {}
        }
    }
}

fn wait_for(events: &Receiver<(Instant, SourceEvent)>, state: DeviceState) -> Option<String> {
    loop {
        if let (_, SourceEvent::State(told, reason)) =
            events.recv_timeout(PATIENCE).expect("a state")
            && told == state
        {
            return reason;
        }
    }
}

#[test]
fn two_hundred_presses_arrive_within_15_ms() {
    let (mut board, name) = line();
    let (_pedal, events) = start(&name, 115_200, Protocol::Board);
    wait_for(&events, DeviceState::Present);
    let mut gestures = Gestures::new(&[SwitchSettings::default()], RATE);
    gestures.set_uses(1, Kinds::NONE.with(GestureKind::Press));
    let mut late: Vec<Duration> = Vec::new();
    let mut presses = 0;
    for press in 0..200 {
        let written = Instant::now();
        board.write_all(b"1 down\n").unwrap();
        let (arrived, down) = next_edge(&events);
        late.push(arrived - written);
        board.write_all(b"1 up\n").unwrap();
        let (_, up) = next_edge(&events);
        assert!(down.down && !up.down && down.at <= up.at);
        // The engine sees them 100 ms apart: the real time between them is not what is asked here.
        let at = |ms: u64| Frame(press * 9600 + ms * 48);
        for edge in [Edge { at: at(0), ..down }, Edge { at: at(100), ..up }] {
            presses += gestures.edge(edge).len();
        }
    }
    late.sort();
    let (median, p95, worst) = (late[100], late[190], late[199]);
    println!("write to edge: median {median:?}, 95 % within {p95:?}, worst {worst:?}");
    assert!(p95 <= Duration::from_millis(15), "{p95:?}");
    assert_eq!(presses, 200);
}

#[test]
fn a_lost_line_lets_go_and_comes_back() {
    let dir = tempfile::tempdir().unwrap();
    let by_id = dir.path().join("foot-board");
    let path = by_id.to_str().unwrap();
    let (_pedal, events) = start(path, 115_200, Protocol::Board);
    let reason = wait_for(&events, DeviceState::Absent).unwrap();
    assert!(reason.ends_with("foot-board is not there"), "{reason}");

    let plug = |name: &str| std::os::unix::fs::symlink(name, &by_id).unwrap();
    let (mut board, name) = line();
    plug(&name);
    wait_for(&events, DeviceState::Present);
    board.write_all(b"3 down\nnonsense\n").unwrap();
    assert!(next_edge(&events).1.down);

    std::fs::remove_file(&by_id).unwrap();
    drop(board);
    let (_, released) = next_edge(&events);
    assert_eq!((released.switch, released.down), (3, false));
    wait_for(&events, DeviceState::Retrying);
    wait_for(&events, DeviceState::Absent);

    let (mut board, name) = line();
    plug(&name);
    wait_for(&events, DeviceState::Present);
    board.write_all(b"2 down\n").unwrap();
    assert_eq!(next_edge(&events).1.switch, 2);
}

#[test]
fn raw_midi_with_clocks_inside_gives_edges_in_order() {
    let (mut board, name) = line();
    let controls = vec![
        (1, "controller 64".parse().unwrap()),
        (2, "note 60".parse().unwrap()),
    ];
    let (_pedal, events) = start(&name, 31_250, Protocol::Midi(controls));
    wait_for(&events, DeviceState::Present);
    board
        .write_all(&[
            0x40, 0xb0, 0xf8, 64, 0xf8, 127, 64, 0, 0x90, 60, 0xfe, 1, 60, 0,
        ])
        .unwrap();
    let edges: Vec<Edge> = (0..4).map(|_| next_edge(&events).1).collect();
    let told: Vec<(u8, bool)> = edges.iter().map(|edge| (edge.switch, edge.down)).collect();
    assert_eq!(told, [(1, true), (1, false), (2, true), (2, false)]);
    assert!(edges.windows(2).all(|pair| pair[0].at <= pair[1].at));
    // Active sensing was seen, then nothing more: the cable counts as gone.
    let reason = wait_for(&events, DeviceState::Retrying).unwrap();
    assert!(reason.contains("active sensing"), "{reason}");
    board.write_all(&[0x90, 60, 1]).unwrap();
    wait_for(&events, DeviceState::Present);
    assert!(next_edge(&events).1.down);
}

/// The next message of a clock and its frame.
fn next_clock(events: &Receiver<(Instant, SourceEvent)>) -> (Frame, ClockMessage) {
    loop {
        if let (_, SourceEvent::Clock(at, message)) = events.recv_timeout(PATIENCE).expect("a tick")
        {
            return (at, message);
        }
    }
}

#[test]
fn ticks_inside_a_burst_count_from_when_their_bytes_came() {
    let (mut board, name) = line();
    let (_pedal, events) = start(&name, 31_250, Protocol::Midi(Vec::new()));
    wait_for(&events, DeviceState::Present);
    // A tick inside a note, running status, an exclusive message with ticks in it, rubbish, Song Position.
    let burst = [
        0xf8, 0x90, 60, 0xf8, 64, 62, 64, 0xf0, 1, 0xf8, 2, 0xf7, 0x55, 0xf8, 0xf2, 0x10, 0x02,
        0xfb, 0xf8,
    ];
    let mut exact = 0;
    for _ in 0..50 {
        board.write_all(&burst).unwrap();
        let got: Vec<(Frame, ClockMessage)> = (0..7).map(|_| next_clock(&events)).collect();
        let told: Vec<ClockMessage> = got.iter().map(|(_, message)| *message).collect();
        let tick = ClockMessage::Tick;
        assert_eq!(
            told,
            [
                tick,
                tick,
                tick,
                tick,
                ClockMessage::Position(272),
                ClockMessage::Continue,
                tick
            ]
        );
        // A byte takes ten bits at 31,250 a second (MIDI 1.0), 320 us: 15.36 frames. Where the system cut the read in
        // two, the parts count by themselves.
        let at: Vec<u64> = got.iter().map(|(at, _)| at.0).collect();
        assert!(at.windows(2).all(|pair| pair[0] <= pair[1]), "{at:?}");
        let places = [0u64, 3, 9, 13, 16, 17, 18];
        exact += usize::from(at.windows(2).zip(places.windows(2)).all(|(pair, places)| {
            let due = (places[1] - places[0]) as f64 * 15.36;
            ((pair[1] - pair[0]) as f64 - due).abs() <= 1.5
        }));
        std::thread::sleep(Duration::from_millis(7));
    }
    println!("{exact} of 50 bursts to the frame");
    assert!(exact >= 40, "{exact} of 50");
}

#[test]
fn what_is_no_serial_line_is_retried_with_its_reason() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("not-a-line");
    std::fs::write(&file, b"1 down\n").unwrap();
    assert!(Path::new(&file).exists());
    let (_pedal, events) = start(file.to_str().unwrap(), 115_200, Protocol::Board);
    let reason = wait_for(&events, DeviceState::Retrying).unwrap();
    assert!(reason.contains("cannot be opened"), "{reason}");
    // Told once, not at each attempt.
    assert!(events.recv_timeout(Duration::from_millis(700)).is_err());
}

/// The bits of bytes on the wire, 8N1: a start bit (0), eight bits from the lowest, a stop bit (1), each so many
/// nanoseconds long; between two messages the line rests (1).
fn wire(messages: &[&[u8]], baud: u32) -> Vec<(u64, bool)> {
    const REST_NS: u64 = 100_000_000;
    let bit_ns = 1_000_000_000 / u64::from(baud);
    let mut levels = vec![(REST_NS, true)];
    for message in messages {
        for byte in *message {
            levels.push((bit_ns, false));
            levels.extend((0..8).map(|bit| (bit_ns, byte >> bit & 1 == 1)));
            levels.push((bit_ns, true));
        }
        levels.push((REST_NS, true));
    }
    levels
}

/// What a receiver at another rate makes of it: from each falling edge on it samples the middle of nine bits and looks for
/// the next falling edge behind them. A byte without stop bit is handed over as it is, as the kernel does without INPCK
/// (termios(3)).
fn received(levels: &[(u64, bool)], baud: u32) -> Vec<u8> {
    let mut ends = Vec::new();
    let mut at = 0;
    for (length, level) in levels {
        at += length;
        ends.push((at, *level));
    }
    let level_at = |when: u64| ends[ends.partition_point(|(end, _)| *end <= when)].1;
    let falls = ends.windows(2).filter(|pair| pair[0].1 && !pair[1].1);
    let mut bytes = Vec::new();
    let mut free_from = 0;
    for start in falls.map(|pair| pair[0].0) {
        if start < free_from {
            continue;
        }
        let middle = |bit: u64| start + (2 * bit + 3) * 1_000_000_000 / (2 * u64::from(baud));
        let bits = (0..8).map(|bit| u8::from(level_at(middle(bit))) << bit);
        bytes.push(bits.fold(0, |byte, bit| byte | bit));
        free_from = middle(8);
    }
    bytes
}

#[test]
fn a_wrong_rate_is_counted_and_told_and_moves_no_switch() {
    let lines: [&[u8]; 6] = [
        b"1 down\n",
        b"1 up\n",
        b"2 down\n",
        b"2 up\n",
        b"1 down\r\n",
        b"1 up\r\n",
    ];
    let controls = || Protocol::Midi(vec![(1, "controller 64".parse().unwrap())]);
    let presses: [&[u8]; 6] = [
        &[0xb0, 64, 127],
        &[0xb0, 64, 0],
        &[0xb0, 64, 127],
        &[0xb0, 64, 0],
        &[0xb0, 64, 127],
        &[0xb0, 64, 0],
    ];
    // Three presses, the rate they are sent at, ours, and whether we understand.
    for (protocol, messages, sent, ours, is_right) in [
        (Protocol::Board, lines, 115_200, 115_200, true),
        // An oscillator that is two per cent off.
        (Protocol::Board, lines, 113_000, 115_200, true),
        (Protocol::Board, lines, 9600, 115_200, false),
        (Protocol::Board, lines, 19_200, 115_200, false),
        (Protocol::Board, lines, 38_400, 115_200, false),
        (Protocol::Board, lines, 57_600, 115_200, false),
        (Protocol::Board, lines, 74_880, 115_200, false),
        (Protocol::Board, lines, 230_400, 115_200, false),
        (Protocol::Board, lines, 115_200, 9600, false),
        (Protocol::Board, lines, 31_250, 115_200, false),
        (controls(), presses, 31_250, 31_250, true),
        (controls(), presses, 115_200, 31_250, false),
        (controls(), presses, 9600, 31_250, false),
        // Where the board has the overlay midi-uart0, asking for 31,250 gives 25,431.
        (controls(), presses, 31_250, 25_431, false),
        (controls(), presses, 38_400, 31_250, false),
    ] {
        let what = format!("{protocol:?}, {sent} at {ours}");
        let bytes = received(&wire(&messages, sent), ours);
        let unread = Arc::new(AtomicU64::new(0));
        let (mut board, name) = line();
        let (pedal, events) = start_counting(&name, ours, protocol, Arc::clone(&unread));
        wait_for(&events, DeviceState::Present);
        board.write_all(&bytes).unwrap();
        if is_right {
            let edges: Vec<bool> = (0..6).map(|_| next_edge(&events).1.down).collect();
            assert_eq!(edges, [true, false, true, false, true, false], "{what}");
            assert_eq!(unread.load(Ordering::Relaxed), 0, "{what}");
            continue;
        }
        let doubt = wait_for(&events, DeviceState::Present).expect(&what);
        assert!(
            doubt.ends_with(&format!("is it {ours} baud?")),
            "{what}: {doubt}"
        );
        assert!(unread.load(Ordering::Relaxed) >= 3, "{what}");
        drop(pedal);
        let others: Vec<_> = events.try_iter().map(|(_, event)| event).collect();
        assert!(
            !others
                .iter()
                .any(|event| matches!(event, SourceEvent::Edge(_))),
            "{what}: {others:?}"
        );
    }
}

#[test]
fn a_line_that_makes_sense_again_is_present_without_a_doubt() {
    let (mut board, name) = line();
    let unread = Arc::new(AtomicU64::new(0));
    let (_pedal, events) = start_counting(&name, 115_200, Protocol::Board, Arc::clone(&unread));
    wait_for(&events, DeviceState::Present);
    // A greeting, and then a sketch that speaks otherwise.
    let greeting = "hello\nready\nready\n1 up\n";
    let others = "1 Down\n1 Up\n".repeat(9);
    board.write_all(greeting.as_bytes()).unwrap();
    board.write_all(others.as_bytes()).unwrap();
    let doubt = wait_for(&events, DeviceState::Present).expect("a doubt");
    assert_eq!(
        doubt,
        "what comes is not \"1 down\" or \"1 up\": is it 115200 baud?"
    );
    board.write_all(b"1 down\n").unwrap();
    assert!(next_edge(&events).1.down);
    assert_eq!(wait_for(&events, DeviceState::Present), None);
    assert_eq!(unread.load(Ordering::Relaxed), 2 + 18);
}
