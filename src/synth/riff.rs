//! The chunks of a SoundFont file (SoundFont 2.04, sections 3 to 5): where its tables and samples lie. Every chunk must lie
//! inside the file, so that no announced length makes anything allocate.

use super::fault::FontError;
use std::io::{Read, Seek, SeekFrom};

/// Where a SoundFont is read from.
pub trait Source: Read + Seek + Send {}

impl<T: Read + Seek + Send> Source for T {}

/// A stretch of the file, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    pub(super) at: u64,
    pub(super) length: u64,
}

/// Where everything lies that is played from.
#[derive(Debug, Default)]
pub(super) struct Places {
    /// The 16-bit samples. The 8 more bits of `sm24` are left out: they lie below what a 16-bit output holds.
    pub(super) samples: Option<Stretch>,
    tables: Vec<([u8; 4], Stretch)>,
}

impl Places {
    /// Finds the chunks of a file of `size` bytes.
    pub(super) fn find(source: &mut dyn Source, size: u64) -> Result<Places, FontError> {
        let mut walk = Walk {
            source,
            places: Places::default(),
        };
        walk.file(size)?;
        Ok(walk.places)
    }

    /// The bytes of a table.
    pub(super) fn table(
        &self,
        source: &mut dyn Source,
        name: &[u8; 4],
    ) -> Result<Vec<u8>, FontError> {
        let found = self.tables.iter().find(|(id, _)| id == name);
        let Some((_, stretch)) = found else {
            let name = String::from_utf8_lossy(name);
            return Err(FontError::Broken(format!("its table {name} is missing")));
        };
        bytes(source, *stretch)
    }
}

/// The bytes of a stretch, which is known to lie in the file.
pub(super) fn bytes(source: &mut dyn Source, stretch: Stretch) -> Result<Vec<u8>, FontError> {
    let mut bytes = vec![0; usize::try_from(stretch.length).unwrap_or(0)];
    read(source, stretch.at, &mut bytes)?;
    Ok(bytes)
}

/// Reads what lies at `at`.
pub(super) fn read(source: &mut dyn Source, at: u64, into: &mut [u8]) -> Result<(), FontError> {
    let found = source
        .seek(SeekFrom::Start(at))
        .and_then(|_| source.read_exact(into));
    found.map_err(|error| FontError::Broken(error.to_string()))
}

struct Walk<'a> {
    source: &'a mut dyn Source,
    places: Places,
}

impl Walk<'_> {
    fn file(&mut self, size: u64) -> Result<(), FontError> {
        let head = match size {
            12.. => self.array::<12>(0).ok(),
            _ => None,
        };
        if !head.is_some_and(|head| head.starts_with(b"RIFF") && head.ends_with(b"sfbk")) {
            return Err(FontError::NotSoundFont);
        }
        let mut at = 12;
        // INFO, sdta, pdta; what follows them is nobody's.
        for _ in 0..3 {
            let (id, length) = self.chunk(at, size)?;
            if &id != b"LIST" || length < 4 {
                return Err(FontError::Broken("a list is missing".into()));
            }
            let kind = self.array::<4>(at + 8)?;
            self.list(&kind, at + 12, at + 8 + length)?;
            at += 8 + length;
        }
        Ok(())
    }

    fn list(&mut self, kind: &[u8; 4], mut at: u64, end: u64) -> Result<(), FontError> {
        while at < end {
            let (id, length) = self.chunk(at, end)?;
            let stretch = Stretch { at: at + 8, length };
            match (kind, &id) {
                (b"INFO", b"ifil") if length >= 4 => {
                    let version = self.array::<2>(at + 8)?;
                    if u16::from_le_bytes(version) >= 3 {
                        return Err(FontError::Compressed);
                    }
                }
                (b"sdta", b"smpl") => {
                    if length >= 4 && &self.array::<4>(at + 8)? == b"OggS" {
                        return Err(FontError::Compressed);
                    }
                    self.places.samples = Some(stretch);
                }
                (b"pdta", table) if self.places.tables.len() < 64 => {
                    self.places.tables.push((*table, stretch));
                }
                _ => {}
            }
            at += 8 + length;
        }
        Ok(())
    }

    /// The name and length of the chunk at `at`, which must end at or before `end`.
    fn chunk(&mut self, at: u64, end: u64) -> Result<([u8; 4], u64), FontError> {
        let left = end.saturating_sub(at);
        if left < 8 {
            return Err(FontError::CutShort {
                chunk: "header".into(),
                announced: 8,
                left,
            });
        }
        let [a, b, c, d, length @ ..] = self.array::<8>(at)?;
        let (id, length) = ([a, b, c, d], u64::from(u32::from_le_bytes(length)));
        if length > left - 8 {
            return Err(FontError::CutShort {
                chunk: String::from_utf8_lossy(&id).escape_debug().to_string(),
                announced: length,
                left: left - 8,
            });
        }
        Ok((id, length))
    }

    fn array<const N: usize>(&mut self, at: u64) -> Result<[u8; N], FontError> {
        let mut bytes = [0; N];
        read(self.source, at, &mut bytes)?;
        Ok(bytes)
    }
}
