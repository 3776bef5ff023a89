//! Standard MIDI Files put one after the other into one, each where its sound begins.

use midly::num::{u15, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, Track, TrackEvent, TrackEventKind};

/// A tempo where a file names none, in microseconds a quarter (RP-001).
const UNNAMED_US: u32 = 500_000;

/// Files of one resolution, type 1, with how long the sound of each lasts in seconds, put into one file. Tracks of one name
/// become one; the first track of a file has its tempos.
///
/// # Errors
/// Where a file cannot be read, or counts in frames of film.
pub fn join(files: &[(Vec<u8>, f64)]) -> Result<Vec<u8>, midly::Error> {
    let read = files.iter().map(|(bytes, _)| Smf::parse(bytes));
    let read = read.collect::<Result<Vec<Smf<'_>>, _>>()?;
    let ppq = read.iter().find_map(|smf| match smf.header.timing {
        Timing::Metrical(ppq) => Some(ppq),
        Timing::Timecode(..) => None,
    });
    let ppq = ppq.unwrap_or(u15::from_int_lossy(960));
    let mut lanes: Vec<Lane<'_>> = Vec::new();
    // Where the next file begins, and where that is in the sound of what is there, so that no rounding adds up.
    let (mut start, mut start_s, mut sound_s) = (0i64, 0.0, 0.0);
    for (smf, (_, seconds)) in read.iter().zip(files) {
        for (index, track) in smf.tracks.iter().enumerate() {
            let name = name(track);
            let at = lanes.iter().position(|lane| lane.name == name);
            let at = at.filter(|at| (*at == 0) == (index == 0));
            let at = at.unwrap_or_else(|| {
                lanes.push(Lane {
                    name,
                    events: Vec::new(),
                });
                lanes.len() - 1
            });
            lanes[at].take(track, start);
        }
        let (ticks, lasts_s, us) = length(smf, ppq);
        sound_s += seconds;
        let rest_s = sound_s - (start_s + lasts_s);
        let rest = (rest_s * 1e6 * f64::from(ppq.as_int()) / f64::from(us))
            .round()
            .max(0.0) as i64;
        start += ticks + rest;
        start_s += lasts_s + rest as f64 * f64::from(us) / 1e6 / f64::from(ppq.as_int());
    }
    let joined = Smf {
        header: Header::new(Format::Parallel, Timing::Metrical(ppq)),
        tracks: lanes.into_iter().map(|lane| lane.finish(start)).collect(),
    };
    let mut bytes = Vec::new();
    // A vector takes whatever is written.
    let _ = joined.write_std(&mut bytes);
    Ok(bytes)
}

/// A track that is put together, its events by the tick of the whole.
struct Lane<'a> {
    name: &'a [u8],
    events: Vec<(i64, TrackEventKind<'a>)>,
}

impl<'a> Lane<'a> {
    fn take(&mut self, track: &Track<'a>, start: i64) {
        let mut at = start;
        let is_new = self.events.is_empty();
        for event in track {
            at += i64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => {}
                TrackEventKind::Meta(MetaMessage::TrackName(_)) if !is_new => {}
                kind => self.events.push((at, kind)),
            }
        }
    }

    fn finish(mut self, end: i64) -> Track<'a> {
        self.events
            .push((end, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
        let mut last = 0;
        let event = |(at, kind): (i64, TrackEventKind<'a>)| {
            let delta = (at - last).clamp(0, (1 << 28) - 1);
            last += delta;
            let delta = u28::from_int_lossy(delta as u32);
            TrackEvent { delta, kind }
        };
        self.events.into_iter().map(event).collect()
    }
}

fn name<'a>(track: &Track<'a>) -> &'a [u8] {
    let named = track.iter().find_map(|event| match event.kind {
        TrackEventKind::Meta(MetaMessage::TrackName(name)) => Some(name),
        _ => None,
    });
    named.unwrap_or_default()
}

/// How long a file is in ticks and seconds, and its last tempo.
fn length(smf: &Smf<'_>, ppq: u15) -> (i64, f64, u32) {
    let ticks_of = |track: &Track<'_>| {
        track
            .iter()
            .map(|event| i64::from(event.delta.as_int()))
            .sum()
    };
    let end: i64 = smf.tracks.iter().map(ticks_of).max().unwrap_or(0);
    let (mut at, mut since, mut us, mut seconds) = (0, 0, UNNAMED_US, 0.0);
    let lasts = |ticks: i64, us: u32| ticks as f64 * f64::from(us) / 1e6 / f64::from(ppq.as_int());
    for event in smf.tracks.first().into_iter().flatten() {
        at += i64::from(event.delta.as_int());
        if let TrackEventKind::Meta(MetaMessage::Tempo(tempo)) = event.kind {
            seconds += lasts(at - since, us);
            (since, us) = (at, tempo.as_int().max(1));
        }
    }
    (end, seconds + lasts(end - since, us), us)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::smf::SmfRecorder;
    use crate::audio::{Band, Played};
    use crate::time::{Frame, Part, Tick, UsPerQuarter};

    /// A file of one bar and one note at its beginning.
    fn file(us: u32, part: Part, mark: &str) -> Vec<u8> {
        let mut recorder = SmfRecorder::new(48_000, &Band::default());
        let tick = Tick(0);
        let played = [
            Played::TakeStarted {
                tick,
                frame: Frame(0),
            },
            Played::Bar {
                tick,
                meter: "4/4".parse().unwrap(),
                tempo: UsPerQuarter(us),
            },
            Played::On {
                tick,
                part,
                key: 40,
                velocity: 90,
            },
            Played::Off {
                tick: Tick(960),
                part,
                key: 40,
            },
            Played::TakeEnded {
                tick: Tick(3840),
                frame: Frame(1),
            },
        ];
        played.into_iter().for_each(|what| recorder.record(what));
        recorder.mark([(tick, mark.to_string())].into_iter());
        recorder.finish()
    }

    #[test]
    fn each_file_begins_where_its_sound_does() {
        // At 120 a bar lasts 2 s, at 60 it lasts 4 s; the sound of each goes on a little.
        let files = [
            (file(500_000, Part::Bass, "one"), 5.0),
            (file(1_000_000, Part::Comping, "two"), 7.0),
            (file(500_000, Part::Bass, "three"), 3.0),
        ];
        let bytes = join(&files).unwrap();
        let smf = Smf::parse(&bytes).unwrap();
        let mut found = Vec::new();
        for track in &smf.tracks {
            let mut at = 0;
            for event in track {
                at += event.delta.as_int();
                let what = match event.kind {
                    TrackEventKind::Meta(MetaMessage::Marker(words)) => {
                        String::from_utf8_lossy(words).into_owned()
                    }
                    TrackEventKind::Midi {
                        message: midly::MidiMessage::NoteOn { key, vel },
                        ..
                    } if vel > 0 => key.to_string(),
                    TrackEventKind::Meta(MetaMessage::EndOfTrack) => "end".to_string(),
                    _ => continue,
                };
                found.push((String::from_utf8_lossy(name(track)).into_owned(), at, what));
            }
        }
        // 5 s at 120 are 9,600 ticks; 4 s at 60, then 3 s at that tempo: 6,720 more; then 3 s at 120.
        let expected = [
            ("tempo", 0, "one"),
            ("tempo", 9_600, "two"),
            ("tempo", 16_320, "three"),
            ("tempo", 22_080, "end"),
            ("bass", 0, "40"),
            ("bass", 16_320, "40"),
            ("bass", 22_080, "end"),
            ("comping", 9_600, "40"),
            ("comping", 22_080, "end"),
        ];
        let expected = expected.map(|(track, at, what)| (track.to_string(), at, what.to_string()));
        assert_eq!(found, expected);
    }
}
