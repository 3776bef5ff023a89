//! What the ear tells, and what the plan asks for, bar by bar.

use crate::chart::LapChord;
use crate::display::Phase;
use crate::drill::{Advance, StringRule};
use crate::judging::{
    BandReturn, ChoiceSpan, EarEvent, PassKey, PassRecord, PassTargets, Target, Wanted, names_over,
    wanted_of,
};
use crate::plan::pass::PassKind;
use crate::plan::standing::Loop;
use crate::plan::timeline::Segment;
use crate::practice::core::Core;
use crate::practice::event::{Effect, Replay};
use crate::practice::show;
use crate::practice::tuning::Tuner;
use crate::time::{Frame, Tick};

impl Core {
    /// Takes in what the ear tells.
    pub(in crate::practice) fn sounded(&mut self, sounded: EarEvent) {
        if let EarEvent::Reading { hz } = sounded {
            let is_tuning = self.is_tuning();
            let a4_hz = self.settings.a4_hz;
            if self
                .tuning
                .as_mut()
                .filter(|_| is_tuning)
                .is_some_and(|tuning| tuning.heard(hz, a4_hz))
            {
                self.refresh();
            }
            return;
        }
        self.hearing.sounded(sounded);
        let stage = self.standing.stage_of(&self.material);
        if self.is_held() && stage.advance == Advance::Right {
            self.heard_out_of_time(sounded);
        }
    }

    /// Whether the player is asked to sing now.
    pub fn listens_to_voice(&self) -> bool {
        self.take.is_some() && self.standing.phase(&self.material) == Phase::Sing
    }

    /// A bar begins: what falls into it is asked for from now on, on the frames where it sounds.
    pub(in crate::practice) fn ask_for_bar(&mut self, at: Tick) {
        let Some(take) = &self.take else { return };
        let Some(here) = take.timeline.segment_at(at) else {
            return;
        };
        let bar = here.bar_at(at);
        let until = here.bar_start(bar + 1).min(here.end());
        let bars = here.pass.standing.form_bars(&here.pass.material).len();
        let asked: Vec<PassRecord> = take
            .timeline
            .segments()
            .filter_map(|segment| self.asked_in(segment, at, until))
            .collect();
        let back = self.band_back_at(at, here);
        let key = self.pass_key(here);
        let begins = take.timeline.frame(here.start());
        // The band comes back to the pass in which it was out, be it at its end.
        back.into_iter().for_each(|record| self.hearing.ask(record));
        self.hearing.end_before(key, begins);
        asked
            .into_iter()
            .for_each(|record| self.hearing.ask(record));
        self.hearing.bar_comes(key, bar, bars);
    }

    /// Where the band comes back with the bar at `at`, which lies in `here`.
    fn band_back_at(&self, at: Tick, here: &Segment) -> Option<PassRecord> {
        let timeline = &self.take.as_ref()?.timeline;
        let before = timeline.segment_at(at - Tick(1))?;
        let was_out = before.pass.is_band_out(before.bar_at(at - Tick(1)));
        let bar = here.bar_at(at);
        let plays = matches!(here.pass.kind, PassKind::Music(_)) && !here.pass.is_band_out(bar);
        let meter = here
            .pass
            .lap
            .bars
            .get(bar)
            .filter(|_| was_out && plays)?
            .meter;
        let ms = |tick| timeline.frame(tick).ms(self.settings.rate);
        let band = BandReturn {
            at_ms: ms(at),
            beat_ms: ms(at + meter.count_ticks()) - ms(at),
            bar_ms: ms(at + meter.bar_ticks()) - ms(at),
        };
        let mut record = self.record_of(before)?;
        record.returns.push(band);
        Some(record)
    }

    fn pass_key(&self, segment: &Segment) -> PassKey {
        let standing = &segment.pass.standing;
        PassKey {
            take: self.takes,
            origin: segment.origin,
            stage: standing.stage,
            pass: standing.pass,
        }
    }

    /// A pass that asks for nothing yet.
    fn record_of(&self, segment: &Segment) -> Option<PassRecord> {
        let timeline = &self.take.as_ref()?.timeline;
        let standing = &segment.pass.standing;
        let material = &segment.pass.material;
        Some(PassRecord {
            key: self.pass_key(segment),
            tune: material.tune(),
            stage: standing.stage_of(material).name.clone(),
            pass: standing.pass + 1,
            round: standing.round(material),
            sung: segment.pass.kind == PassKind::Music(Phase::Sing),
            looping: standing.looping.clone(),
            as_asked: standing.longer == 1 && !matches!(standing.looping, Loop::Spot(_)),
            whole: false,
            targets: Vec::new(),
            spans: Vec::new(),
            returns: Vec::new(),
            begins: timeline.frame(segment.start()),
            ends: None,
        })
    }

    fn asked_in(&self, segment: &Segment, from: Tick, until: Tick) -> Option<PassRecord> {
        let pass = &segment.pass;
        let PassKind::Music(phase @ (Phase::Play | Phase::Sing)) = pass.kind else {
            return None;
        };
        let timeline = &self.take.as_ref()?.timeline;
        let ms = |tick: Tick| timeline.frame(segment.origin + tick).ms(self.settings.rate);
        let (material, standing) = (&pass.material, &pass.standing);
        let stage = standing.stage_of(material);
        let timing = (segment, from, until);
        if stage.is_open_choice() {
            return self.chosen_in(timing).filter(|_| phase == Phase::Play);
        }
        let asked = PassTargets {
            material,
            fixed: stage.string == StringRule::Same && phase == Phase::Play,
            lap: &pass.lap,
            targets: &pass.targets,
            tempo: pass.tempo,
        };
        // A place before the lap (a push) belongs to the pass, but not beyond the bars that are played.
        let last = segment.end() - segment.origin;
        let within = from - segment.origin..(until - segment.origin).min(last);
        let mut found = wanted_of(&asked, within, &ms);
        if found.is_empty() {
            return None;
        }
        found.sort_by_key(|(tick, _)| *tick);
        let target = |(tick, wanted): (Tick, Wanted)| {
            let tick = segment.origin + tick;
            let (section, bar) = show::place_at(self, tick);
            let context = material.contexts.get(wanted.chord);
            Target {
                chord: context.and_then(|context| context.symbol()).cloned(),
                wanted,
                tick,
                bar,
                section,
            }
        };
        Some(PassRecord {
            targets: found.into_iter().map(target).collect(),
            ..self.record_of(segment)?
        })
    }

    /// The chords of a bar over which the player chooses.
    fn chosen_in(&self, (segment, from, until): (&Segment, Tick, Tick)) -> Option<PassRecord> {
        let timeline = &self.take.as_ref()?.timeline;
        let ms = |tick: Tick| timeline.frame(segment.origin + tick).ms(self.settings.rate);
        let pass = &segment.pass;
        let within = from - segment.origin..until - segment.origin;
        let span = |chord: &LapChord| {
            let context = pass.material.contexts.get(chord.form_chord)?;
            let beat = pass.lap.bars.get(chord.bar)?.meter.count_ticks();
            Some(ChoiceSpan {
                from_ms: ms(chord.start),
                to_ms: ms(chord.start + chord.len),
                beat_ms: ms(chord.start + beat) - ms(chord.start),
                degrees: names_over(context, context.root()?).map(|name| name.degree),
            })
        };
        let rests = pass.rests.iter().copied().chain(std::iter::repeat(false));
        let begins = pass.lap.chords.iter().zip(rests);
        let begins = begins.filter(|(chord, rests)| within.contains(&chord.start) && !rests);
        let spans: Vec<ChoiceSpan> = begins.filter_map(|(chord, _)| span(chord)).collect();
        let record = self.record_of(segment)?;
        (!spans.is_empty()).then_some(PassRecord { spans, ..record })
    }

    /// Judges the passes that are over and heard.
    pub(in crate::practice) fn judge_due(&mut self) {
        while let Some(done) = self.hearing.judge_due(self.now, &self.settings.rules) {
            self.tell(done);
        }
    }

    /// Judges all that is over; the audio clock is gone.
    pub(in crate::practice) fn judge_now(&mut self) {
        while let Some(done) = self.hearing.judge_now(&self.settings.rules) {
            self.tell(done);
        }
    }

    /// What was played in the last pass sounds once more, on `cue`: over the band, with the next pass, or at once where
    /// nothing plays.
    pub(in crate::practice) fn play_back(&mut self, stamp: Frame) {
        let Some((from, to)) = self.hearing.last_pass() else {
            return;
        };
        let at = match &self.take {
            Some(take) => {
                let now = take.timeline.tick(self.earliest(stamp));
                let segment = take.timeline.segment_at(now);
                segment.map_or(self.earliest(stamp), |segment| {
                    take.timeline.frame(segment.end())
                })
            }
            None => self.earliest(stamp),
        };
        self.cue_ids += 1;
        let id = self.cue_ids;
        self.out.push(Effect::PlayBack(Replay { id, from, to, at }));
    }

    /// The take that plays, or the last one, is to be kept.
    pub(in crate::practice) fn keep_take(&mut self) {
        if let Some((began, ended)) = self.last_take {
            let until = ended.unwrap_or(self.now);
            self.out.push(Effect::Keep(began, until));
        }
    }

    /// The page for tuning, or back from it.
    pub(in crate::practice) fn tune(&mut self) {
        self.tuning = match self.tuning {
            Some(_) => None,
            None => Some(Tuner::default()),
        };
    }

    /// Whether readings of the pitch are asked for.
    pub fn is_tuning(&self) -> bool {
        self.tuning.is_some() && self.take.is_none()
    }
}
