//! The core with a real player in virtual time: a script of actions in, what is heard, shown and said out.
//!
//! A script is a line of moments and actions: `"6.5 next stage; 12 stop; +1 start; 20"`. A moment is a place of
//! the take in quarters from its first full bar, or (with `+`) seconds later; an action is one of the words of
//! the configuration, `audio lost`, `audio back`, `reload`, `edge N down`, `edge N up`, `song N`, or nothing.

pub mod heard;
pub mod told;

use std::collections::VecDeque;
use std::sync::Arc;
use underfoot::audio::{
    BLOCK_FRAMES, Band, Command, Cue, CueChoice, Level, MidiSink, Notice, Outputs, Played, Player,
    PlayerEnd, Prepared,
};
use underfoot::chart::Chart;
use underfoot::display::Page;
use underfoot::drill::{Drill, Names};
use underfoot::fault::Source;
use underfoot::foot::{Action, FootMap, SwitchSettings};
use underfoot::fretboard::Neck;
use underfoot::harmony::Habits;
use underfoot::pedal::Edge;
use underfoot::practice::{
    Core, Effect, Event, EventKind, Leads, Library, Record, Replay, Saved, Settings, Spoken,
};
use underfoot::time::{Frame, Tick, UsPerQuarter};

/// A low rate is as good for decisions, and quick.
pub const RATE: u32 = 16_000;
/// The voice of the tests says everything at this speed.
pub const MS_A_LETTER: u64 = 55;

/// Three sections whose bars all begin with another bass note.
pub const CHART: &str = "title = 'Plain'\nkey = 'C major'\ntempo = 240\nfeel = 'swing'\nform = ['A', 'B', 'C']\n\
    [[section]]\nname = 'A'\nbars = ['Cmaj7', 'Dm7', 'Em7', 'Fmaj7']\n\
    [[section]]\nname = 'B'\nbars = ['G7', 'Am7']\n\
    [[section]]\nname = 'C'\nbars = ['Bbmaj7', 'Ebmaj7', 'Abmaj7']\n";

/// The plain tune, rewritten by its teacher.
pub const RELOADED: &str = "title = 'Plain'\nkey = 'C major'\ntempo = 90\nfeel = 'swing'\nform = ['A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['Gb7', 'G7', 'Ab7', 'A7']\n\
    [[section]]\nname = 'B'\nbars = ['B7', 'Bb7']\n";

/// Another tune, slower.
pub const OTHER: &str = "title = 'Other'\nkey = 'F major'\ntempo = 200\nfeel = 'swing'\nform = ['A']\n\
    [[section]]\nname = 'A'\nbars = ['Fmaj7', 'Gm7', 'C7', 'F6']\n";

/// Three stages with everything on, that only the foot leaves.
pub const DRILL: &str = "title = 'Plain drill'\n\
    [[stage]]\nname = 'one'\ndegrees = ['1']\nplaces = ['1']\ncycle = { listen = 0, play = 1 }\n\
    help = { comping = 'full', bass = true, drums = 'ride', page = 'notes', voice = 'always' }\n\
    [[stage]]\nname = 'two'\ndegrees = ['1', '3']\nfigure = ['1', '3']\nplaces = ['1', '3']\ncycle = { listen = 0, play = 1 }\n\
    help = { comping = 'full', bass = true, drums = 'ride', page = 'notes', voice = 'always' }\n\
    [[stage]]\nname = 'three'\ndegrees = ['1', '2', '3']\nplaces = ['1']\nstep = '1/8'\ncycle = { listen = 0, play = 1 }\n\
    help = { comping = 'full', bass = true, drums = 'ride', page = 'notes', voice = 'always' }\n";

pub fn chart(text: &str) -> Chart {
    Chart::read(&Source {
        name: "chart",
        text,
    })
    .expect("a chart")
}

pub fn drill(text: &str) -> Drill {
    Drill::read(&Source {
        name: "drill",
        text,
    })
    .expect("a drill")
}

pub fn library(charts: &[&str], drill_text: &str) -> Library {
    Library {
        charts: charts.iter().map(|text| chart(text)).collect(),
        drill: drill(drill_text),
        set: None,
    }
}

pub fn settings(switches: usize) -> Settings {
    Settings {
        rate: RATE,
        seed: 1,
        feel_amount: 0.0,
        tempo_per_cent: 100.0,
        tempo_step_qpm: 4.0,
        level_step_db: 3.0,
        master_db: -20.0,
        names: Names::English,
        neck: Neck::default(),
        rest_after_min: 25,
        habits: Habits::default(),
        spoken: Spoken::Drill,
        rules: Default::default(),
        spoken_summary: false,
        a4_hz: 440.0,
        charts_named_in: String::new(),
        map: FootMap::standard(switches),
        switches: vec![SwitchSettings::default(); switches],
    }
}

/// What was played, with the frames of the blocks it was played in.
#[derive(Default)]
struct Tape {
    at: u64,
    played: Vec<(u64, Played)>,
}

impl MidiSink for Tape {
    fn event(&mut self, _: u32, _: [u8; 3]) {}
    fn played(&mut self, what: Played) {
        self.played.push((self.at, what));
    }
}

/// A bar that began to sound, as the player reports it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BarHeard {
    pub take: usize,
    pub start: Tick,
    pub frame: Frame,
}

/// The core, a player, and everything that came out of them.
pub struct Room {
    pub core: Core,
    player: Option<(Player, PlayerEnd)>,
    tape: Tape,
    /// Proposals that a foot skipped.
    pub skipped: u32,
    /// How often an update was asked for.
    pub updates: u32,
    pub at: u64,
    unsent: VecDeque<Command>,
    /// Until then nothing is sent: the loop stands still.
    pub stands_still_until: u64,
    notices: Vec<Notice>,
    tempo: UsPerQuarter,
    took: usize,
    pub bars: Vec<BarHeard>,
    /// Bars before this one are of a take that is over.
    stale: usize,
    pub starved: usize,
    pub records: Vec<Record>,
    pub pages: Vec<(u64, Page)>,
    pub saved: Option<Saved>,
    pub replays: Vec<Replay>,
    /// From where up to where a take is to be kept.
    pub keeps: Vec<(Frame, Frame)>,
    /// Who was to lead the clock, one after the other.
    pub leads: Vec<Option<Leads>>,
    /// The words as they sounded: frame, text; a cue that was hushed while it sounded is in `hushed` too.
    pub said: Vec<(u64, u64, String)>,
    pub hushed: Vec<(u64, String)>,
    cue_ends: Vec<(u32, u64, u64, String)>,
    cues: Vec<(u32, Cue, Vec<String>)>,
    /// Somebody plays the root of every chord, when it comes.
    pub guitar: Option<heard::Roots>,
    pub reload: Option<Library>,
    /// What the core is set up with, after a reload.
    pub settings: Settings,
    /// The master level that the player was told last.
    pub master_db: Option<f32>,
    /// How long the voice takes for a text, in ms.
    pub speech_ms: fn(&str) -> u64,
}

fn player(levels: &Settings) -> (Player, PlayerEnd) {
    Player::new(Prepared {
        rate: levels.rate,
        font: None,
        band: Band::default(),
        levels: Vec::new(),
        cue_to_outputs: false,
    })
    .expect("a player")
}

impl Room {
    pub fn new(library: Library, settings: Settings) -> Room {
        Room::begun_again(library, settings, None)
    }

    /// Begun again where the last session ended.
    pub fn begun_again(library: Library, settings: Settings, saved: Option<&Saved>) -> Room {
        let made = player(&settings);
        Room {
            core: Core::new(library, settings.clone(), saved),
            player: Some(made),
            tape: Tape::default(),
            at: 1 << 20,
            unsent: VecDeque::new(),
            stands_still_until: 0,
            notices: Vec::new(),
            tempo: UsPerQuarter(500_000),
            took: 0,
            bars: Vec::new(),
            stale: 0,
            starved: 0,
            records: Vec::new(),
            pages: Vec::new(),
            saved: None,
            replays: Vec::new(),
            keeps: Vec::new(),
            leads: Vec::new(),
            said: Vec::new(),
            hushed: Vec::new(),
            cue_ends: Vec::new(),
            cues: Vec::new(),
            guitar: None,
            skipped: 0,
            updates: 0,
            reload: None,
            settings,
            master_db: None,
            speech_ms: |text| text.len() as u64 * MS_A_LETTER,
        }
    }

    /// The plain chart and drill.
    pub fn plain() -> Room {
        Room::new(library(&[CHART, OTHER], DRILL), settings(2))
    }

    pub fn handle(&mut self, what: EventKind) {
        let mut effects = Vec::new();
        let at = Frame(self.at);
        self.core.handle(Event { at, what }, &mut effects);
        for effect in effects {
            match effect {
                Effect::Audio(command) => {
                    if let Command::Level {
                        level: Level::Master,
                        db,
                        ..
                    } = command
                    {
                        self.master_db = Some(db);
                    }
                    if let Command::HushCues { at, from, below } = command {
                        let meant = |id: &u32| (from..below).contains(id);
                        let cut = self.cue_ends.iter().filter(|(id, start, end, _)| {
                            meant(id) && *start < at.0 && *end > at.0
                        });
                        let texts = cut.map(|(_, _, _, text)| (at.0, text.clone()));
                        self.hushed.extend(texts.collect::<Vec<_>>());
                    }
                    self.send(command);
                }
                Effect::Show(page) => self.pages.push((self.at, page)),
                Effect::Record(record) => self.records.push(record),
                Effect::Save(saved) => self.saved = Some(saved),
                Effect::PlayBack(replay) => self.replays.push(replay),
                Effect::Keep(from, to) => self.keeps.push((from, to)),
                Effect::WeakSpots | Effect::Report => {}
                Effect::Skipped => self.skipped += 1,
                Effect::Update => self.updates += 1,
                Effect::Clock(leads) => self.leads.push(leads),
                Effect::Say(saying) => {
                    let choices = saying.phrases.choices(saying.limit);
                    let clip = |text: &str| -> Arc<[f32]> {
                        let ms = (self.speech_ms)(text);
                        vec![0.1; (ms * u64::from(RATE) / 1000) as usize].into()
                    };
                    let cue = Cue {
                        id: saying.id,
                        choices: choices
                            .iter()
                            .map(|(form, text)| CueChoice {
                                form: *form,
                                samples: clip(text),
                            })
                            .collect(),
                        windows: saying.windows,
                        now: saying.now,
                    };
                    let texts = choices.iter().map(|(_, text)| (*text).to_string());
                    self.cues.push((cue.id, cue.clone(), texts.collect()));
                    self.send(Command::Cue(Box::new(cue)));
                }
            }
        }
    }

    fn send(&mut self, command: Command) {
        self.unsent.push_back(command);
    }

    fn flush(&mut self) {
        let Some((_, end)) = &mut self.player else {
            return self.unsent.clear();
        };
        if self.at < self.stands_still_until {
            return;
        }
        while let Some(command) = self.unsent.pop_front() {
            if let Err(command) = end.send(command) {
                self.unsent.push_front(command);
                break;
            }
        }
        end.collect_garbage();
    }

    /// One sub-block: what was reported, the core, its commands, then the player.
    pub fn step(&mut self) {
        let notices = std::mem::take(&mut self.notices);
        for notice in notices {
            self.note(notice);
            self.handle(EventKind::Notice(notice));
        }
        self.handle(EventKind::Tick);
        self.flush();
        if let Some((player, end)) = &mut self.player {
            let mut buffers = [[0.0; BLOCK_FRAMES]; 3];
            let [left, right, cue] = &mut buffers;
            self.tape.at = self.at;
            player.render(Frame(self.at), Outputs { left, right, cue }, &mut self.tape);
            self.notices.extend(std::iter::from_fn(|| end.notice()));
            let starved = &end.counters().starved;
            let starved = starved.load(std::sync::atomic::Ordering::Relaxed) as usize;
            self.starved = self.starved.max(starved);
        }
        self.at += BLOCK_FRAMES as u64;
        self.hear_roots();
        while let Some((_, played)) = self.tape.played.get(self.took) {
            if let Played::Bar { tempo, .. } = played {
                self.tempo = *tempo;
            }
            self.took += 1;
        }
    }

    fn note(&mut self, notice: Notice) {
        match notice {
            Notice::BarStarted { start, frame, .. } => {
                let take = self.takes();
                let heard = BarHeard { take, start, frame };
                if self
                    .bars
                    .last()
                    .is_none_or(|last| (last.take, last.start) != (take, start))
                {
                    self.bars.push(heard);
                }
            }
            Notice::CueStarted {
                cue,
                form,
                frame,
                end,
            } => {
                let found = self.cues.iter().find(|(id, _, _)| *id == cue);
                let index = found.and_then(|(_, cue, _)| {
                    cue.choices.iter().position(|choice| choice.form == form)
                });
                if let (Some((_, _, texts)), Some(index)) = (found, index) {
                    self.said.push((frame.0, end.0, texts[index].clone()));
                    self.cue_ends.retain(|(id, ..)| *id != cue);
                    self.cue_ends
                        .push((cue, frame.0, end.0, texts[index].clone()));
                }
            }
            _ => {}
        }
    }

    pub fn takes(&self) -> usize {
        let starts = |(_, played): &&(u64, Played)| matches!(played, Played::TakeStarted { .. });
        self.tape.played.iter().filter(starts).count()
    }

    /// Where the take is, in quarters from its first full bar; far back where none sounds.
    pub fn position(&self) -> f64 {
        let Some(bar) = self.bars.get(self.stale..).and_then(<[_]>::last) else {
            return -1e9;
        };
        let gone = self.at.saturating_sub(bar.frame.0) as f64 / f64::from(RATE);
        bar.start.quarters() + gone * self.tempo.qpm() / 60.0
    }

    pub fn seconds(&mut self, seconds: f64) {
        let until = self.at + (seconds * f64::from(RATE)) as u64;
        while self.at < until {
            self.step();
        }
    }

    /// Until the take is at `quarters`; gives up after 40 s.
    pub fn until(&mut self, quarters: f64) {
        let limit = self.at + 40 * u64::from(RATE);
        while self.position() < quarters && self.at < limit {
            self.step();
        }
    }

    pub fn act(&mut self, action: &str) {
        let goes_on_later = ["start", "audio lost", "top of section now"].contains(&action);
        let playing = self.core.foot_state() != underfoot::foot::FootState::Stopped;
        if goes_on_later && !(action == "start" && playing) {
            self.stale = self.bars.len();
        }
        match action {
            "" => {}
            "audio lost" => {
                self.player = None;
                self.notices.clear();
                self.handle(EventKind::AudioLost {
                    why: "no sound".to_string(),
                });
            }
            "audio back" => {
                let mut other = settings(2);
                other.rate = RATE;
                self.player = Some(player(&other));
                let at = Frame(self.at).plus_ms(150.0, RATE);
                self.handle(EventKind::AudioBack { rate: RATE, at });
            }
            "reload" => {
                let library = self.reload.clone().expect("something to reload");
                let read = (library, self.settings.clone());
                self.handle(EventKind::Reload(Box::new(read)));
            }
            song if song.starts_with("song ") => {
                let number = song[5..].parse().expect("a number");
                self.handle(EventKind::Song(number));
            }
            _ => match action.strip_prefix("edge ") {
                Some(edge) => {
                    let (switch, down) = edge.split_once(' ').expect("switch and level");
                    self.handle(EventKind::Edge(Edge {
                        switch: switch.parse().expect("a switch"),
                        down: down == "down",
                        at: Frame(self.at),
                    }));
                }
                None => {
                    let action: Action = action.parse().expect("an action");
                    self.handle(EventKind::Act(action));
                }
            },
        }
    }

    /// Plays a script.
    pub fn play(&mut self, script: &str) {
        for line in script
            .split(';')
            .map(str::trim)
            .filter(|line| !line.is_empty())
        {
            let (when, action) = line.split_once(' ').unwrap_or((line, ""));
            match when.strip_prefix('+') {
                Some(seconds) => self.seconds(seconds.parse().expect("seconds")),
                None => self.until(when.parse().expect("a place in quarters")),
            }
            self.act(action.trim());
        }
    }

    /// Starts at once, then plays a script.
    pub fn started(mut self, script: &str) -> Room {
        self.act("start");
        self.play(script);
        self
    }
}
