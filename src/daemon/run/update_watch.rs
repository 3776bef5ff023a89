//! Where other versions of the program are looked for: folders and sticks, and what came of an installation.

use super::super::update::{self, ENDINGS, Noticing, OUTCOME};
use super::input::{Input, UpdateInput};
use crate::device::folders::{FolderWatch, Wanted};
use crate::practice::UpdateOffer;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{SyncSender, TrySendError};
use std::sync::{Arc, Mutex};
use std::time::SystemTime;

/// What is known of other versions.
#[derive(Default)]
pub(super) struct Updates {
    pub noticing: Option<Arc<Mutex<Noticing>>>,
    /// Kept for as long as it is to tell.
    _watch: Option<FolderWatch>,
    /// What is offered, and where it lies.
    pub found: Option<(PathBuf, UpdateOffer)>,
    /// When the last installation ended that was told, or was told before us.
    pub told: Option<SystemTime>,
    /// Something changed and was not looked at yet; these files are still being written.
    pub changed: Option<BTreeSet<PathBuf>>,
    pub is_busy: bool,
}

impl Updates {
    /// Looks after folders, where packages are taken at all.
    pub fn start(folders: &[PathBuf], sender: SyncSender<Input>) -> Updates {
        let Some(noticing) = Noticing::here(folders) else {
            return Updates::default();
        };
        let wanted = Wanted {
            folders: folders.to_vec(),
            files: vec![OUTCOME.into()],
            endings: &ENDINGS,
        };
        let told = update::left(Path::new(OUTCOME)).and_then(|outcome| outcome.at);
        // Where there is no room it is told again.
        let changed = move |writing| {
            let changed = Input::Update(UpdateInput::Changed(writing));
            !matches!(sender.try_send(changed), Err(TrySendError::Full(_)))
        };
        let watch = FolderWatch::start(wanted, changed);
        let watch = watch.map_err(|error| log::warn!("updates are not looked after: {error}"));
        Updates {
            noticing: Some(Arc::new(Mutex::new(noticing))),
            _watch: watch.ok(),
            told,
            ..Updates::default()
        }
    }
}
