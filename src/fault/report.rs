//! Faults and the texts that they are in.

use std::fmt;

/// What the system says of a file, in words alone: without its number, and without the name of the file beside it
/// that a whole one is first written to.
pub(crate) fn why(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    let words = match error.kind() {
        ErrorKind::NotFound => "no such file or directory",
        ErrorKind::PermissionDenied => "permission denied",
        ErrorKind::AlreadyExists => "another file of this name is there",
        ErrorKind::IsADirectory => "it is a directory",
        ErrorKind::NotADirectory => "a part of the path is no directory",
        ErrorKind::StorageFull => "no space is left",
        ErrorKind::ReadOnlyFilesystem => "the file system is read-only",
        _ => {
            let text = error.to_string();
            let end = text.find(" (os error ").unwrap_or(text.len());
            return text[..end].to_string();
        }
    };
    words.to_string()
}

/// A text that is being read, with the name to show for it.
#[derive(Debug, Clone)]
pub struct Source<'a> {
    /// The file as the user named it (`-` for standard input).
    pub name: &'a str,
    pub text: &'a str,
}

impl Source<'_> {
    /// Line and column (both from 1, the column in characters) of a byte offset; beyond the end: the end.
    pub fn place(&self, offset: usize) -> (usize, usize) {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &self.text[..end];
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }

    /// A fault at a byte offset.
    pub fn fault(&self, offset: usize, rule: impl Into<String>) -> Fault {
        let (line, column) = self.place(offset);
        Fault {
            file: printable(self.name),
            line,
            column,
            rule: printable(&rule.into()),
        }
    }
}

/// Whether a terminal would obey a character instead of showing it: the control characters of ISO 6429 (C0 and C1; a tab
/// does no harm), and those that turn the direction of what follows (Unicode Standard Annex 9: embeddings, overrides, isolates).
pub fn is_obeyed(c: char) -> bool {
    (c.is_control() && c != '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A line that may quote what is foreign (a name of a file or of a device), for people to read: what a terminal would obey
/// is replaced.
pub fn printable(line: &str) -> String {
    line.replace(is_obeyed, "\u{fffd}")
}

/// The same for several lines, which stay so.
pub fn printable_lines(lines: &str) -> String {
    lines.replace(|c| is_obeyed(c) && c != '\n', "\u{fffd}")
}

/// One fault that the user can mend.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file as the user named it.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The column, from 1, in characters.
    pub column: usize,
    /// What is wrong, the rule broken, and the nearest right word if there is one.
    pub rule: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}:{}: {}",
            self.file, self.line, self.column, self.rule
        )
    }
}

/// All faults of a text, in its order; at least one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults(pub Vec<Fault>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}
