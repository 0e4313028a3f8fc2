//! Generates the C parser of the tree-sitter grammar, byte for byte as `tree-sitter generate --abi 14` does.
//!
//! The npm package of that tool fetches its program from elsewhere when it is installed; this is the same library,
//! from crates.io. `cargo run --locked -- GRAMMAR_DIR OUT_DIR`; Node.js reads grammar.js.

use std::process::ExitCode;

/// What Helix, Neovim and Emacs load alike.
const ABI: usize = 14;

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let (Some(grammar), Some(out)) = (args.next(), args.next()) else {
        eprintln!("say which folder holds grammar.js, and where to write");
        return ExitCode::FAILURE;
    };
    match tree_sitter_generate::generate_parser_in_directory(
        grammar.as_ref(),
        Some(&out),
        None,
        ABI,
        None,
        Some("node"),
    ) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::FAILURE
        }
    }
}
