//! SIGHUP: the order to read the files anew, or the news that a terminal vanished. Both have the same number.

use signal_hook::consts::SIGHUP;
use signal_hook_registry::register_sigaction;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI32, Ordering};

/// Who sent it, where that was the kernel: only a terminal that hangs up makes it do so. No process has this number; one
/// outside of our container has 0.
const KERNEL: i32 = -1;

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
            let sender = match info.si_code {
                libc::SI_KERNEL => KERNEL,
                // SAFETY: what a process sends has this field set (sigaction(2)).
                _ => unsafe { info.si_pid() },
            };
            to_send.store(sender, Ordering::Relaxed);
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

/// The leader of our session: 0 where it is outside of our container, as such a sender is; rustix takes it for impossible.
fn our_shell() -> i32 {
    // SAFETY: it takes a number and gives one.
    unsafe { libc::getsid(0) }
}

#[cfg(test)]
mod tests {
    use super::is_order;

    #[test]
    fn a_terminal_that_vanished_is_no_order() {
        let (kernel, shell, other, outside) = (super::KERNEL, 50, 60, 0);
        let cases = [
            // sender, who leads the session, the terminal is gone, an order
            (kernel, shell, true, false),
            (kernel, shell, false, false),
            (shell, shell, true, false),
            (shell, shell, false, true),
            (other, shell, true, true),
            (other, shell, false, true),
            (outside, shell, true, true),
            (outside, outside, true, false),
            (outside, outside, false, true),
            (kernel, outside, false, false),
        ];
        for (sender, shell, is_gone, order) in cases {
            let is_order = is_order(sender, shell, || is_gone);
            assert_eq!(is_order, order, "{sender} {shell} {is_gone}");
        }
    }
}
