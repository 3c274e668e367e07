//! The door: a window, or a command without one.

fn main() {}
