//! A reload, as far as it takes its time: where the files are, and the threads that read them and begin what is new.

use super::super::args::RunArgs;
use super::super::chart_folders::{self, ChartFolders, files_read};
use super::super::checkup;
use super::super::config::{Config, Directories, Overlay};
use super::super::files::{self, Failure};
use super::super::setup;
use super::super::status::Reload;
use super::input::Input;
use crate::chart::Chart;
use crate::device::folders::Wanted;
use crate::doctor::Asked;
use crate::drill::Drill;
use crate::harmony::Habits;
use crate::practice::Settings;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::mpsc::SyncSender;

/// Where configuration, charts and drill are read from.
#[derive(Debug, Clone)]
pub struct Files {
    config: Option<PathBuf>,
    flags: Overlay,
    variable: fn(&str) -> Option<String>,
}

impl Files {
    /// As these arguments and the environment say.
    pub fn new(args: &RunArgs, variable: fn(&str) -> Option<String>) -> Files {
        Files {
            config: args.config.clone(),
            flags: args.over.clone(),
            variable,
        }
    }

    /// Reads the configuration.
    ///
    /// # Errors
    /// Every fault of the file (78).
    pub fn config(&self) -> Result<Config, Failure> {
        files::config(self.config.as_deref(), self.variable, self.flags.clone())
    }

    /// What the core is set up with.
    pub fn settings(&self, config: &Config, rate: u32) -> Settings {
        let charts_named_in = files::config_to_write(self.config.as_deref(), self.variable);
        Settings {
            charts_named_in: charts_named_in.display().to_string(),
            ..setup::settings(config, rate)
        }
    }

    /// What the doctor is to look at, where a service manager started us (systemd.exec(5)).
    pub fn asked_as_a_service(&self, config: &Config) -> Option<Asked> {
        (self.variable)("INVOCATION_ID")?;
        Some(checkup::asked(Ok(config), Path::new("/"), &self.variable))
    }
}

/// What the practice journal is asked with.
#[derive(Debug)]
pub struct Asking {
    /// Where it is kept, if anywhere.
    pub journal: Option<PathBuf>,
    pub player: String,
    /// What is practised; none where there is no chart yet.
    pub chart: Option<Chart>,
    pub habits: Habits,
}

impl Asking {
    /// Where the journal is kept.
    ///
    /// # Errors
    /// When there is none.
    pub fn journal(&self) -> Result<&Path, String> {
        const NONE: &str = match cfg!(feature = "journal") {
            true => "no journal is kept: [journal] in the configuration",
            false => "no journal is kept: this underfoot was built without it",
        };
        let kept = self
            .journal
            .as_deref()
            .filter(|_| cfg!(feature = "journal"));
        kept.ok_or(NONE.to_string())
    }
}

/// What a reload starts from.
#[derive(Debug)]
pub struct Reloading {
    /// The settings in force.
    pub config: Config,
    pub files: Files,
    folders: ChartFolders,
    /// What is looked after: the files that configuration and set list name, and folders of charts.
    pub watched: Wanted,
    /// Files changed by themselves, and were not read yet; these are still being written.
    pub changed: Option<BTreeSet<PathBuf>>,
    /// What is being read was asked for.
    pub is_asked: bool,
    /// Every fault that was told last.
    pub told: Vec<String>,
    /// Where rendered phrases are kept, if anywhere.
    pub cache: Option<PathBuf>,
    /// Where the practice journal is kept, if anywhere.
    journal: Option<PathBuf>,
    /// From the signal until everything new has begun.
    busy: bool,
    /// What came of the last one.
    pub last: Option<Reload>,
}

impl Reloading {
    /// Nothing was reloaded yet.
    pub fn new(
        config: Config,
        files: Files,
        folders: ChartFolders,
        watched: Wanted,
        directories: Directories,
    ) -> Reloading {
        Reloading {
            journal: directories.journal(&config.journal),
            config,
            files,
            folders,
            watched,
            changed: None,
            is_asked: false,
            told: Vec::new(),
            cache: directories.cache,
            busy: false,
            last: None,
        }
    }

    /// Whether the next may begin.
    pub fn is_free(&self) -> bool {
        !self.busy
    }

    /// Has everything read on a thread of its own; what comes of it is an input.
    pub fn begin(&mut self, sender: SyncSender<Input>) {
        let files = self.files.clone();
        self.is_asked = true;
        self.read(sender, move || files.config());
    }

    /// The same of charts and drill alone, by the settings in force, where their files changed. One that configuration or
    /// set list names and that is being written is waited for: it tells when it is whole.
    pub fn begin_changed(&mut self, sender: SyncSender<Input>) {
        let named = &self.watched.files;
        let Some(writing) = &self.changed else { return };
        if named.iter().any(|file| writing.contains(file)) {
            self.changed = None;
            return;
        }
        let config = self.config.clone();
        self.is_asked = false;
        self.read(sender, move || Ok(config));
    }

    fn read(
        &mut self,
        sender: SyncSender<Input>,
        config: impl FnOnce() -> Result<Config, Failure> + Send + 'static,
    ) {
        let writing = self.changed.take().unwrap_or_default();
        let folders = self.folders.clone();
        self.busy = aside(move || {
            let config = config();
            let wanted = config.as_ref().ok().map(chart_folders::wanted);
            let read = config.and_then(|config| files_read(config, &folders, &writing));
            // Whoever waited for it may have ended.
            let _ = sender.send(Input::Reloaded(Box::new((read, wanted))));
        });
    }

    /// What the practice journal is asked with about `chart`, by the settings in force.
    pub fn asking(&self, chart: Option<Chart>) -> Asking {
        Asking {
            journal: self.journal.clone(),
            player: self.config.journal.player.clone(),
            habits: self.config.harmony.clone(),
            chart,
        }
    }

    /// Has a drill of weak spots over `chart` made on a thread of its own, by the settings in force; it comes as an input.
    pub fn weak_spots(&mut self, chart: Option<Chart>, sender: SyncSender<Input>) {
        let asking = self.asking(chart);
        self.busy = aside(move || {
            let _ = sender.send(Input::WeakSpots(weak_drill(&asking).map(Box::new)));
        });
    }

    /// Has what is new begun on a thread of its own; [`Input::Renewed`] tells when it has.
    pub fn renew(&mut self, sender: SyncSender<Input>, work: impl FnOnce() + Send + 'static) {
        self.busy = aside(move || {
            work();
            let _ = sender.send(Input::Renewed);
        });
    }

    /// Everything new has begun.
    pub fn is_done(&mut self) {
        self.busy = false;
    }
}

/// The drill of weak spots over a chart, or why there is none.
#[cfg(feature = "journal")]
fn weak_drill(asking: &Asking) -> Result<Drill, String> {
    let chart = asking.chart.as_ref().ok_or("there is no chart")?;
    let habits = asking.habits.clone();
    super::super::weak_spots::drill(asking.journal()?, &asking.player, chart, habits)
}

#[cfg(not(feature = "journal"))]
fn weak_drill(asking: &Asking) -> Result<Drill, String> {
    asking.journal().map(|_| Drill::just_play())
}

/// Does something that takes its time beside the loop. Whether it is done.
pub fn aside(work: impl FnOnce() + Send + 'static) -> bool {
    let begun = std::thread::Builder::new()
        .name("reload".into())
        .spawn(work);
    if let Err(error) = &begun {
        log::warn!("not taken over: no thread for it: {error}");
    }
    begun.is_ok()
}
