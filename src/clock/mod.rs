//! Tap tempo, transport, and (with the clock issue) the MIDI clock follower.
