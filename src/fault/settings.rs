//! Settings: a struct, what is built in, and how a file says it, each written in one place.

use super::{TableView, Text};
use std::ops::RangeInclusive;
use std::path::PathBuf;

/// Declares a struct of settings that a table of a file may say. A field has its key (its own name, if no other is given), its
/// type, what is built in, and the rule by which its value is read: any function from a table and a key to a value, such as
/// those of this module.
///
/// The struct gets a `Default`, and `over`: these settings with those over them that a table says.
macro_rules! settings {
    ($(#[$meta:meta])* pub struct $name:ident {
        $($(#[$doc:meta])* $field:ident $(as $key:literal)?: $type:ty = $usual:expr, $rule:expr;)*
    }) => {
        $(#[$meta])*
        pub struct $name {
            $($(#[$doc])* pub $field: $type,)*
        }

        impl Default for $name {
            fn default() -> $name {
                $name { $($field: $usual,)* }
            }
        }

        impl $name {
            /// These settings, with those over them that a table says.
            pub(crate) fn over(mut self, view: &$crate::fault::TableView<'_, '_>) -> $name {
                $($crate::fault::settings::set(
                    &mut self.$field,
                    view,
                    $crate::fault::settings::key!($field $($key)?),
                    $rule,
                );)*
                self
            }
        }
    };
}

/// The key of a field: its name, or the one that is given.
macro_rules! key {
    ($field:ident) => {
        stringify!($field)
    };
    ($field:ident $key:literal) => {
        $key
    };
}

pub(crate) use {key, settings};

/// Sets what the table says.
pub(crate) fn set<T>(
    field: &mut T,
    view: &TableView<'_, '_>,
    key: &'static str,
    rule: impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<T>,
) {
    if let Some(value) = rule(view, key) {
        *field = value;
    }
}

/// A number within a range.
pub(crate) fn number<'a>(
    range: RangeInclusive<f64>,
    unit: &'a str,
) -> impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<f64> + 'a {
    move |view, key| view.number(key, range, unit)
}

/// The same where less precision does.
pub(crate) fn number_f32<'a>(
    range: RangeInclusive<f64>,
    unit: &'a str,
) -> impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<f32> + 'a {
    move |view, key| Some(view.number(key, range, unit)? as f32)
}

/// A whole number within a range.
pub(crate) fn whole<'a, T: TryFrom<i64>>(
    range: RangeInclusive<i64>,
    unit: &'a str,
) -> impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<T> + 'a {
    move |view, key| view.integer(key, range, unit)
}

/// `true` or `false`.
pub(crate) fn flag(view: &TableView<'_, '_>, key: &'static str) -> Option<bool> {
    view.boolean(key)
}

/// A text as it is.
pub(crate) fn text(view: &TableView<'_, '_>, key: &'static str) -> Option<String> {
    view.string(key).map(|text| text.value.to_string())
}

/// One of some words.
pub(crate) fn word<T: Clone, const N: usize>(
    words: [(&str, T); N],
) -> impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<T> {
    move |view, key| view.one_of(key, &words)
}

/// A path; an empty one is none.
pub(crate) fn path(view: &TableView<'_, '_>, key: &'static str) -> Option<Option<PathBuf>> {
    let path = |text: Text<'_>| (!text.value.is_empty()).then(|| PathBuf::from(text.value));
    view.string(key).map(path)
}

/// A table, read over what is built in.
pub(crate) fn table<T: Default>(
    over: impl FnOnce(T, &TableView<'_, '_>) -> T,
) -> impl FnOnce(&TableView<'_, '_>, &'static str) -> Option<T> {
    move |view, key| {
        let view = view.table(key)?;
        let read = over(T::default(), &view);
        view.finish();
        Some(read)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Reader, Source};
    use super::*;

    settings! {
        /// Settings of a lamp.
        #[derive(Debug, PartialEq)]
        pub struct Shade {
            /// How bright.
            level_db as "level": f64 = -6.0, number(-90.0..=0.0, "dB");
            count: u8 = 2, whole(1..=9, "lamps");
            lit: bool = true, flag;
        }
    }

    #[test]
    fn what_a_table_does_not_say_is_built_in_and_faults_name_the_key() {
        let read = |text: &str| {
            let source = Source { name: "t", text };
            let told = Reader::new(&source).read(|view| Some(Shade::default().over(view)));
            told.map_err(|faults| faults.to_string())
        };
        let shade = |level_db, count, lit| Shade {
            level_db,
            count,
            lit,
        };
        let cases = [
            ("", Ok(shade(-6.0, 2, true))),
            ("level = -3\nlit = false", Ok(shade(-3.0, 2, false))),
            (
                "count = 10\nlevle = 1",
                Err("t:1:9: count is 10, but must lie between 1 and 9 lamps\n\
                     t:2:1: unknown key \"levle\" (nearest: \"level\")"
                    .to_string()),
            ),
        ];
        for (text, told) in cases {
            assert_eq!(read(text), told, "{text}");
        }
    }
}
