//! One thread a screen, with a letter box for one page.
#![allow(clippy::disallowed_methods)] // An adapter: it lives on a thread of its own and reads the clock.

use super::super::layout::Panel;
use super::super::page::Page;
use super::care::Care;
use super::worker::{Open, Posted, Report, Worker};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::thread::JoinHandle;
use std::time::Instant;

#[derive(Default)]
struct PageSlot {
    newest: Option<Posted>,
    overtaken: u64,
    ended: bool,
}

#[derive(Default)]
struct Mailbox {
    slot: Mutex<PageSlot>,
    changed: Condvar,
}

impl Mailbox {
    fn lock(&self) -> MutexGuard<'_, PageSlot> {
        // The slot is whole after every statement, so what a panicking thread left can be used.
        self.slot
            .lock()
            .unwrap_or_else(|broken| broken.into_inner())
    }
}

/// A screen on its own thread. Dropping it shows the last page, closes the device and waits for the thread.
pub struct Runner {
    mailbox: Arc<Mailbox>,
    thread: Option<JoinHandle<()>>,
}

impl Runner {
    /// Starts the thread. `report` is called on it.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(
        name: &str,
        open: Open,
        panel: Panel,
        care: Care,
        mut report: Box<dyn FnMut(Report) + Send>,
    ) -> std::io::Result<Runner> {
        let mailbox = Arc::new(Mailbox::default());
        let inbox = mailbox.clone();
        let thread = std::thread::Builder::new()
            .name(format!("screen {name}"))
            .spawn(move || run(&inbox, Worker::new(open, panel, care), &mut *report))?;
        Ok(Runner {
            mailbox,
            thread: Some(thread),
        })
    }

    /// Leaves a page for the screen and returns at once; one that still lies there is dropped.
    pub fn show(&self, id: u64, page: Page) {
        let mut slot = self.mailbox.lock();
        slot.overtaken += u64::from(slot.newest.replace(Posted { id, page }).is_some());
        drop(slot);
        self.mailbox.changed.notify_one();
    }
}

impl Drop for Runner {
    fn drop(&mut self) {
        self.mailbox.lock().ended = true;
        self.mailbox.changed.notify_one();
        if let Some(thread) = self.thread.take()
            && thread.join().is_err()
        {
            log::error!("a screen's thread panicked");
        }
    }
}

fn run(mailbox: &Mailbox, mut worker: Worker, report: &mut dyn FnMut(Report)) {
    let mut wake: Option<Instant> = None;
    loop {
        let mut slot = mailbox.lock();
        while slot.newest.is_none() && !slot.ended && wake.is_none_or(|at| at > Instant::now()) {
            slot = match wake {
                None => mailbox
                    .changed
                    .wait(slot)
                    .unwrap_or_else(|broken| broken.into_inner()),
                Some(at) => {
                    let left = at.saturating_duration_since(Instant::now());
                    let waited = mailbox.changed.wait_timeout(slot, left);
                    waited.unwrap_or_else(|broken| broken.into_inner()).0
                }
            };
        }
        let (posted, overtaken) = (slot.newest.take(), std::mem::take(&mut slot.overtaken));
        let ended = slot.ended;
        drop(slot);
        if let Some(posted) = posted {
            worker.post(posted, overtaken);
        }
        if ended {
            worker.hurry();
        }
        wake = worker.step(Instant::now(), &Instant::now, report);
        if ended {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::bitmap::Bitmap;
    use super::super::{Screen, ScreenError};
    use super::*;
    use std::sync::mpsc::{Sender, channel};

    struct Told(Sender<usize>);

    impl Screen for Told {
        fn show(&mut self, _: &Bitmap, page: &Page) -> Result<(), ScreenError> {
            if let Page::Menu { chosen, .. } = page {
                self.0.send(*chosen).unwrap();
            }
            Ok(())
        }
    }

    #[test]
    fn the_last_page_is_always_shown_even_at_the_end() {
        let (pages, seen) = channel();
        let (reports, told) = channel();
        let open: Open = Box::new(move || Ok(Box::new(Told(pages.clone())) as Box<dyn Screen>));
        let report = Box::new(move |report| reports.send(report).unwrap());
        let runner =
            Runner::start("told", open, Panel::new(128, 64), Care::default(), report).unwrap();
        for id in 0..50 {
            let page = Page::Menu {
                items: vec!["a".into()],
                chosen: id as usize,
                told: String::new(),
                below: None,
            };
            runner.show(id, page);
        }
        drop(runner);
        let seen: Vec<usize> = seen.into_iter().collect();
        assert_eq!(seen.last(), Some(&49));
        let dropped: u64 = told
            .into_iter()
            .map(|report| match report {
                Report::Shown { dropped, .. } => dropped,
                Report::State(..) => 0,
            })
            .sum();
        assert_eq!(dropped + seen.len() as u64, 50, "each is shown or counted");
    }
}
