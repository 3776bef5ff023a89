//! What the ear tells, put beside what the plan asked for: verdicts, and the summary of a round.

use crate::chart::LapChord;
use crate::display::Phase;
use crate::drill::{Advance, StringRule};
use crate::fretboard::fewest_positions;
use crate::practice::choice::{Choice, Span};
use crate::practice::core::{Core, Spoken};
use crate::practice::course::Loop;
use crate::practice::cues;
use crate::practice::event::{Effect, Record, Recorded, Replay};
use crate::practice::hearing::{Done, PassKey, Sounded, Stretch, Target};
use crate::practice::judge::{Judged, Wanted};
use crate::practice::judge_plan::{Asked, names, wanted_of};
use crate::practice::pass::PassKind;
use crate::practice::plan::Missed;
use crate::practice::readiness::{Chorus, Says};
use crate::practice::timeline::Segment;
use crate::practice::trading::{Back, Return};
use crate::practice::tuning::Tuning;
use crate::practice::{show, steps};
use crate::speech::PhraseSet;
use crate::time::{Frame, Tick};

impl Core {
    /// Takes in what the ear tells.
    pub(in crate::practice) fn sounded(&mut self, sounded: Sounded) {
        if let Sounded::Reading { hz } = sounded {
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
        let asked: Vec<Stretch> = take
            .timeline
            .segments()
            .filter_map(|segment| self.asked_in(segment, at, until))
            .collect();
        let back = self.band_back_at(at, here);
        let key = self.pass_key(here);
        let begins = take.timeline.frame(here.start());
        // The band comes back to the pass in which it was out, be it at its end.
        back.into_iter()
            .for_each(|stretch| self.hearing.ask(stretch));
        self.hearing.end_before(key, begins);
        asked
            .into_iter()
            .for_each(|stretch| self.hearing.ask(stretch));
        self.hearing.bar_comes(key, bar, bars);
    }

    /// Where the band comes back with the bar at `at`, which lies in `here`.
    fn band_back_at(&self, at: Tick, here: &Segment) -> Option<Stretch> {
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
        let ms = |tick| self.hearing.ms(timeline.frame(tick));
        let band = Return {
            at_ms: ms(at),
            beat_ms: ms(at + meter.count_ticks()) - ms(at),
            bar_ms: ms(at + meter.bar_ticks()) - ms(at),
        };
        let mut stretch = self.stretch_of(before)?;
        stretch.returns.push(band);
        Some(stretch)
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
    fn stretch_of(&self, segment: &Segment) -> Option<Stretch> {
        let timeline = &self.take.as_ref()?.timeline;
        let standing = &segment.pass.standing;
        let material = &segment.pass.material;
        Some(Stretch {
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

    fn asked_in(&self, segment: &Segment, from: Tick, until: Tick) -> Option<Stretch> {
        let pass = &segment.pass;
        let PassKind::Music(phase @ (Phase::Play | Phase::Sing)) = pass.kind else {
            return None;
        };
        let timeline = &self.take.as_ref()?.timeline;
        let ms = |tick: Tick| self.hearing.ms(timeline.frame(segment.origin + tick));
        let (material, standing) = (&pass.material, &pass.standing);
        let stage = standing.stage_of(material);
        let timing = (segment, from, until);
        if stage.is_open_choice() {
            return self.chosen_in(timing).filter(|_| phase == Phase::Play);
        }
        let asked = Asked {
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
                symbol: context.map(show::symbol_text).unwrap_or_default(),
                wanted,
                tick,
                bar,
                section,
            }
        };
        Some(Stretch {
            targets: found.into_iter().map(target).collect(),
            ..self.stretch_of(segment)?
        })
    }

    /// The chords of a bar over which the player chooses.
    fn chosen_in(&self, (segment, from, until): (&Segment, Tick, Tick)) -> Option<Stretch> {
        let timeline = &self.take.as_ref()?.timeline;
        let ms = |tick: Tick| self.hearing.ms(timeline.frame(segment.origin + tick));
        let pass = &segment.pass;
        let within = from - segment.origin..until - segment.origin;
        let span = |chord: &LapChord| {
            let context = pass.material.contexts.get(chord.form_chord)?;
            let beat = pass.lap.bars.get(chord.bar)?.meter.count_ticks();
            Some(Span {
                from_ms: ms(chord.start),
                to_ms: ms(chord.start + chord.len),
                beat_ms: ms(chord.start + beat) - ms(chord.start),
                degrees: names(context, context.root()?).map(|(degree, _)| degree),
            })
        };
        let rests = pass.rests.iter().copied().chain(std::iter::repeat(false));
        let begins = pass.lap.chords.iter().zip(rests);
        let begins = begins.filter(|(chord, rests)| within.contains(&chord.start) && !rests);
        let spans: Vec<Span> = begins.filter_map(|(chord, _)| span(chord)).collect();
        let stretch = self.stretch_of(segment)?;
        (!spans.is_empty()).then_some(Stretch { spans, ..stretch })
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

    fn tell(&mut self, done: Done) {
        let Done {
            stretch,
            judged,
            heard,
            notes,
            choice,
            backs,
        } = done;
        self.tell_backs(&stretch, &backs);
        if let Some(choice) = choice {
            return self.tell_choice(&stretch, choice);
        }
        if judged.verdicts.is_empty() {
            // He came back to the band, and had rested before.
            self.say_summary();
            return self.refresh();
        }
        let mut symbols = Vec::with_capacity(judged.verdicts.len());
        for (verdict, heard) in judged.verdicts.iter().zip(heard) {
            let place = verdict
                .target
                .or_else(|| {
                    let targets = &stretch.targets;
                    let after = targets.partition_point(|t| t.wanted.at_ms <= verdict.at_ms + 1.0);
                    after.checked_sub(1)
                })
                .and_then(|index| stretch.targets.get(index));
            // One symbol a verdict, also where a note came before all that was asked for.
            symbols.push(place.map(|place| place.symbol.clone()).unwrap_or_default());
            let Some(place) = place else { continue };
            let at = self.hearing.frame_of(verdict.at_ms);
            let what = Recorded::Verdict(Box::new(verdict.clone()), heard);
            self.record_heard(&stretch, place, at, what);
        }
        let targets = judged.verdicts.iter().filter(|v| v.target.is_some());
        let right = targets
            .clone()
            .filter(|verdict| verdict.outcome == super::super::Outcome::Right)
            .count();
        let (chorus, says) = self.weigh(&stretch, &judged, notes);
        let what = Recorded::Judged {
            targets: targets.count(),
            right,
            offset_ms: judged.offset_ms,
            tuning_cents: judged.tuning_cents,
            chorus,
            ready: says == Some(Says::Ready),
        };
        if let (Some(last), Some(ends)) = (stretch.targets.last(), stretch.ends) {
            self.record_heard(&stretch, last, ends, what);
        }
        self.name_missed(&stretch, &judged);
        self.hearing
            .summary
            .add(&stretch.stage, stretch.round, &judged, symbols);
        if matches!(chorus, Some(Chorus::Clean | Chorus::Fair)) {
            self.hearing.summary.withdraw_offer();
        }
        match says {
            Some(Says::Ready) => self.go_on_when_ready(&stretch),
            Some(Says::Easier) => self.offer_easier(&stretch),
            None => {}
        }
        self.say_summary();
        self.refresh();
    }

    /// What was missed when a stage was first played is named again in the pass after it.
    fn name_missed(&mut self, stretch: &Stretch, judged: &Judged) {
        let missed = Missed::when_first_played(&self.material.drill, stretch, judged);
        let is_now = stretch.key.take == self.takes;
        let (Some(missed), Some(take), true) = (missed, self.take.as_mut(), is_now) else {
            return;
        };
        let now = take.timeline.tick(self.now);
        take.name_missed(missed, now);
    }

    fn tell_backs(&mut self, stretch: &Stretch, backs: &[Back]) {
        for back in backs {
            let frame = self.hearing.frame_of(back.at_ms);
            self.record_pass(stretch, frame, Recorded::Back(*back));
        }
        let (stage, round) = (&stretch.stage, stretch.round);
        self.hearing.summary.come_back(stage, round, backs);
    }

    fn tell_choice(&mut self, stretch: &Stretch, mut choice: Choice) {
        choice.positions = fewest_positions(&self.settings.neck, &choice.keys);
        self.hearing
            .summary
            .choose(&stretch.stage, stretch.round, choice.clone());
        let frame = stretch.ends.unwrap_or(self.now);
        self.record_pass(stretch, frame, Recorded::Choice(Box::new(choice)));
        self.say_summary();
        self.refresh();
    }

    /// Tells something of a whole pass.
    fn record_pass(&mut self, stretch: &Stretch, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: None,
            bar: None,
            section: show::section_name(&self.material, &self.standing),
            stage: stretch.stage.clone(),
            pass: stretch.pass,
            what,
        }));
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
            None => Some(Tuning::default()),
        };
    }

    /// Whether readings of the pitch are asked for.
    pub fn is_tuning(&self) -> bool {
        self.tuning.is_some() && self.take.is_none()
    }

    /// In the breath, if wished, in one sentence: where it ends before the next notes are named.
    fn say_summary(&mut self) {
        let is_silent = !self.settings.spoken_summary || self.settings.spoken == Spoken::Asked;
        if is_silent || self.hearing.is_waiting() || !self.standing.breathing {
            return;
        }
        let Some(take) = &self.take else { return };
        let now = take.timeline.tick(self.now);
        let Some(segment) = take.timeline.segment_at(now) else {
            return;
        };
        let standing = &segment.pass.standing;
        let stage = &standing.stage_of(&segment.pass.material).name;
        let round = standing.round(&segment.pass.material);
        let Some(sentence) = self.hearing.summary.sentence(stage, round) else {
            return;
        };
        let counts = steps::counts(&take.timeline);
        let before = counts.partition_point(|count| *count < segment.end());
        let Some(until) = before.checked_sub(2).map(|index| counts[index]) else {
            return;
        };
        let ms = |tick| take.ms(tick);
        let phrases = PhraseSet::plain(sentence);
        let planned = cues::announcement(phrases, &take.steps, &counts, now, until, &ms);
        let Some(cue) = planned else { return };
        self.say_in_time(cue);
    }

    fn record_heard(&mut self, stretch: &Stretch, place: &Target, frame: Frame, what: Recorded) {
        self.out.push(Effect::Record(Record {
            frame,
            tick: Some(place.tick),
            bar: place.bar,
            section: place.section.clone(),
            stage: stretch.stage.clone(),
            pass: stretch.pass,
            what,
        }));
    }
}
