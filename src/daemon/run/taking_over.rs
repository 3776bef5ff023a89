//! What a reload changes is taken over at its moment, and what cannot be is told.

use super::super::changes::{Changes, KEYS};
use super::super::config::Config;
use super::super::files::Failure;
use super::super::setup;
use super::live::Live;
use super::reloading::aside;
use crate::audio::{Command, Level};
use crate::device::DeviceState;
use crate::drill::Drill;
use crate::foot::Action;
use crate::practice::{EventKind, Library};
use crate::speech::SpeakerThread;
use crate::time::Frame;

impl Live {
    /// The files were read.
    pub(super) fn reloaded(&mut self, read: Result<(Config, Library), Failure>) {
        self.reloading.is_done();
        match read {
            Ok((_, library)) if library.charts.is_empty() && !self.rig.core.is_blank() => {
                self.not_taken("no chart is named".to_string());
            }
            Ok((config, library)) => self.take_over(config, library),
            Err(failure) => self.not_taken(failure.text),
        }
    }

    fn not_taken(&mut self, why: String) {
        log::warn!("not loaded: {why}");
        let lines = why.lines().map(str::to_string).collect();
        self.reloading.last = Some(Err(why));
        self.message("not loaded".into(), lines);
    }

    fn take_over(&mut self, config: Config, library: Library) {
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
        self.reloading.config = config;
        self.send_leads(self.rig.core.leads());
        if is_another {
            self.look_back();
        }
        log::info!("{}", changes.words());
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
