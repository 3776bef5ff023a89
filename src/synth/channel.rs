//! A MIDI channel: its controllers and registered parameters (MIDI 1.0; what a reset leaves alone: RP-015).

/// What a controller's message asks the voices for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ask {
    Nothing,
    /// The sustain pedal went up.
    PedalUp,
    /// Controller 120.
    SoundOff,
    /// Controllers 123 to 127.
    NotesOff,
}

/// The state of a channel.
#[derive(Debug, Clone)]
pub(super) struct Channel {
    /// The place of its preset among those that are loaded.
    pub(super) preset: usize,
    pub(super) bank: u16,
    /// From 0 to 127, with a fraction where there is a second byte.
    pub(super) controllers: [f32; 128],
    pub(super) pressure: f32,
    /// From 0 to 16,383.
    pub(super) wheel: u16,
    pub(super) bend_semitones: f32,
    pub(super) pedal: bool,
    /// Grows with each change that voices have to hear of.
    pub(super) changes: u32,
    coarse_semitones: f32,
    fine_cents: f32,
    parameter: (u8, u8),
    data: (u8, u8),
}

/// No registered parameter.
const NO_PARAMETER: (u8, u8) = (127, 127);

impl Channel {
    pub(super) fn new(bank: u16) -> Channel {
        let mut controllers = [0.0; 128];
        // General MIDI 1: volume 100, pan in the middle, full expression; General MIDI 2: reverb 40.
        (controllers[7], controllers[10], controllers[11]) = (100.0, 64.0, 127.0);
        controllers[91] = 40.0;
        Channel {
            preset: 0,
            bank,
            controllers,
            pressure: 0.0,
            wheel: 8192,
            bend_semitones: 2.0,
            pedal: false,
            changes: 0,
            coarse_semitones: 0.0,
            fine_cents: 0.0,
            parameter: NO_PARAMETER,
            data: (0, 0),
        }
    }

    /// How far registered parameters 1 and 2 have moved the pitch.
    pub(super) fn tuning_cents(&self) -> f32 {
        100.0 * self.coarse_semitones + self.fine_cents
    }

    pub(super) fn bend(&mut self, low: u8, high: u8) {
        self.wheel = u16::from(low & 0x7F) | u16::from(high & 0x7F) << 7;
        self.changes += 1;
    }

    pub(super) fn press(&mut self, value: u8) {
        self.pressure = f32::from(value);
        self.changes += 1;
    }

    pub(super) fn control(&mut self, controller: u8, value: u8) -> Ask {
        self.changes += 1;
        match controller {
            6 => self.enter((value, self.data.1)),
            38 => self.enter((self.data.0, value)),
            98 | 99 => self.parameter = NO_PARAMETER,
            100 => self.parameter.1 = value,
            101 => self.parameter.0 = value,
            64 => return self.pedal(value >= 64),
            120 => return Ask::SoundOff,
            121 => return self.reset(),
            123..=127 => return Ask::NotesOff,
            32..=63 => self.set(controller - 32, |whole| {
                whole.trunc() + f32::from(value) / 128.0
            }),
            _ => self.set(controller, |_| f32::from(value)),
        }
        Ask::Nothing
    }

    fn set(&mut self, controller: u8, to: impl Fn(f32) -> f32) {
        if let Some(own) = self.controllers.get_mut(usize::from(controller)) {
            *own = to(*own);
        }
    }

    fn pedal(&mut self, down: bool) -> Ask {
        let lifted = self.pedal && !down;
        self.pedal = down;
        if lifted { Ask::PedalUp } else { Ask::Nothing }
    }

    fn enter(&mut self, data: (u8, u8)) {
        self.data = data;
        let (high, low) = (f32::from(data.0), f32::from(data.1));
        match self.parameter {
            (0, 0) => self.bend_semitones = high + low / 100.0,
            (0, 1) => self.fine_cents = (high * 128.0 + low - 8192.0) / 81.92,
            (0, 2) => self.coarse_semitones = high - 64.0,
            _ => {}
        }
    }

    /// RP-015: not volume, pan, sounds, effects nor what registered parameters hold.
    fn reset(&mut self) -> Ask {
        for controller in [1, 2, 4, 65, 66, 67] {
            self.set(controller, |_| 0.0);
        }
        self.set(11, |_| 127.0);
        self.pressure = 0.0;
        self.wheel = 8192;
        self.parameter = NO_PARAMETER;
        self.pedal(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn registered_parameters_are_those_of_midi() {
        // MIDI 1.0: 0 the range of the wheel in semitones and cents, 1 the fine tuning of 100 cents each way in 14 bits, 2 the
        // coarse one around 64; 127 and 127 is none. RP-015: a reset leaves them.
        let mut channel = Channel::new(0);
        let all: [&[(u8, u8)]; 4] = [
            &[(101, 0), (100, 0), (6, 12), (38, 50)],
            &[(101, 0), (100, 1), (6, 96), (38, 0)],
            &[(101, 0), (100, 2), (6, 62)],
            &[
                (101, 127),
                (100, 127),
                (6, 99),
                (1, 90),
                (11, 3),
                (7, 90),
                (121, 0),
            ],
        ];
        for (controller, value) in all.concat() {
            channel.control(controller, value);
        }
        assert_eq!(channel.bend_semitones, 12.5);
        assert_eq!(channel.tuning_cents(), -200.0 + 50.0);
        assert_eq!(
            [1, 7, 11].map(|at: usize| channel.controllers[at]),
            [0.0, 90.0, 127.0]
        );
    }
}
