//! The power goes while the daemon runs: every take whose end it had told is there, the file opens, practice goes on.
//!
//! The program cannot be given another file layer (SQLite's own is compiled in, and a way in from outside would be one for others,
//! too). So it runs as it is, and a library below it writes down each operation on the journal's files in its order, and each
//! take that it tells to be kept: as block layers do that replay to any point (Linux' dm-log-writes), or ALICE does with system
//! calls (T. Pillai and others, OSDI 2014). What lay on the disk at a moment is what those operations up to there made of it,
//! less any of what was not synced: the disk of `support/power`, cut a thousand times.
// Runs the program against a real server, and builds a library for it.

use crate::support::daemon::Daemon;
use crate::support::dice::Dice;
use crate::support::guitarist::Guitarist;
use crate::support::jackd::{Server, isolated};
use crate::support::player;
use crate::support::power::{Disk, Operation};
use crate::support::practised::{at_ms, moment, take};
use rusqlite::Connection;
use rustix::process::Signal;
use std::path::{Path, PathBuf};
use std::process::Command;
use underfoot::journal::{Opened, Outcome, Writer, open_with_vfs};

const RATE: u32 = 48_000;
const QPM: i64 = 200;
const CHART: &str = "title = \"One Chord\"\nkey = \"C major\"\ntempo = 200\nfeel = \"swing\"\nform = [\"A\"]\n\
    [[section]]\nname = \"A\"\nbars = [\"G7\", \"G7\", \"G7\", \"G7\"]\n";
const DRILL: &str = "title = \"roots\"\n[[stage]]\nname = \"roots on one\"\ndegrees = [\"1\"]\nfigure = [\"1\"]\nplaces = [\"1\"]\n\
    help = { comping = \"full\", bass = true, drums = \"ride\", model = \"off\", voice = \"off\" }\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\n";
const CONFIG: &str =
    "[audio]\nautoconnect = \"none\"\n[speech]\nengine = \"none\"\n[foot]\nswitches = 1\n";
/// Beats from a start to the next: sixteen bars less the count and the end.
const EVERY: u32 = 32;

/// Writes down what is done to files whose path contains "journal.db", and to their directory.
const TRACING: &str = r#"
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static char names[1024][512];

static void put(char what, const char *name, int64_t at, const void *bytes, uint32_t length) {
    static int trace = -1;
    uint16_t named = (uint16_t)strlen(name);
    if (trace < 0)
        trace = (int)syscall(SYS_openat, AT_FDCWD, getenv("TRACE"), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    syscall(SYS_write, trace, &what, 1);
    syscall(SYS_write, trace, &named, 2);
    syscall(SYS_write, trace, name, named);
    syscall(SYS_write, trace, &at, 8);
    syscall(SYS_write, trace, &length, 4);
    if (length)
        syscall(SYS_write, trace, bytes, length);
}

static const char *name_of(int file) {
    return file >= 0 && file < 1024 && names[file][0] ? names[file] : 0;
}

static int opened(int file, const char *path) {
    const char *state = getenv("TRACED");
    if (file < 0 || file >= 1024)
        return file;
    names[file][0] = 0;
    if (strstr(path, "journal.db") && !strstr(path, "-shm")) {
        strncpy(names[file], strstr(path, "journal.db"), 511);
        pthread_mutex_lock(&lock);
        put('O', names[file], 0, 0, 0);
        pthread_mutex_unlock(&lock);
    } else if (state && strcmp(path, state) == 0) {
        strcpy(names[file], "/");
    }
    return file;
}

#define OPEN(NAME)                                                                        \
    int NAME(const char *path, int flags, ...) {                                          \
        va_list more;                                                                     \
        va_start(more, flags);                                                            \
        int mode = va_arg(more, int);                                                     \
        va_end(more);                                                                     \
        int (*real)(const char *, int, ...) = (int (*)(const char *, int, ...))dlsym(RTLD_NEXT, #NAME); \
        return opened(real(path, flags, mode), path);                                     \
    }
OPEN(open)
OPEN(open64)

int close(int file) {
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, "close");
    if (name_of(file))
        names[file][0] = 0;
    return real(file);
}

ssize_t write(int file, const void *bytes, size_t length) {
    const char *name = name_of(file);
    if (!name && file != 2)
        return syscall(SYS_write, file, bytes, length);
    pthread_mutex_lock(&lock);
    if (file == 2 && memmem(bytes, length, "the take is kept", 16))
        put('K', "", 0, 0, 0);
    if (name)
        put('W', name, lseek(file, 0, SEEK_CUR), bytes, (uint32_t)length);
    ssize_t done = syscall(SYS_write, file, bytes, length);
    pthread_mutex_unlock(&lock);
    return done;
}

static ssize_t written_at(int file, const void *bytes, size_t length, off_t at) {
    const char *name = name_of(file);
    pthread_mutex_lock(&lock);
    if (name)
        put('W', name, at, bytes, (uint32_t)length);
    ssize_t done = syscall(SYS_pwrite64, file, bytes, length, at);
    pthread_mutex_unlock(&lock);
    return done;
}
ssize_t pwrite(int file, const void *bytes, size_t length, off_t at) { return written_at(file, bytes, length, at); }
ssize_t pwrite64(int file, const void *bytes, size_t length, off64_t at) { return written_at(file, bytes, length, at); }

static int cut(int file, off_t length) {
    if (name_of(file)) {
        pthread_mutex_lock(&lock);
        put('T', name_of(file), length, 0, 0);
        pthread_mutex_unlock(&lock);
    }
    return (int)syscall(SYS_ftruncate, file, length);
}
int ftruncate(int file, off_t length) { return cut(file, length); }
int ftruncate64(int file, off64_t length) { return cut(file, length); }

static int synced(int file, long call) {
    int done = (int)syscall(call, file);
    if (name_of(file) && done == 0) {
        pthread_mutex_lock(&lock);
        put(name_of(file)[0] == '/' ? 'D' : 'S', name_of(file), 0, 0, 0);
        pthread_mutex_unlock(&lock);
    }
    return done;
}
int fsync(int file) { return synced(file, SYS_fsync); }
int fdatasync(int file) { return synced(file, SYS_fdatasync); }

int unlink(const char *path) {
    if (strstr(path, "journal.db") && !strstr(path, "-shm")) {
        pthread_mutex_lock(&lock);
        put('U', strstr(path, "journal.db"), 0, 0, 0);
        pthread_mutex_unlock(&lock);
    }
    return (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
}
"#;

/// What was written down.
enum Traced {
    Did(Operation),
    /// A take was told to be kept.
    Kept,
}

fn read_trace(bytes: &[u8]) -> Vec<Traced> {
    let (mut left, mut traced) = (bytes, Vec::new());
    while let [what, rest @ ..] = left {
        let (named, rest) = rest.split_at(2);
        let named = u16::from_le_bytes(named.try_into().expect("two bytes"));
        let (name, rest) = rest.split_at(usize::from(named));
        let (at, rest) = rest.split_at(8);
        let at = i64::from_le_bytes(at.try_into().expect("eight bytes")) as usize;
        let (length, rest) = rest.split_at(4);
        let length = u32::from_le_bytes(length.try_into().expect("four bytes"));
        let (bytes, rest) = rest.split_at(length as usize);
        let name = format!("/{}", String::from_utf8_lossy(name));
        left = rest;
        traced.push(match what {
            b'K' => Traced::Kept,
            b'O' => Traced::Did(Operation::Open(name)),
            b'W' => Traced::Did(Operation::Write(name, at, bytes.to_vec())),
            b'T' => Traced::Did(Operation::Truncate(name, at)),
            b'S' => Traced::Did(Operation::Sync(name)),
            b'D' => Traced::Did(Operation::SyncDirectory),
            b'U' => Traced::Did(Operation::Remove(name)),
            other => panic!("no operation {other}"),
        });
    }
    traced
}

fn library(dir: &Path) -> PathBuf {
    let (source, library) = (dir.join("tracing.c"), dir.join("tracing.so"));
    std::fs::write(&source, TRACING).expect("a file");
    let mut compiler = Command::new("cc");
    compiler.args(["-shared", "-fPIC", "-O1", "-o"]);
    compiler
        .arg(&library)
        .arg(&source)
        .args(["-ldl", "-lpthread"]);
    let done = compiler.status().expect("cc (Debian package gcc)");
    assert!(done.success());
    library
}

/// The root of the chord on each first beat, for so many beats.
fn roots(beats: u32) -> Vec<f32> {
    let bar = i64::from(RATE) * 60 * 4 / QPM;
    let bars = i64::from(beats / 4);
    let struck: Vec<player::Struck> = (0..bars).map(|n| (n * bar, bar * 2 / 3, 43)).collect();
    player::sound(&player::font(), &struck, (bars * bar) as usize, RATE)
}

/// Starts and stops, so many takes.
fn foot(takes: u32) -> String {
    let take = |number: u32| {
        let begins = number * EVERY;
        let start = match number {
            0 => String::new(),
            _ => format!("{begins} 1 down\n{begins}.4 1 up\n"),
        };
        format!("{start}{} 1 down\n{} 1 up\n", begins + 24, begins + 28)
    };
    (0..takes).map(take).collect()
}

/// The daemon under a scripted practice of so many takes: what it did, and the journal that it left.
fn practice(home: &Path, takes: u32) -> (Vec<Traced>, PathBuf) {
    let file = |name: &str, text: &str| {
        let path = home.join(name);
        std::fs::write(&path, text).expect("a file");
        path.display().to_string()
    };
    let (chart, drill) = (file("chart.toml", CHART), file("drill.toml", DRILL));
    let (config, foot) = (
        file("underfoot.toml", CONFIG),
        file("foot.txt", &foot(takes)),
    );
    let (library, trace, state) = (library(home), home.join("trace"), home.join("state"));
    let variables = [
        ("LD_PRELOAD", library.as_path()),
        ("TRACE", trace.as_path()),
        ("TRACED", state.as_path()),
    ];
    let arguments = [
        "--config", &config, "--chart", &chart, "--drill", &drill, "--foot", &foot, "--fresh",
    ];
    let daemon = Daemon::start_with(home, &arguments, &variables);
    daemon.wait_for_port("underfoot:guitar_in");
    let guitarist = Guitarist::start(roots(takes * EVERY));
    let seconds = u64::from(takes * EVERY) * 60 / QPM as u64 + 60;
    let is_over = |status: &serde_json::Value| status["counters"]["journal_takes_kept"] == takes;
    daemon.wait_for_status(seconds, is_over);
    let _ = guitarist.finish();
    daemon.signal(Signal::TERM);
    let ended = daemon.wait(14);
    assert_eq!(ended.code, Some(0), "{}", ended.errors);
    let traced = read_trace(&std::fs::read(trace).expect("a trace"));
    (traced, state.join("journal.db"))
}

/// Each take that ended, as it is in the tables.
type Row = (Vec<u8>, i64, i64, i64);

fn takes(db: &Connection) -> Vec<Row> {
    let mut rows = db
        .prepare("SELECT uid, asked, right, (SELECT count(*) FROM verdicts WHERE take = t.id) FROM takes t WHERE ended = 1 ORDER BY id")
        .expect("tables");
    let read = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?));
    let rows = rows.query_map([], read).expect("rows");
    rows.collect::<Result<_, _>>().expect("rows")
}

/// What is wrong on a disk after a power cut; nothing if all is well.
fn fault(disk: &Disk, kept: &[Row]) -> Option<String> {
    let store = match open_with_vfs(Path::new("/journal.db"), disk.name()) {
        Ok(store) => store,
        Err(trouble) => return Some(format!("it does not open: {trouble}")),
    };
    let db = store.connection();
    let whole: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .expect("an answer");
    if whole != "ok" {
        return Some(whole);
    }
    let there = takes(db);
    (!there.starts_with(kept)).then(|| format!("{} of {} takes are there", there.len(), kept.len()))
}

/// Practice goes on.
fn goes_on(disk: &Disk, dice: &mut Dice) -> bool {
    let vfs = disk.name().to_string();
    let mut writer = Writer::new(Box::new(move |_| {
        let store = open_with_vfs(Path::new("/journal.db"), &vfs)?;
        Ok(Opened { store, told: None })
    }));
    let more = take("the next day", 1_000, 20, 2_000, dice);
    let ended = more.last().map_or(0, at_ms);
    more.into_iter().for_each(|entry| writer.add(entry));
    writer.finish(&moment(ended + 10_000)) == [Outcome::Kept(1)]
}

/// Cuts the power at random moments of what was traced; gives what went wrong, and how many takes had been told in all.
fn cut_often(
    name: &str,
    cuts: u64,
    traced: &[Traced],
    all: &[Row],
    syncs: bool,
) -> (Vec<String>, usize) {
    let (disk, mut dice) = (Disk::new(name), Dice(7));
    let (mut faults, mut told) = (Vec::new(), 0);
    for _ in 0..cuts {
        let at = 1 + dice.below(traced.len() as u64) as usize;
        disk.format();
        let mut kept = 0;
        for done in &traced[..at] {
            match done {
                Traced::Kept => kept += 1,
                Traced::Did(Operation::Sync(_) | Operation::SyncDirectory) if !syncs => {}
                Traced::Did(operation) => disk.redo(operation),
            }
        }
        disk.reboot(&mut dice);
        told += kept;
        let fault = fault(&disk, &all[..kept]);
        let fault = fault.or_else(|| {
            (!goes_on(&disk, &mut dice)).then(|| "no take is kept after it".to_string())
        });
        faults.extend(fault.map(|fault| format!("cut at {at}: {fault}")));
    }
    println!(
        "{name}: {cuts} cuts among {} operations of the daemon, {told} takes told before them, {} faults",
        traced.len(),
        faults.len()
    );
    (faults, told)
}

#[test]
fn no_take_whose_end_the_daemon_told_is_lost() {
    isolated(|| {
        let asked = std::env::var("UNDERFOOT_POWER_CUTS").ok();
        let asked: Option<u64> = asked.and_then(|count| count.parse().ok());
        let (cuts, count) = asked.map_or((150, 3), |cuts| (cuts, 24));
        let home = tempfile::tempdir().expect("a directory");
        let _server = Server::start(RATE, 512);
        let (traced, journal) = practice(home.path(), count);
        let db = underfoot::journal::open_to_read(&journal).expect("a journal");
        let all = takes(&db);
        let verdicts: i64 = all.iter().map(|row| row.3).sum();
        println!("{} takes with {verdicts} verdicts", all.len());
        assert!(all.len() == count as usize && verdicts > 0, "{all:?}");
        let (faults, told) = cut_often("daemon", cuts, &traced, &all, true);
        assert_eq!(faults, Vec::<String>::new());
        assert!(told as u64 > cuts / 2, "{told}");
        // A program that synced nothing would be found out.
        let (faults, _) = cut_often("daemon-unsynced", cuts, &traced, &all, false);
        assert!(faults.len() as u64 > cuts / 4, "{} of {cuts}", faults.len());
    });
}
