//! Drums and clicks. Keys are those of the General MIDI Level 1 percussion map.

use super::kit::{
    BRUSH_SWEEP, BRUSH_TAP, CLOSED_HI_HAT, CRASH, HIGH_CLICK, KICK, LOW_CLICK, PEDAL_HI_HAT, RIDE,
    SIDE_STICK, SNARE,
};
use super::scene::{Scene, SceneBar};
use super::{choice, fills, grid, rhythm, swing, wishes};
use crate::chart::Feel;
use crate::drill::{BandStyle, Click, Drums};
use crate::time::{PPQ, Part, Tick, TimedNote};

/// Salt of the choices made here.
const SALT: u64 = 5;

/// After which pulses of a bar the ride has an off-beat, in turn: mostly after both back beats.
const OFF_BEATS: [&[usize]; 9] = [
    &[1, 3],
    &[1, 3],
    &[3],
    &[1, 3],
    &[1],
    &[0, 1, 3],
    &[1, 3],
    &[1, 2, 3],
    &[],
];
/// Length of a drum stroke, a sixteenth: percussion rings by itself.
const STROKE: Tick = Tick(PPQ / 4);

/// What keeps the time.
pub(super) fn drums(scene: &Scene<'_>) -> Vec<TimedNote> {
    let mut notes = Vec::new();
    let mut comped: Vec<Tick> = match scene.score.band {
        BandStyle::Free => rhythm::strokes(scene).iter().map(|hit| hit.at).collect(),
        _ => Vec::new(),
    };
    comped.sort_unstable();
    let last = scene.bars.len().saturating_sub(1);
    for (index, bar) in scene.bars.iter().enumerate() {
        let kit = Kit { scene, bar, index };
        let ends = scene.score.last_time && index == last;
        let bar_notes = match scene.score.drums {
            Drums::Off => Vec::new(),
            Drums::Click(_) if ends => vec![kit.note(Part::Click, Tick(0), HIGH_CLICK, 100)],
            Drums::Click(click) => kit.clicks(click),
            Drums::HiHat if ends => vec![kit.stroke(Tick(0), PEDAL_HI_HAT, 70)],
            Drums::HiHat => kit.foot(),
            Drums::Ride if ends => kit.ending(),
            Drums::Ride => kit.with_comments(kit.ride(), &comped),
        };
        notes.extend(bar_notes);
    }
    notes
}

/// A bar at the drums.
struct Kit<'a> {
    scene: &'a Scene<'a>,
    bar: &'a SceneBar,
    index: usize,
}

impl Kit<'_> {
    fn note(&self, part: Part, at: Tick, key: u8, velocity: u8) -> TimedNote {
        let at = self.bar.start + at;
        TimedNote {
            at,
            len: Tick(STROKE.0.min(self.scene.score.lap.len.0 - at.0).max(1)),
            part,
            key,
            velocity,
        }
    }

    /// A stroke at a written place, swung as the ride swings, its force a little varied.
    fn stroke(&self, written: Tick, key: u8, base: u8) -> TimedNote {
        let score = self.scene.score;
        let at = swing::swung(written, score.feel, self.bar.meter, score.tempo);
        let places = [
            SALT,
            u64::from(score.pass),
            (self.bar.start + written).0 as u64,
            u64::from(key),
        ];
        let velocity = choice::velocity(base, 4, score.seed, &places);
        self.note(Part::Drums, at, key, velocity)
    }

    fn draw(&self, salt: u64) -> f64 {
        let score = self.scene.score;
        let places = [SALT, u64::from(score.pass), self.index as u64, salt];
        choice::fraction(score.seed, &places)
    }

    fn ending(&self) -> Vec<TimedNote> {
        let ending = self.scene.ending.into_iter();
        let strokes = ending.flat_map(|ending| ending.drums());
        strokes
            .map(|(at, key, force)| self.stroke(*at, *key, *force))
            .collect()
    }

    /// The foot on the back beats: 2 and 4 of four, 2 of three and two, 2 and 5 of five.
    fn foot(&self) -> Vec<TimedNote> {
        let pulses = grid::pulses(self.bar.meter);
        let on = |i: usize| match pulses.len() {
            1 => true,
            2 | 3 => i == 1,
            5 => i == 1 || i == 4,
            _ => i % 2 == 1,
        };
        (0..pulses.len())
            .filter(|i| on(*i))
            .map(|i| self.stroke(pulses[i], PEDAL_HI_HAT, 58))
            .collect()
    }

    /// Fills, marks and answers on top of the time. What a fill takes over, the time leaves alone, but for cymbal and foot.
    fn with_comments(&self, mut time: Vec<TimedNote>, comped: &[Tick]) -> Vec<TimedNote> {
        let (scene, index) = (self.scene, self.index);
        if scene.score.band != BandStyle::Free {
            return time;
        }
        let played = match fills::fill_from(scene, index) {
            Some(from) => {
                let start = self.bar.start + from;
                let goes_on = |key| matches!(key, RIDE | PEDAL_HI_HAT | CLOSED_HI_HAT);
                time.retain(|note| note.at < start || goes_on(note.key));
                fills::fill(scene, index, from)
            }
            None => fills::answers(scene, index, comped),
        };
        for (place, key, force) in played {
            let stroke = self.stroke(place, key, force);
            // Two strokes of one drum at a time are one.
            time.retain(|note| (note.at, note.key) != (stroke.at, key));
            time.push(stroke);
        }
        if fills::begins_section(scene, index) && scene.score.pass + index as u32 > 0 {
            let force = if scene.score.feel == Feel::Ballad {
                34
            } else {
                62
            };
            time.push(self.stroke(Tick(0), CRASH, force));
            time.retain(|note| note.key != KICK || note.at != self.bar.start);
            time.push(self.stroke(Tick(0), KICK, 58));
        }
        time
    }

    fn ride(&self) -> Vec<TimedNote> {
        let meter = self.bar.meter;
        let four = meter.bar_ticks().0 == 4 * PPQ && meter.unit() <= 4;
        let sticks_on_hi_hat = self.scene.score.feel == Feel::Bossa && four;
        // Under the sticks the hi-hat stays shut: the foot cannot close it once more.
        let mut notes = if sticks_on_hi_hat {
            Vec::new()
        } else {
            self.foot()
        };
        notes.extend(match self.scene.score.feel {
            _ if meter.is_compound() => self.rolling(),
            Feel::Bossa if four => self.bossa(),
            Feel::Bossa | Feel::Straight => self.straight(),
            Feel::Ballad => self.brushes(),
            Feel::Shuffle => self.shuffle(),
            Feel::Swing | Feel::Waltz => self.swing(),
        });
        notes
    }

    /// The ride: every pulse, and off-beats after some, in turn; under it the bass drum, felt more than heard.
    fn swing(&self) -> Vec<TimedNote> {
        let pulses = grid::pulses(self.bar.meter);
        let score = self.scene.score;
        let turn = u64::from(score.pass) * self.scene.bars.len() as u64 + self.index as u64;
        let deck = match score.band {
            BandStyle::Plain => &OFF_BEATS[..2],
            _ => &OFF_BEATS[..],
        };
        let off_beats = deck[wishes::card(self.scene, 9, turn, deck.len())];
        let mut notes = Vec::new();
        for (i, pulse) in pulses.iter().enumerate() {
            let answers = i % 2 == 1;
            notes.push(self.stroke(*pulse, RIDE, if answers { 76 } else { 68 }));
            let room = self.bar.end - self.bar.start - *pulse >= Tick(PPQ);
            if room && off_beats.contains(&(i % 4)) {
                notes.push(self.stroke(*pulse + Tick(PPQ / 2), RIDE, 58));
            }
            if score.band != BandStyle::Plain {
                notes.push(self.stroke(*pulse, KICK, 36));
            }
        }
        notes
    }

    /// Long and short on the ride all through, the back beat, the bass drum on the others; how much by what the band gives.
    fn shuffle(&self) -> Vec<TimedNote> {
        let pulses = grid::pulses(self.bar.meter);
        let gives = fills::intensity(self.scene);
        let mut notes = Vec::new();
        for (i, pulse) in pulses.iter().enumerate() {
            let back_beat = i % 2 == 1;
            let off_beat = *pulse + Tick(PPQ / 2);
            notes.push(self.stroke(*pulse, RIDE, if back_beat { 74 } else { 68 }));
            if self.bar.end - self.bar.start - *pulse >= Tick(PPQ) {
                notes.push(self.stroke(off_beat, RIDE, 56));
                // The left hand shuffles along where all is given.
                if gives > 0.7 && self.draw(20 + i as u64) < 0.7 {
                    notes.push(self.stroke(off_beat, SNARE, 24));
                }
            }
            notes.push(match back_beat {
                true if gives < 0.4 => self.stroke(*pulse, SIDE_STICK, 64),
                true => self.stroke(*pulse, SNARE, 52),
                false => self.stroke(*pulse, KICK, 58),
            });
            if back_beat && gives >= 0.4 && self.draw(i as u64) < 0.3 * gives {
                notes.push(self.stroke(off_beat, KICK, 46));
            }
        }
        notes.retain(|note| note.at < self.bar.end);
        notes
    }

    /// Brushes: swept on the beats, tapped on the back beats and after some; a quiet ride over them.
    fn brushes(&self) -> Vec<TimedNote> {
        let pulses = grid::pulses(self.bar.meter);
        let mut notes = Vec::new();
        for (i, pulse) in pulses.iter().enumerate() {
            notes.push(match i % 2 {
                1 => self.stroke(*pulse, BRUSH_TAP, 26),
                _ => self.stroke(*pulse, BRUSH_SWEEP, 24),
            });
            let room = self.bar.end - self.bar.start - *pulse >= Tick(PPQ);
            if room && i % 2 == 1 && self.draw(i as u64) < 0.4 {
                notes.push(self.stroke(*pulse + Tick(PPQ / 2), BRUSH_TAP, 16));
            }
        }
        notes.push(self.stroke(Tick(0), RIDE, 46));
        notes
    }

    /// Even eighths on the closed hi-hat, the side stick in two bars, the bass drum under the bass.
    fn bossa(&self) -> Vec<TimedNote> {
        let at = |step: i64| Tick(step * PPQ / 2);
        let mut notes: Vec<TimedNote> = (0..8)
            .map(|step| {
                let base = if step % 2 == 0 { 52 } else { 42 };
                self.stroke(at(step), CLOSED_HI_HAT, base)
            })
            .collect();
        let stick: &[i64] = match self.index % 4 {
            _ if self.scene.score.is_plain() && self.index.is_multiple_of(2) => &[0, 3, 6],
            _ if self.scene.score.is_plain() => &[2, 5],
            0 => &[0, 3, 6],
            1 => &[2, 5],
            2 => &[0, 3, 6],
            _ => &[2, 4, 7],
        };
        notes.extend(
            stick
                .iter()
                .map(|step| self.stroke(at(*step), SIDE_STICK, 64)),
        );
        notes.extend([0, 3, 4, 7].map(|step| self.stroke(at(step), KICK, 50)));
        notes
    }

    /// Even eighths on the ride, bass drum on the first half, side stick on the back beats.
    fn straight(&self) -> Vec<TimedNote> {
        let step = grid::step(self.bar.meter).0;
        let steps = (self.bar.end.0 - self.bar.start.0) / step;
        let pulses = grid::pulses(self.bar.meter);
        let mut notes: Vec<TimedNote> = (0..steps)
            .map(|i| {
                let base = if pulses.contains(&Tick(i * step)) {
                    64
                } else {
                    50
                };
                self.stroke(Tick(i * step), RIDE, base)
            })
            .collect();
        // Three ways, by how much the band gives: side stick alone, bass drum and side stick, back beat on the snare.
        let gives = fills::intensity(self.scene);
        for (i, pulse) in pulses.iter().enumerate() {
            let back_beat = i % 2 == 1;
            match (back_beat, gives) {
                (true, gives) if gives > 0.7 => notes.push(self.stroke(*pulse, SNARE, 48)),
                (true, _) => notes.push(self.stroke(*pulse, SIDE_STICK, 62)),
                (false, gives) if gives < 0.4 && i > 0 => {}
                (false, _) => notes.push(self.stroke(*pulse, KICK, 60)),
            }
            let pushes = gives > 0.7 && back_beat && i + 1 < pulses.len();
            if pushes && self.bar.meter.unit() <= 4 {
                notes.push(self.stroke(*pulse + Tick(PPQ / 2), KICK, 52));
            }
        }
        notes
    }

    /// Compound meters: every eighth on the ride, the counts leaning.
    fn rolling(&self) -> Vec<TimedNote> {
        let eighth = self.bar.meter.beat_ticks().0;
        let mut notes: Vec<TimedNote> = (0..i64::from(self.bar.meter.beats()))
            .map(|i| {
                let base = if i % 3 == 0 { 70 } else { 50 };
                self.stroke(Tick(i * eighth), RIDE, base)
            })
            .collect();
        notes.push(self.stroke(Tick(0), KICK, 56));
        notes
    }

    fn clicks(&self, click: Click) -> Vec<TimedNote> {
        let score = self.scene.score;
        let meter = self.bar.meter;
        let played = score.pass as usize * self.scene.bars.len() + self.index;
        let sounds = |count: u8| match click {
            Click::All => true,
            Click::TwoAndFour => count % 2 == 1,
            Click::First => count == 0,
            Click::EveryOtherBar => played.is_multiple_of(2),
        };
        let subdivided = matches!(click, Click::All | Click::EveryOtherBar)
            && score.tempo.qpm() / meter.count_ticks().quarters() < 60.0;
        let mut notes = Vec::new();
        for count in (0..meter.counts()).filter(|count| sounds(*count)) {
            let at = Tick(i64::from(count) * meter.count_ticks().0);
            let (key, velocity) = if count == 0 {
                (HIGH_CLICK, 100)
            } else {
                (LOW_CLICK, 84)
            };
            notes.push(self.note(Part::Click, at, key, velocity));
            let parts = if meter.is_compound() { 3 } else { 2 };
            for part in (1..parts).filter(|_| subdivided) {
                let between = at + Tick(meter.count_ticks().0 * part / parts);
                let between = swing::swung(between, score.feel, meter, score.tempo);
                notes.push(self.note(Part::Click, between, LOW_CLICK, 48));
            }
        }
        notes
    }
}
