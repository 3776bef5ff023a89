//! Threads that stamp what comes in: a foot and a clock are not to wait for a page that is drawn.

use std::io;

/// Below the threads of the audio server (10, and 5 for its clients, by default), above all that is not in real time.
const PRIORITY: i32 = 3;

/// Gives the calling thread real-time priority (SCHED_FIFO), where the system allows it; a thread that has some keeps its
/// own.
///
/// # Errors
/// The system's, mostly that it is not allowed (see `RLIMIT_RTPRIO` in setrlimit(2)). The thread goes on as it was.
pub fn hurry() -> io::Result<()> {
    let mut policy = 0;
    let mut own = libc::sched_param { sched_priority: 0 };
    // SAFETY: both pointers are to our own values, of the types that pthread_getschedparam(3) asks for, and the thread is
    // the calling one.
    let failed =
        unsafe { libc::pthread_getschedparam(libc::pthread_self(), &mut policy, &mut own) };
    if failed != 0 {
        return Err(io::Error::from_raw_os_error(failed));
    }
    if policy == libc::SCHED_FIFO || policy == libc::SCHED_RR {
        return Ok(());
    }
    let wanted = libc::sched_param {
        sched_priority: PRIORITY,
    };
    // SAFETY: as above; the parameters are only read.
    match unsafe { libc::pthread_setschedparam(libc::pthread_self(), libc::SCHED_FIFO, &wanted) } {
        0 => Ok(()),
        failed => Err(io::Error::from_raw_os_error(failed)),
    }
}

/// The same, for whoever can do without.
pub(super) fn hurry_if_allowed() {
    if let Err(error) = hurry() {
        let thread = std::thread::current();
        let name = thread.name().unwrap_or("a driver's thread");
        log::debug!("{name}: no real-time priority: {error}");
    }
}

#[cfg(test)]
// Starts a thread, whose priority is none of the test's own.
#[allow(clippy::disallowed_methods)]
mod tests {
    use super::*;

    /// The scheduling policy of the calling thread and its priority.
    fn scheduling() -> (i32, i32) {
        let mut policy = 0;
        let mut own = libc::sched_param { sched_priority: 0 };
        // SAFETY: as in `hurry`.
        let failed =
            unsafe { libc::pthread_getschedparam(libc::pthread_self(), &mut policy, &mut own) };
        assert_eq!(failed, 0);
        (policy, own.sched_priority)
    }

    #[test]
    fn a_thread_hurries_where_it_may() {
        let work = || {
            let before = scheduling();
            let done = hurry();
            (before, done.map_err(|error| error.kind()), scheduling())
        };
        let (before, done, after) = std::thread::spawn(work).join().expect("a thread");
        match done {
            Ok(()) if before.0 == libc::SCHED_OTHER => {
                assert_eq!(after, (libc::SCHED_FIFO, PRIORITY));
            }
            // It had a real-time priority, or may have none.
            Ok(()) => assert_eq!(after, before),
            Err(kind) => {
                assert_eq!(kind, io::ErrorKind::PermissionDenied);
                assert_eq!(after, before);
            }
        }
    }
}
