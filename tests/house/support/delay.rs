//! A JACK client that gives back what it hears, later by a number of frames.

use jack::{
    AsyncClient, AudioIn, AudioOut, Client, ClientOptions, Control, Port, ProcessHandler,
    ProcessScope,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The longest delay in frames.
const LONGEST: usize = 1 << 14;

/// The client `delay` with ports `in` and `out`.
pub struct Delay {
    client: AsyncClient<(), Line>,
    frames: Arc<AtomicUsize>,
}

struct Line {
    heard: Port<AudioIn>,
    told: Port<AudioOut>,
    frames: Arc<AtomicUsize>,
    kept: Vec<f32>,
    at: usize,
    next: Option<u32>,
    gaps: u32,
}

impl Delay {
    /// Starts it without a delay.
    pub fn start() -> Delay {
        let options = ClientOptions::NO_START_SERVER;
        let (client, _) = Client::new("delay", options).expect("a running server");
        let frames = Arc::new(AtomicUsize::new(0));
        let line = Line {
            heard: client
                .register_port("in", AudioIn::default())
                .expect("a port"),
            told: client
                .register_port("out", AudioOut::default())
                .expect("a port"),
            frames: Arc::clone(&frames),
            kept: vec![0.0; LONGEST],
            at: 0,
            next: None,
            gaps: 0,
        };
        let client = client.activate_async((), line).expect("an active client");
        Delay { client, frames }
    }

    /// Delays by so many frames from now on.
    pub fn set(&self, frames: usize) {
        assert!(frames < LONGEST);
        self.frames.store(frames, Ordering::Relaxed);
    }

    /// How many cycles did not follow on the one before.
    pub fn finish(self) -> u32 {
        let (_, _, line) = self.client.deactivate().expect("a running server");
        line.gaps
    }
}

impl ProcessHandler for Line {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.last_frame_time();
        self.gaps += u32::from(self.next.is_some_and(|next| next != now));
        self.next = Some(now.wrapping_add(scope.n_frames()));
        let late = self.frames.load(Ordering::Relaxed);
        let heard = self.heard.as_slice(scope);
        for (told, heard) in self.told.as_mut_slice(scope).iter_mut().zip(heard) {
            self.kept[self.at % LONGEST] = *heard;
            *told = self.kept[(self.at + LONGEST - late) % LONGEST];
            self.at += 1;
        }
        Control::Continue
    }
}
