//! Writes the invented demo chain to a folder.
fn main() {}
