//! JACK's callbacks: as little as can be around the player.

use super::shared::{Shared, widen};
use crate::audio::played::{MidiSink, Played};
use crate::audio::player::{Outputs, Player};
use crate::audio::tap::Tap;
use crate::clock::ClockMessage;
use crate::clock::transport::{SongPlace, TransportCycle};
use crate::time::Frame;
use jack::{
    AudioIn, AudioOut, Client, ClientStatus, Control, Frames, MidiIn, MidiOut, MidiWriter,
    NotificationHandler, Port, PortId, ProcessHandler, ProcessScope, RawMidi, TransportState,
};
use rtrb::Producer;
use std::sync::Arc;

/// A message of our clock, and the frame on which it was given out.
pub type Led = (Frame, ClockMessage);

/// Our ports.
pub(super) struct Ports {
    pub(super) out_l: Port<AudioOut>,
    pub(super) out_r: Port<AudioOut>,
    pub(super) cue: Port<AudioOut>,
    pub(super) guitar_in: Port<AudioIn>,
    pub(super) midi_in: Port<MidiIn>,
    pub(super) midi_out: Port<MidiOut>,
}

/// The ways out of the callback; a full queue loses what it is given, counted.
pub(super) struct CallbackQueues {
    /// What was played, for the event log.
    pub(super) played: Producer<Played>,
    /// The guitar's sound, for the ear.
    pub(super) tap: Tap,
    /// Our clock, for a port that is not JACK's.
    pub(super) leads: Option<Producer<Led>>,
}

pub(super) struct Callback {
    ports: Ports,
    player: Player,
    shared: Arc<Shared>,
    queues: CallbackQueues,
    base: u64,
    /// JACK's last 32-bit frame and the wide one.
    last: Option<(u32, u64)>,
}

impl Callback {
    /// Gives out nothing: the device is about to be closed.
    fn silence(&mut self, scope: &ProcessScope) -> Control {
        let ports = &mut self.ports;
        for port in [&mut ports.out_l, &mut ports.out_r, &mut ports.cue] {
            port.as_mut_slice(scope).fill(0.0);
        }
        ports.midi_out.writer(scope);
        Control::Continue
    }

    pub(super) fn new(
        ports: Ports,
        player: Player,
        base: Frame,
        shared: Arc<Shared>,
        queues: CallbackQueues,
    ) -> Callback {
        Callback {
            ports,
            player,
            shared,
            queues,
            base: base.0,
            last: None,
        }
    }

    fn frame(&mut self, now: u32) -> Frame {
        let wide = self.last.map_or(self.base, |last| widen(now, last));
        self.last = Some((now, wide));
        Frame(wide)
    }
}

/// What the transport says of this cycle. To query it is realtime-safe (transport.h).
fn transport(client: &Client) -> TransportCycle {
    let Ok(told) = client.transport().query() else {
        return TransportCycle {
            rolls: false,
            song: None,
        };
    };
    let song = told.pos.bbt().map(|bbt| {
        SongPlace::from_bbt(
            (bbt.bar as u32, bbt.beat as u32),
            bbt.tick as f64 / bbt.ticks_per_beat,
            (bbt.sig_num, bbt.sig_denom),
            bbt.bpm,
        )
    });
    TransportCycle {
        rolls: told.state == TransportState::Rolling,
        song,
    }
}

/// The band's MIDI into JACK's buffer, our clock also to another port; what finds no room is counted.
struct Out<'a> {
    frame: Frame,
    leads: Option<&'a mut Producer<Led>>,
    writer: MidiWriter<'a>,
    shared: &'a Shared,
    played: &'a mut Producer<Played>,
}

/// The bytes that count: a message of a clock may have one alone (MIDI 1.0).
fn whole(bytes: &[u8; 3]) -> &[u8] {
    let count = match bytes[0] {
        0xf8..=0xff => 1,
        0xc0..=0xdf => 2,
        _ => 3,
    };
    bytes.get(..count).unwrap_or(bytes)
}

impl MidiSink for Out<'_> {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        let message = RawMidi {
            time: offset_frames,
            bytes: whole(&bytes),
        };
        if self.writer.write(&message).is_err() {
            Shared::bump(&self.shared.lost_midi_out);
        }
        if let (Some(leads), Some(message)) =
            (&mut self.leads, ClockMessage::from_bytes(whole(&bytes)))
        {
            let at = Frame(self.frame.0 + u64::from(offset_frames));
            if leads.push((at, message)).is_err() {
                Shared::bump(&self.shared.lost_clock_out);
            }
        }
    }

    fn played(&mut self, what: Played) {
        if self.played.push(what).is_err() {
            Shared::bump(&self.shared.lost_played);
        }
    }
}

impl ProcessHandler for Callback {
    /// Forbidden here and in all it calls: to allocate, free, lock, call the system, log, panic, or give
    /// `Control::Quit`, which would take the client out of the graph without a word.
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        if self.shared.is_leaving() {
            return self.silence(scope);
        }
        let frame = self.frame(scope.last_frame_time());
        if let Ok(cycle) = scope.cycle_times() {
            self.shared.publish(frame, cycle.current_usecs);
        }
        for message in self.ports.midi_in.iter(scope) {
            self.player
                .midi_in(Frame(frame.0 + u64::from(message.time)), message.bytes);
        }
        if self.player.follows_transport() {
            let frames = scope.n_frames();
            self.player.transport(frame, frames, transport(client));
        }
        let mut midi = Out {
            frame,
            leads: self.queues.leads.as_mut(),
            writer: self.ports.midi_out.writer(scope),
            shared: &self.shared,
            played: &mut self.queues.played,
        };
        let left = self.ports.out_l.as_mut_slice(scope);
        let right = self.ports.out_r.as_mut_slice(scope);
        let outputs = Outputs {
            left: &mut *left,
            right: &mut *right,
            cue: self.ports.cue.as_mut_slice(scope),
        };
        self.player.render(frame, outputs, &mut midi);
        let guitar = self.ports.guitar_in.as_slice(scope);
        self.queues.tap.push(frame, guitar, left, right);
        if self.player.is_poisoned() {
            self.shared.set_panicked();
        }
        self.shared.beat();
        Control::Continue
    }
}

pub(super) struct Notifications {
    shared: Arc<Shared>,
}

impl Notifications {
    pub(super) fn new(shared: Arc<Shared>) -> Notifications {
        Notifications { shared }
    }
}

impl NotificationHandler for Notifications {
    // SAFETY: called as from a signal handler; one atomic store is all it does.
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.shared.set_gone();
    }

    fn sample_rate(&mut self, _: &Client, rate: Frames) -> Control {
        self.shared.set_rate(rate);
        Control::Continue
    }

    /// Nothing may be connected in here: the loop does that.
    fn port_registration(&mut self, _: &Client, port: PortId, is_there: bool) {
        if is_there {
            self.shared.port_came(port);
        }
    }

    fn port_rename(&mut self, _: &Client, port: PortId, _: &str, _: &str) -> Control {
        self.shared.port_came(port);
        Control::Continue
    }

    fn xrun(&mut self, _: &Client) -> Control {
        self.shared.count_xrun();
        Control::Continue
    }
}
