//! Whose JACK server runs, where ours does not: a server answers only the user that began it.

/// Where jackd 2 has its sockets: `jack_NAME_UID_0`.
const SOCKETS: &str = "/dev/shm";

/// A user whose server runs, other than ourselves; none where none is known.
pub(super) fn other_users() -> Option<String> {
    let entries = std::fs::read_dir(SOCKETS).ok()?;
    let names = entries.flatten().map(|entry| entry.file_name());
    let names: Vec<String> = names.filter_map(|name| name.into_string().ok()).collect();
    let us = rustix::process::getuid().as_raw();
    let other = names
        .iter()
        .filter_map(|name| user_of(name))
        .find(|user| *user != us)?;
    name_of(other, &std::fs::read_to_string("/etc/passwd").ok()?)
}

/// The user in the name of a server's socket.
fn user_of(name: &str) -> Option<u32> {
    let (_, user) = name
        .strip_prefix("jack_")?
        .strip_suffix("_0")?
        .rsplit_once('_')?;
    user.parse().ok()
}

/// What a user is called, by the lines of passwd(5).
fn name_of(user: u32, passwd: &str) -> Option<String> {
    let fields = passwd
        .lines()
        .map(|line| line.split(':').collect::<Vec<_>>());
    let found = fields
        .into_iter()
        .find(|fields| fields.get(2).is_some_and(|uid| uid.parse() == Ok(user)))?;
    found.first().map(|name| (*name).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_s_socket_names_its_user() {
        let cases = [
            ("jack_default_997_0", Some(997)),
            ("jack_my_own_0_0", Some(0)),
            ("jack_sem.997_default_underfoot", None),
            ("jack-shm-registry", None),
            ("jack_default_x_0", None),
        ];
        for (name, user) in cases {
            assert_eq!(user_of(name), user, "{name}");
        }
        let passwd = "root:x:0:0:root:/root:/bin/bash\nunderfoot:x:997:995::/var/lib/underfoot:/usr/sbin/nologin\n";
        assert_eq!(name_of(997, passwd).as_deref(), Some("underfoot"));
        assert_eq!(name_of(5, passwd), None);
    }
}
