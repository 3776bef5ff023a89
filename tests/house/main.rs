//! Behaviour through the public API and through the program, in one binary: linked once, and run side by side.
//!
//! The rooms are those of `src`. What plays in real time through a JACK server is in `live`: `tests/run` runs it
//! by itself, one test after the other. What must own a process is in `tests/guard`.
//!
//! `cargo test --test house band::` runs a room.

// Tests read files, ask the environment and run programs; `src` may not.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

mod support;

/// Charts: text and scores in, the form laid out, text and scores out.
mod chart {
    mod laws;
    mod lead_sheet_limits;
    mod lead_sheets;
    mod plain_text;
    mod reading;
    mod round_trip;
    mod score_symbols;
    mod writing;
}

/// Which scale a chord gets, and the player's say in it.
mod harmony {
    mod degrees;
    mod habits;
    mod habits_and_keys;
    mod laws;
    mod reading;
    mod symbols;
    mod textbook;
    mod typed;
}

/// From a stage to the notes that it asks for.
mod drill {
    mod bullets;
    mod by_trade;
    mod changes;
    mod laws;
    mod learner;
    mod misuse;
    mod rotation;
    mod sets;
}

/// What goes wrong in the field.
mod doctor;

/// What the band plays.
mod band;

/// The core in virtual time: what the foot does and what is heard, told and shown then.
mod practice {
    mod actions;
    mod announcing;
    mod answering;
    mod believed;
    mod calls_due;
    pub mod calls_heard;
    mod forms;
    mod gestures;
    mod hearing;
    mod input;
    mod judge;
    mod keys_and_lengths;
    mod laws;
    mod melody;
    mod menu;
    mod messages;
    mod naive_listener;
    mod naive_reader;
    mod names_again;
    mod no_chart;
    mod pages_and_words;
    pub mod pages_read;
    mod pages_stand;
    mod proposed;
    mod quiet_start;
    mod ready;
    mod sets;
    mod settings_anew;
    mod stage_way;
    mod trading;
    mod updates;
    mod ways;
    mod weak_spots;
    mod words_used;
}

/// The ear.
mod listen {
    mod ear;
    mod input;
    mod takes;
    pub mod ways;
    mod while_playing;
}

/// Other machines' clocks, followed.
mod clock {
    mod replay;
    mod traces;
}

/// The player, which is the body of the callback, without a server.
mod audio {
    mod clock;
    mod cues;
    mod late_cues;
    mod player;
    mod soundfont;
    mod take;
}

/// Where presses come from.
mod pedal {
    mod serial;
}

/// Pages and the screens that show them.
mod display {
    mod every_page;
    mod samples;

    #[cfg(feature = "oled")]
    mod board;
    #[cfg(feature = "oled")]
    mod oled;
    #[cfg(feature = "oled")]
    mod oled_panel;
}

/// Sheets to print.
#[cfg(feature = "sheet")]
mod sheets;

/// The voice.
mod speech;

/// What is kept of the practice.
#[cfg(feature = "journal")]
mod journal {
    mod big;
    mod clocks;
    mod fed;
    mod files;
    mod held;
    mod merging;
    mod power_cut;
    mod ready;
    mod scheduled;
    mod skills;
    mod varied;
    mod writes;
}

/// The daemon without a server: its configuration, and devices that misbehave.
mod daemon {
    mod chaos;
    mod chart_folders;
    mod configs;
    #[cfg(feature = "jack")]
    mod memory;
    mod set_list;
    #[cfg(feature = "jack")]
    mod terminal;
}

/// The commands as users and programs meet them.
mod program {
    mod bad_input;
    mod control;
    mod drill;
    mod errors;
    #[cfg(feature = "journal")]
    mod journal;
    mod lesson;
    mod no_files;
    mod order;
    mod output;
    mod pages;
    mod papers;
    mod readme;
    mod render;
    mod set;
    mod soundless;
    mod stems;
    mod update;
}

/// Real time, through a JACK server of each test's own.
#[cfg(feature = "jack")]
mod live {
    mod calibrate;
    mod charts_in;
    mod clock;
    mod container;
    mod hearing;
    mod input;
    mod jack;
    #[cfg(feature = "journal")]
    mod journal;
    mod memory;
    mod pages;
    mod parity;
    mod pipewire;
    #[cfg(feature = "journal")]
    mod power_cut;
    #[cfg(all(feature = "journal", feature = "serial"))]
    mod proposal;
    mod reload;
    mod restart;
    mod serial;
    #[cfg(feature = "serial")]
    mod sets;
    mod slow_disk;
    mod status;
    mod takes;
}

/// What comes out, read by programs that know nothing of ours (`tests/outside`).
mod outside {
    mod harmony;
    mod rendered;
    mod scores;
    #[cfg(feature = "sheet")]
    mod sheets;
}
