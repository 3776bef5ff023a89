//! Real-time code, proven: what it allocates, frees and locks is counted, by an allocator and by lock calls that
//! stand before those of the whole process. So this is a binary of its own.

mod callback;
mod ear;

#[allow(dead_code)]
#[path = "../house/support/rig.rs"]
mod rig;
#[path = "../house/support/strings.rs"]
mod strings;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

/// What is counted.
#[derive(Clone, Copy)]
enum Counted {
    Allocation,
    Free,
    Lock,
}

thread_local! {
    static COUNTS: Cell<Option<[usize; 3]>> = const { Cell::new(None) };
}

/// One more, if this thread is being counted. Neither allocates nor locks.
fn count(what: Counted) {
    let more = |counts: &Cell<Option<[usize; 3]>>| {
        if let Some(mut now) = counts.get() {
            now[what as usize] += 1;
            counts.set(Some(now));
        }
    };
    let _ = COUNTS.try_with(more);
}

/// The allocations, frees and lock calls of `run` on this thread.
fn counted(run: impl FnOnce()) -> [usize; 3] {
    COUNTS.set(Some([0; 3]));
    run();
    COUNTS.take().expect("counts of this thread")
}

struct Counting;

// SAFETY: everything is passed on to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(Counted::Allocation);
        // SAFETY: the caller's promise is passed on.
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count(Counted::Free);
        // SAFETY: the caller's promise is passed on.
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;
