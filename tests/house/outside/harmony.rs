//! Harmony against textbooks and real melodies, beside five simple rule sets that know nothing of function
//! (`tests/outside/harmony.py`, Python without any package). Run alone it prints all figures and every flat second won
//! and lost: `UNDERFOOT_PYTHON=python3 cargo test --test house outside::harmony -- --nocapture`.

// It starts the program that judges.

use std::process::Command;

/// Sources: progressions by common practice, no source; tunes from OpenEWLD, public domain.
#[test]
fn seconds_and_scales_are_those_of_textbooks_and_melodies() {
    let Ok(python) = std::env::var("UNDERFOOT_PYTHON") else {
        let how = "the judge is not there: UNDERFOOT_PYTHON=$(tests/outside/venv) cargo test";
        assert!(std::env::var_os("CI").is_none(), "{how}");
        eprintln!("SKIPPED: {how}");
        return;
    };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/harmony.py");
    let output = Command::new(python)
        .args([
            script,
            env!("CARGO_BIN_EXE_underfoot"),
            "--resamples",
            "200",
        ])
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    println!("{said}");
    assert!(output.status.success(), "{said}");
}
