//! Prints a file in the common layout: `cargo run --example fmt FILE`.
#![allow(clippy::unwrap_used)]
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let mut text = std::fs::read_to_string(path).unwrap();
    if std::env::args().nth(2).is_some() {
        let mut out = String::new();
        let mut on = false;
        for l in text.lines() {
            if l.starts_with("```") {
                on = l == "```trim";
                out.push('\n');
                continue;
            }
            if on {
                out.push_str(l);
                out.push('\n');
            }
        }
        text = out;
    }
    match grammar::format(&text) {
        Ok(t) => {
            print!("{t}");
            assert_eq!(grammar::format(&t).as_ref(), Ok(&t));
        }
        Err(e) => println!("refused: {e}"),
    }
}
