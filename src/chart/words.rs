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
    Err(KeyError(text.to_string()))
}

/// Reads the name of a scale.
pub(super) fn read_scale(name: &str) -> Result<ScaleName, ScaleNameError> {
    Err(ScaleNameError {
        name: name.to_string(),
        nearest: None,
    })
}
