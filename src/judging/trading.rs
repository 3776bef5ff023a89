//! Whether the band is out.

/// Whether the band is out, where it plays `bars` and drops out for as many in turn; `before`: bars of the round that
/// went before, the band in at first. 0 bars: never.
pub(crate) fn is_out(bars: u32, before: u64) -> bool {
    bars > 0 && (before / u64::from(bars)) % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_band_is_out_every_other_time() {
        // Bars in turn, and what sounds in each of twelve: x with the band, . without.
        for (bars, expected) in [
            (0, "xxxxxxxxxxxx"),
            (1, "x.x.x.x.x.x."),
            (2, "xx..xx..xx.."),
            (4, "xxxx....xxxx"),
        ] {
            let sign = |bar| if is_out(bars, bar) { '.' } else { 'x' };
            assert_eq!((0..12).map(sign).collect::<String>(), expected);
        }
    }
}
