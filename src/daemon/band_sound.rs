//! What the band plays on: the SoundFont with its balance, and what is wrong with it.

use super::config::Config;
use super::setup;
use crate::audio::Trims;
use crate::audio::soundfont::SoundFont;
use std::path::Path;
use std::sync::Arc;

const NO_SOUND: &str = "no band sound";

/// What the band plays on.
#[derive(Debug, Default)]
pub struct BandSound {
    pub font: Option<Arc<SoundFont>>,
    /// Its balance.
    pub trims: Trims,
    /// What is wrong with it, for the page: a title, and a line.
    pub trouble: Option<(&'static str, String)>,
}

impl BandSound {
    /// Loads the SoundFont and its balance; tells what is missing. Takes its time.
    pub fn load(config: &Config, cache: Option<&Path>) -> BandSound {
        let (font, trouble) = match setup::font(config, None) {
            Ok(Some(font)) => {
                let gaps = setup::font_gaps(config, &font);
                gaps.lines().for_each(|line| log::warn!("{line}"));
                let title = match gaps.all_silent {
                    true => NO_SOUND,
                    false => "parts are silent",
                };
                (Some(font), gaps.silent.map(|line| (title, line)))
            }
            Ok(None) => (None, None),
            Err(failure) => {
                log::warn!("{}", failure.text);
                (None, Some((NO_SOUND, failure.text)))
            }
        };
        if font.is_none() {
            log::warn!("no SoundFont: click, reference notes and cues only");
        }
        // Without a balance the parts are as the font has them.
        let trims = setup::trims(config, font.as_ref(), cache).unwrap_or_else(|error| {
            log::warn!("the balance of the SoundFont cannot be metered: {error}");
            Trims::default()
        });
        BandSound {
            font,
            trims,
            trouble,
        }
    }
}
