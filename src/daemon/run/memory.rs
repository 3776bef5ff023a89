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

use rustix::mm::{MlockAllFlags, mlockall};
use rustix::process::{Resource, getrlimit};

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
