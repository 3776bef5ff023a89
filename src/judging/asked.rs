//! What the plan asks of the player, bar by bar, put beside what is heard.

use crate::chart::LapChord;
use crate::drill::{GoesRound, Phase, StringRule};
use crate::judging::around::{Around, place_in_bar, qpm_at, region};
use crate::judging::choice::ChoiceSpan;
use crate::judging::pass_record::{PassKey, PassRecord, Target};
use crate::judging::reentry::BandReturn;
use crate::judging::verdict::Wanted;
use crate::judging::wanted::{PassTargets, names_over, rhythm_of, wanted_of};
use crate::plan::pass::PassKind;
use crate::plan::timeline::{Segment, Timeline};
use crate::plan::{Loop, Material, Standing};
use crate::time::Tick;

/// Who asks: the passes of one take, timed by the clock of what is heard.
pub(crate) struct Asking<'a> {
    pub(crate) line: &'a Timeline,
    /// Frames a second of that clock.
    pub(crate) rate: u32,
    /// Which take it is.
    pub(crate) take: u32,
}

impl Asking<'_> {
    /// What falls into the bar from `from` to `until`, a record a pass.
    pub(crate) fn in_bar(&self, from: Tick, until: Tick) -> Vec<PassRecord> {
        let segments = self.line.segments();
        let asked = segments.filter_map(|segment| self.in_segment(segment, from, until));
        asked.collect()
    }

    /// Which pass a segment belongs to.
    pub(crate) fn key(&self, segment: &Segment) -> PassKey {
        let standing = &segment.pass.standing;
        PassKey {
            take: self.take,
            origin: segment.origin,
            stage: standing.stage,
            pass: standing.pass,
        }
    }

    /// Where the band comes back with the bar at `at`, which lies in `here`: to the pass in which it was out, be it at its
    /// end.
    pub(crate) fn band_back_at(&self, at: Tick, here: &Segment) -> Option<PassRecord> {
        let before = self.line.segment_at(at - Tick(1))?;
        let was_out = before.pass.is_band_out(before.bar_at(at - Tick(1)));
        let bar = here.bar_at(at);
        let plays = matches!(here.pass.kind, PassKind::Music(_)) && !here.pass.is_band_out(bar);
        let bar = here.pass.lap.bars.get(bar);
        let meter = bar.filter(|_| was_out && plays)?.meter;
        let ms = |tick| self.ms(tick);
        let mut record = self.nothing_of(before);
        record.returns.push(BandReturn {
            at_ms: ms(at),
            beat_ms: ms(at + meter.count_ticks()) - ms(at),
            bar_ms: ms(at + meter.bar_ticks()) - ms(at),
        });
        Some(record)
    }

    fn ms(&self, tick: Tick) -> f64 {
        self.line.frame(tick).ms(self.rate)
    }

    /// A pass that asks for nothing yet.
    fn nothing_of(&self, segment: &Segment) -> PassRecord {
        let (standing, material) = (&segment.pass.standing, &segment.pass.material);
        PassRecord {
            key: self.key(segment),
            tune: material.tune(),
            stage: standing.stage_of(material).name.clone(),
            pass: standing.pass + 1,
            round: standing.round(material),
            sung: segment.pass.kind == PassKind::Music(Phase::Sing),
            looping: standing.looping.clone(),
            as_asked: standing.longer == 1 && is_as_asked(standing, material),
            whole: false,
            targets: Vec::new(),
            spans: Vec::new(),
            returns: Vec::new(),
            begins: self.line.frame(segment.start()),
            ends: None,
        }
    }

    fn in_segment(&self, segment: &Segment, from: Tick, until: Tick) -> Option<PassRecord> {
        let pass = &segment.pass;
        let PassKind::Music(phase @ (Phase::Play | Phase::Sing)) = pass.kind else {
            return None;
        };
        let material = &pass.material;
        let stage = pass.standing.stage_of(material);
        let chosen = match stage.is_open_choice() {
            true if phase == Phase::Sing => return None,
            true => self.chosen_in(segment, from, until),
            false => None,
        };
        let asked = PassTargets {
            material,
            fixed: is_octave_fixed(&pass.standing, material) && phase == Phase::Play,
            lap: &pass.lap,
            targets: &pass.targets,
            tempo: pass.tempo,
        };
        // A place before the lap (a push) belongs to the pass, but not beyond the bars that are played.
        let last = segment.end() - segment.origin;
        let within = from - segment.origin..(until - segment.origin).min(last);
        let ms = |tick: Tick| self.ms(segment.origin + tick);
        let mut found = match stage.is_open_choice() {
            true => rhythm_of(&asked, stage, within, &ms),
            false => wanted_of(&asked, within, &ms),
        };
        if found.is_empty() {
            return chosen;
        }
        found.sort_by_key(|(tick, _)| *tick);
        let target = |(tick, wanted): (Tick, Wanted)| {
            let tick = segment.origin + tick;
            let place = self.line.segment_at(tick).unwrap_or(segment);
            let (section, bar) = place.place_at(tick);
            let context = material.contexts.get(wanted.chord);
            Target {
                around: Around {
                    chord: context.and_then(|context| context.symbol()).cloned(),
                    key: material.key(),
                    place: place_in_bar(place, tick),
                    region: region(stage),
                    qpm: qpm_at(tick, |tick| self.ms(tick)),
                },
                wanted,
                tick,
                bar,
                section,
            }
        };
        Some(PassRecord {
            targets: found.into_iter().map(target).collect(),
            spans: chosen.map_or(Vec::new(), |chosen| chosen.spans),
            ..self.nothing_of(segment)
        })
    }

    /// The chords of a bar over which the player chooses.
    fn chosen_in(&self, segment: &Segment, from: Tick, until: Tick) -> Option<PassRecord> {
        let ms = |tick: Tick| self.ms(segment.origin + tick);
        let pass = &segment.pass;
        let within = from - segment.origin..until - segment.origin;
        let stage = pass.standing.stage_of(&pass.material);
        let allowed: Vec<u8> = stage.degrees.iter().map(|word| word.number()).collect();
        let span = |chord: &LapChord| {
            let context = pass.material.contexts.get(chord.form_chord)?;
            let beat = pass.lap.bars.get(chord.bar)?.meter.count_ticks();
            Some(ChoiceSpan {
                from_ms: ms(chord.start),
                to_ms: ms(chord.start + chord.len),
                beat_ms: ms(chord.start + beat) - ms(chord.start),
                degrees: names_over(context, context.root()?).map(|name| name.degree),
                allowed: allowed.clone(),
            })
        };
        let rests = pass.rests.iter().copied().chain(std::iter::repeat(false));
        let begins = pass.lap.chords.iter().zip(rests);
        let begins = begins.filter(|(chord, rests)| within.contains(&chord.start) && !rests);
        let spans: Vec<ChoiceSpan> = begins.filter_map(|(chord, _)| span(chord)).collect();
        (!spans.is_empty()).then(|| PassRecord {
            spans,
            ..self.nothing_of(segment)
        })
    }
}

/// Whether the octave counts: one string, one place or one octave is asked for.
fn is_octave_fixed(standing: &Standing, material: &Material) -> bool {
    let stage = standing.stage_now(material);
    let one_place = matches!(stage.string, StringRule::Same | StringRule::EveryPlace);
    one_place || stage.octave.is_some()
}

/// Whether what goes round is not a spot that the foot chose.
fn is_as_asked(standing: &Standing, material: &Material) -> bool {
    let is_spot = matches!(standing.looping, Loop::Spot(_));
    !is_spot || standing.stage_of(material).over == Some(GoesRound::HardSpot)
}
