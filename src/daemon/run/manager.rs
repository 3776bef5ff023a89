//! The service manager, told from a thread of its own: a socket that nobody reads holds up nothing.

use sd_notify::NotifyState;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Words that may wait. A watchdog that is not fed because none is read has a reason to bite.
const WAITING: usize = 8;
/// The longest wait for the last word.
const LAST_WORD: Duration = Duration::from_millis(200);

/// What there is to tell (sd_notify(3)).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Word {
    Ready,
    /// The main loop goes on.
    Alive,
    AudioHangs,
    Stopping,
}

impl Word {
    fn state(self) -> NotifyState<'static> {
        match self {
            Word::Ready => NotifyState::Ready,
            Word::Alive => NotifyState::Watchdog,
            Word::AudioHangs => NotifyState::Status("the audio server hangs"),
            Word::Stopping => NotifyState::Stopping,
        }
    }
}

/// Who started us and watches over us.
pub struct Manager {
    words: Option<SyncSender<Word>>,
    thread: Option<JoinHandle<()>>,
}

impl Manager {
    /// The one named by `NOTIFY_SOCKET`; without one there is nobody to tell, which is no fault.
    pub fn start() -> Manager {
        Manager::told_by(|word| {
            let _ = sd_notify::notify(&[word.state()]);
        })
    }

    fn told_by(mut tell: impl FnMut(Word) + Send + 'static) -> Manager {
        let (words, waiting): (SyncSender<Word>, Receiver<Word>) = sync_channel(WAITING);
        let run = move || waiting.into_iter().for_each(&mut tell);
        let thread = std::thread::Builder::new()
            .name("manager".into())
            .spawn(run);
        Manager {
            words: Some(words),
            thread: thread.ok(),
        }
    }

    /// Tells it at once; where too much waits already it is not told. Never blocks.
    pub fn tell(&self, word: Word) {
        if let Some(words) = &self.words {
            let _ = words.try_send(word);
        }
    }

    /// Nothing more will be told: waits a moment for what still waits.
    pub fn finish(&mut self) {
        self.words = None;
        let (thread, until) = (self.thread.take(), Instant::now() + LAST_WORD);
        let is_late = |thread: &JoinHandle<()>| !thread.is_finished() && Instant::now() < until;
        while thread.as_ref().is_some_and(is_late) {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    #[test]
    fn all_is_told_in_order() {
        let told = Arc::new(Mutex::new(Vec::new()));
        let keep = told.clone();
        let mut manager = Manager::told_by(move |word| keep.lock().expect("alone").push(word));
        let words = [Word::Ready, Word::Alive, Word::Stopping];
        words.into_iter().for_each(|word| manager.tell(word));
        manager.finish();
        assert_eq!(*told.lock().expect("alone"), words);
    }

    #[test]
    fn a_manager_that_reads_nothing_holds_up_nothing() {
        // It hangs on its first word; none of the thousand waits for it.
        let hanging = Arc::new(Mutex::new(()));
        let (held, hangs) = (hanging.clone(), hanging.lock().expect("alone"));
        let mut manager = Manager::told_by(move |_| drop(held.lock()));
        (0..1000).for_each(|_| manager.tell(Word::Alive));
        manager.finish();
        drop(hangs);
    }
}
