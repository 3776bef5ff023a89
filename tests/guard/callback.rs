//! The rule of the audio callback, proven: a minute of band, speech and model tones without an allocation, a
//! free, a lock call or a system call.
//!
//! Allocations are counted by the global allocator, lock calls by functions of the same names that stand
//! before the C library's, and system calls by the kernel: a thread in seccomp's strict mode is killed at
//! the first one that is not read, write or exit (seccomp(2)).
#![cfg(all(target_os = "linux", target_arch = "x86_64"))]
// Waits for a thread that may wait for nothing.
#![allow(clippy::disallowed_methods)]

use crate::rig::*;
use crate::{Counted, count, counted};
use std::ffi::{CStr, c_char, c_int, c_long, c_void};
use std::sync::Arc;
use std::sync::atomic::{AtomicI32, AtomicUsize, Ordering};
use std::time::Duration;
use underfoot::audio::{
    ClockSource, Command, Cue, CueChoice, CueForm, FollowSettings, Level, MidiSink, Outputs,
    Player, PlayerEnd, Tap, TapEnd, tap,
};
use underfoot::clock::transport::{SongPlace, TransportCycle};
use underfoot::time::{Frame, Part, Tick};

/// The C library's function of a name, found once.
fn real(slot: &AtomicUsize, name: &CStr) -> usize {
    let known = slot.load(Ordering::Relaxed);
    if known != 0 {
        return known;
    }
    // SAFETY: a C string and the handle that means "after this program".
    let found = unsafe { libc::dlsym(libc::RTLD_NEXT, name.as_ptr().cast::<c_char>()) } as usize;
    slot.store(found, Ordering::Relaxed);
    found
}

/// A function of the C library that is counted and passed on: its pointer argument and what it returns.
macro_rules! passed_on {
    ($($name:ident),*) => {$(
        #[unsafe(no_mangle)]
        extern "C" fn $name(object: *mut c_void) -> c_int {
            static REAL: AtomicUsize = AtomicUsize::new(0);
            count(Counted::Lock);
            let name = CStr::from_bytes_with_nul(concat!(stringify!($name), "\0").as_bytes());
            let real = real(&REAL, name.expect("a C string"));
            // SAFETY: the C library's function of this name has this signature.
            let call: extern "C" fn(*mut c_void) -> c_int = unsafe { std::mem::transmute(real) };
            call(object)
        }
    )*};
}

passed_on!(
    pthread_mutex_lock,
    pthread_mutex_trylock,
    pthread_mutex_unlock,
    pthread_rwlock_rdlock,
    pthread_rwlock_wrlock,
    pthread_rwlock_unlock,
    pthread_spin_lock,
    pthread_cond_signal,
    pthread_cond_broadcast,
    sem_wait,
    sem_post
);

/// Rust's own locks wait and wake by this one.
#[unsafe(no_mangle)]
extern "C" fn syscall(
    number: c_long,
    a: c_long,
    b: c_long,
    c: c_long,
    d: c_long,
    e: c_long,
    f: c_long,
) -> c_long {
    static REAL: AtomicUsize = AtomicUsize::new(0);
    count(Counted::Lock);
    let real = real(&REAL, c"syscall");
    // SAFETY: on x86-64 the variadic function takes its integers in the same registers.
    let call: extern "C" fn(c_long, c_long, c_long, c_long, c_long, c_long, c_long) -> c_long =
        unsafe { std::mem::transmute(real) };
    call(number, a, b, c, d, e, f)
}

/// A sink that keeps nothing but a count.
#[derive(Default)]
struct Tally(usize);

impl MidiSink for Tally {
    fn event(&mut self, _: u32, _: [u8; 3]) {
        self.0 += 1;
    }
}

/// What is sent in the course of a minute: for each second of it, made before.
fn script() -> Vec<Vec<Command>> {
    let cue = |id: u32, second: u64| {
        let choice = |form, frames: usize| CueChoice {
            form,
            samples: Arc::from(vec![0.2; frames]),
        };
        let beat = |beats: u64| Tick((second * 2 + beats) as i64 * 960);
        Command::Cue(Box::new(Cue {
            id,
            choices: [
                choice(CueForm::Full, 40_000),
                choice(CueForm::Short, 15_000),
            ]
            .into_iter()
            .collect(),
            windows: [(beat(2), beat(3)), (beat(4), beat(5))]
                .into_iter()
                .collect(),
            now: second.is_multiple_of(20).then_some(Frame(0)),
        }))
    };
    let mut seconds: Vec<Vec<Command>> = Vec::new();
    for second in 0..60u64 {
        let mut now = Vec::new();
        // Bars of two seconds at 120, sent two ahead.
        if second.is_multiple_of(4) {
            let bars = [second / 2 + 2, second / 2 + 3].map(|index| band_bar(index as i64, 120.0));
            now.push(append(bars));
        }
        if second % 10 == 5 {
            now.push(cue(second as u32, second));
        }
        if second % 15 == 7 {
            // A bar in progress is called back and comes anew.
            let index = (second / 2) as i64;
            now.push(replace(
                index * 3840 + 2_000,
                (index..index + 4).map(|index| band_bar(index, 120.0)),
            ));
        }
        if second % 9 == 3 {
            now.push(Command::Level {
                at: Frame(0),
                level: Level::Part(Part::Bass),
                db: -3.0,
            });
        }
        if second == 41 {
            now.push(Command::HushCues {
                at: Frame(0),
                from: 0,
                below: u32::MAX,
            });
        }
        if second == 44 {
            let bars = (0..4).map(|index| band_bar(index, 120.0));
            now.push(Command::Home {
                tick: Tick(0),
                bars: bars.collect(),
            });
        }
        if second == 58 {
            now.push(stop(second * 48_000 + 9_000));
        }
        if second == 59 {
            now.push(Command::Panic);
        }
        seconds.push(now);
    }
    seconds
}

/// The callback's side of the minute.
struct Minute {
    player: Player,
    /// The way of the guitar's sound to the ear is part of the callback.
    tap: Tap,
    tally: Tally,
    buffers: [Vec<f32>; 3],
    at: u64,
    peak: f32,
}

impl Minute {
    fn new() -> (Minute, PlayerEnd, TapEnd) {
        let (player, mut end) = Player::new(prepared(true)).expect("a player");
        let follow = FollowSettings {
            order: ClockSource::ALL.into_iter().collect(),
            hold_quarters: 4,
            latency_ms: 2.0,
        };
        assert!(end.send(Command::Follow(follow)).is_ok());
        assert!(end.send(Command::Lead(true)).is_ok());
        assert!(end.send(start(960, 0)).is_ok());
        assert!(
            end.send(append([0, 1].map(|index| band_bar(index, 120.0))))
                .is_ok()
        );
        let (tap, tapped) = tap(48_000);
        let minute = Minute {
            player,
            tap,
            tally: Tally::default(),
            buffers: [vec![0.0; 1024], vec![0.0; 1024], vec![0.0; 1024]],
            at: 0,
            peak: 0.0,
        };
        (minute, end, tapped)
    }

    /// Plays a second in blocks of different sizes; nothing but the callback's body.
    fn second(&mut self) {
        let until = self.at + 48_000;
        let mut sizes = [64, 37, 1024, 256].into_iter().cycle();
        while self.at < until {
            let size = sizes.next().unwrap_or(64).min((until - self.at) as usize);
            // A clock ticks all the time, somewhat unsteadily; it drives the band from second 45 on.
            for at in self.at..self.at + size as u64 {
                if at % 1_000 == (at / 1_000 * 37) % 100 {
                    self.player.midi_in(Frame(at), &[0xf8]);
                }
                if at == 45 * 48_000 + 500 {
                    self.player.midi_in(Frame(at), &[0xfa]);
                }
            }
            // The transport rolls besides.
            let place = SongPlace {
                quarters: self.at as f64 / 24_000.0,
                qpm: 120.0,
            };
            let cycle = TransportCycle {
                rolls: self.at / 480_000 % 2 == 1,
                song: (size != 37).then_some(place),
            };
            self.player.transport(Frame(self.at), size as u32, cycle);
            let [left, right, cue] = &mut self.buffers;
            let out = Outputs {
                left: &mut left[..size],
                right: &mut right[..size],
                cue: &mut cue[..size],
            };
            self.player.render(Frame(self.at), out, &mut self.tally);
            // Any sound will do for the guitar's.
            self.tap.push(
                Frame(self.at),
                &right[..size],
                &left[..size],
                &right[..size],
            );
            let heard = left[..size].iter().chain(&cue[..size]);
            self.peak = heard.fold(self.peak, |peak, s| peak.max(s.abs()));
            self.at += size as u64;
        }
    }

    fn check(&self) {
        assert!(
            self.peak > 0.05 && self.tally.0 > 500,
            "{} {}",
            self.peak,
            self.tally.0
        );
    }
}

fn check_that_the_guards_see() {
    let seen = counted(|| {
        drop(std::hint::black_box(Box::new(7u8)));
        // SAFETY: a fresh mutex of the C library, locked and unlocked once; and a harmless system call.
        unsafe {
            let mut mutex = libc::PTHREAD_MUTEX_INITIALIZER;
            libc::pthread_mutex_lock(&raw mut mutex);
            libc::pthread_mutex_unlock(&raw mut mutex);
            libc::syscall(libc::SYS_getpid);
        }
    });
    assert_eq!(seen, [1, 1, 3]);
}

/// How far the strict thread is.
#[derive(Default)]
struct Strict {
    thread: AtomicI32,
    /// The second that may be played.
    turn: AtomicUsize,
    /// The seconds that were played.
    done: AtomicUsize,
    good: AtomicUsize,
}

impl Strict {
    /// The strict thread's whole life: it plays each second when its turn comes.
    fn live(&self, mut minute: Minute, misbehave: bool) {
        // SAFETY: gives a number; sets this thread's mode, which only ever forbids.
        let strict = unsafe {
            self.thread.store(libc::gettid(), Ordering::Release);
            libc::prctl(libc::PR_SET_SECCOMP, libc::SECCOMP_MODE_STRICT)
        };
        for second in 1..=60 {
            while self.turn.load(Ordering::Acquire) < second {
                std::hint::spin_loop();
            }
            minute.second();
            if misbehave {
                // SAFETY: asks for a number; the kernel does not let it come to that.
                unsafe { libc::syscall(libc::SYS_getpid) };
            }
            self.done.store(second, Ordering::Release);
        }
        let good = strict == 0 && minute.peak > 0.05 && minute.tally.0 > 500;
        self.good.store(usize::from(good), Ordering::Release);
        std::mem::forget(minute);
        // SAFETY: ends this thread alone, by the only way out that strict mode leaves.
        unsafe { libc::syscall(libc::SYS_exit, 0) };
    }

    /// Whether the thread has come to its end or was killed.
    fn is_over(&self) -> bool {
        let thread = self.thread.load(Ordering::Acquire);
        thread != 0 && !std::path::Path::new(&format!("/proc/self/task/{thread}")).exists()
    }
}

/// Plays the minute on a strict thread; gives the seconds played, and whether they sounded.
fn in_strict_mode(misbehave: bool) -> (usize, bool) {
    let (minute, mut end, mut tapped) = Minute::new();
    let strict = Arc::new(Strict::default());
    let its = Arc::clone(&strict);
    std::thread::spawn(move || its.live(minute, misbehave));
    for (second, commands) in script().into_iter().enumerate() {
        for command in commands {
            assert!(end.send(command).is_ok());
        }
        while tapped.pop().is_some() {}
        strict.turn.store(second + 1, Ordering::Release);
        while strict.done.load(Ordering::Acquire) <= second && !strict.is_over() {
            std::thread::sleep(Duration::from_micros(200));
        }
    }
    while !strict.is_over() {
        std::thread::sleep(Duration::from_millis(1));
    }
    let good = strict.good.load(Ordering::Acquire) == 1;
    (strict.done.load(Ordering::Acquire), good)
}

#[test]
fn a_minute_without_allocation_lock_or_system_call() {
    check_that_the_guards_see();
    let (mut minute, mut end, mut tapped) = Minute::new();
    let mut script = script();
    let (mut second, mut blocks) = (0, 0);
    for commands in script.drain(..) {
        for command in commands {
            assert!(end.send(command).is_ok());
        }
        assert_eq!(counted(|| minute.second()), [0; 3]);
        // Nobody listens in the last ten seconds: a full queue loses, without a word.
        second += 1;
        if second < 50 {
            blocks += std::iter::from_fn(|| tapped.pop()).count();
        }
    }
    minute.check();
    assert!(blocks >= 48 * 750 && tapped.lost() > 1_000);
    println!(
        "60 s: {} MIDI messages, 0 allocations, 0 frees, 0 lock calls",
        minute.tally.0
    );

    assert_eq!(in_strict_mode(false), (60, true));
    // And the kernel would have told.
    assert_eq!(in_strict_mode(true), (0, false));
}
