//! Spoken sounds kept: a few MiB in memory, all of them on disk.

// The disk cache is an adapter: it reads and writes files.
#![allow(clippy::disallowed_methods)]

use super::sound::SpokenSound;
use crate::device::plain_file::open_plain;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

/// The most bytes of samples in memory.
pub const MEMORY_BYTES: usize = 4 * 1024 * 1024;
/// The most bytes on disk; at the start the oldest files beyond it go.
pub const DISK_BYTES: u64 = 64 * 1024 * 1024;

/// What a sound is kept under: a hash of engine, voice, rate and text (as the engine is told it).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct CacheKey(u128);

impl CacheKey {
    /// The key of a text spoken by an engine of this identity.
    pub fn new(identity: &str, text: &str) -> CacheKey {
        // Counts up when sounds are processed differently from before.
        const PROCESSING: &str = "2";
        let parts = [PROCESSING, "\0", identity, "\0", text];
        CacheKey(fnv(parts.iter().flat_map(|part| part.bytes())))
    }

    fn file_name(self) -> String {
        format!("{:032x}.wav", self.0)
    }
}

/// FNV-1a of 128 bits; offset basis and prime from draft-eastlake-fnv (public domain).
fn fnv(bytes: impl Iterator<Item = u8>) -> u128 {
    bytes.fold(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d, |hash, byte| {
        (hash ^ u128::from(byte)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b)
    })
}

/// The cache.
#[derive(Debug, Default)]
pub struct Cache {
    dir: Option<PathBuf>,
    /// The last used last.
    memory: Vec<(CacheKey, Arc<SpokenSound>)>,
}

impl Cache {
    /// A cache with its files in `dir` (made if need be), or in memory alone.
    ///
    /// # Errors
    /// When the directory cannot be made; the caller may go on with `None`.
    pub fn open(dir: Option<&Path>) -> std::io::Result<Cache> {
        if let Some(dir) = dir {
            std::fs::create_dir_all(dir)?;
            prune(dir, DISK_BYTES)?;
        }
        Ok(Cache {
            dir: dir.map(Path::to_path_buf),
            memory: Vec::new(),
        })
    }

    /// The sound kept under `key`, from memory or from disk. A file that cannot be read is as good as none.
    pub fn get(&mut self, key: CacheKey) -> Option<Arc<SpokenSound>> {
        if let Some(at) = self.memory.iter().position(|(known, _)| *known == key) {
            let entry = self.memory.remove(at);
            let sound = Arc::clone(&entry.1);
            self.memory.push(entry);
            return Some(sound);
        }
        let path = self.dir.as_ref()?.join(key.file_name());
        let mut bytes = Vec::new();
        open_plain(&path).ok()?.read_to_end(&mut bytes).ok()?;
        if !is_whole(&bytes) {
            return None;
        }
        let sound = Arc::new(SpokenSound::from_wav(&bytes).ok()?);
        self.remember(key, &sound);
        Some(sound)
    }

    /// Keeps a sound. Written beside its place and renamed, but not synced: a slow card would hold up what is to be said
    /// next, and what a power cut takes is made anew.
    ///
    /// # Errors
    /// When it could not be written; it is kept in memory all the same.
    pub fn put(
        &mut self,
        key: CacheKey,
        sound: SpokenSound,
    ) -> (Arc<SpokenSound>, std::io::Result<()>) {
        let sound = Arc::new(sound);
        self.remember(key, &sound);
        let written = match &self.dir {
            Some(dir) => write(dir, &key.file_name(), &sound),
            None => Ok(()),
        };
        (sound, written)
    }

    /// Bytes of samples in memory.
    pub fn memory_bytes(&self) -> usize {
        self.memory.iter().map(|(_, sound)| bytes_of(sound)).sum()
    }

    fn remember(&mut self, key: CacheKey, sound: &Arc<SpokenSound>) {
        self.memory.retain(|(known, _)| *known != key);
        self.memory.push((key, Arc::clone(sound)));
        while self.memory_bytes() > MEMORY_BYTES && self.memory.len() > 1 {
            self.memory.remove(0);
        }
    }
}

fn bytes_of(sound: &SpokenSound) -> usize {
    2 * sound.samples.len()
}

fn write(dir: &Path, name: &str, sound: &SpokenSound) -> std::io::Result<()> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: sound.rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).map_err(std::io::Error::other)?;
    for &sample in &sound.samples {
        writer.write_sample(sample).map_err(std::io::Error::other)?;
    }
    writer.finalize().map_err(std::io::Error::other)?;
    let mut file = tempfile::NamedTempFile::new_in(dir)?;
    file.write_all(bytes.get_ref())?;
    file.persist(dir.join(name)).map_err(|error| error.error)?;
    Ok(())
}

/// Whether a file is as long as its header says (RIFF: the bytes after the first eight): a power cut may cut it short.
fn is_whole(wav: &[u8]) -> bool {
    let told = wav.get(4..8).and_then(|told| told.try_into().ok());
    told.is_some_and(|told| u32::from_le_bytes(told) as usize + 8 == wav.len())
}

/// Takes the oldest files away until the rest is at most `most` bytes.
fn prune(dir: &Path, most: u64) -> std::io::Result<()> {
    let mut files: Vec<(SystemTime, u64, PathBuf)> = Vec::new();
    for entry in std::fs::read_dir(dir)? {
        let entry = entry?;
        let path = entry.path();
        let meta = entry.metadata()?;
        if meta.is_file() && path.extension().is_some_and(|end| end == "wav") {
            files.push((meta.modified()?, meta.len(), path));
        }
    }
    files.sort();
    let mut total: u64 = files.iter().map(|(_, len, _)| len).sum();
    for (_, len, path) in files {
        if total <= most {
            break;
        }
        std::fs::remove_file(path)?;
        total -= len;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(len: usize) -> SpokenSound {
        SpokenSound {
            rate: 22_050,
            samples: (0..len).map(|at| (at % 100) as i16).collect(),
        }
    }

    #[test]
    fn keys_differ_by_engine_and_text() {
        // The vector of draft-eastlake-fnv for "a", from memory.
        assert_eq!(
            fnv(b"a".iter().copied()),
            0xd228_cb69_6f1a_8caf_7891_2b70_4e4a_8964
        );
        let keys = [
            CacheKey::new("1.51 en", "D"),
            CacheKey::new("1.51 en", "E"),
            CacheKey::new("1.52 en", "D"),
            CacheKey::new("1.51 enD", ""),
        ];
        for (index, key) in keys.iter().enumerate() {
            assert!(!keys[..index].contains(key));
        }
        assert_eq!(CacheKey::new("1.51 en", "D"), keys[0]);
    }

    #[test]
    fn sounds_survive_on_disk() {
        let dir = tempfile::tempdir().unwrap();
        let key = CacheKey::new("engine", "D minor");
        let mut cache = Cache::open(Some(dir.path())).unwrap();
        assert!(cache.get(key).is_none());
        cache.put(key, sound(5000)).1.unwrap();
        let mut again = Cache::open(Some(dir.path())).unwrap();
        assert_eq!(*again.get(key).unwrap(), sound(5000));
        let files = std::fs::read_dir(dir.path()).unwrap().count();
        assert_eq!(files, 1, "no temporary file is left");
    }

    #[test]
    fn a_broken_file_is_as_good_as_none() {
        let dir = tempfile::tempdir().unwrap();
        let key = CacheKey::new("engine", "D minor");
        let path = dir.path().join(key.file_name());
        std::fs::write(&path, b"RIFF").unwrap();
        let mut cache = Cache::open(Some(dir.path())).unwrap();
        assert!(cache.get(key).is_none());
        cache.put(key, sound(10)).1.unwrap();
        let whole = std::fs::read(&path).unwrap();
        std::fs::write(&path, &whole[..whole.len() - 2]).unwrap();
        let mut cut_short = Cache::open(Some(dir.path())).unwrap();
        assert!(cut_short.get(key).is_none());
        cut_short.put(key, sound(10)).1.unwrap();
        assert_eq!(
            *Cache::open(Some(dir.path())).unwrap().get(key).unwrap(),
            sound(10)
        );
    }

    #[test]
    fn memory_is_bounded_and_the_last_used_stays() {
        let mut cache = Cache::open(None).unwrap();
        let key = |n: usize| CacheKey::new("engine", &n.to_string());
        for n in 0..40 {
            let (_, written) = cache.put(key(n), sound(100_000));
            written.unwrap();
            assert!(cache.get(key(0)).is_some(), "used again and again");
            assert!(cache.memory_bytes() <= MEMORY_BYTES);
        }
        assert!(cache.get(key(1)).is_none());
        assert!(cache.get(key(39)).is_some());
    }

    #[test]
    fn the_oldest_files_go_first() {
        let dir = tempfile::tempdir().unwrap();
        for (name, age) in [("a.wav", 30), ("b.wav", 20), ("c.wav", 10), ("d.txt", 40)] {
            let path = dir.path().join(name);
            std::fs::write(&path, [0; 100]).unwrap();
            let when = SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(1_000_000 - age);
            let times = std::fs::FileTimes::new().set_modified(when);
            let file = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
            file.set_times(times).unwrap();
        }
        prune(dir.path(), 200).unwrap();
        let left = |name| dir.path().join(name).exists();
        assert_eq!(
            ["a.wav", "b.wav", "c.wav", "d.txt"].map(left),
            [false, true, true, true]
        );
    }
}
