//! Where the notes of a figure fall, and over which stretches figures are played.

use super::figure::{Each, Place};
use super::model::Stage;
use crate::harmony::{ChordInContext, Harmony};
use crate::time::{Meter, PPQ, Tick, UsPerQuarter};

/// One chord of the lap as the drill sees it.
#[derive(Debug, Clone, Copy)]
pub struct LapChordView<'a> {
    /// Where it starts in the lap.
    pub start: Tick,
    /// How long it lasts in the lap.
    pub len: Tick,
    /// The meter of the bar it starts in.
    pub meter: Meter,
    pub context: &'a ChordInContext,
}

/// A stretch of one chord that gets one figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Index of the chord.
    pub chord: usize,
    pub start: Tick,
    pub len: Tick,
    pub meter: Meter,
    /// The number of the bar it starts in, from 0.
    pub bar: usize,
}

/// The bars under a lap's chords: the lap begins with a bar, and each chord knows the meter of the bar it
/// starts in. A bar in which no chord starts has the meter of the one before.
pub(super) fn bars_under(chords: &[LapChordView<'_>]) -> Vec<(Tick, Meter)> {
    let Some(last) = chords.last() else {
        return Vec::new();
    };
    let end = last.start + last.len;
    let (mut at, mut meter, mut next) = (Tick(0), chords[0].meter, 0);
    let mut bars = Vec::new();
    while at < end {
        while next < chords.len() && chords[next].start < at {
            next += 1;
        }
        if let Some(chord) = chords.get(next)
            && chord.start < at + chord.meter.bar_ticks()
        {
            meter = chord.meter;
        }
        bars.push((at, meter));
        at += meter.bar_ticks();
    }
    bars
}

/// The stretches that get a figure in `pass`, in order.
pub(super) fn stretches(stage: &Stage, chords: &[LapChordView<'_>], pass: u32) -> Vec<Stretch> {
    let bars = bars_under(chords);
    let all = all_stretches(stage, chords, &bars);
    if stage.rest_bars == 0 {
        return all;
    }
    let period = (stage.play_bars + stage.rest_bars) as usize;
    let play = stage.play_bars as usize;
    if stage.is_open_choice() {
        // Trading goes on over the seam, whoever's turn that makes it.
        let gone = pass as usize * bars.len();
        let on = |stretch: &Stretch| (stretch.bar + gone) % period < play;
        return all.into_iter().filter(on).collect();
    }
    // A pass whose bars of play hold no start of a chord would be all rest: the next turn is taken instead.
    (0..period)
        .map(|more| {
            let shift = pass as usize % period * play + more;
            let on = |stretch: &&Stretch| (stretch.bar + shift) % period < play;
            all.iter().filter(on).copied().collect::<Vec<Stretch>>()
        })
        .find(|turn| !turn.is_empty())
        .unwrap_or_default()
}

/// Which chords lie in a bar that rests in `pass`: one entry a chord.
pub(super) fn resting(stage: &Stage, chords: &[LapChordView<'_>], pass: u32) -> Vec<bool> {
    if stage.rest_bars == 0 {
        return vec![false; chords.len()];
    }
    let bars = bars_under(chords);
    let played = stretches(stage, chords, pass);
    let rests = |(index, chord): (usize, &LapChordView<'_>)| {
        let bar = bar_of(chord.start, &bars);
        let apart = |stretch: &Stretch| stretch.bar != bar && stretch.chord != index;
        played.iter().all(apart)
    };
    chords.iter().enumerate().map(rests).collect()
}

/// How many figures were played in all passes before `pass`.
pub(super) fn figures_before(stage: &Stage, chords: &[LapChordView<'_>], pass: u32) -> u64 {
    let period = if stage.rest_bars == 0 {
        1
    } else {
        stage.play_bars + stage.rest_bars
    };
    let counts: Vec<u64> = (0..period)
        .map(|turn| stretches(stage, chords, turn).len() as u64)
        .collect();
    let rounds = u64::from(pass / period);
    let rest = (pass % period) as usize;
    rounds * counts.iter().sum::<u64>() + counts[..rest].iter().sum::<u64>()
}

/// One stretch for each chord that sounds and that the stage does not leave out, or for each bar that begins with one.
fn all_stretches(
    stage: &Stage,
    chords: &[LapChordView<'_>],
    bars: &[(Tick, Meter)],
) -> Vec<Stretch> {
    let sounding = |chord: &LapChordView<'_>| {
        matches!(chord.context.harmony, Harmony::Chord(_)) && !stage.leaves_out(chord.context)
    };
    match stage.each {
        Each::Chord => {
            let stretches = chords
                .iter()
                .enumerate()
                .filter(|(_, chord)| sounding(chord));
            stretches
                .map(|(index, chord)| Stretch {
                    chord: index,
                    start: chord.start,
                    len: chord.len,
                    meter: chord.meter,
                    bar: bar_of(chord.start, bars),
                })
                .collect()
        }
        Each::Bar => {
            let stretches = bars.iter().enumerate().filter_map(|(bar, (start, meter))| {
                let index = chords
                    .iter()
                    .position(|chord| chord.start <= *start && *start < chord.start + chord.len)?;
                let chord = &chords[index];
                let end = (chord.start + chord.len).min(*start + meter.bar_ticks());
                sounding(chord).then_some(Stretch {
                    chord: index,
                    start: *start,
                    len: end - *start,
                    meter: *meter,
                    bar,
                })
            });
            stretches.collect()
        }
    }
}

/// The number, from 0, of the bar that `at` lies in.
pub(super) fn bar_of(at: Tick, bars: &[(Tick, Meter)]) -> usize {
    bars.partition_point(|(start, _)| *start <= at)
        .saturating_sub(1)
}

/// How far after the chord's start a place lies; before it for a push.
pub(super) fn offset(place: &Place, meter: Meter) -> Tick {
    let beat = meter.beat_ticks().0;
    if place.is_push() {
        // Compound meters are placed in eighths, and a push is the eighth before.
        let early = if meter.is_compound() { beat } else { beat / 2 };
        return Tick(-early);
    }
    Tick((i64::from(place.beat) - 1) * beat + i64::from(place.twelfths) * beat / 12)
}

/// The place at `offset` after the chord's start, as it is counted.
pub(super) fn counted_at(offset: Tick, meter: Meter) -> Place {
    let beat = meter.beat_ticks().0;
    let number = u8::try_from(offset.0 / beat + 1).unwrap_or(u8::MAX);
    Place::counted(number, (offset.0 % beat * 12 / beat) as i8)
}

/// How much of a stretch its notes may take: where the figure begins with a push, the next chord's push comes
/// before the end.
pub(super) fn room(named: &[Place], meter: Meter, len: Tick) -> Tick {
    match named.first() {
        Some(first) if first.is_push() => len + offset(first, meter),
        _ => len,
    }
}

/// The least time between two notes that the drill did not write so near: a change of finger and string at ease.
/// Common practice, no source.
const NARROWEST_MS: f64 = 150.0;

/// How notes are laid out that have no place of their own.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spacing {
    /// How far apart the drill wants them.
    pub step: Tick,
    /// How fast they will be played.
    pub tempo: UsPerQuarter,
}

impl Spacing {
    /// How near to each other notes may be crowded: a sixteenth, and no nearer than a hand is at ease.
    pub(super) fn narrowest(self) -> Tick {
        let quarter_ms = self.tempo.ms(Tick(PPQ));
        let at_ease = (NARROWEST_MS / quarter_ms * PPQ as f64).ceil() as i64;
        Tick(at_ease.max(PPQ / 4))
    }
}

/// Where `count` notes fall over a stretch: at the named places, the rest `step` apart. What does not fit
/// falls on the first beat, and so does a run that has only its first place and would not end within the
/// stretch; the notes are as wide apart as the stretch allows, no narrower than a hand is at ease unless the drill
/// wrote it (what is then still over is left out). Ascending, all within the stretch but for a push.
pub(super) fn offsets(
    named: &[Place],
    count: usize,
    spacing: Spacing,
    meter: Meter,
    len: Tick,
) -> Vec<(Place, Tick)> {
    let step = spacing.step;
    let mut told: Vec<(Place, Tick)> = named
        .iter()
        .take(count)
        .map(|place| (place.clone(), offset(place, meter)))
        .collect();
    let len = room(named, meter, len);
    told.retain(|(_, at)| *at < len);
    let unmoved = told.len() == named.len().min(count);
    let beat = meter.beat_ticks();
    let finer = |from: Tick| std::iter::successors(Some(from), |wide| Some(Tick(wide.0 / 2)));
    // Where the drill named the places of its own accord, a beat apart is the nearest thing to them.
    let widest = if named.len() > 1 && !unmoved {
        beat.max(step)
    } else {
        step
    };
    let narrowest = spacing.narrowest().min(widest);
    let steps: Vec<Tick> = std::iter::once(step)
        .chain(finer(widest))
        .skip(usize::from(!unmoved))
        .take_while(|wide| *wide >= narrowest)
        .collect();
    // A run that has only its first place begins on the first beat rather than hurry.
    let own = if named.len() > 1 { steps.len() } else { 1 };
    for wide in steps.iter().take(own) {
        let mut tried = told.clone();
        if follow(&mut tried, count, (*wide, narrowest), meter, len) {
            return tried;
        }
    }
    let from_one = match told.first() {
        Some(first) if first.0.is_push() => vec![first.clone()],
        _ => vec![(Place::counted(1, 0), Tick(0))],
    };
    let mut tried = from_one.clone();
    for wide in &steps {
        tried = from_one.clone();
        if follow(&mut tried, count, (*wide, narrowest), meter, len) {
            break;
        }
    }
    tried
}

/// Adds notes `step` apart until there are `count`, the last of them at least `narrowest` (or a step) before the end;
/// false if they do not fit.
fn follow(
    told: &mut Vec<(Place, Tick)>,
    count: usize,
    (step, narrowest): (Tick, Tick),
    meter: Meter,
    len: Tick,
) -> bool {
    let Some((_, mut at)) = told.last().cloned() else {
        return false;
    };
    while told.len() < count {
        at += step;
        if at + narrowest.min(step) > len {
            return false;
        }
        let place = if at.0 < 0 {
            Place::push()
        } else {
            counted_at(at, meter)
        };
        told.push((place, at));
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid(named: &str, count: usize, step: i64, meter: &str, beats: i64, qpm: f64) -> String {
        let meter: Meter = meter.parse().unwrap();
        let named: Vec<Place> = named.split(',').map(|word| word.parse().unwrap()).collect();
        let len = Tick(beats * meter.beat_ticks().0);
        let spacing = Spacing {
            step: Tick(step),
            tempo: UsPerQuarter::from_qpm(qpm),
        };
        let all = offsets(&named, count, spacing, meter, len);
        let told: Vec<String> = all
            .iter()
            .map(|(place, at)| format!("{place}@{}", at.quarters()))
            .collect();
        told.join(" ")
    }

    #[test]
    fn places_fall_where_they_are_counted_or_on_the_first_beat() {
        let cases = [
            // named, notes, step, meter, beats of the chord
            ("1", 1, 480, "4/4", 4, "1@0"),
            ("2&", 1, 480, "4/4", 4, "2&@1.5"),
            ("3a", 1, 480, "4/4", 4, "3a@2.75"),
            ("before 1", 1, 480, "4/4", 4, "before 1@-0.5"),
            ("1,3", 2, 480, "4/4", 4, "1@0 3@2"),
            ("1", 3, 480, "4/4", 4, "1@0 1&@0.5 2@1"),
            ("2&", 3, 480, "4/4", 4, "2&@1.5 3@2 3&@2.5"),
            (
                "1",
                3,
                320,
                "4/4",
                4,
                "1@0 1trip@0.3333333333333333 1let@0.6666666666666666",
            ),
            // What does not fit falls on the first beat.
            ("3", 1, 480, "4/4", 2, "1@0"),
            ("3&", 3, 480, "4/4", 2, "1@0 1&@0.5 2@1"),
            ("1,3", 2, 480, "4/4", 2, "1@0 2@1"),
            // A push leaves its half beat to the next chord's.
            ("before 1,4&", 2, 480, "4/4", 4, "before 1@-0.5 1&@0.5"),
            ("before 1,2", 2, 480, "4/4", 1, "before 1@-0.5 1@0"),
            (
                "before 1",
                3,
                240,
                "4/4",
                2,
                "before 1@-0.5 before 1@-0.25 1@0",
            ),
            ("1", 3, 480, "4/4", 1, "1@0 1e@0.25 1&@0.5"),
            ("1", 9, 480, "4/4", 1, "1@0 1e@0.25 1&@0.5 1a@0.75"),
            ("4", 3, 480, "4/4", 4, "1@0 1&@0.5 2@1"),
            // Compound meters are placed in eighths; cut time in halves.
            ("4", 1, 480, "6/8", 6, "4@1.5"),
            ("before 1", 1, 480, "12/8", 12, "before 1@-0.5"),
            ("2", 1, 480, "2/2", 2, "2@2"),
        ];
        for (named, count, step, meter, beats, expected) in cases {
            assert_eq!(
                laid(named, count, step, meter, beats, 100.0),
                expected,
                "{named} in {beats} of {meter}"
            );
        }
    }
    #[test]
    fn nothing_is_crowded_closer_than_a_hand_is_at_ease() {
        let cases = [
            // named, notes, step, beats of the chord in 4/4, tempo
            ("1", 3, 480, 1, 100.0, "1@0 1e@0.25 1&@0.5"),
            ("1", 3, 480, 1, 101.0, "1@0 1&@0.5"),
            ("1", 3, 480, 1, 280.0, "1@0 1&@0.5"),
            ("1,3", 2, 480, 1, 200.0, "1@0 1&@0.5"),
            ("1,3", 2, 480, 1, 201.0, "1@0"),
            ("1,3", 2, 480, 2, 280.0, "1@0 2@1"),
            // What the drill wrote stands at any tempo.
            ("1", 3, 240, 1, 280.0, "1@0 1e@0.25 1&@0.5"),
            ("1,1e", 2, 480, 1, 280.0, "1@0 1e@0.25"),
        ];
        for (named, count, step, beats, qpm, expected) in cases {
            let laid = laid(named, count, step, "4/4", beats, qpm);
            assert_eq!(laid, expected, "{named} in {beats} at {qpm}");
        }
    }
}
