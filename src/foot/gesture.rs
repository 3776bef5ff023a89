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
//!   double time only where a double is in use.
//! * Presses of two switches less than 60 ms apart are one stomp and count as nothing. With two switches and
//!   more a tap is therefore certain 60 ms after its press at the earliest. A `Press` cannot wait that long,
//!   because it is what tempo and starts hang on: the first switch's press stands, the second's is dropped.

use crate::foot::kinds::{GestureKind, Kinds, Polarity, SwitchKind, SwitchSettings};
use crate::pedal::{Edge, SWITCHES};
use crate::time::Frame;
use arrayvec::ArrayVec;

/// The most gestures that one call can give: no switch has more than five under way.
pub const GESTURES: usize = 48;
/// Presses of two switches closer than this are one stomp, in ms.
pub const STOMP_MS: f64 = 60.0;
/// How long a level must have stood to be believed after the lock-out, in ms.
const SETTLE_MS: f64 = 10.0;

/// A gesture on a switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gesture {
    /// Which switch, from 1.
    pub switch: u8,
    pub kind: GestureKind,
    /// The press edge that began it.
    pub pressed: Frame,
    /// When it was certain (the press edge for a press, the hold time for a hold).
    pub at: Frame,
}

/// Gestures in the order in which they became certain.
pub type GestureList = ArrayVec<Gesture, GESTURES>;

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

#[derive(Debug, Clone, Copy)]
struct Press {
    at: Frame,
    uses: Kinds,
}

#[derive(Debug, Clone, Copy)]
enum PressPhase {
    /// Nothing is under way (the foot may still be down, all said).
    Idle,
    Down(Press),
    /// Pressed and released: a tap at `decide`, unless it becomes a double.
    Released {
        press: Press,
        decide: Frame,
    },
    /// Pressed again in time: a double at `decide`.
    Again {
        first: Press,
        decide: Frame,
    },
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
            PressPhase::Idle | PressPhase::Down(_) => None,
            PressPhase::Released { decide, .. } | PressPhase::Again { decide, .. } => Some(decide),
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
            PressPhase::Down(press) => emit(index, GestureKind::Hold, press, at, out),
            PressPhase::Released { press, .. } => emit(index, GestureKind::Tap, press, at, out),
            PressPhase::Again { first, .. } => emit(index, GestureKind::Double, first, at, out),
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
        let mut again = None;
        match before {
            PressPhase::Released { press, .. }
                if !stomped && press.uses.has(GestureKind::Double) =>
            {
                again = Some(press);
            }
            PressPhase::Released { press, .. } => emit(index, GestureKind::Tap, press, now, out),
            PressPhase::Again { first, .. } => emit(index, GestureKind::Double, first, now, out),
            PressPhase::Idle | PressPhase::Down(_) => {}
        }
        if stomped {
            return;
        }
        emit(index, GestureKind::Press, press, now, out);
        let decide = self.alone_from(frame).max(now);
        let switch = &mut self.switches[index];
        switch.phase = match again {
            Some(first) => PressPhase::Again { first, decide },
            None if switch.settings.kind == SwitchKind::Momentary => PressPhase::Down(press),
            None if uses.has(GestureKind::Tap) => {
                let uses = Kinds::NONE.with(GestureKind::Tap);
                let press = Press { at: frame, uses };
                PressPhase::Released { press, decide }
            }
            None => PressPhase::Idle,
        };
    }

    fn release(&mut self, index: usize, frame: Frame, now: Frame) {
        let PressPhase::Down(press) = self.switches[index].phase else {
            return;
        };
        let mut decide = self.alone_from(press.at).max(now);
        if press.uses.has(GestureKind::Double) {
            decide = decide.max(self.after(frame, self.switches[index].settings.double_ms));
        }
        let waits = press.uses.has(GestureKind::Tap) || press.uses.has(GestureKind::Double);
        self.switches[index].phase = if waits {
            PressPhase::Released { press, decide }
        } else {
            PressPhase::Idle
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
            if let PressPhase::Again { first, .. } = phase {
                // Only the second press belongs to the stomp; the tap before it was meant.
                emit(other, GestureKind::Tap, first, now, out);
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

/// Gives a gesture, if it is in use.
fn emit(index: usize, kind: GestureKind, press: Press, at: Frame, out: &mut GestureList) {
    if !press.uses.has(kind) {
        return;
    }
    let gesture = Gesture {
        switch: index as u8 + 1,
        kind,
        pressed: press.at,
        at,
    };
    let kept = out.try_push(gesture).is_ok();
    debug_assert!(kept, "more gestures than GESTURES");
}
