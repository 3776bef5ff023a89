//! Where the parts sit: what each plays on, where it stands, how much room is around it. A table of whole bands.

use crate::time::Part;

/// The parts that the synthesizer plays.
pub(crate) const BAND_PARTS: [Part; 4] = [Part::Comping, Part::Bass, Part::Drums, Part::Melody];

/// A part's place in the sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seat {
    /// General MIDI program, 0 to 127; for drums the kit.
    pub program: u8,
    /// 0 left, 64 middle, 127 right.
    pub pan: u8,
    /// How much goes to the reverb, 0 to 127.
    pub reverb: u8,
}

/// What the band sounds like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SoundStyle {
    /// An electric piano leaves the guitar its own colour.
    #[default]
    ElectricPiano,
    Piano,
    Organ,
    Vibraphone,
}

impl SoundStyle {
    /// Every style by its name in the configuration.
    pub const ALL: [(&'static str, SoundStyle); 4] = [
        ("electric piano", SoundStyle::ElectricPiano),
        ("piano", SoundStyle::Piano),
        ("organ", SoundStyle::Organ),
        ("vibraphone", SoundStyle::Vibraphone),
    ];

    /// The seats, in this order: comping, bass, drums, melody. The programs are those of General MIDI 1; a bass
    /// has little room around it, or it blurs.
    pub fn seats(self) -> Seats {
        let seat = |program, pan, reverb| Seat {
            program,
            pan,
            reverb,
        };
        let (acoustic_bass, fingered_bass) = (seat(32, 64, 14), seat(33, 64, 8));
        let (drums, flute) = (seat(0, 70, 30), seat(73, 84, 52));
        Seats(match self {
            SoundStyle::ElectricPiano => [seat(4, 40, 44), acoustic_bass, drums, flute],
            SoundStyle::Piano => [seat(0, 44, 40), acoustic_bass, drums, flute],
            SoundStyle::Organ => [seat(16, 44, 26), fingered_bass, drums, flute],
            SoundStyle::Vibraphone => [seat(11, 38, 50), acoustic_bass, drums, flute],
        })
    }
}

/// The seats of the parts that the synthesizer plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seats([Seat; BAND_PARTS.len()]);

impl Default for Seats {
    fn default() -> Seats {
        SoundStyle::default().seats()
    }
}

impl Seats {
    /// The seat of a part; one that has none sits where the comping does.
    pub fn of(&self, part: Part) -> Seat {
        let place = BAND_PARTS.iter().position(|own| *own == part);
        self.0[place.unwrap_or(0)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_band_is_spread_out_and_its_bass_is_the_driest_and_in_the_middle() {
        for (name, style) in SoundStyle::ALL {
            let seats = style.seats();
            let of = |part| seats.of(part);
            assert_eq!(of(Part::Bass).pan, 64, "{name}");
            assert!(
                of(Part::Comping).pan < 60 && of(Part::Drums).pan > 64,
                "{name}"
            );
            for part in [Part::Comping, Part::Drums, Part::Melody] {
                assert!(of(part).reverb > of(Part::Bass).reverb, "{name} {part:?}");
            }
            // General MIDI 1: 33 to 40 are basses, counted from 1.
            assert!((32..40).contains(&of(Part::Bass).program), "{name}");
        }
        assert_eq!(Seats::default().of(Part::Comping).program, 4);
    }
}
