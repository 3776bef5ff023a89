//! Chord symbols as people type them. Common practice, no source.

use underfoot::harmony::{Degree, Harmony};

fn degrees(text: &str) -> String {
    match text.parse::<Harmony>() {
        Ok(Harmony::Chord(chord)) => {
            let names: Vec<String> = chord.degrees.iter().map(Degree::to_string).collect();
            names.join(" ")
        }
        Ok(Harmony::Silence) => "-".to_string(),
        Err(error) => format!("refused: {error}"),
    }
}

#[test]
fn sixty_ways_to_type() {
    let cases = [
        ("C major", "1 3 5"),
        ("C maj.", "1 3 5"),
        ("CMaj", "1 3 5"),
        ("Cmin.", "1 b3 5"),
        ("C min", "1 b3 5"),
        ("C minor", "1 b3 5"),
        ("Cmi", "1 b3 5"),
        ("C-", "1 b3 5"),
        ("C−", "1 b3 5"),
        ("Cm.", "1 b3 5"),
        ("C.", "1 3 5"),
        ("C7.", "1 3 5 b7"),
        ("C⁷", "1 3 5 b7"),
        ("C dom7", "1 3 5 b7"),
        ("C 7", "1 3 5 b7"),
        ("(C7)", "1 3 5 b7"),
        ("[C7]", "1 3 5 b7"),
        ("( Dm7 )", "1 b3 5 b7"),
        ("Cm⁷", "1 b3 5 b7"),
        ("C min7", "1 b3 5 b7"),
        ("C min. 7", "1 b3 5 b7"),
        ("C minor 7", "1 b3 5 b7"),
        ("C-7", "1 b3 5 b7"),
        ("Cmi7", "1 b3 5 b7"),
        ("Cmaj⁷", "1 3 5 7"),
        ("C maj. 7", "1 3 5 7"),
        ("C major 7", "1 3 5 7"),
        ("CMaj7", "1 3 5 7"),
        ("CMA7", "1 3 5 7"),
        ("CM7", "1 3 5 7"),
        ("Cj7", "1 3 5 7"),
        ("CΔ", "1 3 5 7"),
        ("CΔ⁷", "1 3 5 7"),
        ("C⁶", "1 3 5 6"),
        ("C6/9", "1 3 5 6 9"),
        ("C69", "1 3 5 6 9"),
        ("C6 9", "1 3 5 6 9"),
        ("C¹³", "1 3 5 b7 9 13"),
        ("C⁹", "1 3 5 b7 9"),
        ("C7(b9)", "1 3 5 b7 b9"),
        ("C7 b9", "1 3 5 b7 b9"),
        ("C7♭9", "1 3 5 b7 b9"),
        ("C7-9", "1 3 5 b7 b9"),
        ("C⁷⁽♭⁹⁾", "1 3 5 b7 b9"),
        ("C7(#9)", "1 3 5 b7 #9"),
        ("C7+9", "1 3 5 b7 #9"),
        ("C7#11", "1 3 5 b7 #11"),
        ("C7alt.", "1 3 b5 #5 b7 b9 #9"),
        ("C alt", "1 3 b5 #5 b7 b9 #9"),
        ("C7altered", "1 3 b5 #5 b7 b9 #9"),
        ("C7sus", "1 4 5 b7"),
        ("C7sus4", "1 4 5 b7"),
        ("C sus.", "1 4 5"),
        ("C7 sus 4", "1 4 5 b7"),
        ("Cdim.", "1 b3 b5"),
        ("C°7", "1 b3 b5 bb7"),
        ("Cdim. 7", "1 b3 b5 bb7"),
        ("Cm7(b5)", "1 b3 b5 b7"),
        ("C-7b5", "1 b3 b5 b7"),
        ("Cmin7(♭5)", "1 b3 b5 b7"),
        ("Cø⁷", "1 b3 b5 b7"),
        ("Caug.", "1 3 #5"),
        ("C+", "1 3 #5"),
        ("C7+", "1 3 #5 b7"),
        ("Cadd9", "1 3 5 9"),
        ("C(add 9)", "1 3 5 9"),
        ("C7/E", "1 3 5 b7"),
        ("C7 / E", "1 3 5 b7"),
        ("(N.C.)", "-"),
        ("n.c", "-"),
        ("N. C.", "-"),
    ];
    let wrong: Vec<String> = cases
        .iter()
        .filter(|(text, wanted)| degrees(text) != *wanted)
        .map(|(text, wanted)| format!("{text}: wanted {wanted}, got {}", degrees(text)))
        .collect();
    assert!(
        cases.len() >= 60 && wrong.is_empty(),
        "{}",
        wrong.join("\n")
    );
}

/// A small letter is no root: `a` in a text is a word, `b` an accidental. What is meant is told.
#[test]
fn small_roots_are_refused_and_say_so() {
    for (text, near) in [("cm7", "Cm7"), ("am", "Am"), ("g7", "G7"), ("(dm7)", "Dm7")] {
        let error = text.parse::<Harmony>().unwrap_err();
        assert!(error.rule.contains("capital letter"), "{text}: {error}");
        assert!(error.to_string().contains(near), "{text}: {error}");
    }
}
