//! The terminal or pipe: colour, width, and the one place that writes to it.

use super::{Colour, stop::Stop};
use anstream::{AutoStream, ColorChoice};
use coatwright::diagnostic::render::Look;
use std::io::{self, IsTerminal, StderrLock, StdoutLock, Write};

/// Wide enough to read, narrow enough not to tire.
const WIDEST: usize = 110;
const USUAL: usize = 80;

/// Where the output goes.
pub(super) struct Out {
    text: AutoStream<StdoutLock<'static>>,
    talk: AutoStream<StderrLock<'static>>,
    on_terminal: bool,
    colour: bool,
    colour_of_talk: bool,
}

impl Out {
    pub(super) fn new(colour: Colour) -> Self {
        let (text, talk) = (io::stdout().lock(), io::stderr().lock());
        let choice = |auto| match colour {
            Colour::Auto => auto,
            Colour::Always => ColorChoice::AlwaysAnsi,
            Colour::Never => ColorChoice::Never,
        };
        let of_text = choice(seen(AutoStream::choice(&text)));
        let of_talk = choice(seen(AutoStream::choice(&talk)));
        let on_terminal = text.is_terminal();
        Self {
            on_terminal,
            colour: of_text != ColorChoice::Never,
            colour_of_talk: of_talk != ColorChoice::Never,
            // A pipe gets every byte: a text that is laid out may hold what a terminal would take for an order.
            text: AutoStream::new(text, if on_terminal { of_text } else { ColorChoice::AlwaysAnsi }),
            talk: AutoStream::new(talk, of_talk),
        }
    }

    /// Whether somebody looks at the output as it comes.
    pub(super) const fn on_terminal(&self) -> bool {
        self.on_terminal
    }

    /// How the output looks.
    pub(super) fn look(&self) -> Look {
        Look { colour: self.colour, width: width(self.on_terminal) }
    }

    /// How messages beside the output look.
    pub(super) fn look_of_talk(&self) -> Look {
        Look { colour: self.colour_of_talk, width: width(io::stderr().is_terminal()) }
    }

    /// Writes what was asked for.
    pub(super) fn write(&mut self, text: &str) -> Result<(), Stop> {
        Ok(self.text.write_all(text.as_bytes())?)
    }

    /// Says something beside the output. If nobody listens, it is lost.
    pub(super) fn say(&mut self, words: &str) {
        // What was asked for comes first, also where both end on one screen.
        let _ = self.text.flush();
        let end = if words.ends_with('\n') { "" } else { "\n" };
        let _ = write!(self.talk, "{words}{end}");
    }

    /// Sends out what is still waiting.
    pub(super) fn finish(&mut self) -> Result<(), Stop> {
        Ok(self.text.flush()?)
    }
}

/// What was found out about a stream, but never colour on a terminal that says it has none: on a build server (`CI` is
/// set) anstream takes such a terminal for a coloured log.
fn seen(choice: ColorChoice) -> ColorChoice {
    let says = |name: &str, what: &dyn Fn(&str) -> bool| std::env::var(name).is_ok_and(|v| what(&v));
    let dumb = says("TERM", &|v| v == "dumb");
    let forced = says("CLICOLOR_FORCE", &|v| v != "0");
    if dumb && !forced { ColorChoice::Never } else { choice }
}

/// The columns to use: what COLUMNS or the terminal says, else the usual.
fn width(on_terminal: bool) -> usize {
    let told = std::env::var("COLUMNS").ok().and_then(|c| c.parse::<usize>().ok()).filter(|c| *c > 0);
    let seen = || on_terminal.then(terminal_size::terminal_size).flatten().map(|(w, _)| usize::from(w.0));
    told.or_else(seen).unwrap_or(USUAL).clamp(40, WIDEST)
}
