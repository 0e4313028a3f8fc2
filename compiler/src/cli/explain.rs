//! `explain`: the page of a message.

use super::{Found, out::Out, stop::Stop};
use coatwright::explain;

/// Explain a message by its code
///
/// What the rule is about, why it matters, and what a better recipe looks like. Without a code: all of them.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright explain C001
  coatwright explain          the list of all codes")]
pub(super) struct Args {
    /// The code, such as C001
    code: Option<String>,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let look = out.look();
    let Some(code) = &args.code else {
        out.write(&explain::list(look.width, look.colour))?;
        return Ok(Found::Nothing);
    };
    if let Some(page) = explain::page(code) {
        out.write(&explain::render(page, look.width, look.colour))?;
        return Ok(Found::Nothing);
    }
    if let Some(title) = explain::title(code) {
        out.write(&format!("{}: {title}\n", code.to_uppercase()))?;
        return Ok(Found::Nothing);
    }
    let nearest = explain::nearest(code)
        .and_then(|near| explain::title(near).map(|title| format!("did you mean {near}, {title}?")))
        .unwrap_or_else(|| "`coatwright explain` lists all of them".to_owned());
    Err(Stop::because(format!("there is no message `{code}`; {nearest}")))
}
