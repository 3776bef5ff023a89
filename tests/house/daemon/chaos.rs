//! Ten virtual minutes in which every device but the foot goes, comes back, is slow, or talks nonsense, at random from a
//! seed: the band plays exactly what it plays without.
//!
//! Time is virtual; the devices are fakes behind the traits that the real ones are behind: `Screen`, `VoicePort`, the bytes of a
//! serial line and of MIDI.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use underfoot::audio::{BLOCK_FRAMES, MidiSink, Notice, Outputs, Player};
use underfoot::daemon::config::Config;
use underfoot::daemon::events::EventLog;
use underfoot::daemon::rig::{Rig, RigOutcome, VoicePort};
use underfoot::daemon::setup;
use underfoot::device::DeviceState;
use underfoot::display::screens::{Care, Posted, Report, Screen, ScreenError, Worker};
use underfoot::display::{Bitmap, Page, Panel};
use underfoot::fault::Source;
use underfoot::midi::ByteParser;
use underfoot::pedal::Edge;
use underfoot::pedal::midi::MidiEdges;
use underfoot::pedal::reporter::{EventSink, Reporter, SourceEvent};
use underfoot::practice::{Core, Event, EventKind};
use underfoot::speech::{ClipChoices, FormLimit, PhraseSet};
use underfoot::time::Frame;

const RATE: u32 = 16_000;
const BASE: u64 = 1 << 20;
const MINUTES: u64 = 10;

/// Numbers from a seed (xorshift64, G. Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % below
    }
}

/// A screen's other end.
#[derive(Default)]
struct Bench {
    plugged: bool,
    slow_ms: u64,
    /// What a page took, for the clock.
    spent_ms: u64,
    pages: u64,
}

struct Fake(Arc<Mutex<Bench>>);

impl Screen for Fake {
    fn show(&mut self, _: &Bitmap, _: &Page) -> Result<(), ScreenError> {
        let mut bench = self.0.lock().unwrap();
        bench.spent_ms += bench.slow_ms;
        if !bench.plugged {
            return Err(gone());
        }
        bench.pages += 1;
        Ok(())
    }

    fn check_every(&self) -> Option<Duration> {
        Some(Duration::from_millis(500))
    }

    fn check(&mut self) -> Result<(), ScreenError> {
        if self.0.lock().unwrap().plugged {
            Ok(())
        } else {
            Err(gone())
        }
    }
}

fn gone() -> ScreenError {
    ScreenError::Refused {
        what: "panel".into(),
        why: "no answer".into(),
    }
}

/// A voice whose answers come late, out of order, or not at all.
struct Hoarse {
    dice: Dice,
    asked: Vec<(u64, u32)>,
    calls: u64,
}

impl VoicePort for Hoarse {
    fn ask(&mut self, id: u32, _: &PhraseSet, _: FormLimit, _: u32) {
        let due = self.calls + self.dice.roll(2000);
        if self.dice.roll(4) > 0 {
            self.asked.push((due, id));
        }
    }

    fn answer(&mut self) -> Option<(u32, ClipChoices)> {
        self.calls += 1;
        let ready = self.asked.iter().position(|(due, _)| *due <= self.calls)?;
        Some((self.asked.swap_remove(ready).1, ClipChoices::default()))
    }

    fn prepare(&mut self, _: Vec<PhraseSet>) {}
}

/// The voice of the run without chaos: there is none.
struct Mute;

impl VoicePort for Mute {
    fn ask(&mut self, _: u32, _: &PhraseSet, _: FormLimit, _: u32) {}

    fn answer(&mut self) -> Option<(u32, ClipChoices)> {
        None
    }

    fn prepare(&mut self, _: Vec<PhraseSet>) {}
}

/// A screen with its thread's work, in virtual time.
struct FakeScreen {
    bench: Arc<Mutex<Bench>>,
    worker: Worker,
    free_at: u64,
}

/// Everything that goes wrong.
struct Chaos {
    dice: Dice,
    start: Instant,
    screens: Vec<FakeScreen>,
    line: Reporter,
    line_parser: ByteParser,
    controls: MidiEdges,
    told: Arc<Mutex<Vec<(String, DeviceState)>>>,
    next_at: u64,
    shown: u64,
    line_plugged: bool,
    garbage: u64,
}

impl Chaos {
    fn new(seed: u64) -> Chaos {
        let told = Arc::new(Mutex::new(Vec::new()));
        let to = Arc::clone(&told);
        let sink: EventSink = Box::new(move |event| match event {
            SourceEvent::State(state, _) => to.lock().unwrap().push(("line".into(), state)),
            other => panic!("nonsense became {other:?}"),
        });
        let mut line = Reporter::new(Arc::new(|_: Duration| Frame(BASE)), sink);
        line.tell(DeviceState::Present, None);
        Chaos {
            dice: Dice(seed),
            start: Instant::now(),
            screens: (0..2).map(|_| fake_screen()).collect(),
            line,
            line_parser: ByteParser::default(),
            // A control that the nonsense never is: data bytes alone and other channels do not work it.
            controls: MidiEdges::new(&[(2, "controller 127 channel 16".parse().unwrap())]),
            told,
            next_at: 0,
            shown: 0,
            line_plugged: true,
            garbage: 0,
        }
    }

    /// What happens to the devices at `ms`.
    fn step(&mut self, ms: u64, pages: &[Page]) {
        if ms >= self.next_at {
            self.next_at = ms + 20 + self.dice.roll(1500);
            self.mischief();
        }
        for page in pages {
            self.shown += 1;
            for screen in &mut self.screens {
                let (id, page) = (self.shown, page.clone());
                screen.worker.post(Posted { id, page }, 0);
            }
        }
        for index in 0..self.screens.len() {
            self.turn(index, ms);
        }
    }

    fn mischief(&mut self) {
        match self.dice.roll(4) {
            0 => {
                let index = self.dice.roll(2) as usize;
                let mut bench = self.screens[index].bench.lock().unwrap();
                bench.plugged = !bench.plugged;
            }
            1 => {
                let index = self.dice.roll(2) as usize;
                let slow_ms = self.dice.roll(3000);
                self.screens[index].bench.lock().unwrap().slow_ms = slow_ms;
            }
            2 => {
                self.line_plugged = !self.line_plugged;
                match self.line_plugged {
                    true => self.line.tell(DeviceState::Present, None),
                    false => self.line.lose("pulled out"),
                }
            }
            _ => {
                for _ in 0..self.dice.roll(200) {
                    // Any byte but a status of channel 16.
                    let byte = self.dice.roll(256) as u8;
                    let byte = if (0x80..0xf0).contains(&byte) {
                        byte & 0xf7
                    } else {
                        byte
                    };
                    if let Some(message) = self.line_parser.push(byte) {
                        self.garbage += 1;
                        for edge in self.controls.message(&message, Frame(BASE)) {
                            self.line.set(edge.switch, edge.down, edge.at);
                        }
                    }
                }
            }
        }
    }

    /// What a screen's thread would do; while it waits for a slow device it does nothing else.
    fn turn(&mut self, index: usize, ms: u64) {
        let screen = &mut self.screens[index];
        if ms < screen.free_at {
            return;
        }
        screen.bench.lock().unwrap().spent_ms = 0;
        let (start, bench, told) = (self.start, Arc::clone(&screen.bench), &self.told);
        let clock = move || start + Duration::from_millis(ms + bench.lock().unwrap().spent_ms);
        let now = start + Duration::from_millis(ms);
        screen.worker.step(now, &clock, &mut |report| {
            if let Report::State(state, _) = report {
                told.lock()
                    .unwrap()
                    .push((format!("screen {index}"), state));
            }
        });
        screen.free_at = ms + screen.bench.lock().unwrap().spent_ms;
    }
}

fn fake_screen() -> FakeScreen {
    let bench = Arc::new(Mutex::new(Bench {
        plugged: true,
        ..Bench::default()
    }));
    let device = Arc::clone(&bench);
    let open = move || {
        if device.lock().unwrap().plugged {
            Ok(Box::new(Fake(Arc::clone(&device))) as Box<dyn Screen>)
        } else {
            Err(gone())
        }
    };
    FakeScreen {
        worker: Worker::new(Box::new(open), Panel::new(128, 64), Care::default()),
        bench,
        free_at: 0,
    }
}

#[derive(Default)]
struct Midi {
    base: u64,
    all: Vec<(u64, [u8; 3])>,
}

impl MidiSink for Midi {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        self.all.push((self.base + u64::from(offset_frames), bytes));
    }
}

fn configuration() -> Config {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let text = "[foot]\nswitches = 4\n";
    let mut config = Config::read(&Source {
        name: "chaos",
        text,
    })
    .unwrap();
    config.charts = vec![root.join("configs/charts/ferry-at-six.toml")];
    config.drill = Some(root.join("configs/drills/ladder.toml"));
    config
}

/// What the foot does: a tap or a hold every few seconds, on switches 2 to 4.
fn foot() -> Vec<Edge> {
    let mut dice = Dice(77);
    let (mut edges, mut at) = (Vec::new(), BASE + 12 * u64::from(RATE));
    while at < BASE + MINUTES * 60 * u64::from(RATE) {
        let switch = 2 + dice.roll(2) as u8;
        let held = if dice.roll(5) == 0 { 15_000 } else { 1_500 };
        for (down, at) in [(true, at), (false, at + held)] {
            let at = Frame(at);
            edges.push(Edge { switch, down, at });
        }
        at += (4 + dice.roll(20)) * u64::from(RATE);
    }
    edges
}

/// Plays it all; the MIDI that leaves, and the chaos if there was any.
fn play(mut chaos: Option<Chaos>) -> (Vec<(u64, [u8; 3])>, Option<Chaos>) {
    let config = configuration();
    let library = setup::library(&config).unwrap_or_else(|failure| panic!("{}", failure.text));
    let core = Core::new(library, setup::settings(&config, RATE), None);
    let (mut player, end) = Player::new(setup::prepared(&config, None, RATE, 2)).unwrap();
    let voice: Box<dyn VoicePort> = match chaos {
        Some(_) => Box::new(Hoarse {
            dice: Dice(5),
            asked: Vec::new(),
            calls: 0,
        }),
        None => Box::new(Mute),
    };
    let log = EventLog::new(Some(Frame(BASE)), RATE);
    let mut rig = Rig::new(core, Some(end), log, voice, RATE);
    let (mut outcome, mut midi) = (RigOutcome::default(), Midi::default());
    let mut foot = foot().into_iter().peekable();
    let mut buffers = [[0.0; BLOCK_FRAMES]; 3];
    let begin = EventKind::Begin { at: Frame(BASE) };
    let event = |at: u64, what: EventKind| Event {
        at: Frame(at),
        what,
    };
    rig.handle(event(BASE - 64, begin), &mut outcome);
    let end_at = BASE + MINUTES * 60 * u64::from(RATE);
    for at in (BASE..end_at).step_by(BLOCK_FRAMES) {
        while let Some(edge) = foot.next_if(|edge| edge.at.0 <= at) {
            rig.handle(event(edge.at.0, EventKind::Edge(edge)), &mut outcome);
        }
        rig.notices(Frame(at), &mut outcome);
        if let Some(chaos) = &mut chaos {
            let ms = (at - BASE) * 1000 / u64::from(RATE);
            let pages: Vec<Page> = outcome.pages.drain(..).map(|(page, _)| page).collect();
            let before = chaos.told.lock().unwrap().len();
            chaos.step(ms, &pages);
            let news: Vec<_> = chaos.told.lock().unwrap()[before..].to_vec();
            for (name, state) in news {
                rig.handle(event(at, EventKind::Device { name, state }), &mut outcome);
            }
            // What a foot board on JACK sends that is no press.
            let nonsense = Notice::Midi {
                frame: Frame(at),
                bytes: [0xf8, 0, 0],
                len: 1,
            };
            if chaos.dice.roll(40) == 0 {
                rig.handle(event(at, EventKind::Notice(nonsense)), &mut outcome);
            }
        }
        rig.handle(event(at, EventKind::Tick), &mut outcome);
        outcome.lines.clear();
        if chaos.is_none() {
            outcome.pages.clear();
        }
        midi.base = at;
        let [left, right, cue] = &mut buffers;
        player.render(Frame(at), Outputs { left, right, cue }, &mut midi);
    }
    (midi.all, chaos)
}

#[test]
fn whatever_happens_to_the_devices_the_band_plays_the_same() {
    let (calm, _) = play(None);
    assert!(
        calm.len() > 1_500,
        "ten minutes of music: {} messages",
        calm.len()
    );
    for seed in [1, 20_211] {
        let (played, chaos) = play(Some(Chaos::new(seed)));
        let chaos = chaos.unwrap();
        let told = chaos.told.lock().unwrap();
        let mut states: BTreeMap<&str, Vec<bool>> = BTreeMap::new();
        for (name, state) in told.iter() {
            let present = *state == DeviceState::Present;
            states.entry(name).or_default().push(present);
        }
        for (name, told) in &states {
            let returns = told.iter().filter(|present| **present).count();
            println!(
                "seed {seed}: {name} told {} changes, {returns} times present",
                told.len()
            );
            assert!(returns > 10, "{name} was hardly disturbed");
            // A return is told once: between two there is a loss.
            assert!(told.windows(2).all(|pair| pair != [true, true]), "{name}");
        }
        let pages: u64 = chaos
            .screens
            .iter()
            .map(|screen| screen.bench.lock().unwrap().pages)
            .sum();
        println!(
            "seed {seed}: {} pages shown, {} messages of nonsense",
            pages, chaos.garbage
        );
        assert!(states.len() == 3 && pages > 500 && chaos.garbage > 500);
        let differs = calm
            .iter()
            .zip(&played)
            .position(|(one, other)| one != other);
        assert_eq!(differs, None, "seed {seed}");
        assert_eq!(calm.len(), played.len(), "seed {seed}");
    }
}
