//! Arguments to one command; exit codes.
fn main() {}
