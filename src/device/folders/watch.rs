//! The thread that is told by the kernel.
// An adapter: it has a thread, asks the clock and waits for the kernel.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::settling::{News, Settling};
use super::wanted::{Wanted, below};
use rustix::event::{EventfdFlags, PollFd, PollFlags, Timespec, eventfd, poll};
use rustix::fs::inotify::{self, CreateFlags, ReadFlags, WatchFlags};
use rustix::io::Errno;
use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;
use std::fs::File;
use std::io;
use std::mem::MaybeUninit;
use std::os::fd::{AsFd, OwnedFd};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What is wanted to be told of a folder.
const TOLD: WatchFlags = WatchFlags::CLOSE_WRITE
    .union(WatchFlags::MODIFY)
    .union(WatchFlags::CREATE)
    .union(WatchFlags::DELETE)
    .union(WatchFlags::MOVED_FROM)
    .union(WatchFlags::MOVED_TO)
    .union(WatchFlags::DELETE_SELF)
    .union(WatchFlags::MOVE_SELF)
    .union(WatchFlags::ONLYDIR);
/// The folder itself is gone.
const GONE: ReadFlags = ReadFlags::DELETE_SELF
    .union(ReadFlags::MOVE_SELF)
    .union(ReadFlags::UNMOUNT)
    .union(ReadFlags::IGNORED);
/// Room for what the kernel tells at once.
const ROOM_BYTES: usize = 16 * 1024;
/// Looks at most, where folders are made meanwhile.
const LOOKS: usize = 4;
/// Whoever is to be told and had no room is told again after so long.
const AGAIN: Duration = Duration::from_millis(250);

/// Looks after folders until dropped.
#[derive(Debug)]
pub struct FolderWatch {
    stop: Arc<OwnedFd>,
    thread: Option<JoinHandle<()>>,
}

impl FolderWatch {
    /// Tells by `changed` whenever something changed and has come to rest, and once at the beginning: with the files that
    /// are still being written. Where it gives false it is told again.
    ///
    /// # Errors
    /// When the system gives no thread or no way to be told.
    pub fn start(
        wanted: Wanted,
        changed: impl FnMut(BTreeSet<PathBuf>) -> bool + Send + 'static,
    ) -> io::Result<FolderWatch> {
        let stop = Arc::new(eventfd(0, EventfdFlags::CLOEXEC)?);
        let mut watch = Watch {
            wanted,
            inotify: inotify::init(CreateFlags::NONBLOCK | CreateFlags::CLOEXEC)?,
            mounts: File::open("/proc/self/mountinfo").ok(),
            stop: Arc::clone(&stop),
            watched: BTreeMap::new(),
            is_stale: true,
            settling: Settling::default(),
            begun: Instant::now(),
        };
        let run = move || {
            if let Err(error) = watch.run(changed) {
                log::warn!("folders are not looked after any more: {error}");
            }
        };
        let thread = std::thread::Builder::new()
            .name("folders".into())
            .spawn(run)?;
        Ok(FolderWatch {
            stop,
            thread: Some(thread),
        })
    }
}

impl Drop for FolderWatch {
    fn drop(&mut self) {
        let _ = rustix::io::write(&*self.stop, &1_u64.to_ne_bytes());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

struct Watch {
    wanted: Wanted,
    inotify: OwnedFd,
    mounts: Option<File>,
    stop: Arc<OwnedFd>,
    /// The folders that the kernel tells of.
    watched: BTreeMap<i32, PathBuf>,
    /// There may be other folders than these.
    is_stale: bool,
    settling: Settling,
    begun: Instant,
}

/// What there is to do.
enum Woken {
    Stop,
    Files,
    Mounts,
    Rest,
}

impl Watch {
    fn run(&mut self, mut changed: impl FnMut(BTreeSet<PathBuf>) -> bool) -> io::Result<()> {
        self.settling.change(Duration::ZERO);
        loop {
            if std::mem::take(&mut self.is_stale) {
                self.watch_all();
            }
            match self.wait()? {
                Woken::Stop => return Ok(()),
                Woken::Files => self.listen()?,
                Woken::Mounts => {
                    self.is_stale = true;
                    let at = self.begun.elapsed();
                    self.settling.change(at);
                }
                Woken::Rest => {}
            }
            let at = self.begun.elapsed();
            if let Some(writing) = self.settling.rested(at)
                && !changed(writing)
            {
                self.settling.change(at + AGAIN);
            }
        }
    }

    /// Waits for the kernel, and for what changed to come to rest.
    fn wait(&self) -> io::Result<Woken> {
        let patience = self.settling.patience(self.begun.elapsed());
        let patience = patience.map(|patience| Timespec {
            tv_sec: patience.as_secs() as i64,
            // A little more than what is left, for a wait may end a little early.
            tv_nsec: i64::from(patience.subsec_nanos()),
        });
        let mut ways = vec![
            PollFd::new(&*self.stop, PollFlags::IN),
            PollFd::new(&self.inotify, PollFlags::IN),
        ];
        if let Some(mounts) = &self.mounts {
            ways.push(PollFd::from_borrowed_fd(mounts.as_fd(), PollFlags::PRI));
        }
        match poll(&mut ways, patience.as_ref()) {
            Ok(_) | Err(Errno::INTR) => {}
            Err(error) => return Err(error.into()),
        }
        let is_woken: Vec<bool> = ways.iter().map(|way| !way.revents().is_empty()).collect();
        Ok(match is_woken[..] {
            [true, ..] => Woken::Stop,
            [_, true, ..] => Woken::Files,
            [_, _, true] => Woken::Mounts,
            _ => Woken::Rest,
        })
    }

    /// Has the kernel tell of every folder there is, and of no other.
    fn watch_all(&mut self) {
        let before = std::mem::take(&mut self.watched);
        // What is there is told of before it is looked at again, so that nothing comes between.
        let mut known = BTreeSet::new();
        for _ in 0..LOOKS {
            let ways = self.ways();
            if ways == known {
                break;
            }
            ways.iter().for_each(|path| self.watch(path));
            known = ways;
        }
        for folder in self.wanted.folders.clone() {
            for path in below(&folder, &[]).folders {
                self.watch(&path);
            }
        }
        for id in before.keys().filter(|id| !self.watched.contains_key(id)) {
            // It may have gone by itself.
            let _ = inotify::remove_watch(&self.inotify, *id);
        }
    }

    /// The folders that are wanted, or the nearest above them that are there.
    fn ways(&self) -> BTreeSet<PathBuf> {
        let folders = self.wanted.folders.iter().map(PathBuf::as_path);
        let files = self.wanted.files.iter().filter_map(|file| file.parent());
        folders.chain(files).filter_map(on_the_way).collect()
    }

    fn watch(&mut self, path: &Path) {
        match inotify::add_watch(&self.inotify, path, TOLD) {
            Ok(id) => drop(self.watched.insert(id, path.to_path_buf())),
            Err(Errno::NOENT | Errno::NOTDIR | Errno::ACCESS) => {}
            Err(error) => log::warn!("{}: is not looked after: {error}", path.display()),
        }
    }

    /// Takes in what the kernel tells.
    fn listen(&mut self) -> io::Result<()> {
        let mut room = [MaybeUninit::uninit(); ROOM_BYTES];
        let mut told = Vec::new();
        let mut reader = inotify::Reader::new(&self.inotify, &mut room);
        loop {
            match reader.next() {
                Ok(event) => {
                    let name = event
                        .file_name()
                        .map(|name| OsStr::from_bytes(name.to_bytes()));
                    told.push((event.wd(), event.events(), name.map(PathBuf::from)));
                }
                Err(Errno::WOULDBLOCK) => break,
                Err(Errno::INTR) => {}
                Err(error) => return Err(error.into()),
            }
        }
        let at = self.begun.elapsed();
        told.into_iter()
            .for_each(|(id, what, name)| self.hear(id, what, name, at));
        Ok(())
    }

    fn hear(&mut self, id: i32, what: ReadFlags, name: Option<PathBuf>, at: Duration) {
        if what.contains(ReadFlags::QUEUE_OVERFLOW) {
            self.is_stale = true;
            return self.settling.lose_sight(at);
        }
        let Some(folder) = self.watched.get(&id) else {
            return;
        };
        let path = name.map(|name| folder.join(name));
        match path {
            None if what.intersects(GONE) => {
                self.is_stale = true;
                self.settling.change(at);
            }
            None => {}
            Some(path) if what.contains(ReadFlags::ISDIR) && self.wanted.has_folder(&path) => {
                self.is_stale = true;
                self.settling.change(at);
            }
            Some(_) if what.contains(ReadFlags::ISDIR) => {}
            Some(path) if self.wanted.has_file(&path) => {
                if let Some(news) = news(what) {
                    self.settling.hear(path, news, at);
                }
            }
            Some(_) => {}
        }
    }
}

fn news(what: ReadFlags) -> Option<News> {
    let kinds = [
        (ReadFlags::MODIFY, News::Written),
        (
            ReadFlags::CLOSE_WRITE.union(ReadFlags::MOVED_TO),
            News::Whole,
        ),
        (ReadFlags::CREATE, News::Came),
        (ReadFlags::DELETE.union(ReadFlags::MOVED_FROM), News::Went),
    ];
    let mut kinds = kinds.into_iter();
    kinds.find_map(|(flags, news)| what.intersects(flags).then_some(news))
}

/// A folder, or the nearest one above it that is there.
fn on_the_way(path: &Path) -> Option<PathBuf> {
    let there = path.ancestors().find(|path| path.is_dir());
    // Paths without a beginning count from where we are.
    there.map(|path| match path.as_os_str().is_empty() {
        true => PathBuf::from("."),
        false => path.to_path_buf(),
    })
}
