//! Measuring against a real server on a machine that others use too.
//!
//! A dummy server has no sound card that waits: on a busy machine it loses cycles, and a thread wakes late. Such a run
//! says nothing about the program, so it is told and repeated. Where no run was calm, the quick tier says so
//! and goes on (a line that begins with NOT MEASURED, which `tests/run` counts); the longer tier sets
//! `UNDERFOOT_STRICT` and fails. What must hold however busy the machine is does not belong here: assert it.
// Tells how a run went, and asks the environment.

/// Whether figures are asked for, not only facts.
pub fn strict() -> bool {
    std::env::var("UNDERFOOT_STRICT").is_ok()
}

/// How often a run is tried: quickly told before every change, patiently where figures are asked for.
fn attempts() -> usize {
    if strict() { 8 } else { 3 }
}

/// Why a run says nothing.
#[derive(Debug)]
#[allow(dead_code)] // Printed.
pub enum Disturbed {
    /// The machine was busy: cycles lost, or a thread that woke late.
    Busy(String),
    /// Something is amiss though the server lost no cycle: by chance once, but not every time.
    Amiss(String),
}

impl Disturbed {
    /// What a run with so many lost cycles tells.
    pub fn by(gaps: u32, why: String) -> Disturbed {
        match gaps {
            0 => Disturbed::Amiss(why),
            _ => Disturbed::Busy(format!("{why}, {gaps} lost cycles")),
        }
    }
}

/// Repeats `run` until one was undisturbed and gives what that one found. `None`: nothing was measured.
///
/// # Panics
/// If nothing was measured and figures are asked for; if every run was amiss.
pub fn undisturbed<T>(name: &str, mut run: impl FnMut() -> Result<T, Disturbed>) -> Option<T> {
    let mut busy = 0;
    for repeated in 0..attempts() {
        match run() {
            Ok(found) => {
                println!("{name}: runs repeated: {repeated}");
                return Some(found);
            }
            Err(why) => {
                busy += usize::from(matches!(why, Disturbed::Busy(_)));
                println!("{name}: once more: {why:?}");
            }
        }
    }
    assert!(busy > 0, "{name}: amiss in every run");
    assert!(!strict(), "{name}: this machine was never calm enough");
    println!("NOT MEASURED: {name}: this machine was never calm enough");
    None
}
