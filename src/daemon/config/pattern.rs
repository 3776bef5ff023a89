//! Whether a pattern for ports is a regular expression at all, and one that can be searched for.
//!
//! The server's library matches with POSIX extended regular expressions (POSIX.1-2017, Base Definitions, section 9.4)
//! and takes a broken one for "no such port". Only what is broken in every implementation is told here; the test
//! beside holds it against the C library's.
//!
//! The C library writes repeats out before it searches: `a{9}` is nine places, `a+` two, and in repeats of repeats they
//! multiply. Eleven `+` around each other took it a second, `{1,100}` thrice too, a few more took for ever, and all
//! that could be told from outside was a call to the server that did not come back.

/// The most places that a pattern may have once its repeats are written out: three times the longest name of a port
/// (jack.h, `jack_port_name_size`: 320 bytes).
const MOST_PLACES: u64 = 1000;

/// What is wrong with a pattern; `None`: nothing that is seen here.
pub(super) fn fault(pattern: &str) -> Option<&'static str> {
    if let Some(what) = broken(pattern) {
        return Some(what);
    }
    match places(pattern) {
        None => Some(
            r"a backslash with a digit would look for what was found before (no such thing in names of ports)",
        ),
        Some(places) if places > MOST_PLACES => Some(
            "it is longer than 1000 places with its repeats written out, and would be searched for without end",
        ),
        Some(_) => None,
    }
}

/// How many places a pattern has with its repeats written out; `None` where it refers back, which no count bounds.
fn places(pattern: &str) -> Option<u64> {
    let mut rest = pattern.chars().peekable();
    // What came before in each open group, and the last thing, which a repeat repeats.
    let mut before = vec![0_u64];
    let mut last = 0_u64;
    while let Some(c) = rest.next() {
        if let Some(times) = repeats(c, &mut rest) {
            last = last.saturating_mul(times);
            continue;
        }
        let sum = before.last_mut()?;
        *sum = sum.saturating_add(last);
        last = 1;
        match c {
            '\\' if rest.next().is_some_and(|c| c.is_ascii_digit()) => return None,
            '[' => drop(passes_list(&mut rest)),
            '(' => {
                before.push(0);
                last = 0;
            }
            ')' if before.len() > 1 => last = before.pop()?.saturating_add(1),
            _ => {}
        }
    }
    Some(
        before
            .iter()
            .fold(last, |sum, part| sum.saturating_add(*part)),
    )
}

/// How often what stands before is written out, where `c` begins a repeat; what belongs to it is passed.
fn repeats(c: char, rest: &mut std::iter::Peekable<std::str::Chars<'_>>) -> Option<u64> {
    match c {
        '*' | '?' => Some(1),
        '+' => Some(2),
        '{' => {
            let mut ahead = rest.clone();
            let inside: String = ahead.by_ref().take_while(|c| *c != '}').collect();
            let number = |text: &str| match text {
                "" => Some(0),
                _ => text.parse::<u64>().ok(),
            };
            let times = match inside.split_once(',') {
                Some((least, "")) => number(least)?.saturating_add(1),
                Some((least, most)) => number(least)?.max(number(most)?),
                None => number(&inside)?,
            };
            *rest = ahead;
            // What is repeated no times is read all the same.
            Some(times.max(1))
        }
        _ => None,
    }
}

/// What is broken in a pattern; `None`: nothing that is seen here.
fn broken(pattern: &str) -> Option<&'static str> {
    let mut rest = pattern.chars().peekable();
    let mut open = 0_u32;
    while let Some(c) = rest.next() {
        match c {
            '\\' if rest.next().is_none() => return Some("it ends with a backslash"),
            '[' if !passes_list(&mut rest) => return Some("a [ is not closed"),
            '(' => open += 1,
            // Alone it stands for itself in some implementations.
            ')' => open = open.saturating_sub(1),
            _ => {}
        }
    }
    (open > 0).then_some("a ( is not closed")
}

/// Goes past a list after its `[`; false where it does not end. In it a backslash is an ordinary character, and
/// so is a `]` that comes first.
fn passes_list(rest: &mut std::iter::Peekable<std::str::Chars<'_>>) -> bool {
    rest.next_if_eq(&'^');
    rest.next_if_eq(&']');
    while let Some(c) = rest.next() {
        match c {
            ']' => return true,
            '[' => {
                // [:alpha:], [.x.], [=x=]
                let Some(kind) = rest.next_if(|c| matches!(c, ':' | '.' | '=')) else {
                    continue;
                };
                let mut last = None;
                loop {
                    let c = rest.next();
                    match c {
                        None => return false,
                        Some(']') if last == Some(kind) => break,
                        _ => last = c,
                    }
                }
            }
            _ => {}
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::{broken, fault, places};
    use proptest::prelude::*;

    /// As long as the name of a port can be, with a closing zero.
    const LONGEST_NAME: [u8; 320] = {
        let mut name = [b'a'; 320];
        name[319] = 0;
        name
    };

    /// Whether the C library reads it, with the flags that the server's library gives it; then it searches, too.
    fn c_library_reads(pattern: &str) -> bool {
        let text = std::ffi::CString::new(pattern).unwrap();
        let mut compiled = std::mem::MaybeUninit::<libc::regex_t>::uninit();
        // SAFETY: `text` and the name end with a zero; `compiled` is written by regcomp, and used and freed only where
        // that went well; no places are asked for.
        unsafe {
            let flags = libc::REG_EXTENDED | libc::REG_NOSUB;
            let read = libc::regcomp(compiled.as_mut_ptr(), text.as_ptr(), flags) == 0;
            if read {
                let none = std::ptr::null_mut();
                libc::regexec(compiled.as_ptr(), LONGEST_NAME.as_ptr().cast(), 0, none, 0);
                libc::regfree(compiled.as_mut_ptr());
            }
            read
        }
    }

    #[test]
    fn broken_patterns_are_known() {
        let cases = [
            ("system:playback_.*", None),
            ("^(A|B):in_[0-9]+$", None),
            ("card \\(USB\\):.*", None),
            ("[]x]", None),
            ("[^]x]", None),
            ("[[:alpha:]]_1", None),
            ("[\\]", None),
            ("(", Some("a ( is not closed")),
            ("(a|(b)", Some("a ( is not closed")),
            ("in_[0-9", Some("a [ is not closed")),
            ("[]", Some("a [ is not closed")),
            ("[[:alpha:]", Some("a [ is not closed")),
            ("in\\", Some("it ends with a backslash")),
        ];
        for (pattern, told) in cases {
            assert_eq!(broken(pattern), told, "{pattern}");
            assert_eq!(c_library_reads(pattern), told.is_none(), "{pattern}");
        }
    }

    #[test]
    fn repeats_are_counted_as_they_are_written_out() {
        let cases = [
            ("", Some(0)),
            ("abc", Some(3)),
            ("a|b", Some(3)),
            ("a*b?", Some(2)),
            ("a+", Some(2)),
            ("a{7}", Some(7)),
            ("a{2,7}", Some(7)),
            ("a{,7}", Some(7)),
            ("a{2,}", Some(3)),
            ("a{0}", Some(1)),
            ("[abc]{7}", Some(7)),
            ("[a{7}]", Some(1)),
            (r"\(USB\)", Some(5)),
            (r"\1", None),
            (r"(a*)*\1", None),
            ("(ab)", Some(3)),
            ("(ab)+c", Some(7)),
            ("((a{9}){9}){9}", Some(9 * (1 + 9 * (1 + 9)))),
            ("a+++", Some(8)),
            ("(a(b", Some(2)),
            ("system:playback_[0-9]+", Some(18)),
        ];
        for (pattern, count) in cases {
            assert_eq!(places(pattern), count, "{pattern}");
        }
    }

    /// Each of these took the C library a second and more; a level further, for ever.
    #[test]
    fn what_would_be_searched_for_without_end_is_refused() {
        let nested = |levels: usize| format!("{}.*{}", "(".repeat(levels), ")+".repeat(levels));
        let cases = [
            ("(((a{1,100}){1,100}){1,100})".to_string(), true),
            (nested(11), true),
            (nested(40), true),
            ("a{30000}".to_string(), true),
            (r"(a*)*\1b".to_string(), true),
            (nested(6), false),
            ("(.*)*x".to_string(), false),
            ("USB Audio.*:playback_F[LR]".to_string(), false),
            (
                "(alsa|usb)+_[a-z0-9]{1,40}:(in|out)_[0-9]+".to_string(),
                false,
            ),
            ("a".repeat(320), false),
        ];
        for (pattern, refused) in cases {
            assert_eq!(fault(&pattern).is_some(), refused, "{pattern}");
            // What is let through comes back.
            assert!(refused || c_library_reads(&pattern), "{pattern}");
        }
    }

    proptest! {
        #[test]
        fn what_is_let_through_comes_back(pattern in "([a.]|\\(|\\)|[*+?]|\\{[0-9]{1,2}\\}|\\[ab\\]){0,40}") {
            if fault(&pattern).is_none() {
                c_library_reads(&pattern);
            }
        }

        #[test]
        fn no_pattern_is_refused_that_the_c_library_reads(pattern in "[]()a:.=^|*\\\\\\[-]{0,9}") {
            prop_assert!(broken(&pattern).is_none() || !c_library_reads(&pattern), "{}", pattern);
        }
    }
}
