//! What brings the sounds of a SoundFont to one balance.

use crate::time::Part;

/// Gains by part and drum.
#[derive(Debug, Clone, PartialEq)]
pub struct Trims {
    pub(super) comping: f32,
    pub(super) bass: f32,
    pub(super) melody: f32,
    pub(super) drums: Vec<(u8, f32)>,
    /// For drums that are not metered: the middle of those that are.
    pub(super) other_drums: f32,
}

impl Default for Trims {
    /// Every sound as the font has it.
    fn default() -> Trims {
        Trims {
            comping: 1.0,
            bass: 1.0,
            melody: 1.0,
            drums: Vec::new(),
            other_drums: 1.0,
        }
    }
}

impl Trims {
    /// The gain of a key of a part.
    pub(crate) fn gain(&self, part: Part, key: u8) -> f32 {
        match part {
            Part::Drums => {
                let own = self.drums.iter().find(|(drum, _)| *drum == key);
                own.map_or(self.other_drums, |(_, gain)| *gain)
            }
            Part::Bass => self.bass,
            Part::Melody => self.melody,
            _ => self.comping,
        }
    }
}
