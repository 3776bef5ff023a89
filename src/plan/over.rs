//! What a stage lets go round over a tune, and at which tempo.

use super::{Loop, Material, Standing};
use crate::drill::{Every, GoesRound, KeyWalk};
use crate::time::UsPerQuarter;
use std::sync::Arc;

impl Standing {
    /// The same where its stage says what goes round; where it says nothing, what went round before. A hard spot is left
    /// with the stage that wanted it.
    pub(super) fn taking_over(mut self, material: &Material, before: &Standing) -> Standing {
        let was_spot = before.stage_of(material).over == Some(GoesRound::HardSpot);
        match &self.stage_of(material).over {
            Some(over) => self.looping = loop_of(over, material, self.spot.as_deref()),
            None if was_spot => {
                let bar = self.form_bars(material).first().copied().unwrap_or(0);
                let item = material.form.bars.get(bar).map_or(0, |bar| bar.item);
                self.looping = Loop::Item(material.home_item(item));
            }
            None => {}
        }
        self
    }

    /// The same as its stage says it, where that says what goes round: a take or a session begins here.
    pub fn as_its_stage_says(self, material: &Material) -> Standing {
        match &self.stage_of(material).over {
            Some(over) => Standing {
                looping: loop_of(over, material, self.spot.as_deref()),
                ..self
            },
            None => self,
        }
    }

    /// The same at the tempo with which its stage opens: a take begins here, so that nothing changes together.
    pub fn opening(self, material: &Material) -> Standing {
        match self.stage_of(material).tempo {
            Some(tempo) => Standing {
                per_cent: tempo.per_cent(self.tempo_steps(material)),
                ..self
            },
            None => self,
        }
    }

    /// The steps of the tempo that are due by now.
    fn tempo_steps(&self, material: &Material) -> u32 {
        match self.stage_of(material).tempo.map(|tempo| tempo.every) {
            Some(Every::Passes(every)) => self.pass / every.max(1),
            Some(Every::Ready) => self.quicker,
            None => 0,
        }
    }

    /// The same after `before`, at the tempo that its stage has reached: never together with another stage or key.
    pub(super) fn at_its_tempo(mut self, material: &Material, before: &Standing) -> Standing {
        let Some(tempo) = self.stage_of(material).tempo else {
            return self;
        };
        let stage = self.stage_of(material);
        let walks = stage.keys != KeyWalk::Stay || stage.turning_keys().is_some();
        let is_new_key = walks && self.key_step(material) != before.key_step(material);
        if self.stage == before.stage && !is_new_key && !self.breathing {
            self.per_cent = tempo.per_cent(self.tempo_steps(material));
        }
        self
    }

    /// The same with the tempo so many steps on that it has earned, in the pass after `before`.
    pub fn quickened(self, by: i32, material: &Material, before: &Standing) -> Standing {
        if self.stage != before.stage {
            return self;
        }
        let standing = Standing {
            quicker: self.quicker.saturating_add_signed(by),
            ..self
        };
        standing.at_its_tempo(material, before)
    }

    /// Whether its stage has come to the tempo that it rises to.
    pub fn is_at_full_tempo(&self, material: &Material) -> bool {
        let tempo = self.stage_of(material).tempo;
        tempo.is_none_or(|tempo| self.per_cent >= tempo.to_per_cent)
    }

    /// What it makes of the player's tempo.
    pub fn tempo(&self, full: UsPerQuarter) -> UsPerQuarter {
        match self.per_cent {
            100 => full,
            per_cent => UsPerQuarter::from_qpm(full.qpm() * f64::from(per_cent) / 100.0),
        }
    }
}

/// What goes round; of sections that the tune does not have nothing.
fn loop_of(over: &GoesRound, material: &Material, spot: Option<&[usize]>) -> Loop {
    match over {
        GoesRound::Form => Loop::Form,
        GoesRound::HardSpot => {
            Loop::Spot(spot.map_or_else(|| hard_spot(material), <[usize]>::to_vec))
        }
        GoesRound::First(count) => loop_of_sections(&first_sections(*count, material), material),
        GoesRound::Sections(names) => loop_of_sections(names, material),
    }
}

fn loop_of_sections(names: &[String], material: &Material) -> Loop {
    match &items_of(names, material)[..] {
        [] => Loop::Item(0),
        [item] => Loop::Item(*item),
        items => Loop::Sections(items.to_vec()),
    }
}

/// The names of the first sections that are different, as the form has them.
fn first_sections(count: usize, material: &Material) -> Vec<String> {
    let form = &material.form;
    let mut names: Vec<String> = Vec::new();
    for item in 0..form.items() {
        let name = form
            .section_of(item)
            .and_then(|section| form.section_names.get(section));
        if let Some(name) = name.filter(|name| !names.contains(name)) {
            names.push(name.clone());
        }
    }
    names.truncate(count);
    names
}

/// The items of the form with these names: where they follow each other, so that each ending leads on; else the first of each.
fn items_of(names: &[String], material: &Material) -> Vec<usize> {
    let form = &material.form;
    let name_of = |item: usize| {
        let section = form.section_of(item)?;
        form.section_names.get(section).map(String::as_str)
    };
    let named: Vec<usize> = names
        .iter()
        .filter_map(|name| (0..form.items()).find(|item| name_of(*item) == Some(name)))
        .collect();
    let follows = |first: &usize| {
        let mut pairs = names.iter().enumerate();
        pairs.all(|(more, name)| name_of(first + more) == Some(name))
    };
    match (0..form.items()).find(follows) {
        Some(first) if names.len() > 1 => (first..first + names.len()).collect(),
        _ => named,
    }
}

/// The two bars of the form as the chart writes it in which the most chords begin, the first of several.
fn hard_spot(material: &Material) -> Vec<usize> {
    let form = &material.form;
    let times = (material.chords_last() as usize).max(1);
    let bars = form.bars.len() / times;
    let mut counts = vec![0usize; bars];
    for chord in &form.chords {
        if let Some(count) = counts.get_mut(chord.form_bar / times) {
            *count += 1;
        }
    }
    let pairs = counts.windows(2).map(|pair| pair[0] + pair[1]);
    let most = pairs.clone().max().unwrap_or(0);
    match pairs.into_iter().position(|count| count == most) {
        Some(first) => vec![first, first + 1],
        None => vec![0],
    }
}

/// Sections that a stage names and the tune does not have.
pub fn unknown_sections(material: &Arc<Material>, stage: usize) -> Vec<String> {
    let names = match material
        .drill
        .stages
        .get(stage)
        .and_then(|stage| stage.over.as_ref())
    {
        Some(GoesRound::Sections(names)) => names.as_slice(),
        _ => &[],
    };
    let unknown = names
        .iter()
        .filter(|name| !material.form.section_names.contains(name));
    unknown.cloned().collect()
}
