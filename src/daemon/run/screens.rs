//! The screens of the daemon: the terminal, files, and whatever the configuration lists.

use super::super::args::RunArgs;
use super::super::commands::page_panel;
use super::super::config::{Config, ScreenKind};
use super::inputs::Input;
use crate::device::DeviceState;
use crate::display::screens::{
    self, Open, PngScreen, Report, Runner, Screen, ScreenError, TerminalScreen,
};
use crate::display::{Page, Panel};
use std::path::PathBuf;
use std::sync::mpsc::SyncSender;

/// What the keys do, below the page in the terminal.
const LEGEND: &str =
    "1-4 switches   capital: hold (see README)   up/down louder/softer   p panic   q end";
/// Files of pages are magnified by this.
const FILE_SCALE: u32 = 4;

/// All screens.
pub struct Screens {
    runners: Vec<Runner>,
    shown: u64,
}

impl Screens {
    /// Starts a thread for each screen. One that does not start is told and left out.
    pub fn start(
        config: &Config,
        args: &RunArgs,
        variable: &dyn Fn(&str) -> Option<String>,
        sender: SyncSender<Input>,
    ) -> Screens {
        let mut wanted: Vec<(String, Open, Panel)> = Vec::new();
        let term = variable("TERM").unwrap_or_default();
        if args.terminal {
            wanted.push((
                "terminal".into(),
                terminal(term.clone()),
                page_panel(config),
            ));
        }
        if let Some(dir) = &args.pages {
            wanted.push(("pages".into(), files(dir.clone()), page_panel(config)));
        }
        for (index, screen) in config.display.screens.iter().enumerate() {
            let panel = screen.panel;
            match &screen.kind {
                ScreenKind::Terminal if args.terminal => {}
                ScreenKind::Terminal => {
                    wanted.push(("terminal".into(), terminal(term.clone()), panel))
                }
                ScreenKind::Png(dir) => {
                    wanted.push((format!("pages {}", index + 1), files(dir.clone()), panel));
                }
            }
        }
        let mut runners = Vec::new();
        for (name, open, panel) in wanted {
            let (to, device) = (sender.clone(), name.clone());
            let report = Box::new(move |report: Report| {
                let input = match report {
                    Report::Shown { id, at, .. } => Input::Shown(id, device.clone(), at),
                    Report::State(state) => {
                        let (state, error) = state_of(state);
                        Input::Device(device.clone(), state, error)
                    }
                };
                let _ = to.try_send(input);
            });
            match Runner::start(&name, open, panel, report) {
                Ok(runner) => runners.push(runner),
                Err(error) => log::warn!("screen {name}: {error}"),
            }
        }
        Screens { runners, shown: 0 }
    }

    /// Shows a page everywhere; gives its number.
    pub fn show(&mut self, page: &Page) -> u64 {
        self.shown += 1;
        for runner in &self.runners {
            runner.show(self.shown, page.clone());
        }
        self.shown
    }
}

fn state_of(state: screens::DeviceState) -> (DeviceState, Option<String>) {
    match state {
        screens::DeviceState::Present => (DeviceState::Present, None),
        screens::DeviceState::Absent(error) => (DeviceState::Absent, Some(error.to_string())),
        screens::DeviceState::Retrying(error) => (DeviceState::Retrying, Some(error.to_string())),
    }
}

fn terminal(term: String) -> Open {
    Box::new(move || {
        let screen: Box<dyn Screen> = Box::new(TerminalScreen::of_stdout(&term, LEGEND));
        Ok(screen)
    })
}

fn files(dir: PathBuf) -> Open {
    Box::new(move || -> Result<Box<dyn Screen>, ScreenError> {
        Ok(Box::new(PngScreen::open(dir.clone(), FILE_SCALE)?))
    })
}
