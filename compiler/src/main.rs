//! The command `coatwright`: checks trim recipes and prints step sheets.

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}
