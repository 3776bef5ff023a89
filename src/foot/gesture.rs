//! From edges to gestures: one engine for every kind of switch and every source.
//!
//! The engine looks at nothing but the frames that the edges carry, so the same edges give the same gestures,
//! however late or in whatever portions they are brought. What it waits for is told by
//! [`Gestures::next_deadline`]; the caller comes back with [`Gestures::until`].
//!
//! * The first edge counts, at once; then the switch is locked for `lockout_ms`. Bounce and the ghosts of a
//!   stomp (some 20 ms after it) fall into that time. A level that is different after it and has stood for
//!   10 ms is taken as an edge then.
//! * Only gestures in use ([`Gestures::set_uses`]) come out, and only they cost time: a tap waits for the
//!   double time only where a double or a triple is in use, a double only where a triple is. A triple is certain at its
//!   third press; one that was too slow comes apart into what its presses are by themselves, never into a hold.
//! * Presses of two switches less than 60 ms apart are one stomp and count as nothing. With two switches and
//!   more a tap is therefore certain 60 ms after its press at the earliest. A `Press` cannot wait that long,
//!   because it is what tempo and starts hang on: the first switch's press stands, the second's is dropped.

use crate::foot::kinds::{GestureKind, Kinds, LONG_HOLDS, Polarity, SwitchKind, SwitchSettings};
use crate::foot::phase::{GestureList, Press, PressPhase, again, emit, emit_two};
use crate::pedal::{Edge, SWITCHES};
use crate::time::Frame;
use arrayvec::ArrayVec;

/// Presses of two switches closer than this are one stomp, in ms.
pub const STOMP_MS: f64 = 60.0;
/// How long a level must have stood to be believed after the lock-out, in ms.
const SETTLE_MS: f64 = 10.0;

/// The gesture engine.
#[derive(Debug, Clone)]
pub struct Gestures {
    switches: ArrayVec<Switch, SWITCHES>,
    rate: u32,
    now: Frame,
}

#[derive(Debug, Clone)]
struct Switch {
    settings: SwitchSettings,
    uses: Kinds,
    /// The accepted level; `None` until the first edge.
    down: Option<bool>,
    /// The level that came in during the lock-out, if it is not the accepted one, and since when.
    other: Option<Frame>,
    locked_until: Frame,
    last_press: Option<Frame>,
    phase: PressPhase,
}

impl Gestures {
    /// An engine for these switches (numbered from 1; those beyond [`SWITCHES`] are left out) on a clock of
    /// `rate` frames a second. No gesture is in use yet.
    pub fn new(settings: &[SwitchSettings], rate: u32) -> Gestures {
        let switches = settings.iter().take(SWITCHES).map(|&settings| Switch {
            settings,
            uses: Kinds::NONE,
            down: None,
            other: None,
            locked_until: Frame(0),
            last_press: None,
            phase: PressPhase::Idle,
        });
        Gestures {
            switches: switches.collect(),
            rate,
            now: Frame(0),
        }
    }

    /// Says which gestures of a switch (from 1) mean something now. It holds for presses from now on: one
    /// under way is judged by what held when it began.
    pub fn set_uses(&mut self, switch: u8, uses: Kinds) {
        if let Some(index) = self.index(switch) {
            self.switches[index].uses = uses;
        }
    }

    /// Takes an edge; gives what became certain up to and with it. Where a gesture can change what is in use,
    /// call [`Gestures::until`] with the edge's frame first and act on that. An edge that comes late (its frame
    /// lies before the latest one seen) still counts by its own frame; what was decided meanwhile stands.
    pub fn edge(&mut self, edge: Edge) -> GestureList {
        let at = edge.at;
        let mut out = self.until(at.max(self.now));
        let Some(index) = self.index(edge.switch) else {
            return out;
        };
        let switch = &mut self.switches[index];
        let down = switch.foot_down(edge.down);
        let same = switch.down == Some(down);
        let locked = switch.down.is_some() && at < switch.locked_until;
        if same {
            switch.other = None;
        } else if locked || switch.other.is_some() {
            switch.other.get_or_insert(at);
        } else {
            self.accept(index, down, at, at, &mut out);
        }
        self.fire(self.now, &mut out);
        out
    }

    /// Gives what became certain by `frame`. Do not go further than where all edges are known.
    pub fn until(&mut self, frame: Frame) -> GestureList {
        let mut out = GestureList::new();
        self.fire(frame, &mut out);
        self.now = self.now.max(frame);
        out
    }

    /// The frame at which something becomes certain if no edge comes before; `None`: nothing is under way.
    pub fn next_deadline(&self) -> Option<Frame> {
        (0..self.switches.len())
            .filter_map(|index| self.deadline(index))
            .min()
    }

    fn index(&self, switch: u8) -> Option<usize> {
        let index = usize::from(switch).checked_sub(1)?;
        (index < self.switches.len()).then_some(index)
    }

    fn after(&self, frame: Frame, ms: f64) -> Frame {
        frame.plus_ms(ms, self.rate)
    }

    /// When the stomp window of a press is over.
    fn alone_from(&self, press: Frame) -> Frame {
        if self.switches.len() > 1 {
            self.after(press, STOMP_MS)
        } else {
            press
        }
    }

    /// When a level that changed during the lock-out is believed.
    fn resync_at(&self, index: usize) -> Option<Frame> {
        let switch = &self.switches[index];
        let since = switch.other?;
        Some(switch.locked_until.max(self.after(since, SETTLE_MS)))
    }

    fn phase_deadline(&self, index: usize) -> Option<Frame> {
        let switch = &self.switches[index];
        match switch.phase {
            PressPhase::Down(press) if press.uses.has(GestureKind::Hold) => {
                Some(self.after(press.at, switch.settings.hold_ms))
            }
            // The second press that stays is no hold of its own where it may be a double; else it is one.
            PressPhase::DownAgain { second, .. } => {
                Some(self.after(second.at, switch.settings.hold_ms))
            }
            PressPhase::Down(press) | PressPhase::HeldOn(press)
                if press.uses.has(GestureKind::Long) =>
            {
                Some(self.after(press.at, LONG_HOLDS * switch.settings.hold_ms))
            }
            PressPhase::Idle | PressPhase::Down(_) | PressPhase::HeldOn(_) => None,
            PressPhase::Released { decide, .. }
            | PressPhase::ReleasedAgain { decide, .. }
            | PressPhase::Again { decide, .. } => Some(decide),
        }
    }

    fn deadline(&self, index: usize) -> Option<Frame> {
        let both = [self.resync_at(index), self.phase_deadline(index)];
        both.into_iter().flatten().min()
    }

    /// Lets every deadline up to `to` fire, in order.
    fn fire(&mut self, to: Frame, out: &mut GestureList) {
        loop {
            let next = (0..self.switches.len())
                .filter_map(|index| Some((self.deadline(index)?, index)))
                .min();
            let Some((at, index)) = next.filter(|(at, _)| *at <= to) else {
                return;
            };
            if self.phase_deadline(index) == Some(at) {
                self.decide(index, at, out);
            } else {
                self.resync(index, at, out);
            }
        }
    }

    /// What a switch waited for has come.
    fn decide(&mut self, index: usize, at: Frame, out: &mut GestureList) {
        let phase = std::mem::replace(&mut self.switches[index].phase, PressPhase::Idle);
        match phase {
            PressPhase::Idle => {}
            PressPhase::Down(press) if press.uses.has(GestureKind::Hold) => {
                emit(index, GestureKind::Hold, press, at, out);
                self.switches[index].phase = PressPhase::HeldOn(press);
            }
            PressPhase::Down(press) | PressPhase::HeldOn(press) => {
                emit(index, GestureKind::Long, press, at, out);
            }
            PressPhase::Released { press, .. } => emit(index, GestureKind::Tap, press, at, out),
            PressPhase::DownAgain { first, second } => {
                if first.uses.has(GestureKind::Double) {
                    return emit(index, GestureKind::Double, first, at, out);
                }
                emit(index, GestureKind::Tap, first, at, out);
                emit(index, GestureKind::Hold, second, at, out);
            }
            PressPhase::ReleasedAgain { first, second, .. } => {
                emit_two(index, first, second, at, out);
            }
            PressPhase::Again { first, second, .. } => {
                emit(index, again(second), first, at, out);
            }
        }
    }

    fn resync(&mut self, index: usize, at: Frame, out: &mut GestureList) {
        let switch = &mut self.switches[index];
        let since = switch.other.take().unwrap_or(at);
        let down = !switch.down.unwrap_or(false);
        if switch.settings.kind == SwitchKind::Latching {
            // No foot changes a latching switch twice within the lock-out: the contact has settled.
            switch.down = Some(down);
        } else {
            self.accept(index, down, since, at, out);
        }
    }

    /// Takes an edge that happened at `frame` and is believed at `now`.
    fn accept(
        &mut self,
        index: usize,
        down: bool,
        frame: Frame,
        now: Frame,
        out: &mut GestureList,
    ) {
        let lockout_ms = self.switches[index].settings.lockout_ms;
        let locked_until = self.after(now, lockout_ms);
        let switch = &mut self.switches[index];
        let first = switch.down.replace(down).is_none();
        switch.locked_until = locked_until;
        if down || switch.settings.kind == SwitchKind::Latching {
            self.press(index, frame, now, out);
        } else if !first {
            self.release(index, frame, now);
        }
    }

    fn press(&mut self, index: usize, frame: Frame, now: Frame, out: &mut GestureList) {
        let stomped = self.stomp(index, frame, now, out);
        self.switches[index].last_press = Some(frame);
        let before = std::mem::replace(&mut self.switches[index].phase, PressPhase::Idle);
        let uses = self.switches[index].uses;
        let press = Press { at: frame, uses };
        let mut earlier = None;
        match before {
            PressPhase::Released { press, .. } if !stomped && press.waits() => {
                earlier = Some((press, None));
            }
            PressPhase::Released { press, .. } => emit(index, GestureKind::Tap, press, now, out),
            PressPhase::ReleasedAgain { first, second, .. } if !stomped => {
                earlier = Some((first, Some(second)));
            }
            PressPhase::ReleasedAgain { first, second, .. }
            | PressPhase::DownAgain { first, second } => {
                emit_two(index, first, second, now, out);
            }
            PressPhase::Again { first, second, .. } => {
                emit(index, again(second), first, now, out);
            }
            PressPhase::Idle | PressPhase::Down(_) | PressPhase::HeldOn(_) => {}
        }
        if stomped {
            return;
        }
        emit(index, GestureKind::Press, press, now, out);
        self.switches[index].phase = self.pressed(index, press, earlier, now);
    }

    /// The phase that a press leads to, after those `earlier` ones that it may belong to.
    fn pressed(
        &self,
        index: usize,
        press: Press,
        earlier: Option<(Press, Option<Press>)>,
        now: Frame,
    ) -> PressPhase {
        let decide = self.alone_from(press.at).max(now);
        let is_momentary = self.switches[index].settings.kind == SwitchKind::Momentary;
        match earlier {
            Some((first, None)) if first.uses.has(GestureKind::Triple) => PressPhase::DownAgain {
                first,
                second: press,
            },
            Some((first, second)) => PressPhase::Again {
                first,
                second,
                decide,
            },
            None if is_momentary => PressPhase::Down(press),
            None if press.uses.has(GestureKind::Tap) => {
                let uses = Kinds::NONE.with(GestureKind::Tap);
                let press = Press { uses, ..press };
                PressPhase::Released { press, decide }
            }
            None => PressPhase::Idle,
        }
    }

    fn release(&mut self, index: usize, frame: Frame, now: Frame) {
        let double_ms = self.switches[index].settings.double_ms;
        let next = |press: &Press| {
            let alone = self.alone_from(press.at).max(now);
            match press.waits() {
                true => alone.max(self.after(frame, double_ms)),
                false => alone,
            }
        };
        self.switches[index].phase = match self.switches[index].phase {
            PressPhase::Down(press) if press.waits() || press.uses.has(GestureKind::Tap) => {
                let decide = next(&press);
                PressPhase::Released { press, decide }
            }
            PressPhase::Down(_) | PressPhase::HeldOn(_) => PressPhase::Idle,
            PressPhase::DownAgain { first, second } => {
                let decide = next(&Press {
                    at: second.at,
                    ..first
                });
                PressPhase::ReleasedAgain {
                    first,
                    second,
                    decide,
                }
            }
            other => other,
        };
    }

    /// Whether this press is part of a stomp over several switches; if so the others come to nothing.
    fn stomp(&mut self, index: usize, frame: Frame, now: Frame, out: &mut GestureList) -> bool {
        let mut stomped = false;
        for other in (0..self.switches.len()).filter(|other| *other != index) {
            let Some(last) = self.switches[other].last_press else {
                continue;
            };
            if frame >= self.alone_from(last) || last >= self.alone_from(frame) {
                continue;
            }
            stomped = true;
            let phase = std::mem::replace(&mut self.switches[other].phase, PressPhase::Idle);
            // Only the last press belongs to the stomp; what was before it was meant.
            match phase {
                PressPhase::Again {
                    first,
                    second: Some(second),
                    ..
                } => emit_two(other, first, second, now, out),
                PressPhase::Again { first, .. }
                | PressPhase::DownAgain { first, .. }
                | PressPhase::ReleasedAgain { first, .. } => {
                    emit(other, GestureKind::Tap, first, now, out);
                }
                PressPhase::Idle
                | PressPhase::Down(_)
                | PressPhase::HeldOn(_)
                | PressPhase::Released { .. } => {}
            }
        }
        stomped
    }
}

impl Switch {
    /// Whether the foot is down when the source says "down".
    fn foot_down(&self, down: bool) -> bool {
        down == (self.settings.polarity == Polarity::NormallyOpen)
    }
}
