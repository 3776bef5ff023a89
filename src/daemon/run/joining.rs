//! The band joins in. Its sound is loaded beside the loop, because a large SoundFont on a slow card takes its time: until it is
//! there the first press plays with click, reference notes and voice.

use super::super::band_sound::BandSound;
use super::super::setup;
use super::input::Input;
use super::live::Live;
use super::reloading::aside;
use crate::audio::LateBand;
use std::sync::Arc;
use std::time::Instant;

impl Live {
    /// Has the band's sound loaded beside the loop.
    pub(super) fn load_band(&self) {
        let config = self.reloading.config.clone();
        let cache = self.reloading.cache.clone();
        let sender = self.inputs.sender();
        let begun = Instant::now();
        let _ = aside(move || {
            let sound = BandSound::load(&config, cache.as_deref());
            if sound.font.is_some() {
                log::info!("band sound loaded in {} ms", begun.elapsed().as_millis());
            }
            // Whoever waited for it may have ended.
            let _ = sender.send(Input::BandSound(Box::new(sound)));
        });
    }

    /// The sound is loaded: players that come have it, the one that is there gets it.
    pub(super) fn band_loaded(&mut self, sound: BandSound) {
        if let Some((title, line)) = sound.trouble {
            self.message(title.to_string(), vec![line]);
        }
        let Some(font) = sound.font else { return };
        self.audio.take_band(Arc::clone(&font), sound.trims.clone());
        if self.rig.end.is_none() {
            return;
        }
        let (config, rate) = (self.reloading.config.clone(), self.rig.rate());
        let sender = self.inputs.sender();
        let _ = aside(move || {
            let mut band = setup::prepared(&config, None, rate, 2).band;
            band.trims = sound.trims;
            match LateBand::new(font, band, rate) {
                Ok(late) => drop(sender.send(Input::LateBand(Box::new(late)))),
                Err(error) => log::warn!("no band sound: {error}"),
            }
        });
    }

    /// The band joins in, unless a player came meanwhile that has it, or has another rate.
    pub(super) fn band_joins(&mut self, late: LateBand) {
        let rate = self.rig.rate();
        if let Some(end) = self.rig.end.as_mut().filter(|end| !end.has_band()) {
            end.join(late, rate);
        }
    }
}
