//! The follower on made-up masters: how soon it knows the tempo, how well it holds it, how far its ticks lie from
//! where the master meant them; beside two loops of fixed bandwidth. The figures asked for are this project's own.
//!
//! `UNDERFOOT_SEEDS` sets how many masters of each kind are tried (200 in the longer tier). The table is printed.

use underfoot::clock::trace::replay;
use underfoot::clock::{ClockMessage, PlayedTick};

const HOLD: u32 = 16;

/// A small generator of chance (xorshift64), so that a seed is a master for ever.
struct Chance(u64);

impl Chance {
    fn new(seed: u64) -> Chance {
        Chance((seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x0123_4567)
    }

    /// From 0 to 1.
    fn part(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// From -1 to 1.
    fn even(&mut self) -> f64 {
        2.0 * self.part() - 1.0
    }

    /// Normal, of standard deviation 1 (Box and Muller).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.part()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.part()).cos()
    }
}

/// Where the master means its ticks (seconds), the tempo of each, and what arrives (microseconds).
struct Master {
    meant_s: Vec<f64>,
    qpm: Vec<f64>,
    messages: Vec<(f64, ClockMessage)>,
}

/// What becomes of a tick on its way: number, time, period, chance; the times at which it arrives.
type Way<'a> = &'a dyn Fn(usize, f64, f64, &mut Chance) -> Vec<f64>;

/// Ticks from 50 ms on, at a tempo by number and time, for so many seconds.
fn ticks(seconds: f64, tempo: impl Fn(usize, f64) -> f64) -> (Vec<f64>, Vec<f64>) {
    let (mut at, mut meant, mut qpm) = (0.05, Vec::new(), Vec::new());
    while at < seconds {
        meant.push(at);
        qpm.push(tempo(meant.len() - 1, at));
        at += 2.5 / qpm[qpm.len() - 1];
    }
    (meant, qpm)
}

fn master((meant_s, qpm): (Vec<f64>, Vec<f64>), way: Way<'_>, chance: &mut Chance) -> Master {
    let mut at: Vec<f64> = Vec::new();
    for (number, (meant, qpm)) in meant_s.iter().zip(&qpm).enumerate() {
        at.extend(way(number, *meant, 2.5 / qpm, chance));
    }
    at.sort_by(f64::total_cmp);
    let mut messages = vec![(0.0, ClockMessage::Start)];
    messages.extend(
        at.iter()
            .map(|at| ((at * 1e6).round().max(0.0), ClockMessage::Tick)),
    );
    Master {
        meant_s,
        qpm,
        messages,
    }
}

/// What the box plays.
fn played(messages: &[(f64, ClockMessage)]) -> Vec<PlayedTick> {
    let mut out = Vec::new();
    replay(messages, HOLD, |tick| out.push(tick));
    out
}

/// A loop of fixed bandwidth, to compare with: F. Adriaensen, "Using a DLL to filter time", Linux Audio Conference
/// 2005, its second-order loop on the tick times.
fn fixed_loop(messages: &[(f64, ClockMessage)], bandwidth_hz: f64) -> Vec<(f64, f64)> {
    let at: Vec<f64> = messages
        .iter()
        .filter(|(_, message)| *message == ClockMessage::Tick)
        .map(|(at_us, _)| at_us / 1e6)
        .collect();
    let mut out = vec![(at[0], 0.0)];
    let mut period = at[1] - at[0];
    let mut next = at[1] + period;
    out.push((at[1], 2.5 / period));
    for at in &at[2..] {
        let omega = std::f64::consts::TAU * bandwidth_hz * period;
        let error = at - next;
        out.push((next, 2.5 / (period + omega * omega * error)));
        next += std::f64::consts::SQRT_2 * omega * error + period;
        period += omega * omega * error;
    }
    out
}

/// How a master was followed.
#[derive(Default)]
struct Judged {
    /// From when on the tempo is within 0.5 %, in seconds from the first tick or the change.
    held_s: f64,
    /// The worst error of the tempo from `after_s` on, in per cent.
    worst_percent: f64,
    /// The farthest tick, in ms, and the root of the mean square from `after_s` on.
    far_ms: f64,
    rms_ms: f64,
    /// Ticks skipped or invented, or played out of order.
    wrong: i64,
}

fn judge(
    master: &Master,
    ticks: &[(i64, f64, Option<f64>)],
    change_s: f64,
    after_s: f64,
) -> Judged {
    let first = master.meant_s[0];
    let mut judged = Judged::default();
    let (mut squares, mut count, mut next, mut last_s) = (0.0, 0.0, 0, f64::NEG_INFINITY);
    for &(tick, at_s, qpm) in ticks {
        judged.wrong += i64::from(tick != next) + i64::from(at_s < last_s);
        (next, last_s) = (tick + 1, at_s);
        let Some((&meant, &tempo)) = usize::try_from(tick)
            .ok()
            .and_then(|tick| Some((master.meant_s.get(tick)?, master.qpm.get(tick)?)))
        else {
            continue;
        };
        let since = at_s - first;
        let off = qpm.map_or(f64::MAX, |qpm| (qpm / tempo - 1.0).abs());
        // One tick alone has no tempo.
        if tick > 0 && off > 0.005 && since >= change_s {
            judged.held_s = judged.held_s.max(since - change_s);
        }
        let far = (at_s - meant) * 1e3;
        judged.far_ms = judged.far_ms.max(far.abs());
        if since > after_s {
            judged.worst_percent = judged.worst_percent.max(off * 100.0);
            (squares, count) = (squares + far * far, count + 1.0);
        }
    }
    judged.wrong += (master.meant_s.len() as i64 - next).max(0);
    judged.rms_ms = f64::sqrt(squares / f64::max(count, 1.0));
    judged
}

/// Median and 95th percentile.
fn spread(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let at = |part: f64| {
        values[((values.len() as f64 * part).ceil() as usize).clamp(1, values.len()) - 1]
    };
    (at(0.5), at(0.95))
}

/// What a kind of master is held to; in the 95th percentile where nothing else is said.
struct Asked {
    what: &'static str,
    /// When the tempo changes, if it does, and from when on `worst` and `rms` count; seconds.
    times: (f64, f64),
    held_s: Option<f64>,
    held_median_s: Option<f64>,
    worst_percent: Option<f64>,
    far_ms: Option<f64>,
    rms_ms: Option<f64>,
}

const ANY: Asked = Asked {
    what: "",
    times: (0.0, 3.0),
    held_s: None,
    held_median_s: None,
    worst_percent: None,
    far_ms: None,
    rms_ms: None,
};

fn seeds() -> u64 {
    let asked = std::env::var("UNDERFOOT_SEEDS").ok();
    asked.and_then(|seeds| seeds.parse().ok()).unwrap_or(12)
}

fn hold(asked: &Asked, make: impl Fn(&mut Chance) -> Master) {
    let what = asked.what;
    let (mut ours, mut slow, mut fast) = (Vec::new(), Vec::new(), Vec::new());
    let (change_s, after_s) = asked.times;
    for seed in 0..seeds() {
        let master = make(&mut Chance::new(seed));
        let ticks: Vec<(i64, f64, Option<f64>)> = played(&master.messages)
            .iter()
            .map(|it| (it.tick, it.at_s, it.qpm))
            .collect();
        ours.push(judge(&master, &ticks, change_s, after_s));
        for (bandwidth_hz, into) in [(1.0 / 6.0, &mut slow), (0.5, &mut fast)] {
            let fixed = fixed_loop(&master.messages, bandwidth_hz);
            let fixed: Vec<(i64, f64, Option<f64>)> = (0..)
                .zip(fixed)
                .map(|(tick, (at_s, qpm))| (tick, at_s, Some(qpm)))
                .collect();
            into.push(judge(&master, &fixed, change_s, after_s));
        }
    }
    for (name, judged) in [("ours", &ours), ("1/6 Hz", &slow), ("0.5 Hz", &fast)] {
        let of = |figure: fn(&Judged) -> f64| spread(judged.iter().map(figure));
        let (held, worst) = (of(|it| it.held_s), of(|it| it.worst_percent));
        let (far, rms) = (of(|it| it.far_ms), of(|it| it.rms_ms));
        println!(
            "{what:34} {name:7} held {:6.2} {:6.2} s  worst {:7.3} {:7.3} %  far {:7.2} {:7.2}  rms {:6.2} {:6.2} ms",
            held.0, held.1, worst.0, worst.1, far.0, far.1, rms.0, rms.1
        );
    }
    let wrong: Vec<i64> = ours
        .iter()
        .map(|it| it.wrong)
        .filter(|wrong| *wrong != 0)
        .collect();
    assert!(
        wrong.is_empty(),
        "{what}: ticks skipped or invented: {wrong:?}"
    );
    let high = |figure: fn(&Judged) -> f64| spread(ours.iter().map(figure)).1;
    let middle = spread(ours.iter().map(|it| it.held_s)).0;
    for (name, limit, got) in [
        ("held from, s", asked.held_s, high(|it| it.held_s)),
        ("held from, median, s", asked.held_median_s, middle),
        (
            "worst tempo, %",
            asked.worst_percent,
            high(|it| it.worst_percent),
        ),
        ("farthest tick, ms", asked.far_ms, high(|it| it.far_ms)),
        ("phase, ms rms", asked.rms_ms, high(|it| it.rms_ms)),
    ] {
        assert!(
            limit.is_none_or(|limit| got <= limit),
            "{what}: {name}: {got}, asked {limit:?}"
        );
    }
}

fn steady(seconds: f64) -> (Vec<f64>, Vec<f64>) {
    ticks(seconds, |_, _| 120.0)
}

#[test]
fn ticks_around_an_even_grid() {
    for (what, part, held_s, worst) in [
        ("even", 0.0, 0.1, 0.01),
        ("off by up to 5 % of a tick", 0.05, 0.6, 0.1),
        ("off by up to 10 % of a tick", 0.10, 0.6, 0.1),
        ("off by up to 20 % of a tick", 0.20, 1.0, 0.2),
    ] {
        let asked = Asked {
            what,
            held_s: Some(held_s),
            worst_percent: Some(worst),
            ..ANY
        };
        hold(&asked, |chance| {
            master(
                steady(30.0),
                &|_, at, period, chance| vec![at + part * period * chance.even()],
                chance,
            )
        });
    }
    let asked = Asked {
        what: "normal, 3 ms rms",
        rms_ms: Some(1.0),
        ..ANY
    };
    hold(&asked, |chance| {
        master(
            steady(30.0),
            &|_, at, _, chance| vec![at + 0.003 * chance.normal()],
            chance,
        )
    });
    let asked = Asked {
        what: "on the milliseconds of USB",
        far_ms: Some(5.0),
        ..ANY
    };
    hold(&asked, |chance| {
        let start = chance.part() / 1000.0;
        master(
            steady(30.0),
            &|_, at, _, _| vec![((at + start) * 1000.0).ceil() / 1000.0 - start],
            chance,
        )
    });
}

#[test]
fn ticks_lost_doubled_and_bunched() {
    let near = |what| Asked {
        what,
        far_ms: Some(5.0),
        held_s: Some(1.0),
        worst_percent: Some(0.1),
        ..ANY
    };
    for (what, lost) in [("1 % lost", 0.01), ("5 % lost", 0.05)] {
        hold(&near(what), |chance| {
            let way: Way<'_> = &|number, at, _, chance| {
                let kept = chance.part() >= lost || number < 2;
                if kept {
                    vec![at + 0.0005 * chance.even()]
                } else {
                    vec![]
                }
            };
            master(steady(30.0), way, chance)
        });
    }
    hold(&near("5 % doubled, 1 ms after"), |chance| {
        let way: Way<'_> = &|_, at, _, chance| {
            if chance.part() < 0.05 {
                vec![at, at + 0.001]
            } else {
                vec![at]
            }
        };
        master(steady(30.0), way, chance)
    });
    hold(&near("each doubled"), |chance| {
        master(steady(30.0), &|_, at, _, _| vec![at, at + 0.001], chance)
    });
    hold(&near("2 % held back for the next"), |chance| {
        let way: Way<'_> = &|number, at, period, chance| {
            let back = if chance.part() < 0.02 && number > 4 {
                period
            } else {
                0.0003 * chance.even()
            };
            vec![at + back]
        };
        master(steady(30.0), way, chance)
    });
    hold(&near("in pairs after a bar"), |chance| {
        let way: Way<'_> = &|number, at, period, _| {
            vec![if number > 96 && number % 2 == 1 {
                at + period
            } else {
                at
            }]
        };
        master(steady(30.0), way, chance)
    });
    // The first tick of the second pair cannot be known to be one: only what comes later is asked for.
    let asked = Asked {
        what: "in pairs from the start",
        rms_ms: Some(5.0),
        held_s: Some(1.0),
        ..ANY
    };
    hold(&asked, |chance| {
        let way: Way<'_> =
            &|number, at, period, _| vec![if number % 2 == 1 { at - period } else { at }];
        master(steady(30.0), way, chance)
    });
}

#[test]
fn tempo_that_changes() {
    let asked = Asked {
        what: "120 to 126 at once, 5 % jitter",
        times: (10.0, 15.0),
        held_median_s: Some(1.0),
        worst_percent: Some(0.1),
        ..ANY
    };
    hold(&asked, |chance| {
        let tempo = |_: usize, at: f64| if at < 10.05 { 120.0 } else { 126.0 };
        master(
            ticks(30.0, tempo),
            &|_, at, period, chance| vec![at + 0.05 * period * chance.even()],
            chance,
        )
    });
    for (what, part) in [
        ("100 to 140 in 16 beats", 0.0),
        ("the same, 5 % jitter", 0.05),
    ] {
        let asked = Asked {
            what,
            far_ms: Some(12.0),
            ..ANY
        };
        hold(&asked, |chance| {
            let tempo = |number: usize, _: f64| {
                100.0 + 40.0 * ((number as f64 - 384.0) / 384.0).clamp(0.0, 1.0)
            };
            let way: Way<'_> = &|_, at, period, chance| vec![at + part * period * chance.even()];
            master(ticks(30.0, tempo), way, chance)
        });
    }
    for (what, qpm) in [
        ("120 to 180 at once", 180.0),
        ("120 to 60 at once", 60.0),
        ("120 to 240 at once", 240.0),
    ] {
        let asked = Asked {
            what,
            times: (10.0, 13.0),
            held_s: Some(1.0),
            worst_percent: Some(0.1),
            ..ANY
        };
        hold(&asked, |chance| {
            let tempo = |_: usize, at: f64| if at < 10.05 { 120.0 } else { qpm };
            master(
                ticks(25.0, tempo),
                &|_, at, period, chance| vec![at + 0.02 * period * chance.even()],
                chance,
            )
        });
    }
}

#[test]
fn a_cable_pulled_for_three_seconds() {
    for (what, part) in [
        ("pulled for 3 s", 0.0),
        ("the same, 5 % jitter", 0.05),
        ("the same, 10 % jitter", 0.1),
    ] {
        let asked = Asked {
            what,
            far_ms: Some(10.0),
            worst_percent: Some(0.1),
            ..ANY
        };
        hold(&asked, |chance| {
            let way: Way<'_> = &|_, at, period, chance| {
                let there = !(10.0..13.0).contains(&at);
                if there {
                    vec![at + part * period * chance.even()]
                } else {
                    vec![]
                }
            };
            master(steady(25.0), way, chance)
        });
    }
}

#[test]
fn a_phase_that_walks() {
    // Each step is off by up to so much of a tick, for good: only the tempo can be held. An independent receiver
    // (jack_mclk_dump, x42/jack_midi_clock) was off by 1.15, 2.3 and 4.6 % at the worst, and the mean of all steps is held
    // from 3.6, 12 and 49 s on for 95 of 100 masters (by simulation). The edges of the steps tell more.
    for (what, part, held_s, worst) in [
        ("walks by 5 %", 0.05, 2.5, 0.1),
        ("walks by 10 %", 0.1, 3.5, 0.2),
        ("walks by 20 %", 0.2, 5.0, 0.4),
    ] {
        let asked = Asked {
            what,
            times: (0.0, 20.0),
            held_s: Some(held_s),
            worst_percent: Some(worst),
            ..ANY
        };
        hold(&asked, |chance| {
            let (mut meant, qpm) = steady(60.0);
            let mut walk = 0.0;
            for meant in &mut meant {
                *meant += walk;
                walk += part * chance.even() * 2.5 / 120.0;
            }
            master((meant, qpm), &|_, at, _, _| vec![at], chance)
        });
    }
}

#[test]
fn what_is_known_does_not_depend_on_what_comes() {
    let make = |kind: usize, chance: &mut Chance| {
        let way: Way<'_> = match kind {
            0 => &|_, at, period, chance| vec![at + 0.2 * period * chance.even()],
            1 => &|_, at, _, chance| vec![at + 0.003 * chance.normal()],
            2 => &|_, at, _, chance| {
                if chance.part() < 0.05 {
                    vec![]
                } else {
                    vec![at]
                }
            },
            3 => &|number, at, period, _| vec![if number % 2 == 1 { at + period } else { at }],
            4 => &|_, at, _, _| {
                if (4.0..7.0).contains(&at) {
                    vec![]
                } else {
                    vec![at]
                }
            },
            _ => &|_, at, period, chance| vec![at, at + period * chance.part()],
        };
        let tempo = |_: usize, at: f64| if at < 5.0 { 120.0 } else { 126.0 };
        master(ticks(10.0, tempo), way, chance)
    };
    for kind in 0..6 {
        let mut chance = Chance::new(kind as u64);
        let whole = make(kind, &mut chance);
        let all = played(&whole.messages);
        for _ in 0..20 {
            let cut_us = chance.part() * 10e6;
            let kept: Vec<_> = whole
                .messages
                .iter()
                .copied()
                .filter(|(at_us, _)| *at_us <= cut_us)
                .collect();
            let known = |ticks: &[PlayedTick]| -> Vec<PlayedTick> {
                ticks
                    .iter()
                    .copied()
                    .filter(|tick| tick.at_s * 1e6 <= cut_us)
                    .collect()
            };
            assert_eq!(
                known(&played(&kept)),
                known(&all),
                "kind {kind}, cut at {cut_us}"
            );
        }
    }
}
