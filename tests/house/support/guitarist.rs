//! A JACK client that plays a recording into `guitar_in`, from the first note that the daemon sends on; with a room, what the band
//! plays comes back with it.

use super::takes::Room;
use jack::{
    AsyncClient, AudioIn, AudioOut, Client, ClientOptions, Control, MidiIn, Port, ProcessHandler,
    ProcessScope,
};

/// The client.
pub struct Guitarist {
    client: AsyncClient<(), Hands>,
}

struct Hands {
    midi: Port<MidiIn>,
    out: Port<AudioOut>,
    /// Where the band stands, and the room between it and the guitar.
    band: [Port<AudioIn>; 2],
    room: Option<Room>,
    sound: Vec<f32>,
    /// Frames played ahead of the beat: two clients that hear each other are a block apart.
    ahead: u64,
    /// The frame of the first count.
    began: Option<u64>,
    last: Option<(u32, u64)>,
    next: Option<u32>,
    gaps: u32,
}

impl Guitarist {
    /// Listens to `underfoot:midi_out` and plays `sound`, whose sample 0 belongs to the first count.
    pub fn start(sound: Vec<f32>) -> Guitarist {
        Guitarist::start_in(sound, None)
    }

    /// In a room with the band, whose both channels come back; the server brings them a block late.
    pub fn start_in(sound: Vec<f32>, room: Option<Room>) -> Guitarist {
        let (client, _) =
            Client::new("guitarist", ClientOptions::NO_START_SERVER).expect("a running server");
        let hands = Hands {
            midi: client
                .register_port("midi", MidiIn::default())
                .expect("a port"),
            out: client
                .register_port("out", AudioOut::default())
                .expect("a port"),
            band: ["band_l", "band_r"].map(|name| {
                client
                    .register_port(name, AudioIn::default())
                    .expect("a port")
            }),
            room,
            sound,
            ahead: u64::from(client.buffer_size()),
            began: None,
            last: None,
            next: None,
            gaps: 0,
        };
        let client = client.activate_async((), hands).expect("an active client");
        for (from, to) in [
            ("guitarist:out", "underfoot:guitar_in"),
            ("underfoot:midi_out", "guitarist:midi"),
            ("underfoot:out_l", "guitarist:band_l"),
            ("underfoot:out_r", "guitarist:band_r"),
        ] {
            let connected = client.as_client().connect_ports_by_name(from, to);
            connected.expect("a connection");
        }
        Guitarist { client }
    }

    /// How many cycles since the count did not follow on the one before, and whether anything was played.
    pub fn finish(self) -> (u32, bool) {
        let (_, _, hands) = self.client.deactivate().expect("a running server");
        (hands.gaps, hands.began.is_some())
    }
}

impl ProcessHandler for Hands {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.last_frame_time();
        // What is lost before the count is nobody's loss.
        let lost = self.began.is_some() && self.next.is_some_and(|next| next != now);
        self.gaps += u32::from(lost);
        self.next = Some(now.wrapping_add(scope.n_frames()));
        let wide = self
            .last
            .map_or(1 << 32, |last| underfoot::audio::jack::widen(now, last));
        self.last = Some((now, wide));
        for message in self.midi.iter(scope) {
            let is_note = message
                .bytes
                .first()
                .is_some_and(|status| status & 0xf0 == 0x90);
            if is_note && self.began.is_none() {
                self.began = Some(wide + u64::from(message.time));
            }
        }
        let out = self.out.as_mut_slice(scope);
        out.fill(0.0);
        if let Some(began) = self.began {
            for (sample, at) in out.iter_mut().zip(wide + self.ahead..) {
                let index = at.checked_sub(began).map(|index| index as usize);
                *sample = index
                    .and_then(|index| self.sound.get(index))
                    .copied()
                    .unwrap_or(0.0);
            }
        }
        if let Some(room) = &mut self.room {
            let [left, right] = &self.band;
            let band = left.as_slice(scope).iter().zip(right.as_slice(scope));
            for (sample, (left, right)) in out.iter_mut().zip(band) {
                *sample += room.step(0.5 * (left + right));
            }
        }
        Control::Continue
    }
}
