//! The daemon's memory, locked: where memory is short, what has not been touched for a while is taken away, and comes back
//! from a card while the callback waits for it.
//!
//! # Why only what is touched?
//!
//! Locked whole, the stacks of all threads are made resident too: 34 MiB on top of 65 (of which 42 are shared with the JACK
//! server), measured at rest; so, half a MiB. What was never touched has nothing to lose.
//!
//! # Why only without a limit?
//!
//! Below one, memory asked for later would be refused where the limit is reached, which is worse than a late block. Rights
//! that lift the limit (`CAP_IPC_LOCK`) are not looked at: in a name space of its own a process has them and they lift
//! nothing.
//!
//! # Why is the allocator told what is large?
//!
//! With each audio server that comes and goes a player, an ear and their queues come and go: ten megabytes in a few blocks, asked
//! for on threads that live for one call. The C library maps a large block by itself and gives it back whole, but only at first: with
//! each one that is freed it takes larger ones for small (mallopt(3), `M_MMAP_THRESHOLD`), and carves them out of the pools of
//! whichever thread asks, from which nothing comes back. In half an hour of servers that were killed that was one to two megabytes
//! more (13 in five minutes, where one died every half minute), while what was in use stayed the same to the kilobyte. So what is
//! large stays large, and there are two pools, not eight for each processor.

use rustix::mm::{MlockAllFlags, mlockall};
use rustix::process::{Resource, getrlimit};

/// From this size on a block is mapped by itself: glibc's own first choice, which it would raise up to 32 MiB.
#[cfg(target_env = "gnu")]
const LARGE_BYTES: libc::c_int = 128 << 10;

/// Tells the allocator how to keep memory flat. To be called before there are other threads.
pub(super) fn keep_flat() {
    #[cfg(target_env = "gnu")]
    for (what, value) in [
        (libc::M_MMAP_THRESHOLD, LARGE_BYTES),
        (libc::M_ARENA_MAX, 2),
    ] {
        // SAFETY: sets two numbers of the allocator, and touches no memory of ours.
        let is_set = unsafe { libc::mallopt(what, value) } == 1;
        if !is_set {
            log::debug!("the allocator does not know {what}");
        }
    }
}

/// Locks what is there and what will be, or says why not.
pub(super) fn lock() {
    let limit = getrlimit(Resource::Memlock).current;
    if let Some(bytes) = limit {
        log::info!("memory is not locked: at most {bytes} bytes may be (LimitMEMLOCK=infinity)");
        return;
    }
    let flags = MlockAllFlags::CURRENT | MlockAllFlags::FUTURE | MlockAllFlags::ONFAULT;
    match mlockall(flags) {
        Ok(()) => log::debug!("memory is locked"),
        Err(error) => log::warn!("memory is not locked: {error}"),
    }
}
