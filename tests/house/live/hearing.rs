//! The daemon listens: a player with a list of its own, played into `guitar_in` by another client while the band plays,
//! against the verdicts in the event log.
// Runs the program against a real server.

use crate::support::calm::{Disturbed, strict, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::guitarist::Guitarist;
use crate::support::jackd::{Server, isolated};
use crate::support::player;
use crate::support::program::{events, in_background, root};
use serde_json::Value;
use std::path::Path;
use std::time::Duration;

const RATE: u32 = 48_000;
const PERIOD: u32 = 256;
const DRILL: &str = "
title = \"roots\"
[[stage]]
name = \"roots on one\"
degrees = [\"1\"]
figure = [\"1\"]
places = [\"1\"]
help = { comping = \"full\", bass = true, drums = \"ride\", model = \"off\", voice = \"off\" }
cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 2 }
";

/// One press keeps the take.
pub(super) const KEEP: &str = "[foot.map.playing]\n\"1 press\" = \"save take\"\n\"1 tap\" = \"nothing\"\n\"1 double\" = \"nothing\"\n\"1 triple\" = \"nothing\"\n\
    \"1 hold\" = \"nothing\"\n";

/// A chart and its tempo, at what tempo and for how long it is played.
struct Case {
    chart: &'static str,
    written: f64,
    qpm: f64,
    seconds: f64,
}

fn path(dir: &Path, name: &str) -> String {
    dir.join(name).to_str().expect("a name").to_string()
}

/// What the offline renderer plays: the daemon plays the same on the same frames.
fn rendered(dir: &Path, case: &Case) -> Vec<Value> {
    let log = dir.join("offline.jsonl");
    let done = in_background(dir)
        .arg("render")
        .arg(root(&format!("configs/charts/{}.toml", case.chart)))
        .args([
            "--drill",
            &path(dir, "drill.toml"),
            "--config",
            &path(dir, "underfoot.toml"),
        ])
        .args([
            "--seconds",
            &case.seconds.to_string(),
            "--silent-voice",
            "--events",
        ])
        .arg(&log)
        .status();
    assert!(done.expect("underfoot").success());
    events(&log)
}

/// The samples of a take that was kept; none where there is no file.
fn kept_samples(path: &Path) -> Vec<f32> {
    let Ok(mut reader) = hound::WavReader::open(path) else {
        return Vec::new();
    };
    let samples = reader.samples::<i16>();
    samples
        .map(|sample| f32::from(sample.expect("a sample")) / 32_767.0)
        .collect()
}

/// Whether what was kept is what was played, in 16 bits: a loud tenth of a second that is the same is enough, for where
/// cycles were lost there are holes, and a server that counts back makes the ear forget.
fn is_part_of(kept: &[f32], sound: &[f32]) -> bool {
    const TENTH: usize = RATE as usize / 10;
    let near = |(a, b): (&f32, &f32)| (a - b).abs() < 1e-4;
    let same = |some: &[f32], there: &[f32]| some.iter().zip(there).all(near);
    let is_loud = |some: &&[f32]| some[0].abs() > 0.01;
    let mut loud = kept.chunks_exact(TENTH).filter(is_loud);
    loud.any(|some| sound.windows(TENTH).any(|there| same(some, there)))
}

/// One run over a chart: the event log, the take that was kept, and the xruns that the server and the player saw from the count on.
pub(super) fn played(
    dir: &Path,
    (chart, seconds): (&str, f64),
    guitarist: impl FnOnce() -> Guitarist,
    run: usize,
) -> (Vec<Value>, Vec<f32>, u64) {
    let _server = Server::start(RATE, PERIOD);
    let home = dir.join(format!("home-{run}"));
    let log = dir.join(format!("live-{run}.jsonl"));
    let chart = root(&format!("configs/charts/{chart}.toml"));
    let daemon = Daemon::start(
        &home,
        &[
            "--config",
            &path(dir, "underfoot.toml"),
            "--chart",
            chart.to_str().expect("a name"),
            "--drill",
            &path(dir, "drill.toml"),
            "--foot",
            &path(dir, "foot.txt"),
            "--events",
            log.to_str().expect("a name"),
            "--seconds",
            &seconds.to_string(),
            "--fresh",
        ],
    );
    daemon.wait_for_port("underfoot:guitar_in");
    let guitarist = guitarist();
    let (mut xruns, mut silent, mut before) = (0, 0, None);
    let whole = Duration::from_secs_f64(seconds + 60.0);
    within(whole, || {
        let status = daemon.status();
        if let Some(status) = status
            .as_ref()
            .filter(|status| status["state"] != "stopped")
        {
            let counters = &status["counters"];
            let lost = |value: &Value| value.as_u64().unwrap_or(0);
            let now = lost(&status["jack"]["xruns"]) + lost(&counters["unheard_blocks"]);
            xruns = now.saturating_sub(*before.get_or_insert(now));
        }
        std::thread::sleep(Duration::from_millis(400));
        // A busy daemon may miss a question, one that has ended misses all.
        silent = if status.is_none() { silent + 1 } else { 0 };
        silent >= 3 && log.exists()
    });
    let kept = home.join("state/takes/take-0001.wav");
    let (gaps, began) = guitarist.finish();
    let ended = daemon.wait(60);
    assert_eq!(ended.code, Some(0), "{}", ended.errors);
    assert!(
        began,
        "the guitarist never heard the count: {}",
        ended.errors
    );
    (events(&log), kept_samples(&kept), xruns + u64::from(gaps))
}

/// Verdicts right, and of how many; none where no run was without xruns.
fn judged(case: &Case) -> Option<(usize, usize)> {
    let dir = tempfile::tempdir().expect("a directory");
    let per_cent = 100.0 * case.qpm / case.written;
    let config =
        format!("[audio]\nautoconnect = \"none\"\n[practice]\ntempo_per_cent = {per_cent}\n{KEEP}");
    for (name, text) in [
        ("underfoot.toml", config.as_str()),
        ("drill.toml", DRILL),
        ("foot.txt", "24 1 down\n24.2 1 up\n"),
    ] {
        std::fs::write(dir.path().join(name), text).expect("a file");
    }
    let frames = (case.seconds * f64::from(RATE)) as usize;
    let chords = player::chords(&rendered(dir.path(), case), frames as i64);
    let (meant, struck) = player::decide(&chords, case.qpm, RATE, 20_261_127);
    let font = player::font();
    let sound = player::sound(&font, &struck, frames, RATE);
    let mut run = 0;
    undisturbed(&format!("{} at {}", case.chart, case.qpm), || {
        run += 1;
        let guitarist = || Guitarist::start(sound.clone());
        let (log, kept, xruns) = played(dir.path(), (case.chart, case.seconds), guitarist, run);
        let gaps = xruns.min(u64::from(u32::MAX)) as u32;
        let ends = log.iter().filter(|line| line["kind"] == "judged");
        let Some(until) = ends.filter_map(|line| line["frame"].as_i64()).max() else {
            return Err(Disturbed::by(gaps, "no pass was judged".into()));
        };
        let score = player::score(&meant, &log, until);
        println!(
            "{} at {}: {} of {} right, {} strays, {xruns} lost cycles",
            case.chart, case.qpm, score.right, score.all, score.strays
        );
        score.differs.iter().for_each(|line| println!("  {line}"));
        if !is_part_of(&kept, &sound) {
            return Err(Disturbed::by(gaps, "another take was kept".into()));
        }
        // Figures are wanted without lost cycles; the fact, that what was heard was judged right, stands with them.
        let wrong = score.all - score.right;
        match wrong * 50 > score.all || (strict() && xruns > 0) {
            true => Err(Disturbed::by(gaps, format!("{wrong} verdicts differ"))),
            false => Ok((score.right, score.all)),
        }
    })
}

#[test]
fn what_is_played_into_guitar_in_is_judged_as_it_was_played() {
    isolated(|| {
        let one = |chart, written, qpm, seconds| Case {
            chart,
            written,
            qpm,
            seconds,
        };
        let all_tempi = strict() || std::env::var("UNDERFOOT_ALL_TEMPI").is_ok();
        let cases = match all_tempi {
            false => vec![one("gasworks-corner", 104.0, 200.0, 24.0)],
            true => vec![
                one("ferry-at-six", 132.0, 120.0, 60.0),
                one("nine-lanterns", 144.0, 60.0, 90.0),
                one("gasworks-corner", 104.0, 200.0, 60.0),
            ],
        };
        let (mut right, mut all) = (0, 0);
        for case in &cases {
            let Some((good, of)) = judged(case) else {
                return;
            };
            (right, all) = (right + good, all + of);
        }
        println!("{right} of {all} verdicts right");
        // One verdict in a short run is more than a hundredth.
        let least = (0.98 * all as f64).floor() as usize;
        assert!(all >= 5 && right >= least, "{right} of {all}");
    });
}
