//! The `halfsplit` program: see the library for what it does.

fn main() -> std::process::ExitCode {
    halfsplit::cli::run()
}
