//! Prints the tree and the mistakes of a file: `cargo run --example dump FILE`.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let text = std::fs::read_to_string(path).unwrap();
    let file = grammar::parse(&text);
    println!("{}", grammar::shape(&file));
    for e in grammar::errors(&file) {
        let s = e.span.start as usize;
        let line = text[..s].matches('\n').count() + 1;
        println!(
            "{line}: {} `{}` {}\n    help: {}\n    fix: {:?}",
            e.code,
            &text[s..e.span.end as usize],
            e.message,
            e.help.unwrap_or_default(),
            e.fix.map(|f| (f.title, f.text))
        );
    }
}
