//! Statements as their author wrote them, each with who said it.

use super::gather::{House, Recipe};
use super::links;
use super::source::inline;
use crate::choices::{Houses, Layer, Level, Overridden};
use crate::names::lower::Decl;
use crate::names::zone_words::zone_words;
use crate::source::{Place, Sources};
use grammar::tree::{Comment, Stmt, StmtKind};
use maud::{Markup, html};

/// A statement.
pub(super) struct Said<'w> {
    pub(super) stmt: &'w Stmt,
    pub(super) decl: Decl<'w>,
    pub(super) level: Level,
    pub(super) text: String,
    /// Its reason.
    pub(super) because: Option<String>,
    /// A remark on its line.
    pub(super) remark: Option<String>,
}

impl<'w> Said<'w> {
    fn place(&self) -> Place {
        let (file, at) = (self.decl.file, self.decl.at);
        Place { file, start: at + self.stmt.span.start, end: at + self.stmt.span.end }
    }

    fn of(stmt: &'w Stmt, layer: &Layer<'w>, sources: &Sources) -> Self {
        let (file, at) = (layer.decl.file, layer.decl.at);
        let place = Place { file, start: at + stmt.span.start, end: at + stmt.span.end };
        let text = one_line(sources.at(place));
        let may_reason = matches!(stmt.kind, StmtKind::Keep(_) | StmtKind::Work(_));
        let (text, because) = match text.rsplit_once(" because \"").filter(|_| may_reason) {
            Some((text, because)) => (text.to_owned(), Some(because.trim_end_matches('"').to_owned())),
            None => (text, None),
        };
        let remark = stmt.trivia.after.as_ref().map(|comment| remark(comment)).filter(|words| !words.is_empty());
        Self { stmt, decl: layer.decl, level: layer.level, text, because, remark }
    }

    /// Its words, its reason, and who said it if that isn't the page's own recipe.
    pub(super) fn shown(&self, house: &House<'_>, own: Decl<'_>) -> Markup {
        html! {
            code { (inline(&self.text)) }
            @if let Some(because) = &self.because { " " span.because { "because " (because) } }
            @if let Some(remark) = &self.remark { " " span.because { (remark) } }
            @if self.decl.place() != own.place() { " " (self.from(house)) }
        }
    }

    fn from(&self, house: &House<'_>) -> Markup {
        let name = self.decl.name();
        let own = house.salon.house.is_some_and(|house| house.place() == self.decl.place());
        html! {
            span.from {
                "from "
                @if own { a href="index.html" { "the house" } }
                @else if matches!(self.level, Level::House(_)) { "the house " (links::spoken(&name)) }
                @else if let Some(base) = house.recipe(&name) { a href=(format!("{}.html", base.file)) { (base.choices.title) } }
                @else { (links::spoken(&name)) }
            }
        }
    }
}

/// The statements of some layers that are wanted, the strongest text first.
pub(super) fn of_layers<'w>(
    layers: &[Layer<'w>],
    sources: &Sources,
    wanted: impl Fn(&StmtKind) -> bool,
) -> Vec<Said<'w>> {
    let own = layers.iter().rev().flat_map(|layer| layer.stmts.iter().map(move |stmt| (layer, stmt)));
    own.filter(|(_, stmt)| wanted(&stmt.kind)).map(|(layer, stmt)| Said::of(stmt, layer, sources)).collect()
}

/// The statements in the braces of one.
pub(super) fn within<'w>(said: &Said<'w>, sources: &Sources) -> Vec<Said<'w>> {
    let layer = Layer { stmts: &[], ..Layer::of(said.level, said.decl, Houses::default()) };
    let stmts = said.stmt.body().map_or(&[][..], |body| body.stmts.as_slice());
    stmts.iter().map(|stmt| Said::of(stmt, &layer, sources)).collect()
}

/// A list of statements.
pub(super) fn list(all: &[Said<'_>], house: &House<'_>, recipe: &Recipe<'_>) -> Markup {
    let taken = |said: &Said<'_>| {
        let place = said.place();
        let within =
            move |o: &&Overridden| o.keep.file == place.file && (place.start..=place.end).contains(&o.keep.start);
        recipe.choices.overrides.iter().filter(within)
    };
    html! {
        ul.said {
            @for said in all {
                li {
                    (said.shown(house, recipe.decl))
                    @for o in taken(said) {
                        " " strong { "Overridden on the " (zone_words(&house.salon.trade, o.sites)) " by " (o.by) ": " (o.because) }
                    }
                }
            }
        }
    }
}

/// A text on one line.
pub(super) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words of a comment; a ruled line has none.
fn remark(comment: &Comment) -> String {
    let words = comment.text.trim_start_matches('-').trim_end_matches('-').trim();
    words.to_owned()
}

/// What stands above a block; or of that only what no empty line parts from it, since the first block of a file stands below what
/// is said of the whole file.
pub(super) fn above(decl: Decl<'_>, sources: &Sources, near: bool) -> Option<String> {
    let before = &decl.block.trivia.before;
    let text = sources.text(decl.file).get(decl.at as usize..).unwrap_or_default();
    let parted = |a: &Comment, b: &Comment| {
        text.get(a.span.end as usize..b.span.start as usize).is_some_and(|gap| gap.matches('\n').count() > 1)
    };
    let from = before.iter().zip(before.iter().skip(1)).rposition(|(a, b)| near && parted(a, b)).map_or(0, |n| n + 1);
    let words: Vec<String> = before.iter().skip(from).map(remark).filter(|words| !words.is_empty()).collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// The line of a place with the source that stands in brackets at its end: `no closer than #10`, `common practice`.
pub(super) fn sourced(sources: &Sources, place: Place) -> (String, Option<String>) {
    let text = sources.text(place.file);
    let (line, _) = sources.line_column(place);
    let line = one_line(text.lines().nth(line.saturating_sub(1)).unwrap_or_default());
    let line = line.split(" -- ").next().unwrap_or_default().trim();
    match line.strip_suffix(')').and_then(|rest| rest.rsplit_once(" (")) {
        Some((words, source)) => (words.to_owned(), Some(source.to_owned())),
        None => (line.to_owned(), None),
    }
}
