//! Where the plan goes on: what is appended next.

use super::pass::{Pass, PassKind, PassSettings};
use super::pass_writer::PassWriter;
use super::timeline::Segment;
use super::{Material, Standing};
use crate::time::{Tick, UsPerQuarter};
use std::sync::Arc;

/// What another chart of the list brings along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Brings {
    /// Its index in the list.
    pub chart: usize,
    pub tempo: UsPerQuarter,
}

/// Whether a pass is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CountIn {
    /// It begins at once.
    No,
    /// The count alone comes before it.
    Plain,
    /// The count comes before it, and the tune's pickup in its last beats.
    WithPickup,
}

/// What is appended to the plan next.
#[derive(Debug, Clone)]
pub struct Cursor {
    /// The chart and drill.
    pub material: Arc<Material>,
    pub standing: Standing,
    /// The bar of its lap to begin with.
    pub from_bar: usize,
    /// Unless this is `No` the count-in to the pass comes next, and then the pass.
    pub count_in: CountIn,
    /// Set while another chart of the list is on its way.
    pub brings: Option<Brings>,
}

impl Cursor {
    /// The whole pass at `standing`.
    pub fn pass(material: &Arc<Material>, standing: Standing) -> Cursor {
        Cursor {
            material: standing.walked(material),
            standing,
            from_bar: 0,
            count_in: CountIn::No,
            brings: None,
        }
    }

    /// What a segment plays from one of its bars on, to be written again.
    pub fn of_segment(segment: &Segment, from_bar: usize) -> Cursor {
        let pass = &segment.pass;
        let count_in = match pass.kind {
            PassKind::CountIn if pass.lap.chords.is_empty() => CountIn::Plain,
            PassKind::CountIn => CountIn::WithPickup,
            PassKind::Music(_) | PassKind::Breathe | PassKind::Held => CountIn::No,
        };
        Cursor {
            from_bar,
            count_in,
            ..Cursor::pass(&pass.material, pass.standing.clone())
        }
    }

    /// Whether the tune is over with it.
    pub fn is_final(&self) -> bool {
        self.count_in == CountIn::No && self.standing.is_final(&self.material)
    }

    /// What comes after it when no foot says otherwise.
    pub fn next(&self) -> Cursor {
        match self.count_in {
            CountIn::No => Cursor {
                brings: self.brings,
                ..Cursor::pass(&self.material, self.standing.next(&self.material))
            },
            CountIn::Plain | CountIn::WithPickup => Cursor {
                from_bar: 0,
                count_in: CountIn::No,
                ..self.clone()
            },
        }
    }

    /// The length of its count-in; `with_pickup`: with the pickup.
    pub fn count_len(
        &self,
        with_pickup: bool,
        tempo: UsPerQuarter,
        settings: &PassSettings,
    ) -> Tick {
        self.writer(tempo, settings).count_in(with_pickup).lap.len
    }

    /// What its pass is written from.
    pub fn writer<'a>(&'a self, tempo: UsPerQuarter, settings: &'a PassSettings) -> PassWriter<'a> {
        PassWriter {
            material: &self.material,
            standing: &self.standing,
            tempo,
            settings,
        }
    }

    /// Writes the pass out.
    pub fn write(&self, tempo: UsPerQuarter, settings: &PassSettings) -> Pass {
        let (material, standing) = (&self.material, &self.standing);
        let writer = self.writer(tempo, settings);
        match self.count_in {
            CountIn::No if !standing.stage_of(material).pulse => writer.held(),
            CountIn::No if standing.breathing => writer.breath(),
            CountIn::No => {
                let after = self.next();
                let next = match after.standing.breathing {
                    true => None,
                    false => after.standing.lap(&after.material).chords.first().copied(),
                };
                let next = next.map(|chord| &after.material.contexts[chord.form_chord]);
                writer.music(standing.lap(material), next, false)
            }
            CountIn::Plain => writer.count_in(false),
            CountIn::WithPickup => writer.count_in(true),
        }
    }
}
