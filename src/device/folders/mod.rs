//! Folders of files that are looked after: a file that is put there or edited in place, and a stick that is plugged in, are
//! noticed, and nothing polls.
//!
//! # Why two things that tell?
//!
//! inotify(7) tells what happens to the files of a folder, but not that something was mounted over it: that tells the table
//! of mounts, which can be waited for (proc(5)). So a stick is seen whichever comes first, its folder or its mount.

mod settling;
mod wanted;
mod watch;

pub use settling::{News, Settling};
pub use wanted::{Below, Wanted, below};
pub use watch::FolderWatch;
