//! What a screen's thread does, with time as an argument.

use super::super::draw::draw_from;
use super::super::layout::Panel;
use super::super::light::Light;
use super::super::message::{message_lines, message_rows};
use super::super::page::Page;
use super::care::{Care, PixelShift};
use super::{Screen, ScreenError};
use crate::device::{Backoff, DeviceState, Told};
use std::time::{Duration, Instant};

/// Least time between two pages: ten a second at most.
pub const FRAME_GAP: Duration = Duration::from_millis(100);
/// How long each part of a long message stands.
pub const READ_TIME: Duration = Duration::from_secs(4);

/// A page for a screen. `id` comes back in the report.
#[derive(Debug, Clone, PartialEq)]
pub struct Posted {
    pub id: u64,
    pub page: Page,
}

/// What a screen tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Report {
    /// A page is to be seen.
    Shown {
        /// The number given with it.
        id: u64,
        /// When sending it began.
        from: Instant,
        /// When the device had it: from here on it was really there.
        at: Instant,
        /// Pages overtaken by newer ones since the last one shown.
        dropped: u64,
    },
    /// The device's state changed; with the reason where it is not present.
    State(DeviceState, Option<String>),
}

/// Why a page is not shown, and whether its device was there.
type Lost = (DeviceState, ScreenError);

fn absent(error: ScreenError) -> Lost {
    (DeviceState::Absent, error)
}

fn retrying(error: ScreenError) -> Lost {
    (DeviceState::Retrying, error)
}

/// Opens a device.
pub type Open = Box<dyn FnMut() -> Result<Box<dyn Screen>, ScreenError> + Send>;

/// The work of one screen.
pub struct Worker {
    open: Open,
    /// The size that was asked for.
    wanted: Panel,
    /// The size of the last page.
    panel: Panel,
    care: Care,
    /// Its device is gone for good.
    ended: bool,
    screen: Option<Box<dyn Screen>>,
    light: Light,
    shift: PixelShift,
    /// When the page last said something new; `None`: that is still to be seen.
    changed_at: Option<Instant>,
    check_at: Option<Instant>,
    backoff: Backoff,
    told: Told,
    newest: Option<Posted>,
    waiting: bool,
    dropped: u64,
    first_line: usize,
    not_before: Option<Instant>,
    scroll_at: Option<Instant>,
}

impl Worker {
    /// For a device that `open` opens, at the size of `panel`. Nothing is opened yet.
    pub fn new(open: Open, panel: Panel, care: Care) -> Worker {
        Worker {
            open,
            wanted: panel,
            panel,
            care,
            ended: false,
            screen: None,
            light: Light::Full,
            shift: PixelShift::default(),
            changed_at: None,
            check_at: None,
            backoff: Backoff::DEVICE,
            told: Told::default(),
            newest: None,
            waiting: false,
            dropped: 0,
            first_line: 0,
            not_before: None,
            scroll_at: None,
        }
    }

    /// Takes a newer page; one that still waits is dropped, as are the `overtaken` ones before it.
    pub fn post(&mut self, posted: Posted, overtaken: u64) {
        self.dropped += overtaken + u64::from(self.waiting);
        if self
            .newest
            .as_ref()
            .is_none_or(|old| old.page != posted.page)
        {
            self.changed_at = None;
        }
        self.newest = Some(posted);
        self.waiting = true;
        self.first_line = 0;
        self.scroll_at = None;
    }

    /// Sends what waits at the next step, however soon after the last page; a device that failed is left alone.
    pub fn hurry(&mut self) {
        if self.screen.is_some() {
            self.not_before = None;
        }
    }

    /// Does what is due at `now` and tells `report`. `clock` reads the time again after a page was sent. Returns
    /// when to be called next, if nothing is posted before; `None`: not before the next page.
    pub fn step(
        &mut self,
        now: Instant,
        clock: &dyn Fn() -> Instant,
        report: &mut dyn FnMut(Report),
    ) -> Option<Instant> {
        if self.ended {
            return None;
        }
        if self.scroll_at.is_some_and(|at| at <= now) {
            self.scroll();
        }
        if self.waiting
            && let Some(at) = self.not_before.filter(|at| *at > now)
        {
            return Some(at);
        }
        let done = if self.waiting {
            self.send(now, clock, report)
        } else {
            self.rest(now)
        };
        if let Err((state, error)) = done {
            self.screen = None;
            self.light = Light::Full;
            self.check_at = None;
            if matches!(error, ScreenError::Ended { .. }) {
                self.ended = true;
                self.tell(DeviceState::Absent, Some(error.to_string()), report);
                return None;
            }
            self.waiting = self.newest.is_some();
            let next = clock() + self.backoff.wait();
            self.not_before = Some(next);
            self.tell(state, Some(error.to_string()), report);
            return Some(next);
        }
        self.next_call(now)
    }

    fn send(
        &mut self,
        now: Instant,
        clock: &dyn Fn() -> Instant,
        report: &mut dyn FnMut(Report),
    ) -> Result<(), Lost> {
        let Some(posted) = self.newest.as_ref() else {
            return Ok(());
        };
        let changed_at = *self.changed_at.get_or_insert(now);
        let screen = match &mut self.screen {
            Some(screen) => screen,
            none => none.insert((self.open)().map_err(absent)?),
        };
        let light = self.care.light(&posted.page, changed_at, now);
        let is_seen = light != Light::Off;
        if is_seen {
            self.shift.turn(&self.care, now);
            self.panel = screen.panel(self.wanted);
            let bitmap = draw_from(&posted.page, self.panel, self.first_line);
            let bitmap = self.shift.applied(bitmap);
            screen.show(&bitmap, &posted.page).map_err(retrying)?;
        }
        // Lit only when the new picture stands, so that the old one is not seen again.
        if light != self.light {
            screen.light(light).map_err(retrying)?;
            self.light = light;
        }
        let at = clock();
        self.check_at = screen.check_every().map(|pause| at + pause);
        let id = posted.id;
        self.scroll_at = self.is_long().then(|| at + READ_TIME);
        self.waiting = false;
        self.not_before = Some(now + FRAME_GAP);
        self.backoff.reset();
        self.tell(DeviceState::Present, None, report);
        if is_seen {
            report(Report::Shown {
                id,
                from: now,
                at,
                dropped: std::mem::take(&mut self.dropped),
            });
        }
        Ok(())
    }

    /// Nothing new to show: is the device still there, and does anyone look at it?
    fn rest(&mut self, now: Instant) -> Result<(), Lost> {
        let (Some(screen), Some(posted), Some(changed_at)) =
            (&mut self.screen, &self.newest, self.changed_at)
        else {
            return Ok(());
        };
        let light = self.care.light(&posted.page, changed_at, now);
        if light != self.light {
            screen.light(light).map_err(retrying)?;
            self.light = light;
        }
        if self.check_at.is_some_and(|at| at <= now) {
            screen.check().map_err(retrying)?;
            self.check_at = screen.check_every().map(|pause| now + pause);
        }
        Ok(())
    }

    fn next_call(&self, now: Instant) -> Option<Instant> {
        let changed_at = self.changed_at.filter(|_| self.screen.is_some());
        let care = changed_at.and_then(|changed_at| self.care.next_change(changed_at, now));
        [self.scroll_at, self.check_at, care]
            .into_iter()
            .flatten()
            .min()
    }

    fn tell(&mut self, state: DeviceState, reason: Option<String>, report: &mut dyn FnMut(Report)) {
        if self.told.is_new(state, reason.as_deref()) {
            report(Report::State(state, reason));
        }
    }

    fn message_length(&self) -> Option<usize> {
        match &self.newest.as_ref()?.page {
            Page::Message { lines, .. } => Some(message_lines(lines, self.panel)),
            _ => None,
        }
    }

    fn is_long(&self) -> bool {
        self.message_length()
            .is_some_and(|count| count > message_rows(self.panel))
    }

    /// On to the next part of a message; after the last, to the first.
    fn scroll(&mut self) {
        let count = self.message_length().unwrap_or(0);
        // The last row says how much is to come, while something is.
        let rows = message_rows(self.panel);
        let at_end = self.first_line + rows >= count;
        self.first_line = if at_end {
            0
        } else {
            self.first_line + rows.saturating_sub(1).max(1)
        };
        self.scroll_at = None;
        self.waiting = true;
    }
}

#[cfg(test)]
mod tests;
