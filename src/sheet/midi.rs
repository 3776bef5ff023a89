//! Charts out of Standard MIDI Files that carry chord names as text.
//!
//! No standard says where: markers (FF 06) are looked at first, then texts (FF 01); one of them is taken if more
//! than four fifths of it are chord symbols. Meters, keys and the tempo come from the file, sections from markers
//! that are none.

use super::lead::{ImportError, Imported, Measure, Sheet, into_chart, short};
use crate::chart::MAX_BARS;
use crate::harmony::{Harmony, Key, KeyDeclaration, Mode};
use crate::time::{Meter, PPQ, Tick, UsPerQuarter};
use midly::{MetaMessage, Timing, TrackEventKind};

/// The most bytes of a file.
const MAX_BYTES: usize = 8 << 20;
/// The most texts that are kept.
const MAX_TEXTS: usize = 100_000;
/// Names that stand this near to the grid of twelfths of a quarter are meant to stand on it.
const NEAR_TICKS: i64 = 12;
const GRID_TICKS: i64 = PPQ / 12;

/// Reads a Standard MIDI File with chord names. `fallback` is the chart's title.
///
/// # Errors
/// When it is no Standard MIDI File, counts time in frames, or has no chord names.
pub fn from_midi(bytes: &[u8], fallback: &str) -> Result<Imported, ImportError> {
    if bytes.len() > MAX_BYTES {
        let rule = format!("it is larger than {} MiB", MAX_BYTES >> 20);
        return Err(ImportError(rule));
    }
    let mut sheet = Sheet::default();
    let file = File::read(bytes, &mut sheet)?;
    let words = file.words()?;
    file.measures(&mut sheet, &words)?;
    into_chart(sheet, fallback)
}

/// What a file has of interest, in our ticks.
#[derive(Debug, Default)]
struct File {
    markers: Vec<(Tick, String)>,
    texts: Vec<(Tick, String)>,
    meters: Vec<(Tick, Meter)>,
    keys: Vec<(Tick, KeyDeclaration)>,
    end: Tick,
}

/// The chord names and the section names of a file.
struct Words<'f> {
    chords: Vec<(Tick, Harmony)>,
    names: Vec<(Tick, &'f str)>,
    /// Texts among the chords that are none, taken as names.
    odd: bool,
}

impl File {
    fn read(bytes: &[u8], sheet: &mut Sheet) -> Result<File, ImportError> {
        let broken =
            |error: midly::Error| ImportError(format!("it is no Standard MIDI File: {error}"));
        if !bytes.starts_with(b"MThd") {
            return Err(ImportError("it is no Standard MIDI File".to_string()));
        }
        let frames = "it counts time in frames (SMPTE), not in beats: there are no bars in it";
        // Looked at before the parser does, which panics at a frame rate of -128, in a second header too.
        let in_frames = |chunk: &[u8]| chunk.starts_with(b"MThd") && chunk[12] >= 0x80;
        if bytes.windows(13).any(in_frames) {
            return Err(ImportError(frames.to_string()));
        }
        let (header, tracks) = midly::parse(bytes).map_err(broken)?;
        let Timing::Metrical(division) = header.timing else {
            return Err(ImportError(frames.to_string()));
        };
        let division = i64::from(division.as_int()).max(1);
        let mut file = File::default();
        let mut found = 0;
        for track in tracks {
            found += 1;
            let whole = match track {
                Ok(events) => file.read_track(events, division, sheet),
                Err(_) => false,
            };
            if !whole {
                sheet.warnings.whole(format!(
                    "track {found} is cut short or broken: read as far as it goes"
                ));
            }
        }
        let declared = bytes
            .get(10..12)
            .map_or(0, |two| u16::from_be_bytes([two[0], two[1]]));
        if usize::from(declared) != found {
            sheet.warnings.whole(format!(
                "the file declares {declared} tracks, but has {found}"
            ));
        }
        file.meters.sort_by_key(|one| one.0);
        file.keys.sort_by_key(|one| one.0);
        file.markers.sort_by_key(|one| one.0);
        file.texts.sort_by_key(|one| one.0);
        Ok(file)
    }

    /// Reads a track; whether it came to its end.
    fn read_track(
        &mut self,
        events: midly::EventIter<'_>,
        division: i64,
        sheet: &mut Sheet,
    ) -> bool {
        let mut ticks = 0i64;
        for event in events {
            let Ok(event) = event else { return false };
            ticks += i64::from(event.delta.as_int());
            let at = Tick(
                ((ticks as i128 * i128::from(PPQ) + i128::from(division / 2))
                    / i128::from(division)) as i64,
            );
            let TrackEventKind::Meta(meta) = event.kind else {
                if matches!(event.kind, TrackEventKind::Midi { .. }) {
                    self.end = self.end.max(at);
                }
                continue;
            };
            match meta {
                MetaMessage::EndOfTrack => {
                    self.end = self.end.max(at);
                    return true;
                }
                other => self.meta(at, other, sheet),
            }
        }
        false
    }

    fn meta(&mut self, at: Tick, meta: MetaMessage<'_>, sheet: &mut Sheet) {
        let keep = |list: &mut Vec<(Tick, String)>, bytes: &[u8]| {
            let text = decode(bytes);
            if list.len() < MAX_TEXTS && !text.is_empty() {
                list.push((at, text));
            }
        };
        match meta {
            MetaMessage::Marker(bytes) => keep(&mut self.markers, bytes),
            MetaMessage::Text(bytes) => keep(&mut self.texts, bytes),
            MetaMessage::TimeSignature(beats, power, _, _) => {
                let unit = 1u8.checked_shl(u32::from(power)).unwrap_or(0);
                match Meter::new(beats, unit) {
                    Ok(meter) if self.meters.len() < MAX_TEXTS => self.meters.push((at, meter)),
                    _ => sheet.warnings.whole(format!(
                        "a meter of {beats} over 2 to the {power} that no chart has: left out"
                    )),
                }
            }
            MetaMessage::KeySignature(fifths, minor) => {
                let mode = if minor { Mode::Minor } else { Mode::Major };
                if (-7..=7).contains(&fifths) && self.keys.len() < MAX_TEXTS {
                    let key = Key::of_signature(fifths, mode);
                    self.keys.push((at, KeyDeclaration::Key(key)));
                }
            }
            MetaMessage::Tempo(us) => {
                let qpm = UsPerQuarter(us.as_int()).qpm();
                match sheet.tempo_qpm {
                    None => sheet.tempo_qpm = Some((qpm * 100.0).round() / 100.0),
                    Some(before) if (before - qpm).abs() > 1.0 => sheet
                        .warnings
                        .whole("the tempo changes: the first one is taken, a chart has one"),
                    Some(_) => {}
                }
            }
            _ => {}
        }
    }

    /// Markers if they are chords, else texts if those are.
    fn words(&self) -> Result<Words<'_>, ImportError> {
        let chords_of = |list: &[(Tick, String)]| {
            let read = list
                .iter()
                .filter_map(|(at, text)| Some((*at, text.parse().ok()?)));
            read.collect::<Vec<(Tick, Harmony)>>()
        };
        let mut counts = Vec::new();
        for (list, name) in [(&self.markers, "markers"), (&self.texts, "texts")] {
            let chords = chords_of(list);
            if chords.len() * 5 > list.len() * 4 {
                let markers = std::ptr::eq(list, &self.markers);
                let named = if markers { &self.markers } else { &self.texts };
                let is_name = |text: &str| text.parse::<Harmony>().is_err();
                let from = if markers { named } else { &self.markers };
                let names = from.iter().filter(|(_, text)| !markers || is_name(text));
                return Ok(Words {
                    names: names.map(|(at, text)| (*at, text.as_str())).collect(),
                    odd: chords.len() < list.len(),
                    chords,
                });
            }
            counts.push(format!("{} of its {} {name}", chords.len(), list.len()));
        }
        let rule = format!(
            "there are no chord names in it: chords are {}",
            counts.join(" and ")
        );
        Err(ImportError(rule))
    }

    fn measures(&self, sheet: &mut Sheet, words: &Words<'_>) -> Result<(), ImportError> {
        let last = words
            .chords
            .last()
            .map_or(Tick(0), |chord| chord.0 + Tick(1));
        // What is let go just after the last bar line makes no bar.
        let end = (self.end - Tick(PPQ / 4)).max(last);
        let mut chords = words.chords.iter().peekable();
        let mut names = words.names.iter().peekable();
        let mut start = Tick(0);
        while start < end {
            if sheet.measures.len() == MAX_BARS {
                let rule = format!("it has more than {MAX_BARS} bars, the most of a chart");
                return Err(ImportError(rule));
            }
            let mut measure = self.measure(start);
            let next = start + measure.len;
            measure.label = (sheet.measures.len() + 1).to_string();
            while let Some((at, harmony)) = chords.next_if(|one| one.0 < next) {
                measure.chords.push((on_grid(*at - start), harmony.clone()));
            }
            while let Some((_, name)) = names.next_if(|one| one.0 < next) {
                if words.odd {
                    let what =
                        format!("\"{}\" is no chord: taken as a section's name", short(name));
                    sheet.warnings.at(&measure.label, what);
                }
                measure.mark = Some(short(name));
            }
            sheet.measures.push(measure);
            start = next;
        }
        // A first bar of a shorter meter is a pickup.
        if let [first, second, ..] = &mut sheet.measures[..]
            && first.meter != second.meter
            && second
                .meter
                .is_some_and(|meter| first.len < meter.bar_ticks())
        {
            first.meter = second.meter;
        }
        Ok(())
    }

    /// The bar that starts here: a change of meter within it ends it.
    fn measure(&self, start: Tick) -> Measure {
        let after = self.meters.partition_point(|one| one.0 <= start);
        let meter = after
            .checked_sub(1)
            .map_or(Meter::COMMON, |at| self.meters[at].1);
        let whole = meter.bar_ticks();
        let change = self.meters.get(after).map_or(start + whole, |one| one.0);
        let key = self.keys.partition_point(|one| one.0 <= start);
        Measure {
            meter: Some(meter),
            key: key.checked_sub(1).map(|at| self.keys[at].1),
            len: (change - start).min(whole),
            ..Measure::default()
        }
    }
}

/// A name a hair beside the grid is moved onto it.
fn on_grid(at: Tick) -> Tick {
    let near = (at.0 + GRID_TICKS / 2) / GRID_TICKS * GRID_TICKS;
    match (near - at.0).abs() <= NEAR_TICKS {
        true => Tick(near),
        false => at,
    }
}

/// UTF-8, else Latin-1.
fn decode(bytes: &[u8]) -> String {
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes
            .iter()
            .take(1024)
            .map(|byte| char::from(*byte))
            .collect(),
    };
    text.trim_matches(|sign: char| sign.is_whitespace() || sign == '\0')
        .to_string()
}
