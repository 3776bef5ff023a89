//! The machine: power, heat, frequency, clock, USB.

use super::super::finding::Finding;
use super::super::system::System;

/// Drivers whose "powersave" goes up with the load, unlike the kernel's own governor of that name.
const OWN_POWERSAVE: [&str; 3] = ["intel_pstate", "amd-pstate-epp", "amd-pstate"];
/// Governors that stay slow, or go up slowly.
const SLOW: [&str; 2] = ["powersave", "conservative"];
/// Clock sources that are read in nanoseconds; others take microseconds each time, or step.
const SLOW_CLOCKS: [&str; 4] = ["acpi_pm", "hpet", "jiffies", "pit"];
/// The firmware's flags: undervoltage, frequency capped, throttled, soft temperature limit.
const UNDERVOLTAGE: u32 = 1;
const SLOWED: u32 = 0b1110;

/// What is wrong with the machine.
pub fn findings(system: &System) -> Vec<Finding> {
    let mut findings = Vec::new();
    findings.extend(supply(system));
    findings.extend(heat(system));
    findings.extend(governor(system));
    findings.extend(clock(system));
    findings.extend(usb(system));
    findings
}

/// A supply that gives way now, or did since the start.
fn supply(system: &System) -> Option<Finding> {
    const WHY: &str = "the processor is slowed down, USB devices drop out, the card may be damaged";
    const CURE: &str = "a stronger supply, or a shorter and thicker cable to it; a hub with a supply of its own for the sound card";
    let flags = system.throttled.unwrap_or(0);
    if flags & UNDERVOLTAGE != 0 || !system.low_supplies.is_empty() {
        return Some(Finding::risk(
            "undervoltage",
            "the supply's voltage is too low",
            WHY,
            CURE,
        ));
    }
    let was_low = flags >> 16 & UNDERVOLTAGE != 0;
    was_low.then(|| {
        Finding::note(
            "undervoltage-before",
            "the supply's voltage was too low since the start",
            WHY,
            CURE,
        )
    })
}

fn heat(system: &System) -> Option<Finding> {
    const WHY: &str = "a slow processor is late, and that is heard as clicks";
    const CURE: &str = "let air to the box, or a heat sink on its processor";
    let flags = system.throttled.unwrap_or(0);
    // A low voltage slows it down as well, and is told above.
    let now = flags & SLOWED != 0 && flags & UNDERVOLTAGE == 0;
    if now {
        return Some(Finding::risk(
            "throttled",
            "the processor is slowed down",
            WHY,
            CURE,
        ));
    }
    let times = system.heat_throttles;
    (times > 0).then(|| {
        Finding::note(
            "throttled-before",
            format!("the processor was slowed down for heat {times} times"),
            WHY,
            CURE,
        )
    })
}

fn governor(system: &System) -> Option<Finding> {
    let slow = system.governors.iter().find(|governor| {
        let own = OWN_POWERSAVE.contains(&governor.driver.as_str());
        SLOW.contains(&governor.name.as_str()) && !own
    })?;
    Some(Finding::note(
        "governor",
        format!("the processor's frequency is governed by \"{}\"", slow.name),
        "it stays slow while a take begins, which is heard as clicks",
        "echo performance | tee /sys/devices/system/cpu/cpu*/cpufreq/scaling_governor; for good: cpufreq.default_governor=performance on the kernel's command line",
    ))
}

fn clock(system: &System) -> Option<Finding> {
    let source = system.clock_source.as_deref()?;
    SLOW_CLOCKS.contains(&source).then(|| {
        Finding::note(
            "clock-source",
            format!("the kernel reads the time from {source}"),
            "that is slow or coarse: presses are stamped late, and the callback has less time",
            "take clocksource= and notsc off the kernel's command line; dmesg | grep -i clocksource says why it was chosen",
        )
    })
}

fn usb(system: &System) -> Vec<Finding> {
    let sleepy = system.usb.iter().filter(|device| device.may_sleep);
    let finding = sleepy.map(|device| {
        Finding::note(
            "usb-sleep",
            format!("{} may be put to sleep (USB {})", device.name, device.place),
            "a pedal that sleeps takes its first press to wake; a sound card drops out",
            format!("echo on > /sys/bus/usb/devices/{}/power/control; for good: usbcore.autosuspend=-1 on the kernel's command line", device.place),
        )
    });
    finding.collect()
}
