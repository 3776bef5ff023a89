//! A JACK client that sends one MIDI message when it is asked to.
#![allow(dead_code)]

use jack::{
    AsyncClient, Client, ClientOptions, Control, MidiOut, Port, ProcessHandler, ProcessScope,
    RawMidi,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The client with its port `out`.
pub struct Sender {
    client: AsyncClient<(), Out>,
    asked: Arc<AtomicBool>,
}

struct Out {
    port: Port<MidiOut>,
    message: &'static [u8],
    asked: Arc<AtomicBool>,
}

impl Sender {
    /// A client of this name.
    pub fn start(name: &str, message: &'static [u8]) -> Sender {
        let options = ClientOptions::NO_START_SERVER;
        let (client, _) = Client::new(name, options).expect("a running server");
        let port = client.register_port("out", MidiOut::default());
        let asked = Arc::new(AtomicBool::new(false));
        let out = Out {
            port: port.expect("a port"),
            message,
            asked: Arc::clone(&asked),
        };
        let client = client.activate_async((), out).expect("an active client");
        Sender { client, asked }
    }

    /// Connects to this port; whether it is there.
    pub fn connect(&self, to: &str) -> bool {
        let client = self.client.as_client();
        let from = format!("{}:out", client.name());
        match client.connect_ports_by_name(&from, to) {
            Ok(()) | Err(jack::Error::PortAlreadyConnected(..)) => true,
            Err(_) => false,
        }
    }

    /// Sends the message in the next cycle.
    pub fn send(&self) {
        self.asked.store(true, Ordering::Relaxed);
    }
}

impl ProcessHandler for Out {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut writer = self.port.writer(scope);
        if self.asked.swap(false, Ordering::Relaxed) {
            let (time, bytes) = (0, self.message);
            let _ = writer.write(&RawMidi { time, bytes });
        }
        Control::Continue
    }
}
