//! A JACK client that records what another one plays.

use jack::{
    AsyncClient, AudioIn, Client, ClientOptions, Control, MidiIn, Port, ProcessHandler,
    ProcessScope,
};

/// What came out of a client's ports.
pub struct Recording {
    /// The server's frame of the first sample.
    pub start: u32,
    /// Out left, out right, cue; all from the same frame on.
    pub audio: [Vec<f32>; 3],
    /// MIDI messages of three bytes, in frames of the server from the first of `audio` on.
    pub midi: Vec<(u64, [u8; 3])>,
    /// Cycles that did not follow on the one before: the recording is void if there are any.
    pub gaps: u32,
    /// The first thousand gaps: the frame, from `start` on, of the cycle after it, and the frames that are missing.
    pub lost: Vec<(u64, u32)>,
    /// The length that was asked for did not suffice.
    pub full: bool,
}

/// A recording in progress.
pub struct Recorder {
    client: AsyncClient<(), Tape>,
}

struct Tape {
    audio: [Port<AudioIn>; 3],
    midi: Port<MidiIn>,
    recording: Recording,
    next: Option<u32>,
}

impl Recorder {
    /// Records `out_l`, `out_r`, `cue` and `midi_out` of the client `of`, at most `seconds`.
    pub fn start(of: &str, seconds: usize) -> Recorder {
        let (client, _) =
            Client::new("recorder", ClientOptions::NO_START_SERVER).expect("a running server");
        let audio = ["left", "right", "cue"].map(|name| {
            client
                .register_port(name, AudioIn::default())
                .expect("a port")
        });
        let midi = client
            .register_port("midi", MidiIn::default())
            .expect("a port");
        let frames = client.sample_rate() as usize * seconds;
        let recording = Recording {
            start: 0,
            audio: [(); 3].map(|()| Vec::with_capacity(frames)),
            midi: Vec::with_capacity(100_000),
            gaps: 0,
            lost: Vec::with_capacity(1_000),
            full: false,
        };
        let tape = Tape {
            audio,
            midi,
            recording,
            next: None,
        };
        let client = client.activate_async((), tape).expect("an active client");
        for (from, to) in [
            ("out_l", "left"),
            ("out_r", "right"),
            ("cue", "cue"),
            ("midi_out", "midi"),
        ] {
            let (from, to) = (format!("{of}:{from}"), format!("recorder:{to}"));
            client
                .as_client()
                .connect_ports_by_name(&from, &to)
                .expect("a connection");
        }
        Recorder { client }
    }

    /// The server's frame of now.
    pub fn frame_time(&self) -> u32 {
        self.client.as_client().frame_time()
    }

    /// Ends the recording.
    pub fn finish(self) -> Recording {
        let (_, _, tape) = self.client.deactivate().expect("a running server");
        tape.recording
    }
}

impl ProcessHandler for Tape {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.last_frame_time();
        let recording = &mut self.recording;
        if self.next.is_none() {
            recording.start = now;
        }
        let at = u64::from(now.wrapping_sub(recording.start));
        let missing = self.next.map_or(0, |next| now.wrapping_sub(next));
        if missing > 0 {
            recording.gaps += 1;
            if recording.lost.len() < recording.lost.capacity() {
                recording.lost.push((at, missing));
            }
        }
        self.next = Some(now.wrapping_add(scope.n_frames()));
        for message in self.midi.iter(scope) {
            let room = recording.midi.len() < recording.midi.capacity();
            if let (true, &[status, first, second]) = (room, message.bytes) {
                recording
                    .midi
                    .push((at + u64::from(message.time), [status, first, second]));
            }
        }
        for (port, tape) in self.audio.iter().zip(&mut recording.audio) {
            let block = port.as_slice(scope);
            if tape.len() + block.len() <= tape.capacity() {
                tape.extend_from_slice(block);
            } else {
                recording.full = true;
            }
        }
        Control::Continue
    }
}
