//! `underfoot journal`: the practice journal from outside.

use super::output::{stdout_failed, unwritable};
use crate::daemon::args::{
    BackupArgs, ExportRowsArgs, ForgetArgs, JournalCommand, JournalPlace, MergeArgs,
};
use crate::daemon::config::{Directories, Journal, Overlay};
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::whole_file::{WholeFile, sync_directory_of};
use crate::journal::{self, Merged, Store, Trouble};
use serde_json::Value;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Looks a variable of the environment up.
pub(super) type Variable<'a> = &'a dyn Fn(&str) -> Option<String>;

/// `underfoot journal`.
///
/// # Errors
/// Faults of the configuration (78); a journal that is not there or cannot be read (65).
pub fn journal(command: &JournalCommand, variable: Variable<'_>) -> Result<(), Failure> {
    match command {
        JournalCommand::Report(args) => super::journal_report::report(args, variable),
        JournalCommand::Backup(args) => backup(args, variable),
        JournalCommand::Export(args) => export(args, variable),
        JournalCommand::Merge(args) => merge(args, variable),
        JournalCommand::Forget(args) => forget(args, variable),
    }
}

/// The unit's journal, which has a directory of its own.
const BOX: &str = "/var/lib/underfoot/journal.db";

/// Where the journal is, to be read: this user's, else the box's, which is told.
pub(super) fn place(place: &JournalPlace, variable: Variable<'_>) -> Result<PathBuf, Failure> {
    let (path, is_named) = placed(place, variable)?;
    let instead = boxes_instead(path.as_deref(), is_named, Path::new(BOX));
    if let Some(instead) = &instead {
        eprintln!("the journal of the box: {}", instead.display());
    }
    instead.or(path).ok_or_else(nowhere)
}

/// Where the journal is, to be changed: never another one than the named one or this user's.
fn place_to_change(place: &JournalPlace, variable: Variable<'_>) -> Result<PathBuf, Failure> {
    let (path, is_named) = placed(place, variable)?;
    let path = path.ok_or_else(nowhere)?;
    if let Some(instead) = boxes_instead(Some(&path), is_named, Path::new(BOX)) {
        let text = format!(
            "{}: there is no journal here yet; the box's is changed by --journal {}",
            path.display(),
            instead.display()
        );
        return Err(Failure::new(exit::DATA, text));
    }
    Ok(path)
}

/// The configured place, and whether anybody named it.
fn placed(
    place: &JournalPlace,
    variable: Variable<'_>,
) -> Result<(Option<PathBuf>, bool), Failure> {
    if let Some(path) = &place.journal {
        return Ok((Some(path.clone()), true));
    }
    let mut config = files::config(place.config.as_deref(), variable, Overlay::default())?;
    config.journal.on = true;
    let is_named =
        place.config.is_some() || config.journal.path.is_some() || config.paths.state_dir.is_some();
    let path = Directories::of(&config.paths, variable).journal(&config.journal);
    Ok((path, is_named))
}

/// The box's journal, where nobody named one and this user has none.
fn boxes_instead(path: Option<&Path>, is_named: bool, boxes: &Path) -> Option<PathBuf> {
    let has_own = path.is_some_and(Path::exists);
    (!is_named && !has_own && boxes.exists()).then(|| boxes.to_path_buf())
}

fn nowhere() -> Failure {
    let text = "no directory with a journal (none of state_dir, STATE_DIRECTORY, XDG_STATE_HOME, HOME is set): name it by --journal";
    Failure::new(exit::DATA, text)
}

pub(super) fn failed(trouble: &Trouble) -> Failure {
    Failure::new(exit::DATA, trouble.to_string())
}

pub(super) fn unreadable(path: &Path, error: &rusqlite::Error) -> Failure {
    Failure::new(exit::DATA, format!("{}: {error}", path.display()))
}

/// Opens the journal to write. What lies there and is none is not touched: that is the daemon's to set aside.
fn open(path: &Path) -> Result<Store, Failure> {
    journal::open_as_it_is(path).map_err(|trouble| failed(&trouble))
}

fn backup(args: &BackupArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let path = place(&args.place, variable)?;
    let db = journal::open_to_read(&path).map_err(|trouble| failed(&trouble))?;
    let dir = args.to.parent().filter(|dir| !dir.as_os_str().is_empty());
    let beside = tempfile::Builder::new()
        .prefix(".underfoot-")
        .tempfile_in(dir.unwrap_or(Path::new(".")))
        .map_err(|error| unwritable(&args.to, &error))?;
    db.backup("main", beside.path(), None::<fn(_)>)
        .map_err(|error| unreadable(&path, &error))?;
    let kept = beside.as_file().sync_all().and_then(|()| {
        beside.persist(&args.to).map_err(|error| error.error)?;
        sync_directory_of(&args.to)
    });
    kept.map_err(|error| unwritable(&args.to, &error))
}

fn export(args: &ExportRowsArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let path = place(&args.place, variable)?;
    let db = journal::open_to_read(&path).map_err(|trouble| failed(&trouble))?;
    let Some(output) = &args.output else {
        let mut out = BufWriter::new(std::io::stdout().lock());
        return export_to(&db, args.csv, &mut out).map_err(|error| match error {
            NotExported::Read(error) => unreadable(&path, &error),
            NotExported::Write(error) => stdout_failed(error),
        });
    };
    let file = WholeFile::create(output).map_err(|error| unwritable(output, &error))?;
    let mut out = BufWriter::new(file.handle().map_err(|error| unwritable(output, &error))?);
    export_to(&db, args.csv, &mut out).map_err(|error| match error {
        NotExported::Read(error) => unreadable(&path, &error),
        NotExported::Write(error) => unwritable(output, &error),
    })?;
    file.keep().map_err(|error| unwritable(output, &error))
}

enum NotExported {
    Read(rusqlite::Error),
    Write(std::io::Error),
}

impl From<rusqlite::Error> for NotExported {
    fn from(error: rusqlite::Error) -> NotExported {
        NotExported::Read(error)
    }
}

/// The columns of a verdict's line, and where each comes from: the take, or the verdict.
const COLUMNS: [(&str, bool); 18] = [
    ("take", true),
    ("player", true),
    ("at", true),
    ("chart", true),
    ("drill", true),
    ("at_ms", false),
    ("stage", false),
    ("degree", false),
    ("quality", false),
    ("key", false),
    ("root", false),
    ("place", false),
    ("region", false),
    ("tempo_qpm", false),
    ("result", false),
    ("time", false),
    ("late_ms", false),
    ("found", false),
];

fn export_to(
    db: &rusqlite::Connection,
    csv: bool,
    out: &mut impl Write,
) -> Result<(), NotExported> {
    if csv {
        let names = COLUMNS.map(|(name, _)| name).join(",");
        write!(out, "{names}\r\n").map_err(NotExported::Write)?;
    }
    let mut take = Value::Null;
    journal::each_row(db, |row| {
        let is_verdict = row["kind"] == "verdict";
        let written = match csv {
            false => writeln!(out, "{row}"),
            true if is_verdict => {
                let fields = COLUMNS.map(|(name, of_take)| {
                    csv_field(if of_take { &take[name] } else { &row[name] })
                });
                write!(out, "{}\r\n", fields.join(","))
            }
            true => Ok(()),
        };
        if row["kind"] == "take" {
            take = row;
        }
        written.map_err(NotExported::Write)
    })?;
    out.flush().map_err(NotExported::Write)
}

/// A field as RFC 4180 has it. A text that a spreadsheet would take for a formula is quoted by a mark before it.
fn csv_field(value: &Value) -> String {
    let text = match value {
        Value::Null => return String::new(),
        Value::String(text) => text.clone(),
        other => return other.to_string(),
    };
    let is_formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if is_formula { format!("'{text}") } else { text };
    match text.contains([',', '"', '\r', '\n']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text,
    }
}

fn merge(args: &MergeArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let path = place_to_change(&args.place, variable)?;
    let mut store = open(&path)?;
    let mut all = Merged::default();
    for from in &args.from {
        look_at_names(args.player.as_deref(), store.connection(), (&path, from))?;
        let merged = journal::merge(store.connection_mut(), from, args.player.as_deref());
        let merged = merged.map_err(|trouble| failed(&trouble))?;
        all.takes += merged.takes;
        all.verdicts += merged.verdicts;
    }
    eprintln!("the journal: {}", path.display());
    let told = format!("{} new takes, {} new verdicts", all.takes, all.verdicts);
    super::output::write_text(None, &format!("{told}\n"))
}

/// Whether it is clear whose practice it is that is taken over.
fn look_at_names(
    player: Option<&str>,
    db: &rusqlite::Connection,
    (into, from): (&Path, &Path),
) -> Result<(), Failure> {
    let other = journal::open_to_read(from).map_err(|trouble| failed(&trouble))?;
    if let Some(name) = player {
        let players = journal::players(&other).map_err(|error| unreadable(from, &error))?;
        let names: Vec<String> = players.into_iter().map(|player| player.name).collect();
        let text = format!(
            "{}: it holds several players ({}), and --player {name} is for one",
            from.display(),
            names.join(", ")
        );
        return match names.len() {
            0 | 1 => Ok(()),
            _ => Err(Failure::new(exit::DATA, text)),
        };
    }
    let both = journal::namesakes(db, &other).map_err(|error| unreadable(from, &error))?;
    // What every player is called who was never given a name.
    let unnamed = Journal::default().player;
    if both.contains(&unnamed) {
        let text = format!(
            "{} and {} both hold a player \"{unnamed}\", from different boxes: whose practice is it? Say it by --player NAME",
            into.display(),
            from.display()
        );
        return Err(Failure::new(exit::DATA, text));
    }
    for name in both {
        eprintln!(
            "{}: {name} is in both journals, and is taken for one player",
            from.display()
        );
    }
    Ok(())
}

fn forget(args: &ForgetArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let path = place_to_change(&args.place, variable)?;
    // Nothing is made where there is nothing to forget.
    let db = journal::open_to_read(&path).map_err(|trouble| failed(&trouble))?;
    if let Some(name) = &args.player
        && journal::player_id(&db, name)
            .map_err(|error| unreadable(&path, &error))?
            .is_none()
    {
        let known = journal::players(&db).map_err(|error| unreadable(&path, &error))?;
        let known: Vec<String> = known.into_iter().map(|player| player.name).collect();
        let text = format!(
            "no player \"{name}\" in the journal (there are: {})",
            known.join(", ")
        );
        return Err(Failure::new(exit::DATA, text));
    }
    drop(db);
    let before_ms = args.before.map(|day| {
        let begins = day.to_zoned_datetime(jiff::tz::TimeZone::system());
        begins.map_or(i64::MIN, |begins| begins.timestamp().as_millisecond())
    });
    let mut store = open(&path)?;
    let gone = journal::forget(store.connection_mut(), args.player.as_deref(), before_ms)
        .map_err(|error| unreadable(&path, &error))?;
    eprintln!("the journal: {}", path.display());
    super::output::write_text(None, &format!("{gone} takes forgotten\n"))
}

#[cfg(test)]
// It makes files to be found.
#[allow(clippy::disallowed_methods)]
mod tests {
    use super::*;

    #[test]
    fn the_box_s_journal_is_read_only_where_nobody_has_another() {
        let dir = tempfile::tempdir().expect("a directory");
        let (own, boxes) = (dir.path().join("own.db"), dir.path().join("box.db"));
        // This user has one, somebody named it, the box has one: it is the box's.
        let cases = [
            (false, false, true, true),
            (false, false, false, false),
            (true, false, true, false),
            (false, true, true, false),
            (true, true, true, false),
        ];
        for (has_own, is_named, has_box, expected) in cases {
            for (path, is_there) in [(&own, has_own), (&boxes, has_box)] {
                let _ = std::fs::remove_file(path);
                if is_there {
                    std::fs::write(path, "").expect("a file");
                }
            }
            let got = boxes_instead(Some(&own), is_named, &boxes);
            assert_eq!(got.is_some(), expected, "{has_own} {is_named} {has_box}");
        }
    }
}
