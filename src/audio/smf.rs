//! What was played as a Standard MIDI File: type 1, 960 ticks a quarter, a tempo track and a track a part.
//! (Standard MIDI Files 1.0, MIDI Manufacturers Association, RP-001.)

use super::seats::BAND_PARTS;
use super::{Band, Played};
use crate::time::{Frame, Meter, PPQ, Part, Tick, UsPerQuarter};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, Smf, Timing, Track, TrackEvent, TrackEventKind,
};

/// The longest distance a file can hold between two events.
const MAX_DELTA: i64 = (1 << 28) - 1;
/// General MIDI program of the model tones' track: a music box is near to the plucked tone that sounds.
const MODEL_PROGRAM: u8 = 10;

/// Collects [`Played`] and writes the file. It allocates: for the offline renderer and for tests, not for the
/// audio thread.
#[derive(Debug)]
pub struct SmfRecorder {
    rate: u32,
    conductor: Lane,
    parts: [Lane; Part::ALL.len()],
    /// What to add to a take's tick for the tick in the file.
    base: i64,
    /// The file's last tick and the frame on which the last take ended.
    last: i64,
    ended: Option<Frame>,
    /// The file's tick on which a take began that has no bar yet.
    begun: Option<i64>,
    tempo: Option<UsPerQuarter>,
    meter: Option<Meter>,
    /// What was struck and not let go.
    sounding: Vec<(Part, u8)>,
    /// Markers, by the file's tick.
    marks: Vec<(i64, String)>,
}

/// The distance between two events, as a file holds it.
fn delta(ticks: i64) -> u28 {
    u28::from_int_lossy(ticks.clamp(0, MAX_DELTA) as u32)
}

fn latest(marks: &[(i64, String)]) -> i64 {
    marks.iter().map(|(at, _)| *at).max().unwrap_or(0)
}

/// The tempo track with markers among its events; on the same tick a marker comes last.
fn with_marks<'a>(events: Track<'static>, marks: &'a [(i64, String)]) -> Track<'a> {
    let mut at = 0;
    let mut timed: Vec<(i64, TrackEventKind<'a>)> = Vec::new();
    for event in events {
        at += i64::from(event.delta.as_int());
        timed.push((at, event.kind));
    }
    let marker = |(at, words): &'a (i64, String)| {
        let kind = TrackEventKind::Meta(MetaMessage::Marker(words.as_bytes()));
        (*at, kind)
    };
    timed.extend(marks.iter().map(marker));
    timed.sort_by_key(|(at, _)| *at);
    let mut last = 0;
    let event = |(at, kind): (i64, TrackEventKind<'a>)| {
        let delta = delta(at - last);
        last = at;
        TrackEvent { delta, kind }
    };
    timed.into_iter().map(event).collect()
}

/// A track in the making.
#[derive(Debug, Default)]
struct Lane {
    events: Track<'static>,
    at: i64,
    has_notes: bool,
}

impl Lane {
    fn new(name: &'static str) -> Lane {
        let mut lane = Lane::default();
        lane.push(
            0,
            TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes())),
        );
        lane
    }

    fn push(&mut self, at: i64, kind: TrackEventKind<'static>) {
        let delta = delta(at - self.at);
        self.at += i64::from(delta.as_int());
        self.events.push(TrackEvent { delta, kind });
    }

    fn midi(&mut self, at: i64, part: Part, message: MidiMessage) {
        let channel = u4::from_int_lossy(part.channel());
        self.push(at, TrackEventKind::Midi { channel, message });
    }

    fn control(&mut self, part: Part, controller: u8, value: u8) {
        let (controller, value) = (u7::from_int_lossy(controller), u7::from_int_lossy(value));
        self.midi(0, part, MidiMessage::Controller { controller, value });
    }

    fn program(&mut self, part: Part, program: u8) {
        let program = u7::from_int_lossy(program);
        self.midi(0, part, MidiMessage::ProgramChange { program });
    }
}

impl SmfRecorder {
    /// An empty file for a player of this rate and band.
    pub fn new(rate: u32, band: &Band) -> SmfRecorder {
        let parts = Part::ALL.map(|part| {
            let mut lane = Lane::new(part.name());
            let seat = band.seats.of(part);
            match part {
                Part::Comping | Part::Bass | Part::Melody => lane.program(part, seat.program),
                Part::Model => lane.program(part, MODEL_PROGRAM),
                Part::Drums | Part::Click => {}
            }
            if BAND_PARTS.contains(&part) {
                lane.control(part, 10, seat.pan);
                lane.control(part, 91, if band.reverb { seat.reverb } else { 0 });
            }
            lane.control(part, 93, band.chorus);
            lane
        });
        SmfRecorder {
            rate: rate.max(1),
            conductor: Lane::new("tempo"),
            parts,
            base: 0,
            last: 0,
            ended: None,
            begun: None,
            tempo: None,
            meter: None,
            sounding: Vec::new(),
            marks: Vec::new(),
        }
    }

    /// Sets markers, by the ticks of the take that was recorded last.
    pub fn mark(&mut self, marks: impl Iterator<Item = (Tick, String)>) {
        let base = self.base;
        let in_file = |(tick, words): (Tick, String)| ((base + tick.0).max(0), words);
        self.marks.extend(marks.map(in_file));
    }

    /// Takes what was played. The first take begins at the file's start; later ones after the pause that was.
    pub fn record(&mut self, what: Played) {
        match what {
            Played::TakeStarted { tick, frame } => {
                self.base = self.last + self.pause(frame) - tick.0;
                self.begun = Some(self.base + tick.0);
            }
            Played::Bar { tick, meter, tempo } => self.bar(tick, meter, tempo),
            Played::On {
                tick,
                part,
                key,
                velocity,
            } => {
                self.sounding.push((part, key));
                let (key, vel) = (u7::from_int_lossy(key), u7::from_int_lossy(velocity));
                self.note(tick, part, MidiMessage::NoteOn { key, vel });
            }
            Played::Off { tick, part, key } => {
                self.sounding.retain(|struck| *struck != (part, key));
                let (key, vel) = (u7::from_int_lossy(key), u7::from_int_lossy(0));
                self.note(tick, part, MidiMessage::NoteOff { key, vel });
            }
            Played::TakeEnded { tick, frame } => {
                self.at(tick);
                self.ended = Some(frame);
            }
        }
    }

    /// The file. What still sounds where it was cut is let go there: no synth that plays it may hang.
    pub fn finish(mut self) -> Vec<u8> {
        for (part, key) in std::mem::take(&mut self.sounding) {
            let tick = Tick(self.last - self.base);
            self.record(Played::Off { tick, part, key });
        }
        let end = self.last;
        let parts = self.parts.into_iter().filter(|lane| lane.has_notes);
        let conductor = with_marks(self.conductor.events, &self.marks);
        let conductor = (self.conductor.at.max(latest(&self.marks)), conductor);
        let lanes = parts.map(|lane| (lane.at, lane.events));
        let tracks = std::iter::once(conductor).chain(lanes).map(|(at, events)| {
            let mut events = events;
            events.push(TrackEvent {
                delta: delta(end - at),
                kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
            });
            events
        });
        let timing = Timing::Metrical(u15::from_int_lossy(PPQ as u16));
        let smf = Smf {
            header: Header::new(Format::Parallel, timing),
            tracks: tracks.collect(),
        };
        let mut bytes = Vec::new();
        match smf.write_std(&mut bytes) {
            Ok(()) => bytes,
            // A vector takes whatever is written.
            Err(_) => Vec::new(),
        }
    }

    /// The file's tick of a take's tick; never back.
    fn at(&mut self, tick: Tick) -> i64 {
        self.last = self.last.max(self.base + tick.0);
        self.last
    }

    fn pause(&self, frame: Frame) -> i64 {
        let (Some(ended), Some(tempo)) = (self.ended, self.tempo) else {
            return 0;
        };
        let us = frame.0.saturating_sub(ended.0) as f64 * 1e6 / f64::from(self.rate);
        (us * PPQ as f64 / f64::from(tempo.0.max(1))).round() as i64
    }

    fn bar(&mut self, tick: Tick, meter: Meter, tempo: UsPerQuarter) {
        // The tempo of a take's first bar holds from the take's start.
        let at = self.at(tick);
        let at = self.begun.take().unwrap_or(at);
        if self.meter.replace(meter) != Some(meter) {
            // MIDI clocks, 24 a quarter, between two clicks; 32nds a quarter.
            let clocks = (24 * meter.count_ticks().0 / PPQ).clamp(1, 255) as u8;
            let unit = meter.unit().trailing_zeros() as u8;
            let signature = MetaMessage::TimeSignature(meter.beats(), unit, clocks, 8);
            self.conductor.push(at, TrackEventKind::Meta(signature));
        }
        if self.tempo.replace(tempo) != Some(tempo) {
            let us = u24::from_int_lossy(tempo.0.min((1 << 24) - 1));
            self.conductor
                .push(at, TrackEventKind::Meta(MetaMessage::Tempo(us)));
        }
    }

    fn note(&mut self, tick: Tick, part: Part, message: MidiMessage) {
        let at = self.at(tick);
        let index = Part::ALL.iter().position(|other| *other == part);
        if let Some(lane) = index.and_then(|index| self.parts.get_mut(index)) {
            lane.has_notes = true;
            lane.midi(at, part, message);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(tick: i64, part: Part, key: u8) -> Played {
        let (tick, velocity) = (Tick(tick), 90);
        Played::On {
            tick,
            part,
            key,
            velocity,
        }
    }

    fn off(tick: i64, part: Part, key: u8) -> Played {
        let tick = Tick(tick);
        Played::Off { tick, part, key }
    }

    fn bar(tick: i64, meter: &str, us: u32) -> Played {
        Played::Bar {
            tick: Tick(tick),
            meter: meter.parse().unwrap(),
            tempo: UsPerQuarter(us),
        }
    }

    fn recorded(played: &[Played]) -> Vec<u8> {
        let mut recorder = SmfRecorder::new(48_000, &Band::default());
        played.iter().for_each(|what| recorder.record(*what));
        recorder.finish()
    }

    #[test]
    fn the_bytes_are_those_of_the_standard() {
        // Written by hand after RP-001: header, tempo track, drum track (channel 10).
        let bytes = recorded(&[
            Played::TakeStarted {
                tick: Tick(0),
                frame: Frame(77),
            },
            bar(0, "6/8", 500_000),
            on(0, Part::Drums, 51),
            off(96, Part::Drums, 51),
            bar(2880, "6/8", 500_000),
            Played::TakeEnded {
                tick: Tick(2880),
                frame: Frame(72_077),
            },
        ]);
        let conductor = [
            b"\x00\xFF\x03\x05tempo".as_slice(),
            b"\x00\xFF\x58\x04\x06\x03\x24\x08", // 6/8, a click each 36 clocks
            b"\x00\xFF\x51\x03\x07\xA1\x20",     // 500,000 us
            b"\x96\x40\xFF\x2F\x00",             // 2,880 ticks on
        ]
        .concat();
        let drums = [
            b"\x00\xFF\x03\x05drums".as_slice(),
            b"\x00\xB9\x0A\x46\x00\x5B\x1E\x00\x5D\x00", // place, reverb, chorus
            b"\x00\x99\x33\x5A\x60\x89\x33\x00",
            b"\x95\x60\xFF\x2F\x00", // 2,784 ticks on
        ]
        .concat();
        let mut expected = b"MThd\x00\x00\x00\x06\x00\x01\x00\x02\x03\xC0".to_vec();
        for track in [conductor, drums] {
            expected.extend(b"MTrk");
            expected.extend((track.len() as u32).to_be_bytes());
            expected.extend(track);
        }
        assert_eq!(bytes, expected);
    }

    #[test]
    fn what_sounds_at_the_cut_is_let_go_there() {
        let bytes = recorded(&[
            bar(0, "4/4", 500_000),
            on(0, Part::Bass, 40),
            on(960, Part::Drums, 51),
        ]);
        let smf = Smf::parse(&bytes).unwrap();
        for track in &smf.tracks[1..] {
            let (mut at, mut off) = (0, None);
            for event in track {
                at += event.delta.as_int();
                if let TrackEventKind::Midi {
                    message: MidiMessage::NoteOff { .. },
                    ..
                } = event.kind
                {
                    off = Some(at);
                }
            }
            assert_eq!(off, Some(960));
        }
    }

    #[test]
    fn a_second_take_follows_after_the_pause_that_was() {
        let bytes = recorded(&[
            Played::TakeStarted {
                tick: Tick(-3840),
                frame: Frame(0),
            },
            bar(-3840, "4/4", 500_000),
            on(0, Part::Bass, 40),
            off(960, Part::Bass, 40),
            Played::TakeEnded {
                tick: Tick(960),
                frame: Frame(120_000),
            },
            // Two seconds later: four quarters at 120.
            Played::TakeStarted {
                tick: Tick(-960),
                frame: Frame(216_000),
            },
            bar(-960, "4/4", 250_000),
            on(-960, Part::Bass, 43),
        ]);
        let smf = Smf::parse(&bytes).unwrap();
        let mut at = 0;
        let mut struck = Vec::new();
        for event in &smf.tracks[1] {
            at += event.delta.as_int();
            if let TrackEventKind::Midi {
                message: MidiMessage::NoteOn { key, .. },
                ..
            } = event.kind
            {
                struck.push((at, key.as_int()));
            }
        }
        assert_eq!(struck, [(3840, 40), (4800 + 3840, 43)]);
    }
}
