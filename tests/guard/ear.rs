//! The ear in its thread keeps up with the sound: nothing is allocated once it is made.

use crate::counted;
use crate::strings::{RATE, lively, setup};
use underfoot::listen::{Ear, Instrument};

#[test]
fn an_ear_allocates_nothing_once_it_is_made() {
    let sound = lively();
    let mut ear = Ear::new(setup(RATE, Instrument::Guitar));
    let mut count = 0;
    let counts = counted(|| {
        for block in sound.chunks(64) {
            ear.push(block, Some(block), &mut |_| count += 1);
        }
    });
    assert_eq!(counts, [0; 3]);
    assert!(count > 1_000);
}
