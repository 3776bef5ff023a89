//! The screens of the daemon: the terminal, files, and whatever the configuration lists.

use super::super::args::RunArgs;
use super::super::config::{Config, LampAt, LampPlace, ScreenKind};
use super::super::setup::page_panel;
use super::input::Input;
use super::inputs::whole;
use crate::display::oled::OledSettings;
#[cfg(feature = "gpio")]
use crate::display::screens::gpio_wire;
#[cfg(feature = "midi-alsa")]
use crate::display::screens::midi_wire;
use crate::display::screens::{
    self, Care, CharacterScreen, FramebufferScreen, Lamp, Open, PngScreen, Report, Runner, Screen,
    ScreenError, TerminalScreen,
};
use crate::display::{Page, Panel};
use crate::pedal::keys;
use std::path::PathBuf;
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex};

/// Files of pages are magnified by this.
const FILE_SCALE: u32 = 4;

/// Screens that another thread may end and begin anew.
type SharedRunners = Arc<Mutex<Vec<(String, Runner)>>>;

/// The screens that the command line asks for.
#[derive(Debug, Clone)]
pub struct AskedFor {
    terminal: bool,
    pages: Option<PathBuf>,
    /// What kind the terminal is.
    term: String,
}

impl AskedFor {
    /// What these arguments say.
    pub fn new(args: &RunArgs, variable: &dyn Fn(&str) -> Option<String>) -> AskedFor {
        AskedFor {
            terminal: args.terminal,
            pages: args.take.pages.clone(),
            term: variable("TERM").unwrap_or_default(),
        }
    }
}

/// All screens.
pub struct Screens {
    asked: AskedFor,
    sender: SyncSender<Input>,
    runners: SharedRunners,
    shown: u64,
}

impl Screens {
    /// Starts a thread for each screen. One that does not start is told and left out.
    pub fn start(config: &Config, asked: AskedFor, sender: SyncSender<Input>) -> Screens {
        let runners = start(config, &asked, &sender);
        Screens {
            asked,
            sender,
            runners: Arc::new(Mutex::new(runners)),
            shown: 0,
        }
    }

    /// What ends these screens and begins those of another configuration; that takes its time, so it is for another
    /// thread.
    pub fn renew(&self, config: &Config) -> impl FnOnce() + Send + 'static {
        let (config, asked) = (config.clone(), self.asked.clone());
        let (sender, runners) = (self.sender.clone(), Arc::clone(&self.runners));
        move || {
            let (names, ended): (Vec<_>, Vec<_>) = whole(&runners).drain(..).unzip();
            drop(ended);
            // Whoever waited for it may have ended.
            let _ = sender.send(Input::Dismissed(names));
            let begun = start(&config, &asked, &sender);
            *whole(&runners) = begun;
        }
    }

    /// Shows a page everywhere; gives its number.
    pub fn show(&mut self, page: &Page) -> u64 {
        self.shown += 1;
        for (_, runner) in whole(&self.runners).iter() {
            runner.show(self.shown, page.clone());
        }
        self.shown
    }
}

fn start(config: &Config, asked: &AskedFor, sender: &SyncSender<Input>) -> Vec<(String, Runner)> {
    let mut runners = Vec::new();
    for (name, open, panel, care) in wanted(config, asked) {
        let (to, device) = (sender.clone(), name.clone());
        let report = Box::new(move |report: Report| {
            let input = match report {
                Report::Shown { id, at, .. } => Input::Shown(id, device.clone(), at),
                Report::State(state, error) => Input::Device(device.clone(), state, error),
            };
            let _ = to.try_send(input);
        });
        match Runner::start(&name, open, panel, care, report) {
            Ok(runner) => runners.push((name, runner)),
            Err(error) => log::warn!("screen {name}: {error}"),
        }
    }
    runners
}

/// What each screen is called, how it is opened, its size, and how it is spared.
type WantedScreen = (String, Open, Panel, Care);

/// The screens that the command line asks for, then those of the configuration, then its lamps.
fn wanted(config: &Config, asked: &AskedFor) -> Vec<WantedScreen> {
    let mut wanted: Vec<WantedScreen> = Vec::new();
    let none = Care::default();
    let legend = keys::legend(&config.foot.keys);
    let term = &asked.term;
    if asked.terminal {
        wanted.push((
            "terminal".into(),
            terminal(term.clone(), legend.clone()),
            page_panel(config),
            none,
        ));
    }
    if let Some(dir) = &asked.pages {
        wanted.push(("pages".into(), files(dir.clone()), page_panel(config), none));
    }
    for (index, screen) in config.display.screens.iter().enumerate() {
        let (panel, care) = (screen.panel, screen.care);
        let (name, open) = match &screen.kind {
            ScreenKind::Terminal if asked.terminal => continue,
            ScreenKind::Terminal => (
                "terminal".to_string(),
                terminal(term.clone(), legend.clone()),
            ),
            ScreenKind::Png(dir) => (format!("pages {}", index + 1), files(dir.clone())),
            ScreenKind::Oled(settings) => match oled(settings) {
                Some(open) => (format!("oled {}", index + 1), open),
                None => continue,
            },
            ScreenKind::Framebuffer(device) => {
                let device = device.clone();
                let open: Open = Box::new(move || boxed(FramebufferScreen::open(&device)));
                (format!("framebuffer {}", index + 1), open)
            }
            ScreenKind::Character(lcd) => {
                let lcd = lcd.clone();
                let open: Open = Box::new(move || boxed(CharacterScreen::open(&lcd)));
                (format!("letters {}", index + 1), open)
            }
        };
        wanted.push((name, open, panel, care));
    }
    for (index, lamp) in config.foot.lamps.iter().enumerate() {
        wanted.push((
            format!("lamp {}", index + 1),
            self::lamp(lamp),
            Panel::new(8, 8),
            none,
        ));
    }
    wanted
}

fn terminal(term: String, legend: String) -> Open {
    Box::new(move || {
        let screen: Box<dyn Screen> = Box::new(TerminalScreen::of_stdout(&term, &legend));
        Ok(screen)
    })
}

/// A lamp is a screen of one pixel.
fn lamp(lamp: &LampAt) -> Open {
    let lamp = lamp.clone();
    Box::new(move || {
        let (what, wire) = match &lamp.at {
            LampPlace::Line(line) => (format!("lamp {line}"), gpio_wire(line)?),
            LampPlace::Midi(port, message) => {
                (format!("lamp on {port}"), midi_wire(port, *message)?)
            }
        };
        Ok(Box::new(Lamp::new(lamp.shows, what, wire)) as Box<dyn Screen>)
    })
}

#[cfg(not(feature = "gpio"))]
fn gpio_wire(line: &str) -> Result<screens::LampWire, ScreenError> {
    Err(not_built(line))
}

#[cfg(not(feature = "midi-alsa"))]
fn midi_wire(port: &str, _: [u8; 2]) -> Result<screens::LampWire, ScreenError> {
    Err(not_built(port))
}

#[cfg(not(all(feature = "gpio", feature = "midi-alsa")))]
fn not_built(what: &str) -> ScreenError {
    ScreenError::Absent {
        what: what.to_string(),
        why: "this underfoot was built without it".to_string(),
    }
}

fn boxed<S: Screen + 'static>(
    opened: Result<S, ScreenError>,
) -> Result<Box<dyn Screen>, ScreenError> {
    opened.map(|screen| Box::new(screen) as Box<dyn Screen>)
}

#[cfg(feature = "oled")]
fn oled(settings: &OledSettings) -> Option<Open> {
    let settings = settings.clone();
    Some(Box::new(move || screens::open_oled(&settings)))
}

#[cfg(not(feature = "oled"))]
fn oled(_: &OledSettings) -> Option<Open> {
    log::warn!("this underfoot was built without OLED panels");
    None
}

fn files(dir: PathBuf) -> Open {
    Box::new(move || -> Result<Box<dyn Screen>, ScreenError> {
        Ok(Box::new(PngScreen::open(dir.clone(), FILE_SCALE)?))
    })
}
