//! A panel that is slow, pulled out and looked away from.

use super::*;
use crate::display::bitmap::Bitmap;
use std::sync::{Arc, Mutex};

/// A panel that takes 30 ms and can be pulled out.
#[derive(Default)]
struct Bench {
    seen: Vec<String>,
    broken: bool,
    ms: u64,
    checked_every: Option<Duration>,
}

struct Fake(Arc<Mutex<Bench>>);

impl Screen for Fake {
    fn show(&mut self, bitmap: &Bitmap, page: &Page) -> Result<(), ScreenError> {
        let mut bench = self.0.lock().unwrap();
        bench.ms += 30;
        if bench.broken {
            return Err(gone());
        }
        let line = match page {
            Page::Menu { chosen, .. } => format!("{chosen}"),
            _ => format!("{}", bitmap.lit()),
        };
        bench.seen.push(line);
        Ok(())
    }

    fn light(&mut self, light: Light) -> Result<(), ScreenError> {
        self.0.lock().unwrap().seen.push(format!("{light:?}"));
        Ok(())
    }

    fn check_every(&self) -> Option<Duration> {
        self.0.lock().unwrap().checked_every
    }

    fn check(&mut self) -> Result<(), ScreenError> {
        let bench = self.0.lock().unwrap();
        if bench.broken { Err(gone()) } else { Ok(()) }
    }
}

fn gone() -> ScreenError {
    ScreenError::Refused {
        what: "panel".into(),
        why: "no answer".into(),
    }
}

struct Stage {
    bench: Arc<Mutex<Bench>>,
    worker: Worker,
    start: Instant,
    reports: Vec<String>,
}

impl Stage {
    fn new() -> Stage {
        Stage::with(Care::default())
    }

    #[allow(clippy::disallowed_methods)] // An Instant can only be had from the clock; the tests count from it.
    fn with(care: Care) -> Stage {
        let bench = Arc::new(Mutex::new(Bench::default()));
        let device = bench.clone();
        let open: Open = Box::new(move || {
            if device.lock().unwrap().broken {
                return Err(ScreenError::Absent {
                    what: "panel".into(),
                    why: "no bus".into(),
                });
            }
            Ok(Box::new(Fake(device.clone())) as Box<dyn Screen>)
        });
        Stage {
            bench,
            worker: Worker::new(open, Panel::new(128, 64), care),
            start: Instant::now(),
            reports: Vec::new(),
        }
    }

    fn post(&mut self, id: u64) {
        let page = Page::Menu {
            items: vec!["a".into(); 9],
            chosen: id as usize,
            told: String::new(),
            below: None,
        };
        self.worker.post(Posted { id, page }, 0);
    }

    /// Steps at `ms`; the next call asked for, in ms.
    fn at(&mut self, ms: u64) -> Option<u64> {
        self.bench.lock().unwrap().ms = ms;
        let start = self.start;
        let bench = self.bench.clone();
        let clock = move || start + Duration::from_millis(bench.lock().unwrap().ms);
        let since = |at: Instant| (at - start).as_millis() as u64;
        let reports = &mut self.reports;
        let next = self
            .worker
            .step(start + Duration::from_millis(ms), &clock, &mut |report| {
                reports.push(match report {
                    Report::Shown {
                        id,
                        from,
                        at,
                        dropped,
                    } => format!("{id} from {} at {} -{dropped}", since(from), since(at)),
                    Report::State(state, _) => state.name().into(),
                });
            });
        next.map(since)
    }
}

#[test]
fn the_newest_page_wins_and_ten_a_second_is_the_most() {
    let mut stage = Stage::new();
    assert_eq!(stage.at(0), None, "nothing posted, nothing opened");
    stage.post(1);
    assert_eq!(stage.at(10), None);
    stage.post(2);
    assert_eq!(stage.at(50), Some(110));
    stage.post(3);
    stage.post(4);
    assert_eq!(stage.at(60), Some(110));
    assert_eq!(stage.at(110), None);
    assert_eq!(
        stage.reports,
        ["present", "1 from 10 at 40 -0", "4 from 110 at 140 -2"]
    );
    assert_eq!(stage.bench.lock().unwrap().seen, ["1", "4"]);
}

#[test]
fn a_lost_panel_is_tried_within_two_seconds_and_gets_the_newest_page() {
    let mut stage = Stage::new();
    stage.post(1);
    stage.at(0);
    stage.bench.lock().unwrap().broken = true;
    stage.post(2);
    assert_eq!(stage.at(200), Some(480), "a quarter second after it failed");
    stage.post(3);
    assert_eq!(stage.at(300), Some(480), "a new page does not hurry it");
    for (at, next) in [(480, 980), (980, 1980), (1980, 2980)] {
        assert_eq!(stage.at(at), Some(next), "never more than a second");
    }
    stage.bench.lock().unwrap().broken = false;
    assert_eq!(stage.at(2980), None);
    assert_eq!(
        stage.reports,
        [
            "present",
            "1 from 0 at 30 -0",
            "retrying",
            "absent",
            "present",
            "3 from 2980 at 3010 -1"
        ]
    );
}

#[test]
fn a_long_message_turns_its_parts_and_begins_again() {
    let mut stage = Stage::new();
    let page = Page::Message {
        title: "faults".into(),
        lines: (1..=9).map(|n| format!("chart.toml:{n}:1 wrong")).collect(),
    };
    stage.worker.post(Posted { id: 7, page }, 0);
    let mut next = 0;
    for _ in 0..4 {
        next = stage.at(next).unwrap();
    }
    let seen = &stage.bench.lock().unwrap().seen;
    assert_eq!(seen.len(), 4);
    assert_ne!(seen[0], seen[1]);
    assert_eq!(seen[0], seen[2], "two parts, then the first again");
    assert_eq!(next, 4 * 4030);
}

#[test]
fn nobody_looks_for_long_and_it_is_dim_then_dark_until_something_new_comes() {
    let care = Care {
        dim_after: Some(Duration::from_secs(10)),
        blank_after: Some(Duration::from_secs(30)),
        ..Care::default()
    };
    let mut stage = Stage::with(care);
    stage.post(1);
    assert_eq!(stage.at(0), Some(10_000));
    stage.post(1);
    assert_eq!(
        stage.at(5_000),
        Some(10_000),
        "the same again is nothing new"
    );
    assert_eq!(stage.at(10_000), Some(30_000));
    assert_eq!(stage.at(30_000), None);
    stage.post(2);
    assert_eq!(stage.at(40_000), Some(50_000));
    let seen = &stage.bench.lock().unwrap().seen;
    assert_eq!(seen[..], ["1", "1", "Dim", "Off", "2", "Full"]);
}

#[test]
fn a_panel_pulled_out_while_nothing_changes_is_noticed_and_gets_its_page_again() {
    let mut stage = Stage::new();
    stage.bench.lock().unwrap().checked_every = Some(Duration::from_millis(500));
    stage.post(1);
    assert_eq!(stage.at(0), Some(530));
    assert_eq!(stage.at(530), Some(1030));
    stage.bench.lock().unwrap().broken = true;
    assert_eq!(stage.at(1030), Some(1280));
    stage.bench.lock().unwrap().broken = false;
    assert_eq!(stage.at(1280), Some(1810));
    assert_eq!(stage.bench.lock().unwrap().seen, ["1", "1"]);
    let told: Vec<&str> = stage
        .reports
        .iter()
        .map(|report| report.split(' ').next().unwrap())
        .collect();
    assert_eq!(told, ["present", "1", "retrying", "present", "1"]);
}

#[test]
#[allow(clippy::disallowed_methods)] // As above.
fn a_screen_that_is_gone_for_good_is_told_once_and_never_opened_again() {
    struct Gone;
    impl Screen for Gone {
        fn show(&mut self, _: &Bitmap, _: &Page) -> Result<(), ScreenError> {
            let (what, why) = ("the terminal".into(), "hung up".into());
            Err(ScreenError::Ended { what, why })
        }
    }
    let opened = Arc::new(Mutex::new(0));
    let count = Arc::clone(&opened);
    let open: Open = Box::new(move || {
        *count.lock().unwrap() += 1;
        Ok(Box::new(Gone) as Box<dyn Screen>)
    });
    let mut worker = Worker::new(open, Panel::new(128, 64), Care::default());
    let start = Instant::now();
    let mut told = Vec::new();
    for second in 0..30 {
        let page = Page::Menu {
            items: vec!["a".into(); 40],
            chosen: second as usize,
            told: String::new(),
            below: None,
        };
        worker.post(Posted { id: second, page }, 0);
        let now = start + Duration::from_secs(second);
        let next = worker.step(now, &|| now, &mut |report| told.push(report));
        assert_eq!(next, None, "nothing is due any more");
    }
    let reason = "the terminal is gone: hung up".to_string();
    assert_eq!(told, [Report::State(DeviceState::Absent, Some(reason))]);
    assert_eq!(*opened.lock().unwrap(), 1);
}
