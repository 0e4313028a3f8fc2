//! The lines that only a house has: which messages are errors there, and who may override a rule.

use crate::diagnostic::{CODES, Diagnostic, code};
use crate::names::fields::{listed_names, value_name};
use crate::names::nearest;
use crate::names::scope::Scope;
use grammar::tree::{Field, ValueKind};

/// `errors J001, M020`: each must be a code that there is.
pub(super) fn errors(field: &Field, scope: &mut Scope<'_>) {
    let all = || CODES.iter().map(|c| c.code).chain(grammar::CODES.iter().map(|(code, _)| *code));
    for value in &field.values {
        let place = scope.place(value.span);
        let name = value_name(value).map(|word| word.text.to_uppercase());
        if name.as_ref().is_some_and(|name| all().any(|code| code == name)) {
            continue;
        }
        let words = name.unwrap_or_default();
        let said = Diagnostic::error(code::M023, place, format!("no message has the code `{words}`"));
        scope.say(match nearest(&words, all()) {
            Some(near) => said.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near),
            None => said.help("Codes stand in brackets before each message; `coatwright explain` lists them all."),
        });
    }
    if listed_names(field).next().is_none() && field.values.is_empty() {
        let place = scope.place(field.name.span);
        scope.say(
            Diagnostic::error(code::M013, place, "this line names no code").help("For example `errors J001, M020`."),
        );
    }
}

/// `seniors "head groomer", "educator"`: names in quotes.
pub(super) fn seniors(field: &Field, scope: &mut Scope<'_>) {
    let bad = field.values.iter().find(|v| !matches!(&v.kind, ValueKind::Text(text) if !text.text.trim().is_empty()));
    let span = bad.map(|v| v.span).or_else(|| field.values.is_empty().then_some(field.name.span));
    if let Some(span) = span {
        let place = scope.place(span);
        scope.say(
            Diagnostic::error(code::M013, place, "who may override a rule is named in quotes")
                .help("For example `seniors \"head groomer\", \"educator\"`."),
        );
    }
}
