//! Faults and the texts that they are in.

use std::fmt;

/// What the system says, without its number for it.
pub(crate) fn without_number(error: &std::io::Error) -> String {
    let text = error.to_string();
    let end = text.find(" (os error ").unwrap_or(text.len());
    text[..end].to_string()
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
            file: self.name.to_string(),
            line,
            column,
            rule: printable(&rule.into()),
        }
    }
}

/// A message quotes what the user wrote; control characters in it must not reach a terminal.
fn printable(rule: &str) -> String {
    rule.replace(char::is_control, "\u{fffd}")
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
