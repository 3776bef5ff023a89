//! The words of a chart that harmony understands: symbols, keys, scales.

use crate::harmony::{
    ChordSymbol, Harmony, KeyDeclaration, KeyError, Pitch, ScaleName, ScaleNameError, SymbolError,
};

/// Reads a chord symbol.
pub(super) fn read_harmony(text: &str) -> Result<Harmony, SymbolError> {
    if matches!(text, "N.C." | "NC" | "N.C" | "no chord") {
        return Ok(Harmony::Silence);
    }
    let error = || SymbolError {
        column: 1,
        rule: "a chord symbol starts with its root".to_string(),
        nearest: None,
    };
    let end = text
        .char_indices()
        .skip(1)
        .find(|(_, sign)| !matches!(sign, 'b' | '#'))
        .map_or(text.len(), |(at, _)| at);
    let root: Pitch = text[..end].parse().map_err(|_| error())?;
    Ok(Harmony::Chord(ChordSymbol {
        text: text.to_string(),
        root,
        bass: root,
        degrees: Vec::new(),
    }))
}

/// Reads a key or a signature.
pub(super) fn read_key(text: &str) -> Result<KeyDeclaration, KeyError> {
    use crate::harmony::{Key, Mode};
    let error = || KeyError(text.to_string());
    let (first, second) = text.split_once(' ').ok_or_else(error)?;
    let mode = match second {
        "minor" => Mode::Minor,
        "major" => Mode::Major,
        "flats" | "flat" => {
            return first
                .parse()
                .map(|n: i8| KeyDeclaration::Signature(-n))
                .map_err(|_| error());
        }
        _ => return Err(error()),
    };
    let tonic = first.parse().map_err(|_| error())?;
    Ok(KeyDeclaration::Key(Key { tonic, mode }))
}

/// Reads the name of a scale.
pub(super) fn read_scale(name: &str) -> Result<ScaleName, ScaleNameError> {
    match name {
        "altered" => return Ok(ScaleName::Altered),
        "Lydian dominant" => return Ok(ScaleName::LydianDominant),
        _ => {}
    }
    Err(ScaleNameError {
        name: name.to_string(),
        nearest: None,
    })
}
