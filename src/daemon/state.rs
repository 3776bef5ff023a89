//! The place to come back to, kept in a file.
// A file of our own.
#![allow(clippy::disallowed_methods)]

use super::{files, whole_file};
use crate::practice::Saved;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    chart: usize,
    title: String,
    stage: usize,
    item: usize,
    tempo_qpm: f64,
    key: Option<String>,
    master_db: f32,
    /// Left out by versions without rotations.
    #[serde(default)]
    turned: Vec<(String, u32)>,
}

/// Where the file stands.
pub fn path(state_dir: &Path) -> PathBuf {
    state_dir.join("place.json")
}

/// What was kept; nothing if there is none or it is damaged (a power cut may leave it empty).
pub fn load(path: &Path) -> Option<Saved> {
    let text = path.exists().then(|| files::text(path))?;
    match text.and_then(|text| parse(&text)) {
        Ok(saved) => Some(saved),
        Err(error) => {
            log::warn!("{}: not readable ({error}); starting fresh", path.display());
            None
        }
    }
}

/// What a file of ours says.
///
/// # Errors
/// When it is none of ours, or damaged.
pub fn parse(text: &str) -> Result<Saved, String> {
    let kept: Kept = serde_json::from_str(text).map_err(|error| error.to_string())?;
    Ok(Saved {
        chart: kept.chart,
        title: kept.title,
        stage: kept.stage,
        item: kept.item,
        tempo_qpm: kept.tempo_qpm,
        key: kept.key,
        master_db: kept.master_db,
        turned: kept.turned,
    })
}

/// Keeps a place, whole or not at all.
///
/// # Errors
/// When the directory cannot be written.
pub fn save(path: &Path, saved: &Saved) -> std::io::Result<()> {
    let kept = Kept {
        chart: saved.chart,
        title: saved.title.clone(),
        stage: saved.stage,
        item: saved.item,
        tempo_qpm: saved.tempo_qpm,
        key: saved.key.clone(),
        master_db: saved.master_db,
        turned: saved.turned.clone(),
    };
    let text = serde_json::to_string_pretty(&kept).map_err(std::io::Error::other)?;
    whole_file::write_whole(path, text.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_comes_back_and_damage_is_no_error() {
        let dir = tempfile::tempdir().unwrap();
        let path = path(dir.path());
        assert_eq!(load(&path), None);
        let saved = Saved {
            chart: 1,
            title: "Ferry at Six".into(),
            stage: 3,
            item: 2,
            tempo_qpm: 97.5,
            key: Some("C minor".into()),
            master_db: -14.0,
            turned: vec![("strings".into(), 7)],
        };
        save(&path, &saved).unwrap();
        assert_eq!(load(&path), Some(saved));
        for damage in ["", "{", "[1]", "{\"chart\":1}"] {
            std::fs::write(&path, damage).unwrap();
            assert_eq!(load(&path), None, "{damage}");
        }
    }
}
