//! `underfoot calibrate`: how long the way round is, beyond what JACK knows of it.

use super::super::args::CalibrateArgs;
use super::super::config::Overlay;
use super::super::files::{self, Failure, exit};
use super::servers;
use super::supervise::jack_config;
use crate::audio::db_to_gain;
use crate::audio::jack::{Echo, JackError, echo};
use crate::listen::{WayRound, agree, find, sweep};
use serde_json::json;

/// From one click to the next, in seconds: longer than any way round with its echoes.
const EVERY_S: f64 = 0.4;
/// The longest way round that is looked for, in seconds.
const LONGEST_S: f64 = 0.35;
/// Measurements that lie so near together agree, in ms.
const NEAR_MS: f64 = 1.0;

/// Measures, and prints what was found with the line for the configuration.
///
/// # Errors
/// A wrong configuration (78); no server, nothing connected, or nothing clear comes back (69).
pub fn calibrate(
    args: &CalibrateArgs,
    variable: &dyn Fn(&str) -> Option<String>,
) -> Result<(), Failure> {
    let config = files::config(args.config.as_deref(), variable, Overlay::default())?;
    let (clicks, gain) = (args.clicks as usize, db_to_gain(args.level as f32));
    let played = echo(&jack_config(&config), move |rate| {
        clicks_at(rate, clicks, gain)
    });
    let (_, rate, echo) = played.map_err(failed)?;
    let measured = measure(&echo.heard, rate, clicks);
    let near_frames = NEAR_MS * f64::from(rate) / 1000.0;
    let Some(way) = agree(&measured, clicks, near_frames) else {
        return Err(Failure::new(
            exit::UNAVAILABLE,
            why(&echo, measured.len(), clicks),
        ));
    };
    tell(&way, &echo, rate, args);
    Ok(())
}

fn failed(error: JackError) -> Failure {
    let whose = match &error {
        JackError::NoServer(_) => servers::other_users()
            .map(|user| format!("\nthe user {user} has one: sudo -u {user} underfoot calibrate")),
        _ => None,
    };
    Failure::new(
        exit::UNAVAILABLE,
        format!("{error}{}", whose.unwrap_or_default()),
    )
}

/// Clicks with silence between, and before the first.
fn clicks_at(rate: u32, clicks: usize, gain: f32) -> Vec<f32> {
    let every = every(rate);
    let mut sound = vec![0.0; every * (clicks + 1)];
    for click in 1..=clicks {
        let at = click * every - every / 2;
        for (to, from) in sound[at..].iter_mut().zip(sweep(rate)) {
            *to = gain * from;
        }
    }
    sound
}

fn every(rate: u32) -> usize {
    (EVERY_S * f64::from(rate)) as usize
}

/// How late each click came back, in frames, of those that did.
fn measure(heard: &[f32], rate: u32, clicks: usize) -> Vec<f64> {
    let (sent, every) = (sweep(rate), every(rate));
    let long = (LONGEST_S * f64::from(rate)) as usize + sent.len();
    let of = |click: usize| {
        let at = click * every - every / 2;
        let window = &heard[at..(at + long).min(heard.len())];
        find(&sent, window).map(|found| found.at)
    };
    (1..=clicks).filter_map(of).collect()
}

fn why(echo: &Echo, heard: usize, clicks: usize) -> String {
    match (echo.connected, heard) {
        ((false, _), _) => "nothing is connected to out_l: see [audio] autoconnect and [audio.connect]".into(),
        ((_, false), _) => "nothing is connected to guitar_in: see [audio] autoconnect and [audio.connect]".into(),
        (_, 0) => "no click came back: hold the guitar's pick-up (or a cable) to the loudspeaker, or turn it up a \
            little; --level plays louder clicks, so keep your ears away"
            .into(),
        _ => format!(
            "{heard} of {clicks} clicks came back, but not at one time{}: too much noise, or the machine is too busy",
            if echo.gaps > 0 { " (the server lost blocks)" } else { "" }
        ),
    }
}

fn tell(way: &WayRound, echo: &Echo, rate: u32, args: &CalibrateArgs) {
    let ms = |frames: f64| frames * 1000.0 / f64::from(rate);
    let (round, known) = (ms(way.frames), ms(f64::from(echo.known_frames)));
    let beyond = round - known;
    if args.json {
        let line = json!({
            "way_round_ms": round,
            "known_ms": known,
            "latency_ms": beyond,
            "spread_ms": ms(way.spread_frames),
            "clicks": args.clicks,
            "agree": way.agree,
            "gaps": echo.gaps,
        });
        println!("{line}");
        return;
    }
    println!(
        "the way round takes {round:.2} ms; JACK knows of {known:.2} ms ({} of {} clicks agree)",
        way.agree, args.clicks
    );
    println!("for the configuration:\n\n[ear]\nlatency_ms = {beyond:.2}");
    if !(-100.0..=100.0).contains(&beyond) {
        println!(
            "\n(more than the configuration takes: 100 ms; a radio link or a phone lies between)"
        );
    }
}
