//! A SoundFont: its tables in memory, its samples in the file.

use super::fault::FontError;
use super::riff::{Places, Source, Stretch};
use super::sounds::{PresetId, Sounds};
use super::tables::{Header, Tables};
use super::zones;
use std::sync::{Arc, Mutex, PoisonError};

/// The most regions that a preset may have over all its instruments. Large orchestral libraries have a few
/// thousand.
const MAX_PRESET_REGIONS: usize = 16_384;
/// The most zones and generators of all presets together, each counted as often as a preset names it: about a second's work.
const MAX_RECORDS: usize = 1 << 24;
/// The most regions that may cover one key, whatever the velocity. Twenty stereo layers are forty.
const MAX_KEY_REGIONS: usize = 256;

/// A SoundFont whose tables are known to be sound.
pub struct SoundFont {
    tables: Tables,
    samples: Stretch,
    inner: Mutex<Inner>,
}

struct Inner {
    source: Box<dyn Source>,
    /// What was asked for last, so that each synth of the same sounds reads nothing.
    last: Option<(Vec<PresetId>, Arc<Sounds>)>,
}

impl std::fmt::Debug for SoundFont {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SoundFont")
            .field("presets", &self.presets().count())
            .finish_non_exhaustive()
    }
}

impl SoundFont {
    /// Reads the tables of a file of `size` bytes.
    ///
    /// # Errors
    /// When it is no SoundFont, compressed, cut short or broken, or has a preset that would stall the audio thread.
    pub fn read(source: impl Source + 'static, size: u64) -> Result<SoundFont, FontError> {
        let mut source: Box<dyn Source> = Box::new(source);
        let places = Places::find(&mut *source, size)?;
        let tables = Tables::read(&mut *source, &places)?;
        check_presets(&tables)?;
        let samples = places.samples.unwrap_or(Stretch { at: 0, length: 0 });
        let inner = Mutex::new(Inner { source, last: None });
        Ok(SoundFont {
            tables,
            samples,
            inner,
        })
    }

    /// The numbers of its presets, in the order of the file.
    pub fn presets(&self) -> impl Iterator<Item = PresetId> {
        self.tables.presets().map(id_of)
    }

    /// The preset that sounds for another: itself, the same program of bank 0 for a bank that is not there, the first kit for a
    /// drum kit, or else the first of all.
    pub fn stand_in(&self, wanted: PresetId) -> Option<PresetId> {
        let has = |id: PresetId| self.presets().any(|own| own == id).then_some(id);
        let bank = if wanted.bank == 128 { 128 } else { 0 };
        let program = if bank == 128 { 0 } else { wanted.program };
        has(wanted)
            .or_else(|| has(PresetId { bank, program }))
            .or_else(|| self.presets().min())
    }

    /// The samples and regions of some presets, of at most `most_bytes`. Reads the file where others were asked for last time:
    /// never on the audio thread.
    ///
    /// # Errors
    /// When the file can no longer be read, or the samples are more than allowed.
    pub fn sounds(&self, wanted: &[PresetId], most_bytes: u64) -> Result<Arc<Sounds>, FontError> {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((known, sounds)) = &inner.last
            && known == wanted
        {
            return Ok(Arc::clone(sounds));
        }
        let frames = u32::try_from(self.samples.length / 2).unwrap_or(u32::MAX);
        let chosen = wanted.iter().map(|id| {
            // The last of two with the same numbers.
            let own = self.stand_in(*id);
            let place = self.presets().map(Some).collect::<Vec<_>>();
            let place = place
                .into_iter()
                .rposition(|other| other == own && own.is_some());
            let regions = place.map(|place| zones::regions(&self.tables, place, frames));
            (*id, regions.unwrap_or_default())
        });
        let chosen = chosen.collect();
        let sounds = Arc::new(Sounds::load(
            chosen,
            &mut *inner.source,
            self.samples,
            most_bytes,
        )?);
        inner.last = Some((wanted.to_vec(), Arc::clone(&sounds)));
        Ok(sounds)
    }
}

fn id_of(header: &Header) -> PresetId {
    PresetId {
        bank: header.bank,
        program: header.program,
    }
}

/// A note costs the audio thread a look at every region of its preset and a start of each that covers its
/// key: both must stay small.
fn check_presets(tables: &Tables) -> Result<(), FontError> {
    let mut records = MAX_RECORDS;
    for (index, header) in tables.presets().enumerate() {
        let extent = zones::extent(tables, index, MAX_PRESET_REGIONS, records);
        records = records.saturating_sub(extent.records);
        let rule = if extent.regions > MAX_PRESET_REGIONS {
            format!("more than {MAX_PRESET_REGIONS} regions")
        } else if extent.most_on_a_key > MAX_KEY_REGIONS {
            format!("more than {MAX_KEY_REGIONS} regions on one key")
        } else {
            continue;
        };
        let name = header.name.split(|byte| *byte == 0).next();
        let name = String::from_utf8_lossy(name.unwrap_or_default());
        return Err(FontError::Broken(format!("its preset {name:?} has {rule}")));
    }
    if records == 0 {
        let told = "its presets name more zones than can be looked at".to_string();
        return Err(FontError::Broken(told));
    }
    Ok(())
}
