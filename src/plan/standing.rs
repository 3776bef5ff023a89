//! The Course: where the player stands in chart and drill, and what comes next. Pure and small: band, page and
//! voice all follow it, so they cannot disagree.

use super::Material;
use super::leg_at::LegAt;
use crate::chart::Lap;
use crate::drill::{Advance, GoesRound, KeyWalk, Phase, Stage};
use crate::harmony::Harmony;
use std::collections::HashSet;
use std::sync::Arc;

/// What goes round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Loop {
    /// One item of the form (a section in one of its places).
    Item(usize),
    Form,
    /// Several items of the form, one after the other.
    Sections(Vec<usize>),
    /// A hard spot: some bars of the form as the chart writes it.
    Spot(Vec<usize>),
}

/// One pass through what goes round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    pub looping: Loop,
    /// Where in the form it is, where the whole form goes round.
    pub leg: LegAt,
    /// How often the vamp that it plays went round before.
    pub vamped: u32,
    /// The stage of the drill.
    pub stage: usize,
    /// Passes of this stage before this one.
    pub pass: u32,
    /// The breath after a cycle instead of a pass.
    pub breathing: bool,
    /// In a stage out of time: which of the distinct chords is held.
    pub held: usize,
    /// How many times as long as in its stage the foot lets each chord last.
    pub longer: u32,
    /// With which pass of the stage the foot brought another key.
    pub key_since: u32,
    /// The tempo in per cent of the player's.
    pub per_cent: u32,
    /// Steps of the tempo that the stage has earned by ear.
    pub quicker: u32,
    /// The bars that the foot looped last, as the chart writes them.
    pub spot: Option<Vec<usize>>,
    /// Passes of each stage before its present ones that count for its rotation.
    pub turned: Arc<Vec<u32>>,
}

impl Standing {
    /// The start of a drill: its first stage over the first section.
    pub fn first() -> Standing {
        Standing {
            looping: Loop::Item(0),
            leg: LegAt::Chorus(0),
            vamped: 0,
            stage: 0,
            pass: 0,
            breathing: false,
            held: 0,
            longer: 1,
            key_since: 0,
            per_cent: 100,
            quicker: 0,
            spot: None,
            turned: Arc::default(),
        }
    }

    /// The same place from the first pass of its stage on; what turns in it goes on.
    pub fn again(&self, material: &Material) -> Standing {
        Standing {
            turned: self.turned_on(material),
            leg: LegAt::Chorus(0),
            vamped: 0,
            pass: 0,
            breathing: false,
            key_since: 0,
            ..self.clone()
        }
    }

    /// The stage's entry in the drill.
    pub fn stage_of<'a>(&self, material: &'a Material) -> &'a Stage {
        let last = material.drill.stages.len() - 1;
        &material.drill.stages[self.stage.min(last)]
    }

    /// The tune as it comes here: in the stage's key of this round, its chords as long as they last here.
    pub fn walked(&self, material: &Arc<Material>) -> Arc<Material> {
        let stage = self.stage_of(material);
        let keys = stage.turning_keys().unwrap_or(&stage.keys);
        let step = self.key_step(material);
        let home = material.home().key();
        let key = home.map(|home| keys.key(home, step, material.seed()));
        material.varied(key, self.chords_last(material))
    }

    /// Rounds of the stage's cycle before this one; the breath belongs to the round that it ends.
    pub fn round(&self, material: &Material) -> u32 {
        let passes = self.stage_of(material).cycle.passes();
        self.pass.saturating_sub(u32::from(self.breathing)) / passes
    }

    /// Passes of this round's playing before this one.
    pub fn played_in_round(&self, material: &Material) -> u32 {
        let cycle = self.stage_of(material).cycle;
        (self.pass % cycle.passes()).saturating_sub(cycle.before_playing())
    }

    /// What the player is asked to do in this pass.
    pub fn phase(&self, material: &Material) -> Phase {
        if self.breathing {
            return Phase::Breathe;
        }
        self.stage_of(material).cycle.phase(self.pass)
    }

    /// Whether this is the first pass that is played in its stage, or in a key that is new: the one in which the voice
    /// names the notes. Where nothing is played, the first one at all.
    pub fn is_first_played(&self, material: &Material) -> bool {
        let stage = self.stage_of(material);
        let round = self.pass - self.pass % stage.cycle.passes();
        let new_key = match stage.keys {
            KeyWalk::Stay if stage.turning_keys().is_some() => self.key_since_pass(material),
            KeyWalk::Stay => 0,
            _ => round,
        };
        let first = new_key.max(self.key_since);
        let mut passes = first..first + stage.cycle.passes();
        let played = passes.find(|pass| stage.cycle.phase(*pass) == Phase::Play);
        !self.breathing && self.pass == played.unwrap_or(first)
    }

    /// The pass with which a rotation brought the present key.
    fn key_since_pass(&self, material: &Material) -> u32 {
        let before = Standing {
            pass: self.pass.saturating_sub(1),
            ..self.clone()
        };
        match before.key_step(material) == self.key_step(material) {
            true => 0,
            false => self.pass,
        }
    }

    /// The bars of the form that this pass goes through.
    pub fn form_bars(&self, material: &Material) -> Vec<usize> {
        match &self.looping {
            Loop::Item(item) => material.form.item_bars(*item),
            Loop::Form => self
                .leg_of(material)
                .map_or_else(Vec::new, |leg| leg.bars.clone()),
            Loop::Sections(items) => {
                let bars = items.iter().map(|item| material.form.item_bars(*item));
                bars.flatten().collect()
            }
            Loop::Spot(bars) => {
                let copies = |bar: &usize| {
                    let times = material.chords_last() as usize;
                    bar * times..(bar + 1) * times
                };
                bars.iter().flat_map(copies).collect()
            }
        }
    }

    /// The lap of this pass.
    pub fn lap(&self, material: &Material) -> Lap {
        material.form.lap(&self.form_bars(material))
    }

    /// What comes after this pass when no foot says otherwise.
    pub fn next(&self, material: &Material) -> Standing {
        self.after(material).at_its_tempo(material, self)
    }

    fn after(&self, material: &Material) -> Standing {
        let within = self.within_the_pass(material);
        within.unwrap_or_else(|| self.next_pass(material))
    }

    /// What comes after the whole pass.
    pub(super) fn next_pass(&self, material: &Material) -> Standing {
        let stage = self.stage_of(material);
        let mut next = Standing {
            leg: LegAt::Chorus(0),
            vamped: 0,
            ..self.clone()
        };
        if !self.breathing {
            next.pass += 1;
            let round_ends = next.pass.is_multiple_of(stage.cycle.passes());
            if stage.pulse && stage.cycle.breathe_bars > 0 && round_ends {
                next.breathing = true;
                return next;
            }
        }
        next.breathing = false;
        // A hard spot stays until the foot leaves it.
        let is_foots = stage.over != Some(GoesRound::HardSpot);
        let stays = is_foots && matches!(self.looping, Loop::Spot(_));
        if stage.advance == Advance::Passes && next.pass >= stage.passes && stage.pulse && !stays {
            return next.with_stage(material, 1);
        }
        next
    }

    /// The stage `steps` on (or back), from its first pass; the ends of the drill are firm.
    pub fn with_stage(&self, material: &Material, steps: i32) -> Standing {
        let last = material.drill.stages.len() as i32 - 1;
        let stage = (self.stage as i32 + steps).clamp(0, last) as usize;
        if stage == self.stage {
            return Standing {
                breathing: false,
                ..self.clone()
            };
        }
        let there = Standing {
            stage,
            held: 0,
            longer: 1,
            quicker: 0,
            ..self.again(material)
        };
        there.taking_over(material, self)
    }

    /// How many times as long as written each chord lasts, at the same tempo.
    pub fn chords_last(&self, material: &Material) -> u32 {
        self.stage_of(material).chords_last * self.longer
    }

    /// Each chord twice as long as now, then four times as long as in the stage, then as in the stage.
    pub fn with_longer_chords(&self) -> Standing {
        let longer = match self.longer {
            1 => 2,
            2 => 4,
            _ => 1,
        };
        Standing {
            longer,
            breathing: false,
            ..self.clone()
        }
    }

    /// One item of the form (a section in one of its places) going round.
    pub fn in_section(&self, item: usize) -> Standing {
        Standing {
            looping: Loop::Item(item),
            breathing: false,
            held: 0,
            ..self.clone()
        }
    }

    /// Out of time the chord that was held in `before` stays, where it is among those that go round now.
    pub fn holding_the_chord_of(mut self, before: &Standing, material: &Material) -> Standing {
        let held = held_harmonies(before, material).nth(before.held);
        let place = held
            .and_then(|held| held_harmonies(&self, material).position(|harmony| harmony == held));
        self.held = place.unwrap_or(0);
        self
    }
}

/// What a stage out of time holds, one after the other.
fn held_harmonies<'a>(
    standing: &Standing,
    material: &'a Material,
) -> impl Iterator<Item = &'a Harmony> {
    let lap = standing.lap(material);
    let distinct = distinct_chords(standing.stage_of(material), material, &lap);
    let form_chord = move |index: usize| lap.chords[index].form_chord;
    distinct
        .into_iter()
        .map(form_chord)
        .map(|chord| &material.contexts[chord].harmony)
}

/// The distinct chords of a lap (by what is written), in order of first appearance: what a stage out of time
/// holds, one after the other, but for those that it leaves out. Indices into `lap.chords`.
pub fn distinct_chords(stage: &Stage, material: &Material, lap: &Lap) -> Vec<usize> {
    let mut seen = HashSet::new();
    let mut distinct = Vec::new();
    for (index, chord) in lap.chords.iter().enumerate() {
        let context = &material.contexts[chord.form_chord];
        let harmony = &context.harmony;
        if stage.leaves_out(context) {
            continue;
        }
        if matches!(harmony, Harmony::Chord(_)) && seen.insert(harmony) {
            distinct.push(index);
        }
    }
    distinct
}
