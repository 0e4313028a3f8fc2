//! The command `coatwright`: checks trim recipes and prints step sheets.

/// Many small values are made and dropped for each recipe and dog; the system's allocator takes a tenth of a check.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}
