//! The event log: one JSON object a line, for programs to read.
//!
//! # In which order do the lines come?
//!
//! A rendering knows all before it writes: its lines stand in the order of their frames. The daemon writes each line as
//! soon as it is known. A note's line stands on the frame where it begins and is known where it ends; a verdict stands on
//! the frame where its note was asked for (`heard_frame` is where it was played) and is known later still. A line without
//! a frame is of before the first count.

use crate::audio::{CueForm, Played};
use crate::judging::{Choice, Chorus, NoteName, Timing, Verdict};
use crate::practice::{MusicChange, Record, Recorded};
use crate::time::{Anchor, Frame, Part, Tick, UsPerQuarter};
use serde_json::{Map, Value, json};
use std::collections::VecDeque;

/// Positions kept to name the bar of a note that ended.
const POSITIONS: usize = 256;

/// Turns records and played notes into lines. All frames are told from `base` on.
#[derive(Debug)]
pub struct EventLog {
    /// The first count of the first take; none before.
    base: Option<Frame>,
    rate: u32,
    headed: bool,
    anchor: Option<Anchor>,
    struck: Vec<Struck>,
    positions: VecDeque<(Frame, Position)>,
}

#[derive(Debug, Clone)]
struct Struck {
    tick: Tick,
    frame: Frame,
    part: Part,
    key: u8,
    velocity: u8,
}

#[derive(Debug, Clone, Default)]
struct Position {
    bar: Option<u32>,
    section: String,
    stage: String,
    pass: u32,
}

/// A page that turned, as a screen has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// The frame of the line that told of it.
    pub page: Frame,
    /// A newer page was shown in its place.
    pub overtaken: bool,
}

/// A line and the frame it belongs to.
pub type LogLine = (i64, String);

impl EventLog {
    /// A log for a clock of `rate` frames a second; `base` becomes frame 0, else the first frame of the first
    /// take; what comes before it has no frame.
    pub fn new(base: Option<Frame>, rate: u32) -> EventLog {
        EventLog {
            base,
            rate,
            headed: false,
            anchor: None,
            struck: Vec::new(),
            positions: VecDeque::new(),
        }
    }

    /// The first line.
    pub fn head(&self, seed: u64) -> String {
        json!({"kind": "head", "rate": self.rate, "ppq": crate::time::PPQ, "seed": seed,
            "version": env!("CARGO_PKG_VERSION")})
        .to_string()
    }

    /// The clock runs at another rate from now on.
    pub fn set_rate(&mut self, rate: u32) {
        self.rate = rate;
        self.anchor = None;
        self.struck.clear();
    }

    /// The first line, once.
    pub fn take_head(&mut self, seed: u64) -> Option<String> {
        (!std::mem::replace(&mut self.headed, true)).then(|| self.head(seed))
    }

    /// The line that tells when a recorded page was really to be seen on a screen; one that a newer page
    /// overtook on its way was not.
    pub fn shown(&self, at: Frame, screen: &str, seen: Seen) -> LogLine {
        let mut line = self.line(at, None, &Position::default());
        line.insert("kind".into(), json!("shown"));
        line.insert("screen".into(), json!(screen));
        line.insert("page_frame".into(), json!(self.told(seen.page)));
        if seen.overtaken {
            line.insert("overtaken".into(), json!(true));
        }
        (self.order(at), Value::Object(line).to_string())
    }

    /// The line of a record; `None` for what only moves the position.
    pub fn record(&mut self, record: &Record) -> Option<LogLine> {
        if record.what == (Recorded::Take { starts: true }) && self.base.is_none() {
            self.base = Some(record.frame);
        }
        let position = Position {
            bar: record.bar,
            section: record.section.clone(),
            stage: record.stage.clone(),
            pass: record.pass,
        };
        let mut line = self.line(record.frame, record.tick, &position);
        // Verdicts come late, and stand where their notes were asked for.
        let is_late = matches!(
            record.what,
            Recorded::Verdict(..)
                | Recorded::Choice(_)
                | Recorded::Reentry(_)
                | Recorded::Judged { .. }
        );
        if !is_late {
            self.positions.push_back((record.frame, position));
        }
        if self.positions.len() > POSITIONS {
            self.positions.pop_front();
        }
        if record.what == Recorded::Bar {
            return None;
        }
        if let Value::Object(fields) = self.fields(&record.what) {
            line.extend(fields);
        }
        Some((self.order(record.frame), Value::Object(line).to_string()))
    }

    /// The line of a note, once it has ended.
    pub fn played(&mut self, what: Played) -> Option<LogLine> {
        match what {
            Played::TakeStarted { tick, frame } => {
                self.anchor = Some(Anchor::new(
                    tick,
                    frame,
                    UsPerQuarter::from_qpm(120.0),
                    self.rate,
                ));
                self.struck.clear();
                None
            }
            Played::Bar { tick, tempo, .. } => {
                self.anchor = self.anchor.map(|anchor| anchor.moved_to(tick, tempo));
                None
            }
            Played::On {
                tick,
                part,
                key,
                velocity,
            } => {
                // Told now: by the time it ends the tempo may be another.
                let frame = self.anchor.map_or(Frame(0), |anchor| anchor.frame(tick));
                self.struck.push(Struck {
                    tick,
                    frame,
                    part,
                    key,
                    velocity,
                });
                None
            }
            Played::Off { tick, part, key } => {
                let is_it = |struck: &Struck| struck.part == part && struck.key == key;
                let index = self.struck.iter().position(is_it)?;
                let struck = self.struck.swap_remove(index);
                self.note(&struck, tick)
            }
            Played::TakeEnded { .. } => None,
        }
    }

    fn note(&self, struck: &Struck, end: Tick) -> Option<LogLine> {
        let anchor = self.anchor?;
        let frame = struck.frame;
        let position = self.positions.iter().rev().find(|(from, _)| *from <= frame);
        let position = position
            .map(|(_, position)| position.clone())
            .unwrap_or_default();
        let mut line = self.line(frame, Some(struck.tick), &position);
        line.insert("kind".into(), json!("note"));
        line.insert("part".into(), json!(struck.part.name()));
        line.insert("midi".into(), json!(struck.key));
        line.insert("velocity".into(), json!(struck.velocity));
        line.insert("end_frame".into(), json!(self.told(anchor.frame(end))));
        Some((self.order(frame), Value::Object(line).to_string()))
    }

    fn told(&self, frame: Frame) -> Option<i64> {
        self.base.map(|base| frame.0 as i64 - base.0 as i64)
    }

    fn order(&self, frame: Frame) -> i64 {
        self.told(frame).unwrap_or(i64::MIN)
    }

    fn line(&self, frame: Frame, tick: Option<Tick>, position: &Position) -> Map<String, Value> {
        let mut line = Map::new();
        line.insert("frame".into(), json!(self.told(frame)));
        line.insert("beat".into(), json!(tick.map(Tick::quarters)));
        line.insert("bar".into(), json!(position.bar));
        line.insert("section".into(), json!(position.section));
        line.insert("stage".into(), json!(position.stage));
        line.insert("pass".into(), json!(position.pass));
        line
    }

    /// The fields of a line, besides where it stands.
    fn fields(&self, what: &Recorded) -> Value {
        let frame = |frame: Option<Frame>| frame.and_then(|frame| self.told(frame));
        match what {
            Recorded::Page {
                page,
                now,
                next,
                large,
                chords,
                next_change,
            } => json!({
                "kind": "page", "page": page, "now": now, "next": next, "large": large, "chords": chords,
                "next_change_frame": frame(*next_change),
            }),
            Recorded::Say {
                text,
                form,
                end,
                deadline,
                index,
            } => json!({
                "kind": "say", "text": text, "form": form_name(*form), "index": index,
                "end_frame": frame(*end), "deadline_frame": frame(*deadline),
            }),
            Recorded::Foot {
                switch,
                gesture,
                action,
            } => {
                let (word, moment) = action.map_or(("", ""), |(a, m, _)| (a.name(), m.name()));
                json!({
                    "kind": "foot", "switch": switch, "gesture": gesture.name(), "action": word, "moment": moment,
                    "applied_frame": frame(action.map(|(_, _, applied)| applied)),
                })
            }
            Recorded::Change(change) => {
                let (what, index, value) = change_told(change);
                json!({ "kind": "change", "what": what, "index": index, "value": value })
            }
            Recorded::Stage => json!({ "kind": "stage" }),
            Recorded::Section => json!({ "kind": "section" }),
            Recorded::Tune { place, title } => {
                json!({ "kind": "tune", "index": place, "title": title })
            }
            Recorded::Song { number, place } => {
                json!({ "kind": "song", "number": number, "index": place })
            }
            Recorded::Take { starts: true } => json!({ "kind": "take", "take": "start" }),
            Recorded::Take { starts: false } => json!({ "kind": "take", "take": "stop" }),
            heard => self.heard_fields(heard),
        }
    }

    /// The fields of what the ear heard.
    fn heard_fields(&self, what: &Recorded) -> Value {
        match what {
            Recorded::Verdict(verdict, heard, _) => {
                let mut fields = verdict_fields(verdict);
                fields["heard_frame"] = json!(heard.and_then(|frame| self.told(frame)));
                fields
            }
            Recorded::Choice(choice) => choice_fields(choice),
            Recorded::Reentry(back) => json!({
                "kind": "back", "beats_late": back.beats, "late_ms": back.late_ms,
            }),
            Recorded::Judged {
                targets,
                right,
                offset_ms,
                tuning_cents,
                chorus,
                ready,
            } => json!({
                "kind": "judged", "targets": targets, "right": right, "offset_ms": offset_ms,
                "tuning_cents": tuning_cents, "chorus": chorus.map(Chorus::name), "ready": ready,
            }),
            _ => json!({}),
        }
    }
}

fn form_name(form: CueForm) -> &'static str {
    match form {
        CueForm::Full => "full",
        CueForm::Short | CueForm::Root => "short",
        CueForm::None => "none",
    }
}

/// What changed, the chord of the form where it is one, and the new value in words.
fn change_told(change: &MusicChange) -> (&'static str, Option<usize>, String) {
    match change {
        MusicChange::Chord(index, harmony) => {
            let written = harmony.as_ref().map(ToString::to_string);
            ("chord", Some(*index), written.unwrap_or_default())
        }
        MusicChange::Tempo(tempo) => ("tempo", None, format!("{:.1}", tempo.qpm())),
        MusicChange::Key(key) => {
            let key = key.map(|key| key.to_string());
            ("key", None, key.unwrap_or_default())
        }
        MusicChange::Muted(parts) => {
            let parts: Vec<&str> = parts.iter().map(|part| part.name()).collect();
            ("parts", None, format!("muted: {}", parts.join(" ")))
        }
        MusicChange::ModelTones(is_on) => {
            let state = if *is_on { "on" } else { "off" };
            ("parts", None, format!("reference notes {state}"))
        }
    }
}

fn choice_fields(choice: &Choice) -> Value {
    let degrees = choice.degrees.iter().map(ToString::to_string);
    json!({
        "kind": "choice", "notes": choice.notes, "degrees": degrees.collect::<Vec<_>>(),
        "octaves": choice.octaves, "positions": choice.positions, "beats": choice.beats,
        "off_beats": choice.off_beats, "orders": choice.orders, "repeated": choice.repeated,
    })
}

/// What a line tells of a verdict, whether it is of a take or of a recording.
pub fn verdict_fields(verdict: &Verdict) -> Value {
    let degree = |name: Option<NoteName>| name.map(|name| name.degree.to_string());
    let note = |name: Option<NoteName>| name.map(|name| name.pitch.to_string());
    json!({
        "kind": "verdict", "index": verdict.chord, "degree": degree(verdict.want), "want": note(verdict.want),
        "got": note(verdict.got), "got_degree": degree(verdict.got), "cents": verdict.cents,
        "late_ms": verdict.late_ms, "result": verdict.outcome.name(), "time": verdict.timing.map(Timing::name),
        "found": verdict.found,
    })
}
