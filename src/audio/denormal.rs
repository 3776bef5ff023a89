//! Denormal numbers flushed to zero while sound is made.
//!
//! A decaying reverb ends in denormal numbers, which cost a hundred times an ordinary multiplication on many
//! processors. Live and offline rendering flush them alike, so that both give the same samples.

/// Flushes denormals until dropped, then restores what was set before.
pub(crate) struct Flush {
    #[cfg(any(target_arch = "x86_64", target_arch = "aarch64"))]
    before: u64,
}

impl Flush {
    /// Starts flushing on this thread.
    pub(crate) fn start() -> Flush {
        #[cfg(any(target_arch = "x86_64", target_arch = "aarch64"))]
        {
            let before = read();
            write(before | FLUSH);
            Flush { before }
        }
        #[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64")))]
        Flush {}
    }
}

impl Drop for Flush {
    fn drop(&mut self) {
        #[cfg(any(target_arch = "x86_64", target_arch = "aarch64"))]
        write(self.before);
    }
}

/// MXCSR bits 15 (flush to zero) and 6 (denormals are zero): Intel SDM volume 1, 10.2.3.
#[cfg(target_arch = "x86_64")]
const FLUSH: u64 = (1 << 15) | (1 << 6);
/// FPCR bit 24 (FZ): Arm Architecture Reference Manual, FPCR.
#[cfg(target_arch = "aarch64")]
const FLUSH: u64 = 1 << 24;

#[cfg(target_arch = "x86_64")]
fn read() -> u64 {
    let mut value: u32 = 0;
    // SAFETY: stores the control register into a local of its size.
    unsafe {
        std::arch::asm!("stmxcsr [{}]", in(reg) &raw mut value, options(nostack, preserves_flags));
    }
    u64::from(value)
}

#[cfg(target_arch = "x86_64")]
fn write(value: u64) {
    let value = value as u32;
    // SAFETY: only the two flush bits differ from the value the thread had; no exception is unmasked.
    unsafe {
        std::arch::asm!("ldmxcsr [{}]", in(reg) &raw const value, options(nostack, preserves_flags));
    }
}

#[cfg(target_arch = "aarch64")]
fn read() -> u64 {
    let value: u64;
    // SAFETY: reads the control register.
    unsafe { std::arch::asm!("mrs {}, fpcr", out(reg) value, options(nomem, nostack)) };
    value
}

#[cfg(target_arch = "aarch64")]
fn write(value: u64) {
    // SAFETY: only the flush bit differs from the value the thread had.
    unsafe { std::arch::asm!("msr fpcr, {}", in(reg) value, options(nomem, nostack)) };
}

#[cfg(test)]
#[cfg(any(target_arch = "x86_64", target_arch = "aarch64"))]
mod tests {
    use super::*;
    use std::hint::black_box;

    #[test]
    fn denormals_are_zero_only_while_flushing() {
        let half = |value: f32| black_box(black_box(value) * black_box(0.5));
        assert!(half(f32::MIN_POSITIVE) > 0.0);
        let flush = Flush::start();
        assert_eq!(half(f32::MIN_POSITIVE), 0.0);
        drop(flush);
        assert!(half(f32::MIN_POSITIVE) > 0.0);
    }
}
