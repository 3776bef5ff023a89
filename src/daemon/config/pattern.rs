//! Whether a pattern for ports is a regular expression at all.
//!
//! The server matches with POSIX extended regular expressions (POSIX.1-2017, Base Definitions, section 9.4) and
//! takes a broken one for "no such port". Only what is broken in every implementation is told here; the test
//! beside holds it against the C library's.

/// What is broken in a pattern; `None`: nothing that is seen here.
pub(super) fn broken(pattern: &str) -> Option<&'static str> {
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
    use super::broken;
    use proptest::prelude::*;

    /// Whether the C library reads it, with the flags that the server's library gives it.
    fn c_library_reads(pattern: &str) -> bool {
        let text = std::ffi::CString::new(pattern).unwrap();
        let mut compiled = std::mem::MaybeUninit::<libc::regex_t>::uninit();
        // SAFETY: `text` ends with a zero; `compiled` is written by regcomp, and freed only where that went well.
        unsafe {
            let flags = libc::REG_EXTENDED | libc::REG_NOSUB;
            let read = libc::regcomp(compiled.as_mut_ptr(), text.as_ptr(), flags) == 0;
            if read {
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

    proptest! {
        #[test]
        fn no_pattern_is_refused_that_the_c_library_reads(pattern in "[]()a:.=^|*\\\\\\[-]{0,9}") {
            prop_assert!(broken(&pattern).is_none() || !c_library_reads(&pattern), "{}", pattern);
        }
    }
}
