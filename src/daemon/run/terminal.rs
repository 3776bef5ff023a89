//! The terminal's keys, read on a thread of their own until the terminal is lost, which is for good: it never comes back
//! under the same descriptor.

use super::super::config::Foot;
use super::input::Input;
use super::now::RATE_AT_REST;
use crate::device::DeviceState;
use crate::foot::Action;
use crate::pedal::keys::Keys;
use crate::pedal::stamps::StampClock;
use crate::pedal::typed::{ASK_RELEASES, Typed, TypedReader};
use crate::time::Frame;
use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use crossterm::event::{
    KeyboardEnhancementFlags, PopKeyboardEnhancementFlags, PushKeyboardEnhancementFlags,
};
use crossterm::style::Print;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::Errno;
use std::fs::File;
use std::io::{IsTerminal, Read};
use std::os::fd::AsFd;
use std::sync::Arc;
use std::sync::mpsc::SyncSender;
use std::time::Duration;

/// What the keys are called in `status` and on the page.
const NAME: &str = "keys of the terminal";
/// How exactly a key that is let go by itself is.
const WHILE_DOWN: Duration = Duration::from_millis(5);
/// So long an escape may be the start of a sequence (a slow line).
const WHILE_ESCAPED: Duration = Duration::from_millis(50);

/// The terminal in raw mode; given back when dropped.
pub(super) struct RawTerminal {
    file: Arc<File>,
}

impl RawTerminal {
    /// Takes the keys of the terminal that we were started in.
    ///
    /// # Errors
    /// In words, when there is none or it does not do that.
    pub(super) fn enter(
        sender: SyncSender<Input>,
        clock: StampClock,
        foot: &Foot,
    ) -> Result<RawTerminal, String> {
        let refused = |error: std::io::Error| format!("no keys of the terminal: {error}");
        let file = Arc::new(of_ours().map_err(refused)?);
        crossterm::terminal::enable_raw_mode().map_err(refused)?;
        let terminal = RawTerminal {
            file: Arc::clone(&file),
        };
        let longest_ms = foot.switches.iter().map(|switch| switch.hold_ms);
        let keys = Keys::new(false, RATE_AT_REST)
            .named(&foot.keys)
            .holding_ms(longest_ms.fold(0.0, f64::max));
        // It answers, if it can, among the keys.
        let _ = crossterm::execute!(std::io::stdout(), Print(ASK_RELEASES));
        let read = move || {
            let mut reader = KeyReader {
                sender,
                clock,
                keys,
                typed: TypedReader::default(),
            };
            let why = reader.read(&file);
            reader.lose(why);
        };
        let thread = std::thread::Builder::new().name("keys".into()).spawn(read);
        thread.map_err(refused)?;
        Ok(terminal)
    }

    /// Whether it has vanished: the window was closed, the line hung up.
    pub(super) fn is_gone(&self) -> bool {
        let mut watched = [PollFd::new(&self.file, PollFlags::empty())];
        let nothing_to_wait_for = Timespec {
            tv_sec: 0,
            tv_nsec: 0,
        };
        poll(&mut watched, Some(&nothing_to_wait_for)).is_ok() && is_lost(watched[0].revents())
    }
}

impl Drop for RawTerminal {
    fn drop(&mut self) {
        let _ = crossterm::execute!(std::io::stdout(), PopKeyboardEnhancementFlags);
        let _ = crossterm::terminal::disable_raw_mode();
    }
}

/// The terminal of standard input; where that is none, the one that we were started in.
fn of_ours() -> std::io::Result<File> {
    let input = std::io::stdin();
    match input.is_terminal() {
        true => Ok(File::from(input.as_fd().try_clone_to_owned()?)),
        false => File::open("/dev/tty"),
    }
}

fn is_lost(found: PollFlags) -> bool {
    found.intersects(PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL)
}

struct KeyReader {
    sender: SyncSender<Input>,
    clock: StampClock,
    keys: Keys,
    typed: TypedReader,
}

impl KeyReader {
    /// Reads until it is lost; why it is.
    fn read(&mut self, mut file: &File) -> String {
        let mut bytes = [0; 256];
        loop {
            let patience = self.patience();
            let patience = patience.and_then(|patience| Timespec::try_from(patience).ok());
            let mut watched = [PollFd::new(&file, PollFlags::IN)];
            match poll(&mut watched, patience.as_ref()) {
                Ok(_) | Err(Errno::INTR) => {}
                Err(error) => return error.to_string(),
            }
            let found = watched[0].revents();
            if is_lost(found) {
                return "the terminal was closed".to_string();
            }
            let at = self.clock.now();
            self.tend(at);
            if !found.contains(PollFlags::IN) {
                let alone = self.typed.settle();
                self.take(alone, at);
                continue;
            }
            match file.read(&mut bytes) {
                Ok(0) => return "the terminal's input ended".to_string(),
                Ok(count) => {
                    for byte in &bytes[..count] {
                        let typed = self.typed.byte(*byte);
                        self.take(typed, at);
                    }
                }
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => return error.to_string(),
            }
        }
    }

    /// How long there is nothing to do without a key; `None`: for ever.
    fn patience(&self) -> Option<Duration> {
        match (self.keys.next_deadline(), self.typed.is_waiting()) {
            (Some(_), _) => Some(WHILE_DOWN),
            (None, true) => Some(WHILE_ESCAPED),
            (None, false) => None,
        }
    }

    /// Lets go what is due.
    fn tend(&mut self, at: Frame) {
        let second_ago = self.clock.ago(Duration::from_secs(1)).0;
        self.keys.set_rate((at.0 - second_ago.min(at.0)) as u32);
        for edge in self.keys.until(at) {
            let _ = self.sender.try_send(Input::Edge(edge));
        }
    }

    fn take(&mut self, typed: Option<Typed>, at: Frame) {
        match typed {
            Some(Typed::TellsReleases) => {
                let flags = KeyboardEnhancementFlags::REPORT_EVENT_TYPES;
                let push = PushKeyboardEnhancementFlags(flags);
                if crossterm::execute!(std::io::stdout(), push).is_ok() {
                    self.keys.told_releases();
                }
            }
            Some(Typed::Key(key)) => self.press(&key, at),
            None => {}
        }
    }

    fn press(&mut self, key: &KeyEvent, at: Frame) {
        if let Some(input) = asked(key) {
            let _ = self.sender.try_send(input);
            return;
        }
        for edge in self.keys.key(key, at) {
            let _ = self.sender.try_send(Input::Edge(edge));
        }
    }

    /// The terminal is lost: no key stays down, and it is told, once.
    fn lose(mut self, why: String) {
        while let Some(due) = self.keys.next_deadline() {
            for edge in self.keys.until(due) {
                let _ = self.sender.send(Input::Edge(edge));
            }
        }
        let lost = Input::Device(NAME.to_string(), DeviceState::Absent, Some(why));
        let _ = self.sender.send(lost);
    }
}

/// What a key asks for that is no switch.
fn asked(key: &KeyEvent) -> Option<Input> {
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    let pressed = key.kind == KeyEventKind::Press;
    match key.code {
        KeyCode::Char('c') if control => Some(Input::End),
        KeyCode::Char('q') | KeyCode::Esc if pressed => Some(Input::End),
        KeyCode::Char('p') if pressed => Some(Input::Act(Action::Panic)),
        KeyCode::Up if pressed => Some(Input::Act(Action::Louder)),
        KeyCode::Down if pressed => Some(Input::Act(Action::Softer)),
        _ => None,
    }
}
