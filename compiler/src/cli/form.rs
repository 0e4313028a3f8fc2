//! How messages look, for every command that shows some.

use clap::ValueEnum;
use coatwright::diagnostic::render::Format;

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Form {
    /// With the text around it, lines and colours
    Rich,
    /// One line a message
    Short,
    /// With the text around it, in plain letters
    Plain,
    /// One JSON object a line (see `coatwright schema`)
    #[value(alias = "jsonl")]
    Json,
    /// A SARIF log for code hosts and build servers
    Sarif,
}

impl Form {
    /// What was asked for, else what suits a terminal or a pipe.
    pub(super) const fn or_suiting(asked: Option<Self>, on_terminal: bool) -> Format {
        match asked {
            Some(Self::Rich) => Format::Rich,
            Some(Self::Short) => Format::Short,
            Some(Self::Plain) => Format::Plain,
            Some(Self::Json) => Format::Json,
            Some(Self::Sarif) => Format::Sarif,
            None if on_terminal => Format::Rich,
            None => Format::Plain,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pipe_gets_plain_letters() {
        assert_eq!(Form::or_suiting(None, true), Format::Rich);
        assert_eq!(Form::or_suiting(None, false), Format::Plain);
        assert_eq!(Form::or_suiting(Some(Form::Json), true), Format::Json);
    }
}
