//! Commands: what they are called, what they are given, and what they give.

use super::{answers, range};
use crate::features::cases::Told;
use crate::features::sheets::{Does, Lens, Made};
use crate::lines::Position;
use crate::state::Uri;
use lsp_types as lsp;
use serde_json::{Value, json};

/// Gives the sheet's page, for the card or recipe at a place or for a dog by name.
const SHEET: &str = "coatwright.sheet";
/// Puts a dog on the table: messages and hovers are then for it too.
const TABLE: &str = "coatwright.dogOnTheTable";
/// Gives the page about a rule, in Markdown.
const EXPLAIN: &str = "coatwright.explain";

/// Runs the case at a place, and says what came of it.
const CASE: &str = "coatwright.case";

/// The commands that a client may send.
#[must_use]
pub fn names() -> Vec<String> {
    [SHEET, TABLE, EXPLAIN, CASE].map(str::to_owned).to_vec()
}

/// A command that was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// The sheet.
    Sheet(Of),
    /// The dog on the table.
    Table(Of),
    /// Nobody stays on the table.
    TakeOff,
    /// The page of a rule.
    Explain(String),
    /// What comes of a case.
    Case(Of),
}

/// For whom, and about which text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Of {
    /// The document.
    pub uri: Uri,
    /// The place in it.
    pub at: Option<Position>,
    /// The dog, if it isn't the one at that place.
    pub dog: Option<String>,
    /// The recipe, if it isn't the one that the card wants.
    pub recipe: Option<String>,
    /// Whether the editor is to open it too.
    pub show: bool,
}

/// Reads a command.
///
/// # Errors
/// What is wrong with it.
pub fn asked(params: &lsp::ExecuteCommandParams) -> Result<Asked, String> {
    let first = params.arguments.first().unwrap_or(&Value::Null);
    match params.command.as_str() {
        EXPLAIN => first.as_str().map(|code| Asked::Explain(code.to_owned())).ok_or_else(|| "which rule?".to_owned()),
        TABLE if first.is_null() || first.get("dog").is_some_and(Value::is_null) => Ok(Asked::TakeOff),
        TABLE => of(first).map(Asked::Table),
        SHEET => of(first).map(Asked::Sheet),
        CASE => of(first).map(Asked::Case),
        other => Err(format!("there is no command `{other}`")),
    }
}

fn of(argument: &Value) -> Result<Of, String> {
    let text = |path: &str| argument.pointer(path).and_then(Value::as_str).map(str::to_owned);
    let uri = text("/textDocument/uri").ok_or("about which document?")?;
    // As the editor's own notifications write it.
    let uri = lsp::Url::parse(&uri).map_err(|_| "that is no address")?;
    let at = argument.get("position").cloned().and_then(|at| serde_json::from_value::<lsp::Position>(at).ok());
    Ok(Of {
        uri: super::uri(&uri),
        at: at.map(answers::position),
        dog: text("/dog"),
        recipe: text("/recipe"),
        show: argument.get("show").and_then(Value::as_bool).unwrap_or(false),
    })
}

/// What a sheet's command gives.
///
/// # Errors
/// Why there is no sheet.
pub fn made(made: Made) -> Result<Value, String> {
    match made {
        Made::Page { title, html } => Ok(json!({ "title": title, "html": html })),
        Made::Refused(why) => Err(why.join("\n\n")),
    }
}

/// What a case's command gives.
#[must_use]
pub fn told(told: &Told) -> Value {
    let said = |(line, message): &(u32, String)| json!({ "line": line, "message": message });
    let (expects, fails) = told.lines;
    let said: Vec<Value> = told.said.iter().map(said).collect();
    json!({ "passed": told.passed, "expects": expects, "fails": fails, "messages": said })
}

/// `textDocument/codeLens`.
#[must_use]
pub fn lens(lens: &Lens, url: &lsp::Url) -> lsp::CodeLens {
    let document = json!({ "uri": url });
    let (command, argument) = match &lens.does {
        Does::Tells => (String::new(), None),
        Does::Sheet { dog, recipe } => {
            (SHEET.to_owned(), Some(json!({ "textDocument": document, "dog": dog, "recipe": recipe, "show": true })))
        }
        Does::Table(dog) => (TABLE.to_owned(), Some(json!({ "textDocument": document, "dog": dog }))),
        Does::Case => {
            let at = range(lens.range).start;
            (CASE.to_owned(), Some(json!({ "textDocument": document, "position": at, "show": true })))
        }
    };
    lsp::CodeLens {
        range: range(lens.range),
        command: Some(lsp::Command { title: lens.words.clone(), command, arguments: argument.map(|a| vec![a]) }),
        data: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(command: &str, argument: Value) -> Result<Asked, String> {
        let arguments = vec![argument];
        asked(&lsp::ExecuteCommandParams { command: command.to_owned(), arguments, ..Default::default() })
    }

    #[test]
    fn commands_are_read() {
        let document = json!({ "uri": "file:///a.trim" });
        let place = json!({ "textDocument": document, "position": { "line": 1, "character": 2 } });
        let Ok(Asked::Sheet(of)) = read(SHEET, place) else { unreachable!() };
        assert_eq!((of.at, of.show), (Some(Position { line: 1, column: 2 }), false));
        assert_eq!(read(TABLE, Value::Null), Ok(Asked::TakeOff));
        assert_eq!(read(TABLE, json!({ "textDocument": document, "dog": null })), Ok(Asked::TakeOff));
        assert!(matches!(read(TABLE, json!({ "textDocument": document, "dog": "d" })), Ok(Asked::Table(_))));
        assert!(read(SHEET, json!(3)).is_err() && read("bark", Value::Null).is_err());
        let place = json!({ "textDocument": document, "position": { "line": 1, "character": 2 }, "show": true });
        assert!(matches!(read(CASE, place), Ok(Asked::Case(of)) if of.show));
        assert_eq!(read(EXPLAIN, json!("C001")), Ok(Asked::Explain("C001".into())));
    }
}
