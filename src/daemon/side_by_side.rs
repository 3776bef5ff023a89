//! Several pieces of work at a time, on all processors.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Does all `tasks`, `jobs` at a time (without a number as many as there are processors); what comes of them stands in their
/// order. After a fault no other is begun.
///
/// # Errors
/// The first fault in the order of the tasks, of those that were begun.
pub fn all<T: Sync, R: Send, E: Send>(
    tasks: &[T],
    jobs: Option<usize>,
    make: impl Fn(&T) -> Result<R, E> + Sync,
) -> Result<Vec<R>, E> {
    let processors = || std::thread::available_parallelism().map_or(1, usize::from);
    let jobs = jobs.unwrap_or_else(processors).clamp(1, tasks.len().max(1));
    let next = AtomicUsize::new(0);
    let work = || {
        let mut made = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(task) = tasks.get(index) else {
                return made;
            };
            let done = make(task);
            if done.is_err() {
                // The others need not begin what cannot be finished.
                next.store(tasks.len(), Ordering::Relaxed);
            }
            made.push((index, done));
        }
    };
    if jobs == 1 {
        // In the memory that was used until now: a thread has its own.
        let made = work().into_iter();
        return made.map(|(_, made)| made).collect();
    }
    let mut made: Vec<(usize, Result<R, E>)> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..jobs).map(|_| scope.spawn(work)).collect();
        let join = |thread: std::thread::ScopedJoinHandle<'_, _>| {
            thread
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        };
        threads.into_iter().flat_map(join).collect()
    });
    made.sort_by_key(|(index, _)| *index);
    made.into_iter().map(|(_, made)| made).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_of_them_stands_in_their_order() {
        let tasks: Vec<u32> = (0..100).collect();
        for jobs in [None, Some(1), Some(3), Some(1000)] {
            let made = all(&tasks, jobs, |task| Ok::<u32, ()>(task * 2));
            assert_eq!(
                made,
                Ok((0..100).map(|task| task * 2).collect()),
                "{jobs:?}"
            );
        }
        assert_eq!(all(&[], None, |_: &u32| Ok::<u32, ()>(0)), Ok(vec![]));
    }

    #[test]
    fn the_first_fault_is_told_and_no_other_is_begun() {
        let tasks: Vec<u32> = (0..100).collect();
        let begun = AtomicUsize::new(0);
        let made = all(&tasks, Some(1), |task| {
            begun.fetch_add(1, Ordering::Relaxed);
            if *task < 7 { Ok(()) } else { Err(*task) }
        });
        assert_eq!((made, begun.into_inner()), (Err(7), 8));
    }
}
