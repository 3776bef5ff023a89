//! `underfoot symbols`: one symbol a line in, one object a line out.
// It reads a file or standard input.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::output::stdout_failed;
use crate::daemon::args::SymbolsArgs;
use crate::daemon::files::{self, Failure, exit};
use crate::device::plain_file::open_plain;
use crate::harmony::symbols_line;
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::path::Path;

/// As much of a line as is kept: a symbol is far shorter, so what is cut off is a fault anyway.
const LONGEST_LINE_BYTES: usize = 4096;

/// `underfoot symbols`.
///
/// # Errors
/// When the file cannot be read; symbols that cannot be read are lines of the answer, not errors.
pub fn symbols(args: &SymbolsArgs) -> Result<(), Failure> {
    let name = args.file.display();
    let unreadable = |error: io::Error| {
        Failure::new(
            exit::DATA,
            format!("{name}: cannot be read ({})", files::why(&error)),
        )
    };
    let input: Box<dyn Read> = if args.file == Path::new("-") {
        Box::new(io::stdin().lock())
    } else {
        Box::new(open_plain(&args.file).map_err(unreadable)?)
    };
    let mut input = BufReader::new(input);
    let mut out = BufWriter::new(io::stdout().lock());
    let mut line = Vec::new();
    for index in 0.. {
        if !read_line(&mut input, &mut line).map_err(unreadable)? {
            break;
        }
        let text = String::from_utf8_lossy(&line);
        let text = match index {
            0 => text.strip_prefix(files::BYTE_ORDER_MARK).unwrap_or(&text),
            _ => &text,
        };
        writeln!(out, "{}", symbols_line(index, text)).map_err(stdout_failed)?;
    }
    out.flush().map_err(stdout_failed)
}

/// Reads the next line without its end (LF or CR LF), cut off at [`LONGEST_LINE_BYTES`]; `false`: there is none.
fn read_line(input: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<bool> {
    line.clear();
    let most = LONGEST_LINE_BYTES as u64 + 2;
    if input.by_ref().take(most).read_until(b'\n', line)? == 0 {
        return Ok(false);
    }
    if line.ends_with(b"\n") {
        line.pop();
        if line.ends_with(b"\r") {
            line.pop();
        }
    } else if line.len() as u64 == most {
        input.skip_until(b'\n')?;
    }
    line.truncate(LONGEST_LINE_BYTES);
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &[u8], buffer: usize) -> Vec<Vec<u8>> {
        let mut input = BufReader::with_capacity(buffer, text);
        let mut line = Vec::new();
        let mut lines = Vec::new();
        while read_line(&mut input, &mut line).unwrap() {
            lines.push(line.clone());
        }
        lines
    }

    #[test]
    fn a_line_is_a_line_however_it_ends_and_however_long_it_is() {
        let long = |count: usize| vec![b'm'; count];
        let join = |head: Vec<u8>, tail: &[u8]| [head, tail.to_vec()].concat();
        let cases: [(Vec<u8>, Vec<Vec<u8>>); 10] = [
            (b"".into(), vec![]),
            (b"C".into(), vec![b"C".into()]),
            (b"C\n".into(), vec![b"C".into()]),
            (b"C\r\nD\r".into(), vec![b"C".into(), b"D\r".into()]),
            (b"\n\nC".into(), vec![b"".into(), b"".into(), b"C".into()]),
            (b" C \n".into(), vec![b" C ".into()]),
            (join(long(4096), b"\nC"), vec![long(4096), b"C".into()]),
            (join(long(4096), b"\r\nC"), vec![long(4096), b"C".into()]),
            (join(long(4098), b"\nC"), vec![long(4096), b"C".into()]),
            (join(long(99_999), b"\nC\n"), vec![long(4096), b"C".into()]),
        ];
        for (text, expected) in cases {
            for buffer in [1, 7, 8192] {
                assert_eq!(lines(&text, buffer), expected);
            }
        }
    }
}
