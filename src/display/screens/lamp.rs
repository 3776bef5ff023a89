//! The smallest screen: one lamp, for the beat or for what goes on.

use super::super::bitmap::Bitmap;
use super::super::page::Page;
use super::{Screen, ScreenError};
use std::time::Duration;

/// What a lamp shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampShows {
    /// A flash on each beat.
    Beat,
    /// Lit while it plays, blinking while something is armed or counted in, dark when stopped.
    State,
}

/// How long a beat's flash is.
const FLASH: Duration = Duration::from_millis(80);
/// Half a blink.
const BLINK: Duration = Duration::from_millis(250);

/// Switches the lamp; the reason where it could not.
pub type LampWire = Box<dyn FnMut(bool) -> Result<(), String> + Send>;

/// What a lamp does now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Glow {
    Dark,
    Lit,
    Blinking,
}

/// A lamp.
pub struct Lamp {
    shows: LampShows,
    wire: LampWire,
    what: String,
    glow: Glow,
    lit: bool,
    beat: Option<(u32, u32)>,
}

impl Lamp {
    /// A lamp that is dark; `what` names it in faults.
    pub fn new(shows: LampShows, what: impl Into<String>, wire: LampWire) -> Lamp {
        Lamp {
            shows,
            wire,
            what: what.into(),
            glow: Glow::Dark,
            lit: false,
            beat: None,
        }
    }

    fn switch(&mut self, lit: bool) -> Result<(), ScreenError> {
        self.lit = lit;
        (self.wire)(lit).map_err(|why| ScreenError::Refused {
            what: self.what.clone(),
            why,
        })
    }
}

/// Bar (0 in a count-in) and beat, as far as a page tells them.
fn beat_of(page: &Page) -> Option<(u32, u32)> {
    match page {
        Page::CountIn { count, .. } => Some((0, *count)),
        Page::Practice(page) | Page::ClockLost { below: page, .. } => {
            Some((page.bar, page.beats_to_change))
        }
        _ => None,
    }
}

fn glow_of(page: &Page) -> Glow {
    match page {
        Page::CountIn { .. } => Glow::Blinking,
        Page::Practice(page) if page.armed.is_some() => Glow::Blinking,
        Page::Practice(_) | Page::Breathe(_) | Page::ClockLost { .. } => Glow::Lit,
        _ => Glow::Dark,
    }
}

impl Screen for Lamp {
    fn show(&mut self, _: &Bitmap, page: &Page) -> Result<(), ScreenError> {
        match self.shows {
            LampShows::Beat => {
                let beat = beat_of(page);
                let is_new = beat.is_some() && beat != self.beat;
                self.beat = beat;
                self.glow = if is_new { Glow::Blinking } else { Glow::Dark };
                if is_new { self.switch(true) } else { Ok(()) }
            }
            LampShows::State => {
                let glow = glow_of(page);
                if glow == self.glow {
                    return Ok(());
                }
                self.glow = glow;
                self.switch(glow != Glow::Dark)
            }
        }
    }

    fn check_every(&self) -> Option<Duration> {
        match (self.shows, self.glow) {
            (LampShows::Beat, _) => self.lit.then_some(FLASH),
            (LampShows::State, Glow::Blinking) => Some(BLINK),
            (LampShows::State, _) => None,
        }
    }

    fn check(&mut self) -> Result<(), ScreenError> {
        let lit = self.shows == LampShows::State && !self.lit;
        self.switch(lit)
    }
}

impl Drop for Lamp {
    fn drop(&mut self) {
        let _ = (self.wire)(false);
    }
}

/// A wire to a GPIO line: high is lit.
///
/// # Errors
/// [`ScreenError::Absent`] when the line is not there or taken.
#[cfg(feature = "gpio")]
pub fn gpio_wire(line: &str) -> Result<LampWire, ScreenError> {
    use crate::device::lines::{OutputLine, PinLine};
    let taken = OutputLine::take(&PinLine::new(line), false);
    let mut pin = taken.map_err(|why| ScreenError::Absent {
        what: format!("lamp {line}"),
        why,
    })?;
    Ok(Box::new(move |lit| pin.set(lit)))
}

/// A wire to a MIDI port: `message` with its last byte 127 is lit, with 0 dark.
///
/// # Errors
/// [`ScreenError::Absent`] when there is no port with that in its name.
#[cfg(feature = "midi-alsa")]
pub fn midi_wire(name: &str, message: [u8; 2]) -> Result<LampWire, ScreenError> {
    use crate::device::midi_ports::{WantedPort, connect_output, output};
    let absent = |why: String| ScreenError::Absent {
        what: format!("lamp on MIDI port \"{name}\""),
        why,
    };
    let (_, id) = WantedPort::new(name, output).find().map_err(absent)?;
    let mut connection = connect_output(&id, "lamp").map_err(absent)?;
    Ok(Box::new(move |lit| {
        let [status, number] = message;
        let sent = connection.send(&[status, number, if lit { 127 } else { 0 }]);
        sent.map_err(|error| error.to_string())
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    fn counted(count: u32) -> Page {
        Page::CountIn {
            count,
            of: 4,
            counts: Vec::new(),
            at: 0,
            task: Vec::new(),
            first: crate::display::SetOnPage::default(),
            chord: String::new(),
            section: String::new(),
            stage: String::new(),
        }
    }

    fn paused() -> Page {
        Page::Paused {
            section: String::new(),
            stage: String::new(),
            bar: 1,
            tempo_qpm: 60,
            dotted_qpm: None,
        }
    }

    fn run(shows: LampShows, pages: &[Option<Page>]) -> String {
        let seen = Arc::new(Mutex::new(String::new()));
        let to = Arc::clone(&seen);
        let wire: LampWire = Box::new(move |lit| {
            to.lock().unwrap().push(if lit { '*' } else { '.' });
            Ok(())
        });
        let mut lamp = Lamp::new(shows, "lamp", wire);
        for page in pages {
            match page {
                Some(page) => lamp.show(&Bitmap::new(1, 1), page).unwrap(),
                None if lamp.check_every().is_some() => lamp.check().unwrap(),
                None => seen.lock().unwrap().push('_'),
            }
        }
        drop(lamp);
        let seen = seen.lock().unwrap();
        seen.clone()
    }

    #[test]
    fn a_beat_flashes_once_and_a_state_blinks_until_it_is_another() {
        let (one, two) = (|| Some(counted(1)), || Some(counted(2)));
        let beats = [one(), one(), None, None, two(), None, Some(paused()), None];
        assert_eq!(run(LampShows::Beat, &beats), "*._*._.");
        let states = [one(), None, None, two(), None, Some(paused()), None];
        assert_eq!(run(LampShows::State, &states), "*.*.._.");
    }
}
