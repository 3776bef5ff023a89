//! A JACK client that notes the frame of every MIDI message that comes to its ports, of any length.

use jack::{
    AsyncClient, Client, ClientOptions, Control, MidiIn, Port, ProcessHandler, ProcessScope,
};

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The most messages that are kept.
const MOST: usize = 400_000;

/// A message: the port it came to, the server's frame, its bytes and how many count.
pub type Noted = (usize, u64, [u8; 3], usize);

/// Ports that are listened to.
pub struct Tape {
    client: AsyncClient<(), Ports>,
    ticks: Arc<AtomicUsize>,
}

struct Ports {
    ports: Vec<Port<MidiIn>>,
    noted: Vec<Noted>,
    ticks: Arc<AtomicUsize>,
    /// The last cycle's frame, and the one that was to follow.
    last: Option<(u32, u32)>,
    wide: u64,
    gaps: u32,
}

impl Tape {
    /// A client `tape` with ports `in_1`, `in_2`, ...
    pub fn start(ports: usize) -> Tape {
        let options = ClientOptions::NO_START_SERVER;
        let (client, _) = Client::new("tape", options).expect("a running server");
        let ports = (1..=ports)
            .map(|number| {
                client
                    .register_port(&format!("in_{number}"), MidiIn::default())
                    .expect("a port")
            })
            .collect();
        let ticks = Arc::new(AtomicUsize::new(0));
        let ports = Ports {
            ports,
            ticks: ticks.clone(),
            noted: Vec::with_capacity(MOST),
            last: None,
            wide: 0,
            gaps: 0,
        };
        Tape {
            client: client.activate_async((), ports).expect("an active client"),
            ticks,
        }
    }

    /// Connects a port to one of ours.
    pub fn listen(&self, from: &str, port: usize) {
        let to = format!("tape:in_{port}");
        let client = self.client.as_client();
        client
            .connect_ports_by_name(from, &to)
            .expect("a connection");
    }

    /// Connects, or takes apart, two ports of others.
    pub fn patch(&self, from: &str, to: &str, together: bool) {
        let client = self.client.as_client();
        let done = match together {
            true => client.connect_ports_by_name(from, to),
            false => client.disconnect_ports_by_name(from, to),
        };
        done.expect("two ports");
    }

    /// Lets the transport roll from its beginning, or stops it.
    pub fn roll(&self, rolls: bool) {
        let transport = self.client.as_client().transport();
        match rolls {
            true => transport.start().expect("a transport"),
            false => transport.stop().expect("a transport"),
        }
    }

    /// Where the transport is, in frames from its beginning.
    pub fn transport_frame(&self) -> u32 {
        let transport = self.client.as_client().transport();
        transport.query().expect("a transport").pos.frame()
    }

    /// How many ticks of a MIDI clock came so far.
    pub fn tick_count(&self) -> usize {
        self.ticks.load(Ordering::Relaxed)
    }

    /// What came, in order, and how many cycles did not follow on the one before.
    pub fn finish(self) -> (Vec<Noted>, u32) {
        let (_, _, ports) = self.client.deactivate().expect("a running server");
        (ports.noted, ports.gaps)
    }
}

impl ProcessHandler for Ports {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let now = scope.last_frame_time();
        if let Some((last, next)) = self.last {
            self.gaps += u32::from(next != now);
            // As the daemon counts: a server that is late may count a few frames back.
            let step = now.wrapping_sub(last);
            self.wide += if step < u32::MAX / 2 {
                u64::from(step)
            } else {
                0
            };
        }
        for (number, port) in (1..).zip(&self.ports) {
            for message in port.iter(scope) {
                let mut bytes = [0; 3];
                if message.bytes.first() == Some(&0xf8) {
                    self.ticks.fetch_add(1, Ordering::Relaxed);
                }
                let count = message.bytes.len().min(3);
                bytes[..count].copy_from_slice(&message.bytes[..count]);
                if self.noted.len() < MOST {
                    self.noted
                        .push((number, self.wide + u64::from(message.time), bytes, count));
                }
            }
        }
        self.last = Some((now, now.wrapping_add(scope.n_frames())));
        Control::Continue
    }
}
