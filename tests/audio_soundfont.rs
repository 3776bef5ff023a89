//! SoundFont files that are whole, cut short, compressed or hostile.

use std::io::Cursor;
use underfoot::audio::soundfont::{FontError, find, load, read};

fn whole() -> Vec<u8> {
    #[allow(clippy::disallowed_methods)] // A test reads its file.
    std::fs::read(find().expect("Debian package timgm6mb-soundfont")).expect("a readable file")
}

fn refused(bytes: &[u8]) -> FontError {
    let size = bytes.len() as u64;
    read(Cursor::new(bytes), size).expect_err("a broken file was loaded")
}

/// Where a chunk's name stands first.
fn at(bytes: &[u8], name: &[u8; 4]) -> usize {
    bytes
        .windows(4)
        .position(|window| window == name)
        .expect("the chunk")
}

/// The file with `new` written over it `offset` bytes after a chunk's name.
fn patched(bytes: &[u8], name: &[u8; 4], offset: usize, new: &[u8]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let place = at(&bytes, name) + offset;
    bytes[place..place + new.len()].copy_from_slice(new);
    bytes
}

#[test]
fn a_whole_file_is_loaded() {
    let font = load(&find().expect("a SoundFont"), 1 << 30).expect("a font");
    // General MIDI 1: 128 programs and a drum kit.
    assert!(font.get_presets().len() > 128);
}

#[test]
fn a_broken_file_is_refused_with_its_reason() {
    let whole = whole();
    let sdta = at(&whole, b"smpl");
    let two_gib = (2u32 << 30).to_le_bytes();
    let hydra = at(&whole, b"pdta");
    let cases: [(&str, Vec<u8>, &str); 10] = [
        ("nothing", Vec::new(), "this is no SoundFont 2 file"),
        (
            "a text",
            b"hello, this is no SoundFont at all".to_vec(),
            "this is no SoundFont 2 file",
        ),
        (
            "cut in the head",
            whole[..14].to_vec(),
            "its chunk header announces 8 bytes, 2 are left",
        ),
        (
            "cut in the samples",
            whole[..sdta + 5_000].to_vec(),
            "its chunk LIST announces",
        ),
        (
            "cut in the tables",
            whole[..hydra + 5_000].to_vec(),
            "its chunk LIST announces",
        ),
        (
            "2 GiB of samples",
            patched(&whole, b"smpl", 4, &two_gib),
            "its chunk smpl announces 2147483648 bytes",
        ),
        (
            "2 GiB of text",
            patched(&whole, b"INAM", 4, &two_gib),
            "its chunk INAM announces 2147483648 bytes",
        ),
        (
            "version 3",
            patched(&whole, b"ifil", 8, &[3, 0]),
            "compressed SoundFonts (SF3) cannot be played",
        ),
        (
            "Ogg samples",
            patched(&whole, b"smpl", 8, b"OggS"),
            "compressed SoundFonts (SF3) cannot be played",
        ),
        // The second preset's zones begin after those of all that follow.
        (
            "zones that go back",
            patched(&whole, b"phdr", 8 + 38 + 24, &[0xFF, 0xFF]),
            "zones do not ascend",
        ),
    ];
    for (what, bytes, reason) in cases {
        let error = refused(&bytes).to_string();
        assert!(error.contains(reason), "{what}: {error}");
    }
}

#[test]
fn a_file_above_the_limit_or_no_file_is_refused() {
    let path = find().expect("a SoundFont");
    assert_eq!(
        load(&path, 1 << 20).err(),
        Some(FontError::TooLarge {
            mib: 5,
            limit_mib: 1
        })
    );
    let directory = path.parent().expect("a directory");
    for path in [directory, std::path::Path::new("/nonexistent.sf2")] {
        assert!(matches!(load(path, 1 << 30), Err(FontError::Read { .. })));
    }
}

mod hostile {
    use super::*;
    use proptest::prelude::*;
    use std::sync::OnceLock;

    /// The tables only, with a few samples: small enough for many tries.
    fn small() -> &'static [u8] {
        static SMALL: OnceLock<Vec<u8>> = OnceLock::new();
        SMALL.get_or_init(|| {
            let whole = whole();
            let (list, tables) = (at(&whole, b"sdta") - 8, at(&whole, b"pdta") - 8);
            let samples: Vec<u8> = (0..4_000u32).map(|n| (n * 7 % 251) as u8).collect();
            let mut small = whole[..list].to_vec();
            small.extend(b"LIST");
            small.extend((4 + 8 + samples.len() as u32).to_le_bytes());
            small.extend(b"sdtasmpl");
            small.extend((samples.len() as u32).to_le_bytes());
            small.extend(&samples);
            small.extend(&whole[tables..]);
            small
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Whatever bytes are changed, loading ends with a font or an error.
        #[test]
        fn changed_bytes_do_no_harm(changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..40)) {
            let mut bytes = small().to_vec();
            for (index, value) in changes {
                let place = index.index(bytes.len());
                bytes[place] = value;
            }
            let size = bytes.len() as u64;
            let _ = read(Cursor::new(bytes), size);
        }
    }
}
