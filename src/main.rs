//! The `halfsplit` program: see the library for what it does.

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    halfsplit::cli::run()
}
