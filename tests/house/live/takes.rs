//! The takes of `listen/takes.rs` again, through a JACK server: with the band in the player's headphones only, and with the band
//! back in `guitar_in` through a room, 15 dB under the guitar. What is said of them is within a hundredth of what the renderer says.
// Runs the program against a real server.

use super::hearing::{KEEP, played};
use crate::support::calm::{Disturbed, strict, undisturbed};
use crate::support::guitarist::Guitarist;
use crate::support::jackd::isolated;
use crate::support::takes::{Told, told};
use crate::support::takes_played::{CASES, Case, Played, bleed_db, guitars, room, takes_asked};

/// Whether more than a hundredth is judged otherwise than as it was played; of few notes one.
fn differs(live: &Told, offline: &Told) -> bool {
    live.as_played + (offline.all / 100).max(1) < offline.as_played
}

/// Live and by the renderer.
fn both(take: &Played, under_db: Option<f32>) -> Option<(Told, Told)> {
    let case = &take.case;
    let gain = under_db.map(|under_db| take.gain(under_db));
    let offline = told(&take.meant, &take.judged_offline(under_db), take.until);
    let per_cent = 100.0 * case.qpm / case.written;
    let config =
        format!("[audio]\nautoconnect = \"none\"\n[practice]\ntempo_per_cent = {per_cent}\n{KEEP}");
    let dir = take.dir.path();
    for (name, text) in [
        ("underfoot.toml", config.as_str()),
        ("foot.txt", "24 1 down\n24.2 1 up\n"),
    ] {
        std::fs::write(dir.join(name), text).expect("a file");
    }
    let mut run = 0;
    let live = undisturbed(case.name, || {
        run += 1;
        let guitarist = || Guitarist::start_in(take.guitar.clone(), gain.map(room));
        let (log, _, xruns) = played(dir, (case.chart, case.seconds), guitarist, run);
        let ends = log.iter().filter(|line| line["kind"] == "judged");
        let until = ends.filter_map(|line| line["frame"].as_i64()).max();
        let live = told(&take.meant, &log, until.unwrap_or(0).min(take.until));
        println!("{}: {}; {xruns} lost cycles", case.name, live.line());
        live.differs.iter().for_each(|line| println!("  {line}"));
        match live.all < offline.all || differs(&live, &offline) {
            true => Err(Disturbed::by(
                xruns.min(u64::from(u32::MAX)) as u32,
                "judged otherwise than by the renderer".into(),
            )),
            false => Ok(live),
        }
    })?;
    Some((live, offline))
}

#[test]
fn takes_on_recorded_notes_are_judged_live_as_by_the_renderer() {
    isolated(|| {
        let all = strict() || takes_asked().is_some();
        // In every run the row that asks for most, with the band in the input.
        let one = [Case {
            seconds: 30.0,
            ..CASES[3]
        }];
        let rows = if all { &CASES[..] } else { &one };
        let conditions = [
            ("through a room", Some(bleed_db())),
            ("in headphones", None),
        ];
        for (condition, under_db) in &conditions[..if all { 2 } else { 1 }] {
            let (mut live, mut offline) = (Told::default(), Told::default());
            for guitar in guitars() {
                for case in rows {
                    let Some(told) = both(&Played::new(&guitar, case, 0), *under_db) else {
                        return;
                    };
                    live.add(told.0);
                    offline.add(told.1);
                }
            }
            println!("{condition}, live: {}", live.line());
            println!("{condition}, renderer: {}", offline.line());
            assert!(!differs(&live, &offline), "{condition}");
        }
    });
}
