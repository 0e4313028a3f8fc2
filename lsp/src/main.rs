//! The command `coatwright-lsp`: an editor starts it and speaks to it over standard input and output.

use std::ffi::OsStr;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Trees and messages are many small values, made and dropped with each edit.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

const HELP: &str = "\
The language server for trim recipes. An editor starts it and speaks to it over standard input and output.

Usage: coatwright-lsp [--stdio]

Options:
      --stdio    Speak over standard input and output (it always does; some editors add this)
  -h, --help     Print this help
  -V, --version  Print the version
";

fn main() -> ExitCode {
    for argument in std::env::args_os().skip(1) {
        match argument.to_str() {
            Some("--stdio") => {}
            Some("-h" | "--help") => return print(HELP),
            Some("-V" | "--version") => return print(concat!("coatwright-lsp ", env!("CARGO_PKG_VERSION"), "\n")),
            _ => return refuse(&argument),
        }
    }
    if std::io::stdin().is_terminal() {
        eprintln!("coatwright-lsp: waiting for an editor on standard input; see `coatwright-lsp --help`");
    }
    let runtime = match tokio::runtime::Builder::new_current_thread().enable_time().build() {
        Ok(runtime) => runtime,
        Err(why) => {
            eprintln!("coatwright-lsp: can't start: {why}");
            return ExitCode::from(2);
        }
    };
    let code = runtime.block_on(coatwright_lsp::server::run(tokio::io::stdin(), tokio::io::stdout()));
    // The thread that waits for standard input may never wake again: nobody waits for it.
    runtime.shutdown_background();
    ExitCode::from(code)
}

/// Nobody may be reading any more: then there is nobody to tell either.
fn print(words: &str) -> ExitCode {
    let _ = std::io::stdout().write_all(words.as_bytes());
    ExitCode::SUCCESS
}

fn refuse(argument: &OsStr) -> ExitCode {
    eprintln!("coatwright-lsp: `{}` isn't an option; see `coatwright-lsp --help`", argument.to_string_lossy());
    ExitCode::from(2)
}
