//! What a screen's thread does, with time as an argument.

use super::super::draw::{draw_from, message_lines, message_rows};
use super::super::layout::Panel;
use super::super::page::Page;
use super::care::{Care, Light, Shift};
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
    /// The caller's number.
    pub id: u64,
    /// The page.
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
    panel: Panel,
    care: Care,
    screen: Option<Box<dyn Screen>>,
    light: Light,
    shift: Shift,
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
            panel,
            care,
            screen: None,
            light: Light::Full,
            shift: Shift::default(),
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
mod tests {
    use super::super::super::bitmap::Bitmap;
    use super::*;
    use std::sync::{Arc, Mutex};

    /// A panel that takes 30 ms and can be pulled out.
    #[derive(Default)]
    struct Bench {
        seen: Vec<String>,
        broken: bool,
        ms: u64,
        checked_every: Option<Duration>,
    }

    struct Fake(Arc<Mutex<Bench>>);

    impl Screen for Fake {
        fn show(&mut self, bitmap: &Bitmap, page: &Page) -> Result<(), ScreenError> {
            let mut bench = self.0.lock().unwrap();
            bench.ms += 30;
            if bench.broken {
                return Err(gone());
            }
            let line = match page {
                Page::Menu { chosen, .. } => format!("{chosen}"),
                _ => format!("{}", bitmap.lit()),
            };
            bench.seen.push(line);
            Ok(())
        }

        fn light(&mut self, light: Light) -> Result<(), ScreenError> {
            self.0.lock().unwrap().seen.push(format!("{light:?}"));
            Ok(())
        }

        fn check_every(&self) -> Option<Duration> {
            self.0.lock().unwrap().checked_every
        }

        fn check(&mut self) -> Result<(), ScreenError> {
            let bench = self.0.lock().unwrap();
            if bench.broken { Err(gone()) } else { Ok(()) }
        }

        fn name(&self) -> &str {
            "fake"
        }
    }

    fn gone() -> ScreenError {
        ScreenError::Refused {
            what: "panel".into(),
            why: "no answer".into(),
        }
    }

    struct Stage {
        bench: Arc<Mutex<Bench>>,
        worker: Worker,
        start: Instant,
        reports: Vec<String>,
    }

    impl Stage {
        fn new() -> Stage {
            Stage::with(Care::default())
        }

        #[allow(clippy::disallowed_methods)] // An Instant can only be had from the clock; the tests count from it.
        fn with(care: Care) -> Stage {
            let bench = Arc::new(Mutex::new(Bench::default()));
            let device = bench.clone();
            let open: Open = Box::new(move || {
                if device.lock().unwrap().broken {
                    return Err(ScreenError::Absent {
                        what: "panel".into(),
                        why: "no bus".into(),
                    });
                }
                Ok(Box::new(Fake(device.clone())) as Box<dyn Screen>)
            });
            Stage {
                bench,
                worker: Worker::new(open, Panel::new(128, 64), care),
                start: Instant::now(),
                reports: Vec::new(),
            }
        }

        fn post(&mut self, id: u64) {
            let page = Page::Menu {
                items: vec!["a".into(); 9],
                chosen: id as usize,
            };
            self.worker.post(Posted { id, page }, 0);
        }

        /// Steps at `ms`; the next call asked for, in ms.
        fn at(&mut self, ms: u64) -> Option<u64> {
            self.bench.lock().unwrap().ms = ms;
            let start = self.start;
            let bench = self.bench.clone();
            let clock = move || start + Duration::from_millis(bench.lock().unwrap().ms);
            let since = |at: Instant| (at - start).as_millis() as u64;
            let reports = &mut self.reports;
            let next = self
                .worker
                .step(start + Duration::from_millis(ms), &clock, &mut |report| {
                    reports.push(match report {
                        Report::Shown {
                            id,
                            from,
                            at,
                            dropped,
                        } => format!("{id} from {} at {} -{dropped}", since(from), since(at)),
                        Report::State(state, _) => state.name().into(),
                    });
                });
            next.map(since)
        }
    }

    #[test]
    fn the_newest_page_wins_and_ten_a_second_is_the_most() {
        let mut stage = Stage::new();
        assert_eq!(stage.at(0), None, "nothing posted, nothing opened");
        stage.post(1);
        assert_eq!(stage.at(10), None);
        stage.post(2);
        assert_eq!(stage.at(50), Some(110));
        stage.post(3);
        stage.post(4);
        assert_eq!(stage.at(60), Some(110));
        assert_eq!(stage.at(110), None);
        assert_eq!(
            stage.reports,
            ["present", "1 from 10 at 40 -0", "4 from 110 at 140 -2"]
        );
        assert_eq!(stage.bench.lock().unwrap().seen, ["1", "4"]);
    }

    #[test]
    fn a_lost_panel_is_tried_within_two_seconds_and_gets_the_newest_page() {
        let mut stage = Stage::new();
        stage.post(1);
        stage.at(0);
        stage.bench.lock().unwrap().broken = true;
        stage.post(2);
        assert_eq!(stage.at(200), Some(480), "a quarter second after it failed");
        stage.post(3);
        assert_eq!(stage.at(300), Some(480), "a new page does not hurry it");
        for (at, next) in [(480, 980), (980, 1980), (1980, 2980)] {
            assert_eq!(stage.at(at), Some(next), "never more than a second");
        }
        stage.bench.lock().unwrap().broken = false;
        assert_eq!(stage.at(2980), None);
        assert_eq!(
            stage.reports,
            [
                "present",
                "1 from 0 at 30 -0",
                "retrying",
                "absent",
                "present",
                "3 from 2980 at 3010 -1"
            ]
        );
    }

    #[test]
    fn a_long_message_turns_its_parts_and_begins_again() {
        let mut stage = Stage::new();
        let page = Page::Message {
            title: "faults".into(),
            lines: (1..=9).map(|n| format!("chart.toml:{n}:1 wrong")).collect(),
        };
        stage.worker.post(Posted { id: 7, page }, 0);
        let mut next = 0;
        for _ in 0..4 {
            next = stage.at(next).unwrap();
        }
        let seen = &stage.bench.lock().unwrap().seen;
        assert_eq!(seen.len(), 4);
        assert_ne!(seen[0], seen[1]);
        assert_eq!(seen[0], seen[2], "two parts, then the first again");
        assert_eq!(next, 4 * 4030);
    }

    #[test]
    fn nobody_looks_for_long_and_it_is_dim_then_dark_until_something_new_comes() {
        let care = Care {
            dim_after: Some(Duration::from_secs(10)),
            blank_after: Some(Duration::from_secs(30)),
            ..Care::default()
        };
        let mut stage = Stage::with(care);
        stage.post(1);
        assert_eq!(stage.at(0), Some(10_000));
        stage.post(1);
        assert_eq!(
            stage.at(5_000),
            Some(10_000),
            "the same again is nothing new"
        );
        assert_eq!(stage.at(10_000), Some(30_000));
        assert_eq!(stage.at(30_000), None);
        stage.post(2);
        assert_eq!(stage.at(40_000), Some(50_000));
        let seen = &stage.bench.lock().unwrap().seen;
        assert_eq!(seen[..], ["1", "1", "Dim", "Off", "2", "Full"]);
    }

    #[test]
    fn a_panel_pulled_out_while_nothing_changes_is_noticed_and_gets_its_page_again() {
        let mut stage = Stage::new();
        stage.bench.lock().unwrap().checked_every = Some(Duration::from_millis(500));
        stage.post(1);
        assert_eq!(stage.at(0), Some(530));
        assert_eq!(stage.at(530), Some(1030));
        stage.bench.lock().unwrap().broken = true;
        assert_eq!(stage.at(1030), Some(1280));
        stage.bench.lock().unwrap().broken = false;
        assert_eq!(stage.at(1280), Some(1810));
        assert_eq!(stage.bench.lock().unwrap().seen, ["1", "1"]);
        let told: Vec<&str> = stage
            .reports
            .iter()
            .map(|report| report.split(' ').next().unwrap())
            .collect();
        assert_eq!(told, ["present", "1", "retrying", "present", "1"]);
    }
}
