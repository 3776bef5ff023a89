//! Lines of the kernel's and the system's files (proc(5), passwd(5), group(5)).

use super::system::{Group, Mount, Process, SerialLine};
use std::path::PathBuf;

/// Users with their numbers.
pub fn users(text: &str) -> Vec<(String, u32)> {
    let user = |line: &str| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        Some((name.to_string(), fields.nth(1)?.parse().ok()?))
    };
    text.lines().filter_map(user).collect()
}

/// Groups.
pub fn groups(text: &str) -> Vec<Group> {
    let group = |line: &str| {
        let fields: Vec<&str> = line.split(':').collect();
        let members = fields.get(3)?.split(',').filter(|name| !name.is_empty());
        Some(Group {
            name: (*fields.first()?).to_string(),
            number: fields.get(2)?.parse().ok()?,
            members: members.map(str::to_string).collect(),
        })
    };
    text.lines().filter_map(group).collect()
}

/// What is mounted where. Spaces stand as `\040`.
pub fn mounts(text: &str) -> Vec<Mount> {
    let mount = |line: &str| {
        let mut fields = line.split(' ');
        let place = fields.nth(1)?.replace("\\040", " ");
        let (kind, options) = (fields.next()?, fields.next()?);
        Some(Mount {
            place: PathBuf::from(place),
            kind: kind.to_string(),
            is_read_only: options.split(',').any(|option| option == "ro"),
        })
    };
    text.lines().filter_map(mount).collect()
}

/// Takes user and groups out of a process's `status`.
pub fn credentials(process: &mut Process, status: &str) {
    for line in status.lines() {
        let Some((key, rest)) = line.split_once(':') else {
            continue;
        };
        let mut numbers = rest
            .split_whitespace()
            .filter_map(|number| number.parse().ok());
        match key {
            "Uid" => process.user = numbers.next().unwrap_or_default(),
            "Gid" => process.groups.extend(numbers.next()),
            "Groups" => process.groups.extend(numbers),
            _ => {}
        }
    }
}

/// Takes what counts for us out of a process's `limits`: the soft limits.
pub fn limits(process: &mut Process, limits: &str) {
    let soft = |name: &str| {
        let line = limits.lines().find_map(|line| line.strip_prefix(name))?;
        match line.split_whitespace().next()? {
            "unlimited" => Some(u64::MAX),
            number => number.parse().ok(),
        }
    };
    process.realtime_limit = soft("Max realtime priority");
    process.lock_limit_bytes = soft("Max locked memory");
}

/// Whether a thread's `stat` tells of SCHED_FIFO or SCHED_RR. The name before may hold anything, a bracket too.
pub fn is_realtime(stat: &str) -> bool {
    const POLICY: usize = 41 - 3;
    const FIFO_AND_RR: [&str; 2] = ["1", "2"];
    let Some((_, fields)) = stat.rsplit_once(") ") else {
        return false;
    };
    let policy = fields.split_whitespace().nth(POLICY);
    policy.is_some_and(|policy| FIFO_AND_RR.contains(&policy))
}

/// The lines of the kernel's serial driver.
pub fn serial_lines(text: &str) -> Vec<SerialLine> {
    let line = |line: &str| {
        let (number, counts) = line.split_once(": ")?;
        let count = |count: &str| count.strip_prefix("fe:")?.parse().ok();
        Some(SerialLine {
            number: number.trim().parse().ok()?,
            framing_errors: counts.split_whitespace().find_map(count).unwrap_or(0),
        })
    };
    text.lines().filter_map(line).collect()
}

/// The value of a key in a file for a shell.
pub fn assigned(text: &str, key: &str) -> Option<String> {
    let value = |line: &str| {
        let value = line.trim().strip_prefix(key)?.strip_prefix('=')?;
        Some(value.trim_matches('"').to_string())
    };
    text.lines().filter_map(value).next_back()
}

/// A hexadecimal number, with or without its `0x`.
pub fn hex(text: &str) -> Option<u32> {
    let text = text.trim();
    u32::from_str_radix(text.strip_prefix("0x").unwrap_or(text), 16).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thread_s_policy_is_its_field_41() {
        // Fields 3 to 40, then the policy; names hold brackets and spaces.
        let stat = |name: &str, policy: u32| {
            let fields = ["0"; 37].join(" ");
            format!("7 ({name}) S {fields} {policy} 0 0")
        };
        for (name, policy, realtime) in [
            ("jack", 0, false),
            ("jack", 1, true),
            ("a) S 1 (b", 2, true),
            ("idle", 5, false),
        ] {
            assert_eq!(
                is_realtime(&stat(name, policy)),
                realtime,
                "{name} {policy}"
            );
        }
        assert!(!is_realtime("cut off"));
    }

    #[test]
    fn limits_are_soft_ones() {
        let text = "Limit                     Soft Limit           Hard Limit           Units\n\
            Max locked memory         8388608              unlimited            bytes\n\
            Max realtime priority     0                    95\n";
        let mut process = Process::default();
        limits(&mut process, text);
        assert_eq!(
            (process.realtime_limit, process.lock_limit_bytes),
            (Some(0), Some(8_388_608))
        );
        limits(&mut process, &text.replace("8388608  ", "unlimited"));
        assert_eq!(process.lock_limit_bytes, Some(u64::MAX));
    }

    #[test]
    fn the_last_assignment_counts_and_comments_do_not() {
        let text = "#JACK_CARD=0\nJACK_CARD=CODEC\nJACK_DRIVER=\"-p 256\"\nJACK_CARD=\"Two\"\n";
        for (key, value) in [
            ("JACK_CARD", Some("Two")),
            ("JACK_DRIVER", Some("-p 256")),
            ("JACK", None),
        ] {
            assert_eq!(assigned(text, key).as_deref(), value);
        }
    }

    #[test]
    fn framing_errors_are_counted_by_line() {
        let text = "serinfo:1.0 driver revision:\n0: uart:PL011 mmio:0x1 irq:3 tx:0 rx:2 fe:20 brk:1 RTS\n1: uart:unknown port:2F8 irq:3\n";
        let told: Vec<_> = serial_lines(text)
            .iter()
            .map(|line| (line.number, line.framing_errors))
            .collect();
        assert_eq!(told, [(0, 20), (1, 0)]);
    }
}
