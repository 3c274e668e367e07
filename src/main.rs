//! The door: a window, or a command without one.

fn main() -> std::process::ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.split_first() {
        Some((name, rest)) if name == "network" => equirow::command_line::network::run(rest),
        _ => std::process::ExitCode::from(2),
    }
}
