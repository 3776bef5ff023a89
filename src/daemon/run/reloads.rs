//! SIGHUP: the order to read the files anew, or the news that a terminal vanished. Both have the same number.

use signal_hook::consts::SIGHUP;
use signal_hook_registry::register_sigaction;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};

/// Who sent it, where that was the kernel: only a terminal that hangs up makes it do so.
const KERNEL: i32 = 0;

/// Whether a signal asks to read the files anew.
pub(super) struct Reloads {
    asked: Arc<AtomicBool>,
    /// The process that sent the last one.
    sender: Arc<AtomicI32>,
}

impl Reloads {
    /// Takes the signal from now on.
    pub(super) fn start() -> Reloads {
        let (asked, sender) = (
            Arc::new(AtomicBool::new(false)),
            Arc::new(AtomicI32::new(KERNEL)),
        );
        let (to_ask, to_send) = (Arc::clone(&asked), Arc::clone(&sender));
        let take = move |info: &libc::siginfo_t| {
            // SAFETY: a signal that the kernel sends has no such field set; it is 0 there (sigaction(2)).
            to_send.store(unsafe { info.si_pid() }, Ordering::Relaxed);
            to_ask.store(true, Ordering::Release);
        };
        // SAFETY: what runs in the handler stores two numbers and nothing else.
        if let Err(error) = unsafe { register_sigaction(SIGHUP, take) } {
            log::warn!("signal {SIGHUP} cannot be taken: {error}");
        }
        Reloads { asked, sender }
    }

    /// Whether one came that asks to read anew (once). Where the terminal `is_gone`, its shell passes the news on to
    /// whom it started: that asks for nothing.
    pub(super) fn take(&self, is_gone: impl FnOnce() -> bool) -> bool {
        self.asked.swap(false, Ordering::Acquire)
            && is_order(self.sender.load(Ordering::Relaxed), our_shell(), is_gone)
    }
}

/// Whether a signal of `sender` is an order to read anew, where `shell` leads our session.
fn is_order(sender: i32, shell: i32, is_gone: impl FnOnce() -> bool) -> bool {
    sender != KERNEL && (sender != shell || !is_gone())
}

fn our_shell() -> i32 {
    // Where that is not known nobody is our shell.
    rustix::process::getsid(None).map_or(-1, |leader| leader.as_raw_nonzero().get())
}

#[cfg(test)]
mod tests {
    use super::is_order;

    #[test]
    fn a_terminal_that_vanished_is_no_order() {
        let (kernel, shell, other) = (0, 50, 60);
        let cases = [
            // sender, the terminal is gone, an order
            (kernel, true, false),
            (kernel, false, false),
            (shell, true, false),
            (shell, false, true),
            (other, true, true),
            (other, false, true),
        ];
        for (sender, is_gone, order) in cases {
            assert_eq!(
                is_order(sender, shell, || is_gone),
                order,
                "{sender} {is_gone}"
            );
        }
    }
}
