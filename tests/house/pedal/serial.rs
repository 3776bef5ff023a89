//! The foot board over a pseudo terminal: latency, loss, raw MIDI.
#![cfg(feature = "serial")]
// Time and threads are what is measured here.

use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use underfoot::clock::ClockMessage;
use underfoot::foot::{GestureKind, Gestures, Kinds, SwitchSettings};
use underfoot::pedal::reporter::{Reporter, SourceEvent};
use underfoot::pedal::serial::{Protocol, SerialSettings};
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
    let thread = SourceThread::supervise("foot board", settings, reporter).unwrap();
    (thread, events)
}

fn next_edge(events: &Receiver<(Instant, SourceEvent)>) -> (Instant, Edge) {
    loop {
        match events.recv_timeout(PATIENCE).expect("an edge") {
            (when, SourceEvent::Edge(edge)) => return (when, edge),
            (_, SourceEvent::State(..) | SourceEvent::Clock(..)) => {}
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
        board.write_all(b"down 1\n").unwrap();
        let (arrived, down) = next_edge(&events);
        late.push(arrived - written);
        board.write_all(b"up 1\n").unwrap();
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
    board.write_all(b"down 3\nnonsense\n").unwrap();
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
    board.write_all(b"down 2\n").unwrap();
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
    std::fs::write(&file, b"down 1\n").unwrap();
    assert!(Path::new(&file).exists());
    let (_pedal, events) = start(file.to_str().unwrap(), 115_200, Protocol::Board);
    let reason = wait_for(&events, DeviceState::Retrying).unwrap();
    assert!(reason.contains("cannot be opened"), "{reason}");
    // Told once, not at each attempt.
    assert!(events.recv_timeout(Duration::from_millis(700)).is_err());
}
