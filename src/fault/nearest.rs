//! The right word for a wrong one.

/// The longest word that is compared: comparing takes the product of the lengths.
const MAX_WORD: usize = 64;

/// The known word nearest to `word`, if one is near enough to be meant; never for a word over 64 bytes.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > MAX_WORD {
        return None;
    }
    let lower = word.to_lowercase();
    known
        .into_iter()
        .filter(|candidate| candidate.len() <= MAX_WORD)
        .map(|candidate| {
            (
                strsim::jaro_winkler(&lower, &candidate.to_lowercase()),
                candidate,
            )
        })
        .filter(|(score, _)| *score >= 0.7)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// ` (nearest: "word")`, or nothing.
pub fn nearest_hint<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    nearest(word, known)
        .map(|near| format!(" (nearest: \"{near}\")"))
        .unwrap_or_default()
}
