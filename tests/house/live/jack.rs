//! The live client against a real jackd with the dummy driver.
// Waits for a real server.

use crate::support::calm::{Disturbed, undisturbed};
use crate::support::daemon::within;
use crate::support::jackd::{Server, isolated};
use crate::support::recorder::Recorder;
use crate::support::rig::*;
use std::time::{Duration, Instant};
use underfoot::audio::jack::{Autoconnect, JackConfig, JackDevice, JackError, ServerInfo, Trouble};
use underfoot::audio::{Command, Notice, Player, PlayerEnd, Prepared, SynthError};
use underfoot::time::{Frame, Part};

const SOON: Duration = Duration::from_secs(5);

fn make(info: &ServerInfo) -> Result<(Player, PlayerEnd), SynthError> {
    Player::new(Prepared {
        rate: info.rate,
        ..prepared(false)
    })
}

fn config(autoconnect: Autoconnect) -> JackConfig {
    JackConfig {
        name: "underfoot".into(),
        autoconnect,
        leads: false,
    }
}

fn open(base: u64) -> Result<(JackDevice, PlayerEnd), JackError> {
    JackDevice::open(&config(Autoconnect::Physical), Frame(base), make)
}

fn running(device: &mut JackDevice) -> bool {
    within(SOON, || device.clock().is_some()) && device.trouble(Instant::now()).is_none()
}

/// The frames of the bars that begin within a few seconds.
fn bars_begun(end: &mut PlayerEnd, count: usize) -> Vec<u64> {
    let mut frames = Vec::new();
    within(SOON, || {
        while let Some(notice) = end.notice() {
            if let Notice::BarStarted { frame, .. } = notice {
                frames.push(frame.0);
            }
        }
        frames.len() >= count
    });
    frames
}

fn now(device: &JackDevice) -> u64 {
    let clock = device.clock().expect("a cycle has run");
    let us = device.time_us().saturating_sub(clock.usecs);
    clock.frame.0 + us * u64::from(clock.rate) / 1_000_000
}

#[test]
fn without_a_server_opening_fails_at_once() {
    isolated(|| {
        let start = Instant::now();
        assert!(matches!(open(0), Err(JackError::NoServer(_))));
        assert!(start.elapsed() < Duration::from_secs(1));
    });
}

#[test]
fn a_take_plays_on_the_frames_of_the_server() {
    isolated(|| {
        let _server = Server::start(48_000, 256);
        let (mut device, mut end) = open(1_000_000).expect("a device");
        assert!(running(&mut device));
        assert_eq!(
            (device.info().rate, device.info().playback_channels),
            (48_000, 2)
        );
        let at = now(&device) + 4_800;
        assert!(at > 1_000_000);
        let beat = [(0.0, 0.5, Part::Click, 76)];
        assert!(end.send(start(at, 0)).is_ok());
        assert!(
            end.send(append([bar(0, 400.0, &beat), bar(1, 400.0, &beat)]))
                .is_ok()
        );
        // 4/4 at 400: 28,800 frames, by arithmetic.
        assert_eq!(bars_begun(&mut end, 2), [at, at + 28_800]);
        // The dummy driver has a latency of its period, and ports are connected.
        assert!(within(SOON, || device.output_latency_frames() >= 256));
        assert!(within(SOON, || device.input_latency_frames() >= 256));
        assert_eq!(device.close(), Ok(()));
    });
}

#[test]
fn the_block_size_may_change_while_playing() {
    isolated(|| {
        let _server = Server::start(48_000, 1024);
        let (mut device, mut end) = open(0).expect("a device");
        assert!(running(&mut device));
        let at = now(&device) + 9_600;
        assert!(end.send(start(at, 0)).is_ok());
        assert!(
            end.send(append((0..4).map(|index| bar(index, 400.0, &[]))))
                .is_ok()
        );
        assert_eq!(bars_begun(&mut end, 1), [at]);
        let (client, _) = jack::Client::new("test", jack::ClientOptions::NO_START_SERVER)
            .expect("a running server");
        client.set_buffer_size(64).expect("another block size");
        assert!(within(SOON, || device.buffer_frames() == 64));
        assert_eq!(
            bars_begun(&mut end, 3),
            [1, 2, 3].map(|bar| at + bar * 28_800)
        );
        assert_eq!(device.close(), Ok(()));
    });
}

#[test]
fn a_killed_server_is_noticed_and_joined_again_with_frames_going_on() {
    isolated(|| {
        let mut base = 0;
        for round in 0..12u32 {
            let rate = if round % 2 == 0 { 48_000 } else { 44_100 };
            let server = Server::start(rate, 256);
            let (mut device, _end) = open(base).expect("a device");
            assert!(running(&mut device), "round {round}");
            assert_eq!(device.info().rate, rate);
            let frame = device.clock().expect("a cycle").frame.0;
            assert!(frame >= base, "round {round}");
            base = frame + 1;
            server.kill();
            let gone = within(SOON, || {
                device.trouble(Instant::now()) == Some(Trouble::Gone)
            });
            assert!(gone, "round {round}");
            assert_eq!(device.close(), Ok(()), "round {round}");
        }
    });
}

#[test]
fn a_stopped_server_is_a_stall_and_closing_hangs_within_the_deadline() {
    isolated(|| {
        let server = Server::start(48_000, 256);
        let (mut device, _end) = open(0).expect("a device");
        assert!(running(&mut device));
        server.freeze();
        let frozen = Instant::now();
        assert!(within(SOON, || device.trouble(Instant::now())
            == Some(Trouble::Stalled)));
        assert_eq!(device.close(), Err(JackError::Hung("closing the client")));
        assert!(frozen.elapsed() < Duration::from_secs(6));
        server.thaw();
    });
}

/// The take of the next test, whichever player plays it.
fn take(end: &mut PlayerEnd, at: u64) {
    assert!(end.send(start(at, 0)).is_ok());
    assert!(
        end.send(append((0..3).map(|index| band_bar(index, 240.0))))
            .is_ok()
    );
}

#[test]
fn live_and_offline_are_the_same_samples_and_the_same_midi() {
    isolated(|| {
        // A long period, so that a busy machine keeps up.
        let _server = Server::start(48_000, 4096);
        let with_band = |info: &ServerInfo| {
            Player::new(Prepared {
                rate: info.rate,
                ..prepared(true)
            })
        };
        let run = || {
            let (mut device, mut end) =
                JackDevice::open(&config(Autoconnect::None), Frame(0), with_band)
                    .expect("a device");
            assert!(running(&mut device));
            let recorder = Recorder::start(&device.info().name, 10);
            take(&mut end, now(&device) + 24_000);
            assert_eq!(bars_begun(&mut end, 3).len(), 3);
            std::thread::sleep(Duration::from_millis(1_500));
            let recording = recorder.finish();
            assert_eq!(device.close(), Ok(()));
            match recording.gaps {
                0 => Ok(recording),
                gaps => Err(Disturbed::by(gaps, "a gap in the recording".into())),
            }
        };
        let Some(live) = undisturbed("live and offline", run) else {
            return;
        };
        assert!(!live.full);

        let mut rig = Rig::new(prepared(true));
        take(&mut rig.end, 4_800);
        rig.until(200_000, 256);
        let first = live.midi.first().expect("MIDI").0;
        let aligned: Vec<_> = live
            .midi
            .iter()
            .map(|(at, bytes)| (at - first + 4_800, *bytes))
            .collect();
        assert!(aligned.len() > 60);
        assert_eq!(aligned, rig.tape.midi);
        for (live, offline) in live.audio.iter().zip([&rig.left, &rig.right, &rig.cue]) {
            let live = &live[first as usize..][..150_000];
            assert!(live.iter().any(|sample| sample.abs() > 0.01));
            assert!(live == &offline[4_800..][..150_000]);
        }
    });
}

#[test]
fn a_taken_name_gets_a_suffix_and_none_connects_nothing() {
    isolated(|| {
        let _server = Server::start(48_000, 256);
        let (first, _end) = open(0).expect("a device");
        let alone = config(Autoconnect::None);
        let (mut second, _end) = JackDevice::open(&alone, Frame(0), make).expect("a device");
        assert_ne!(second.info().name, "underfoot");
        assert!(running(&mut second));
        assert_eq!(second.output_latency_frames(), 0);
        assert_eq!((second.close(), first.close()), (Ok(()), Ok(())));
    });
}

#[test]
fn patterns_choose_the_playback_ports() {
    isolated(|| {
        let _server = Server::start(48_000, 256);
        let to = |pattern: &str| vec![pattern.to_string()];
        let chosen = config(Autoconnect::Named {
            ports: vec![
                ("out_l", to("system:playback_2")),
                ("out_r", to("system:playback_1")),
                ("guitar_in", to("system:capture_2")),
            ],
            others_physical: false,
        });
        let (device, _end) = JackDevice::open(&chosen, Frame(0), make).expect("a device");
        let listing = std::process::Command::new("jack_lsp")
            .arg("-c")
            .output()
            .expect("jack_lsp");
        let listing = String::from_utf8_lossy(&listing.stdout).into_owned();
        let connected = |port: &str, to: &str| listing.contains(&format!("{port}\n   {to}\n"));
        assert!(
            connected("underfoot:out_l", "system:playback_2"),
            "{listing}"
        );
        assert!(
            connected("underfoot:out_r", "system:playback_1"),
            "{listing}"
        );
        assert!(
            connected("underfoot:guitar_in", "system:capture_2"),
            "{listing}"
        );
        assert_eq!(device.close(), Ok(()));
    });
}

/// A port that a card has, of a client that comes and goes.
struct OfACard;

// SAFETY: MIDI ports have no buffer of their own that this type would promise something about.
unsafe impl jack::PortSpec for OfACard {
    fn jack_port_type(&self) -> &'static str {
        "8 bit raw midi"
    }
    fn jack_flags(&self) -> jack::PortFlags {
        jack::PortFlags::IS_OUTPUT | jack::PortFlags::IS_PHYSICAL
    }
    fn jack_buffer_size(&self) -> std::ffi::c_ulong {
        0
    }
}

/// A client of this name whose port `out` is of a kind.
fn client_with<P: jack::PortSpec>(name: &str, kind: P) -> jack::AsyncClient<(), ()> {
    let options = jack::ClientOptions::NO_START_SERVER;
    let (client, _) = jack::Client::new(name, options).expect("a running server");
    client.register_port("out", kind).expect("a port");
    client.activate_async((), ()).expect("an active client")
}

#[test]
fn ports_that_come_later_are_connected_and_what_the_user_parts_stays_so() {
    isolated(|| {
        let _server = Server::start(48_000, 256);
        let named = Autoconnect::Named {
            ports: vec![("guitar_in", vec!["late.*:out".to_string()])],
            others_physical: true,
        };
        let (mut device, _end) =
            JackDevice::open(&config(named), Frame(0), make).expect("a device");
        let (watch, _) = jack::Client::new("watch", jack::ClientOptions::NO_START_SERVER)
            .expect("a running server");
        let mut connected = |port: &str, other: &str, wanted: bool| {
            let port = watch.port_by_name(port).expect("a port of ours");
            let is_so = |other| port.is_connected_to(other).unwrap_or(false) == wanted;
            let is_there = within(SOON, || {
                assert_eq!(
                    device.tend_connections(Instant::now()),
                    Vec::<String>::new()
                );
                is_so(other)
            });
            assert!(is_there, "{other}: connected is not {wanted}");
        };
        // By its name, and because it is physical.
        let by_name = client_with("late", jack::AudioOut::default());
        connected("underfoot:guitar_in", "late:out", true);
        let card = client_with("card", OfACard);
        connected("underfoot:midi_in", "card:out", true);
        watch
            .disconnect_ports_by_name("late:out", "underfoot:guitar_in")
            .expect("a connection");
        let other = client_with("later", jack::AudioOut::default());
        connected("underfoot:guitar_in", "later:out", true);
        connected("underfoot:guitar_in", "late:out", false);
        // What goes and comes again is new.
        by_name.deactivate().expect("a client");
        let by_name = client_with("late", jack::AudioOut::default());
        connected("underfoot:guitar_in", "late:out", true);
        drop((by_name, card, other));
    });
}

#[test]
fn ticks_of_our_clock_that_nobody_takes_are_counted() {
    isolated(|| {
        let server = Server::start(48_000, 256);
        let leading = JackConfig {
            leads: true,
            ..config(Autoconnect::None)
        };
        let (mut device, mut end) = JackDevice::open(&leading, Frame(0), make).expect("a device");
        assert!(running(&mut device));
        assert!(end.send(Command::Lead(true)).is_ok());
        assert!(end.send(start(now(&device) + 9_600, 0)).is_ok());
        // The take needs no bars: time goes on without. 1,024 ticks are 21 s at 120.
        server.unhurried(true);
        let lost = |device: &JackDevice, name| {
            let mut counted = device.lost().into_iter();
            counted.find_map(|(other, count)| (other == name).then_some(count))
        };
        assert!(within(SOON, || lost(&device, "lost_clock_out") > Some(0)));
        assert_eq!(lost(&device, "lost_midi_out"), Some(0));
        server.unhurried(false);
        assert_eq!(device.close(), Ok(()));
    });
}
