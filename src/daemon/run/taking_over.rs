//! What a reload changes is taken over at its moment, and what cannot be is told.

use super::super::changes::{Changes, KEYS};
use super::super::chart_folders::FilesRead;
use super::super::config::Config;
use super::super::files::Failure;
use super::super::setup;
use super::live::Live;
use super::reloading::aside;
use crate::audio::{Command, Level};
use crate::chart::Chart;
use crate::device::DeviceState;
use crate::device::folders::Wanted;
use crate::drill::Drill;
use crate::foot::Action;
use crate::practice::{EventKind, Library};
use crate::speech::SpeakerThread;
use crate::time::Frame;

/// What the page says over faults.
const NOT_LOADED: &str = "not loaded";

impl Live {
    /// Reads anew what a signal asks for, or what changed by itself.
    pub(super) fn read_anew(&mut self) {
        if !self.reloading.is_free() {
            return;
        }
        match self.inputs.take_reload() {
            true => self.reloading.begin(self.inputs.sender()),
            false => self.reloading.begin_changed(self.inputs.sender()),
        }
    }

    /// The files were read.
    pub(super) fn reloaded(
        &mut self,
        (read, wanted): (Result<FilesRead, Failure>, Option<Wanted>),
    ) {
        self.reloading.is_done();
        let is_asked = self.reloading.is_asked;
        // Of a configuration that was not taken the old one's files are looked after.
        if let Some(wanted) = wanted.filter(|_| read.is_ok() || !is_asked) {
            self.look_after(wanted);
        }
        let mut read = match read {
            Ok(read) => read,
            Err(failure) => return self.not_taken(failure.text),
        };
        if !is_asked {
            self.keep_what_is_on(&mut read.library);
        }
        if read.library.charts.is_empty() && !self.rig.core.is_blank() {
            return self.not_taken("no chart is named".to_string());
        }
        let (charts, drill) = read.are_others;
        if !is_asked && !drill {
            read.library.drill = self.rig.core.drill().clone();
        }
        if is_asked || charts || drill || read.faults != self.reloading.told {
            self.take_over(read);
        }
    }

    fn look_after(&mut self, wanted: Wanted) {
        if wanted != self.reloading.watched {
            self.reloading.watched = wanted.clone();
            self.inputs.watch(wanted);
        }
    }

    /// The chart that is on stays though its file went: whoever pulls a stick out does not want another tune.
    fn keep_what_is_on(&self, library: &mut Library) {
        let on = self.rig.core.written_chart();
        let is_missing = |chart: &&Chart| library.place_of(&chart.title, 0).is_none();
        if let Some(chart) = on.filter(is_missing).filter(|_| library.set.is_none()) {
            library.charts.push(chart.clone());
        }
    }

    /// Nothing was taken. What changed by itself may change again and again: the same is told once.
    fn not_taken(&mut self, why: String) {
        let faults: Vec<String> = why.lines().map(str::to_string).collect();
        if self.reloading.is_asked || faults != self.reloading.told {
            log::warn!("not loaded: {why}");
            self.message(NOT_LOADED.into(), faults.clone());
        }
        self.reloading.told = faults;
        self.reloading.last = Some(Err(why));
    }

    /// Charts of folders that were not taken.
    pub(super) fn tell_faults(&mut self, faults: Vec<String>) {
        if !faults.is_empty() && (self.reloading.is_asked || faults != self.reloading.told) {
            log::warn!("not loaded: {}", faults.join("\n"));
            self.message(NOT_LOADED.into(), faults.clone());
        }
        self.reloading.told = faults;
    }

    fn take_over(&mut self, read: FilesRead) {
        let (config, library) = (read.config, read.library);
        let before = self.reloading.config.clone();
        let (config, mut changes) = before.reloaded(config);
        if !self.inputs.has_keys() {
            changes.needs_restart.retain(|name| *name != KEYS);
        }
        self.name_files(&mut changes, &library);
        let settings = self.reloading.files.settings(&config, self.rig.rate());
        let is_another = before.journal.player != config.journal.player;
        self.handle_now(EventKind::NeedsRestart(!changes.needs_restart.is_empty()));
        self.handle_now(EventKind::Reload(Box::new((library, settings))));
        self.take_levels(&before, &config);
        self.take_clock(&before, &config);
        self.take_voice(&before, &config);
        self.audio.configure(&config);
        self.outlets.hearing.configure(&config);
        self.outlets.diary.configure(&config);
        self.renew(&before, &config);
        let has_other_folders = before.chart_folders != config.chart_folders;
        self.reloading.config = config;
        if has_other_folders {
            self.watch_updates();
        }
        self.send_leads(self.rig.core.leads());
        if is_another {
            self.look_back();
        }
        if self.reloading.is_asked || changes != Changes::default() {
            log::info!("{}", changes.words());
        }
        changes.fault = (!read.faults.is_empty()).then(|| read.faults.join("\n"));
        self.tell_faults(read.faults);
        self.reloading.last = Some(Ok(changes));
        self.publish();
    }

    /// A drill of weak spots came, or there is none: the charts, the settings and all else stay.
    pub(super) fn weak_spots(&mut self, found: Result<Box<Drill>, String>) {
        self.reloading.is_done();
        let (drill, why) = match found {
            Ok(drill) => (Some(drill), None),
            Err(why) => (None, Some(why)),
        };
        self.handle_now(EventKind::WeakSpots(drill));
        self.rig.prepare();
        if let Some(why) = why {
            log::info!("no weak spots: {why}");
            self.message(Action::WeakSpots.name().into(), vec![why]);
        }
    }

    /// Charts and drill may be others though they are in the same files.
    fn name_files(&self, changes: &mut Changes, library: &Library) {
        let (charts, drill) = self.rig.core.differs_from(library);
        for (is_other, name) in [(drill, "drill"), (charts, "charts")] {
            if is_other && !changes.taken.contains(&name) {
                changes.taken.insert(0, name);
            }
        }
    }

    /// The master is the player's, and in the core's hands.
    fn take_levels(&mut self, before: &Config, config: &Config) {
        let known: Vec<(Level, f32)> = before.levels.all().collect();
        let changed = config.levels.all().filter(|level| !known.contains(level));
        for (level, db) in changed.filter(|(level, _)| *level != Level::Master) {
            let at = Frame(0);
            self.rig.send(Command::Level { at, level, db });
        }
    }

    fn take_clock(&mut self, before: &Config, config: &Config) {
        let (known, clock) = (&before.clock, &config.clock);
        if known.follow != clock.follow || known.mute_band != clock.mute_band {
            let follows = !clock.follow.order.is_empty();
            self.rig.core.follow_clock(follows, clock.mute_band);
        }
    }

    fn take_voice(&mut self, before: &Config, config: &Config) {
        let cache = self.reloading.cache.as_deref();
        let voice = |config| setup::speech(config, cache);
        if voice(before) == voice(config) {
            return self.rig.prepare();
        }
        match SpeakerThread::start(voice(config)) {
            Ok(voice) => {
                let before = self.rig.set_voice(Box::new(voice));
                let _ = aside(move || drop(before));
            }
            Err(error) => log::warn!("no thread for the new voice: {error}"),
        }
    }

    /// Sources and screens end and begin anew where they are others.
    fn renew(&mut self, before: &Config, config: &Config) {
        let sources = self.inputs.renew(config);
        let has_other_screens = config.has_other_screens(before);
        let screens = has_other_screens.then(|| self.outlets.renew_screens(config));
        if sources.is_none() && screens.is_none() {
            return;
        }
        self.reloading.renew(self.inputs.sender(), move || {
            if let Some(renew) = sources {
                renew();
            }
            if let Some(renew) = screens {
                renew();
            }
        });
    }

    /// Devices that are not wanted any more are not missed either.
    pub(super) fn dismissed(&mut self, names: Vec<String>) {
        for name in names {
            self.devices.remove(&name);
            self.handle_now(EventKind::Device {
                name,
                state: DeviceState::Present,
            });
        }
    }

    /// The new screens have shown nothing yet.
    pub(super) fn renewed(&mut self) {
        self.reloading.is_done();
        let page = self.rig.core.page();
        self.outcome.pages.push((page, None));
    }
}
