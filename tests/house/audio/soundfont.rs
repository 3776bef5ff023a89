//! SoundFont files that are whole, cut short, compressed or hostile.

use std::io::Cursor;
use underfoot::audio::soundfont::{FontError, find, load, read};

fn whole() -> Vec<u8> {
    #[allow(clippy::disallowed_methods)] // A test reads its file.
    std::fs::read(find().expect("Debian package timgm6mb-soundfont")).expect("a readable file")
}

fn refused(bytes: &[u8]) -> FontError {
    let size = bytes.len() as u64;
    read(Cursor::new(bytes.to_vec()), size).expect_err("a broken file was loaded")
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
    assert!(font.presets().count() > 128);
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

/// A SoundFont made by hand (SoundFont 2.04, section 7): one preset with `zones` zones, each the same
/// instrument of one region over all keys.
fn layered(zones: u16) -> Vec<u8> {
    let chunk = |name: &str, body: &[u8]| {
        let mut bytes = name.as_bytes().to_vec();
        bytes.extend((body.len() as u32).to_le_bytes());
        bytes.extend(body);
        bytes
    };
    let words = |words: &[u16]| {
        words
            .iter()
            .flat_map(|word| word.to_le_bytes())
            .collect::<Vec<u8>>()
    };
    let name = |text: &str| {
        let mut name = text.as_bytes().to_vec();
        name.resize(20, 0);
        name
    };
    // Name, preset and bank, first zone, three reserved double words.
    let preset =
        |text: &str, bag: u16| [name(text), words(&[0, 0, bag, 0, 0, 0, 0, 0, 0])].concat();
    let sample = |text: &str, end: u32| {
        let addresses = [0, end, 8, end.saturating_sub(8), 44_100]
            .map(u32::to_le_bytes)
            .concat();
        [name(text), addresses, vec![60, 0], words(&[0, 1])].concat()
    };
    let bags: Vec<u8> = (0..=zones).flat_map(|zone| words(&[zone, 0])).collect();
    let generators = words(&[41, 0].repeat(usize::from(zones)));
    let tables = [
        chunk(
            "phdr",
            &[preset("Layers", 0), preset("EOP", zones)].concat(),
        ),
        chunk("pbag", &bags),
        chunk("pmod", &[0; 10]),
        chunk("pgen", &[generators, words(&[0, 0])].concat()),
        chunk(
            "inst",
            &[name("One"), words(&[0]), name("EOI"), words(&[1])].concat(),
        ),
        chunk("ibag", &words(&[0, 0, 1, 0])),
        chunk("imod", &[0; 10]),
        chunk("igen", &words(&[53, 0, 0, 0])),
        chunk("shdr", &[sample("Wave", 100), sample("EOS", 0)].concat()),
    ];
    let wave: Vec<u8> = (0..200i16).flat_map(|n| (n * 100).to_le_bytes()).collect();
    let body = [
        b"sfbk".to_vec(),
        chunk(
            "LIST",
            &[b"INFO".to_vec(), chunk("ifil", &words(&[2, 4]))].concat(),
        ),
        chunk("LIST", &[b"sdta".to_vec(), chunk("smpl", &wave)].concat()),
        chunk("LIST", &[b"pdta".to_vec(), tables.concat()].concat()),
    ];
    chunk("RIFF", &body.concat())
}

#[test]
fn a_preset_that_would_stall_the_audio_thread_is_refused() {
    for (zones, reason) in [
        (
            300,
            "its preset \"Layers\" has more than 256 regions on one key",
        ),
        (20_000, "its preset \"Layers\" has more than 16384 regions"),
    ] {
        assert!(
            refused(&layered(zones)).to_string().contains(reason),
            "{zones}"
        );
    }
    for zones in [1, 256] {
        let bytes = layered(zones);
        let size = bytes.len() as u64;
        assert!(read(Cursor::new(bytes), size).is_ok(), "{zones}");
    }
}

mod hostile {
    use super::*;
    use crate::support::rig::{Rig, append, band_bar, prepared, start};
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

        /// Whatever bytes are changed, loading ends with a font or an error, and a font can be played: with sound
        /// or silence within the ceiling, or with the flag of a poisoned player.
        #[test]
        fn changed_bytes_do_no_harm(changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..40)) {
            let mut bytes = small().to_vec();
            for (index, value) in changes {
                let place = index.index(bytes.len());
                bytes[place] = value;
            }
            let size = bytes.len() as u64;
            let Ok(font) = read(Cursor::new(bytes), size) else { return Ok(()) };
            let mut settings = prepared(false);
            settings.font = Some(font);
            let mut rig = Rig::new(settings);
            rig.send(start(0, 0));
            rig.send(append([band_bar(0, 280.0), band_bar(1, 280.0)]));
            rig.until(60_000, 256);
            let within = |sample: &f32| sample.abs() <= 0.7944;
            prop_assert!(rig.left.iter().chain(&rig.right).all(within));
        }
    }
}

#[test]
fn a_font_without_sound_is_known_by_its_parts() {
    use underfoot::audio::{Band, PartSound, part_sounds};
    let whole = whole();
    let smpl = at(&whole, b"smpl");
    let length = u32::from_le_bytes(whole[smpl + 4..smpl + 8].try_into().expect("four bytes"));
    let zeros = vec![0; length as usize];
    // The record of the drum kit says bank 128 (after a name of 20 bytes and the patch); the acoustic bass is patch 32.
    let phdr = at(&whole, b"phdr");
    let records = whole[phdr + 8..].chunks(38);
    let place = |bank: u16, patch: u16| {
        let id = [patch.to_le_bytes(), bank.to_le_bytes()].concat();
        let found = records.clone().position(|record| record[20..24] == id);
        8 + 38 * found.expect("the preset") + 20
    };
    let moved = |bank, patch| patched(&whole, b"phdr", place(bank, patch), &[77, 0, 99, 0]);
    let (own, other, none) = (PartSound::Own, PartSound::Other, PartSound::None);
    // comping, bass, drums, melody
    for (what, bytes, sounds) in [
        ("whole", whole.clone(), [own; 4]),
        (
            "no samples but zeros",
            patched(&whole, b"smpl", 8, &zeros),
            [none; 4],
        ),
        ("no drum kit", moved(128, 0), [own, own, other, own]),
        ("no bass", moved(0, 32), [own, other, own, own]),
    ] {
        let size = bytes.len() as u64;
        let font = read(Cursor::new(bytes), size).expect("a font");
        let told = part_sounds(&font, &Band::default())
            .expect("samples")
            .map(|(_, sound)| sound);
        assert_eq!(told, sounds, "{what}");
    }
}

#[test]
fn a_silent_font_is_told_when_it_is_checked() {
    let mut whole = whole();
    let smpl = at(&whole, b"smpl");
    let length = u32::from_le_bytes(whole[smpl + 4..smpl + 8].try_into().expect("four bytes"));
    whole[smpl + 8..smpl + 8 + length as usize].fill(0);
    let home = tempfile::tempdir().expect("a directory");
    std::fs::write(home.path().join("font.sf2"), whole).expect("a file");
    let checked = crate::support::program::command(home.path())
        .args(["check", "font.sf2"])
        .current_dir(home.path())
        .output()
        .expect("underfoot");
    assert_eq!(
        String::from_utf8_lossy(&checked.stdout),
        "font.sf2: OK (SoundFont)\nfont.sf2: the SoundFont has no sound for comping, bass, drums, melody\n"
    );
}
