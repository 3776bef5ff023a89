//! The doctor on systems that were sabotaged on purpose: each fault is named, with its cure, and nothing else is. The files are
//! written as the kernel writes them (proc(5), the kernel's sysfs documentation, JESD84-B51 for the wear of cards).

mod tree;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tree::{DAEMON, SERVER, Tree};
use underfoot::doctor::{Asked, Grade, System, Told, Wanted, examine};

/// A box that is asked for a switch on a pin and a foot board on a serial line.
fn asked() -> Asked {
    let wanted = |group| Wanted {
        group,
        what_for: "it stays closed",
    };
    Asked {
        fault: None,
        wanted: ["audio", "gpio", "dialout"].map(wanted).to_vec(),
        soundfonts: vec![PathBuf::from("/usr/share/sounds/sf2/TimGM6mb.sf2")],
        speech: vec![PathBuf::from("/usr/bin/espeak-ng")],
        state: Some(PathBuf::from("/var/lib/underfoot")),
        has_foot: true,
    }
}

fn told() -> Told {
    Told {
        jack: "present".to_string(),
        ..Told::default()
    }
}

/// What a system is sabotaged in: its files, what is asked of it, what the daemon tells.
type Sabotage = fn(&Tree, &mut Asked, &mut Told);

const RISK: Grade = Grade::Risk;
const NOTE: Grade = Grade::Note;

/// The sabotage, then rule, grade, and a part of what is said and of the cure.
const SABOTAGED: [(Sabotage, &str, Grade, &str, &str); 29] = [
    (
        |tree, _, _| {
            tree.process(
                DAEMON,
                "underfoot",
                &["underfoot", "run"],
                "Uid:\t990\nGid:\t990\nGroups:\t29 20\n",
            )
        },
        "group",
        RISK,
        "underfoot is not in the group gpio",
        "usermod -aG gpio underfoot",
    ),
    (
        |tree, _, _| {
            tree.write(
                "etc/group",
                "audio:x:29:underfoot\ndialout:x:20:underfoot\n",
            )
        },
        "group",
        RISK,
        "gpio",
        "groupadd --system gpio",
    ),
    (
        |tree, _, _| tree.limits(DAEMON, "0", "unlimited"),
        "no-realtime",
        RISK,
        "limit 0",
        "by its unit",
    ),
    (
        |tree, _, _| tree.limits(DAEMON, "95", "8388608"),
        "no-lock",
        NOTE,
        "lock its memory",
        "LimitMEMLOCK=infinity",
    ),
    (
        |tree, _, _| tree.thread(SERVER, 0),
        "jack-not-realtime",
        RISK,
        "not scheduled in real time",
        "-R",
    ),
    (
        |tree, _, _| {
            tree.thread(SERVER, 0);
            tree.limits(SERVER, "0", "unlimited");
        },
        "jack-not-realtime",
        RISK,
        "not scheduled in real time",
        "LimitRTPRIO=95",
    ),
    (
        |tree, _, _| {
            tree.write(
                "sys/devices/system/cpu/cpu0/cpufreq/scaling_governor",
                "powersave\n",
            )
        },
        "governor",
        NOTE,
        "\"powersave\"",
        "performance",
    ),
    (
        |tree, _, _| tree.mounts("tmpfs", "rw"),
        "state-in-memory",
        NOTE,
        "/var/lib/underfoot lies in memory",
        "mount a partition",
    ),
    (
        |tree, _, _| tree.mounts("ext4", "ro,relatime"),
        "state-read-only",
        NOTE,
        "mounted read-only",
        "remount,rw",
    ),
    (
        |tree, _, _| {
            tree.process(
                77,
                "underfoot",
                &["underfoot", "run", "--fresh"],
                "Uid:\t990\nGroups:\t29 20 997\n",
            )
        },
        "two-daemons",
        RISK,
        "twice",
        "kill 77",
    ),
    (
        |tree, _, _| {
            tree.process(78, "jackd", &["jackd", "-d", "dummy"], "Uid:\t990\n");
            tree.thread(78, 1);
        },
        "two-servers",
        RISK,
        "two JACK servers",
        "kill",
    ),
    (
        |tree, _, _| tree.write("proc/asound/card0/pcm0p/sub0/status", "closed\n"),
        "silent-jack",
        RISK,
        "no sound card runs",
        "plug the card",
    ),
    (
        |tree, _, _| {
            tree.write(
                "proc/asound/card0/pcm0p/sub0/status",
                "state: SUSPENDED\nowner_pid   : 20\n",
            )
        },
        "silent-jack",
        RISK,
        "suspended",
        "systemctl restart jackd",
    ),
    (
        |_, _, told| told.jack = "hung".into(),
        "jack-hangs",
        RISK,
        "hangs",
        "systemctl restart jackd",
    ),
    (
        |tree, _, told| {
            tree.end(SERVER);
            told.jack = "retrying".into();
        },
        "no-jack",
        RISK,
        "no JACK server",
        "journalctl -u jackd",
    ),
    (
        |tree, _, told| {
            tree.process(SERVER, "jackd", &["jackd"], "Uid:\t1000\n");
            told.jack = "retrying".into();
        },
        "jack-of-another",
        RISK,
        "the user player",
        "as one user",
    ),
    (
        |tree, _, told| {
            tree.end(SERVER);
            tree.process(60, "pipewire", &["/usr/bin/pipewire"], "Uid:\t1000\n");
            told.jack = "retrying".into();
        },
        "pipewire-of-another",
        RISK,
        "session of player",
        "systemctl --user",
    ),
    (
        |tree, _, _| tree.write("sys/bus/usb/devices/1-2/power/control", "auto\n"),
        "usb-sleep",
        NOTE,
        "Two In Two Out",
        "power/control",
    ),
    (
        |tree, _, _| tree.write("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "1\n"),
        "undervoltage",
        RISK,
        "too low",
        "stronger supply",
    ),
    (
        |tree, _, _| {
            tree.write(
                "sys/devices/platform/soc/soc:firmware/get_throttled",
                "50005\n",
            )
        },
        "undervoltage",
        RISK,
        "too low",
        "stronger supply",
    ),
    (
        |tree, _, _| {
            tree.write(
                "sys/devices/platform/soc/soc:firmware/get_throttled",
                "80008\n",
            )
        },
        "throttled",
        RISK,
        "slowed down",
        "air",
    ),
    (
        |_, _, told| told.counters = BTreeMap::from([("unread_serial".to_string(), 40)]),
        "unread-serial",
        RISK,
        "40 bytes",
        "same baud rate",
    ),
    (
        |tree, _, _| {
            tree.write(
                "proc/tty/driver/serial",
                "serinfo:1.0 driver revision:\n0: uart:16550A port:3F8 irq:4 tx:1 rx:9 fe:7\n",
            )
        },
        "framing",
        NOTE,
        "7 framing errors on serial line 0",
        "baud rate",
    ),
    (
        |tree, _, _| tree.remove("usr/share/sounds/sf2/TimGM6mb.sf2"),
        "no-soundfont",
        RISK,
        "TimGM6mb.sf2 is not there",
        "apt install",
    ),
    (
        |tree, _, _| tree.remove("usr/bin/espeak-ng"),
        "no-speech",
        NOTE,
        "espeak-ng is not there",
        "apt install espeak-ng",
    ),
    (
        |tree, _, _| {
            tree.write(
                "sys/devices/system/clocksource/clocksource0/current_clocksource",
                "hpet\n",
            )
        },
        "clock-source",
        NOTE,
        "from hpet",
        "clocksource=",
    ),
    (
        |tree, _, _| tree.write("sys/block/mmcblk0/device/life_time", "0x01 0x0b\n"),
        "card-worn-out",
        RISK,
        "mmcblk0",
        "replace the card",
    ),
    (
        |tree, _, _| tree.write("etc/default/underfoot-jackd", "JACK_CARD=1\n"),
        "numbered-card",
        NOTE,
        "by its number (1)",
        "JACK_CARD=CODEC",
    ),
    (
        |_, asked, _| asked.has_foot = false,
        "no-switch",
        RISK,
        "no foot switch",
        "underfoot learn",
    ),
];

/// The findings, with the space that a real disk happens to have left taken for enough.
fn examined(tree: &Path, asked: &Asked, told: &Told) -> Vec<underfoot::doctor::Finding> {
    let mut system = System::read(tree, asked);
    assert!(system.free_bytes.take().is_some());
    examine(&system, asked, Some(told))
}

#[test]
fn a_healthy_system_is_ok() {
    let tree = Tree::healthy();
    assert_eq!(examined(tree.root(), &asked(), &told()), []);
    // Nor is anything said where nothing can be read.
    let empty = tempfile::tempdir().unwrap();
    let asked = Asked {
        has_foot: true,
        state: Some(PathBuf::from("/x")),
        soundfonts: vec![PathBuf::from("/font")],
        ..Asked::default()
    };
    std::fs::write(empty.path().join("font"), "").unwrap();
    assert_eq!(examined(empty.path(), &asked, &told()), []);
}

#[test]
fn each_sabotage_is_named_with_its_cure_and_nothing_else_is() {
    for (n, (sabotage, rule, grade, what, cure)) in SABOTAGED.into_iter().enumerate() {
        let (tree, mut asked, mut told) = (Tree::healthy(), asked(), told());
        sabotage(&tree, &mut asked, &mut told);
        let findings = examined(tree.root(), &asked, &told);
        let [found] = &findings[..] else {
            panic!("{n} {rule}: {findings:#?}");
        };
        assert_eq!((found.rule, found.grade), (rule, grade), "{n}");
        assert!(found.what.contains(what), "{n} {rule}: {}", found.what);
        assert!(found.cure.contains(cure), "{n} {rule}: {}", found.cure);
        let lines = [found.what.as_str(), found.why, found.cure.as_str()];
        assert!(
            lines
                .iter()
                .all(|line| !line.is_empty() && !line.contains('\n')),
            "{n} {rule}"
        );
    }
}

#[test]
fn the_worst_stands_first_and_space_is_counted() {
    let (tree, asked) = (Tree::healthy(), asked());
    tree.write(
        "sys/devices/system/cpu/cpu0/cpufreq/scaling_governor",
        "conservative\n",
    );
    tree.limits(DAEMON, "0", "unlimited");
    let rules = |system: &System| {
        let findings = examine(system, &asked, Some(&told()));
        findings
            .iter()
            .map(|finding| finding.rule)
            .collect::<Vec<_>>()
    };
    let mut system = System::read(tree.root(), &asked);
    for (free_bytes, more) in [
        (Some(1 << 20), Some("disk-full")),
        (Some(100 << 20), Some("disk-low")),
        (Some(1 << 30), None),
        (None, None),
    ] {
        system.free_bytes = free_bytes;
        let expected: Vec<&str> = ["no-realtime"]
            .into_iter()
            .chain(more)
            .chain(["governor"])
            .collect();
        assert_eq!(rules(&system), expected, "{free_bytes:?}");
    }
}

#[test]
fn what_has_powersave_of_its_own_and_a_session_s_sound_are_no_faults() {
    let (tree, mut told) = (Tree::healthy(), told());
    tree.write(
        "sys/devices/system/cpu/cpu0/cpufreq/scaling_governor",
        "powersave\n",
    );
    tree.write(
        "sys/devices/system/cpu/cpu0/cpufreq/scaling_driver",
        "intel_pstate\n",
    );
    // In a session PipeWire serves its own user, who needs no group for the card.
    tree.end(SERVER);
    tree.process(60, "pipewire", &["/usr/bin/pipewire"], "Uid:\t1000\n");
    tree.process(
        DAEMON,
        "underfoot",
        &["underfoot", "run"],
        "Uid:\t1000\nGid:\t1000\nGroups:\t20 997\n",
    );
    assert_eq!(examined(tree.root(), &asked(), &told), []);
    told.jack = "retrying".into();
    let findings = examined(tree.root(), &asked(), &told);
    assert_eq!(
        findings
            .iter()
            .map(|finding| finding.rule)
            .collect::<Vec<_>>(),
        ["no-jack"]
    );
}
