//! Reading the plain lines of a declaration: which are allowed, and what their values must be.

use super::scope::Scope;
use crate::diagnostic::{Diagnostic, code};
use crate::measure::{self, BodyUnits, Dimension, Interval};
use crate::names::nearest;
use grammar::tree::{
    Block, Expr, ExprKind, Field, Number, Op, Range, Stmt, StmtKind, ToolRefKind, Unit, Value, ValueKind, Word,
};
use smol_str::SmolStr;

/// The plain lines of one declaration.
pub struct Fields<'t, 's, 'd> {
    block: &'t Block,
    scope: &'s mut Scope<'d>,
    units: BodyUnits,
}

impl<'t, 's, 'd> Fields<'t, 's, 'd> {
    /// Reads the lines of `block`, complaining of those that no declaration of its kind has.
    pub fn new(block: &'t Block, scope: &'s mut Scope<'d>, units: BodyUnits) -> Self {
        let allowed = grammar::words::fields_of(block.kind);
        for stmt in &block.body {
            if let StmtKind::Field(field) = &stmt.kind {
                unknown_line(field, block, allowed, scope);
            }
        }
        Self { block, scope, units }
    }

    /// The scope, for further messages.
    pub fn scope(&mut self) -> &mut Scope<'d> {
        self.scope
    }

    /// Every line of that name.
    pub fn all(&self, name: &str) -> Vec<&'t Field> {
        let block = self.block;
        block
            .body
            .iter()
            .filter_map(|stmt| match &stmt.kind {
                StmtKind::Field(field) if field.name.text == name => Some(field),
                _ => None,
            })
            .collect()
    }

    /// The line of that name; a second one is a mistake.
    pub fn one(&mut self, name: &str) -> Option<&'t Field> {
        let all = self.all(name);
        if let (Some(first), Some(second)) = (all.first(), all.get(1)) {
            let place = self.scope.place(second.name.span);
            let earlier = self.scope.place(first.name.span);
            self.scope.say(
                Diagnostic::error(code::M011, place, format!("`{name}` is said twice in `{}`", self.title()))
                    .related(earlier, "first said here")
                    .help("Keep the one that is right and take the other away."),
            );
        }
        all.first().copied()
    }

    fn title(&self) -> &'t str {
        self.block.name.as_ref().map_or("this declaration", |n| n.text.as_str())
    }

    /// Whether the line is there at all.
    pub fn flag(&mut self, name: &str) -> bool {
        self.one(name).is_some()
    }

    /// The prose of `about`, or an empty text.
    pub fn about(&self) -> String {
        let about = self.block.body.iter().find_map(|stmt| match &stmt.kind {
            StmtKind::About(prose) => Some(prose.lines.join(" ")),
            _ => None,
        });
        about.unwrap_or_default()
    }

    /// The quoted texts of every line of that name.
    pub fn texts(&mut self, name: &str) -> Vec<String> {
        let mut texts = Vec::new();
        for field in self.all(name) {
            for value in &field.values {
                match &value.kind {
                    ValueKind::Text(text) => texts.push(text.text.clone()),
                    _ => self.wrong(value, "a text in quotes"),
                }
            }
        }
        texts
    }

    /// The names of every line of that name; words side by side are joined by `-`.
    pub fn names(&mut self, name: &str) -> Vec<Word> {
        let mut names = Vec::new();
        for field in self.all(name) {
            for value in &field.values {
                match value_name(value) {
                    Some(word) => names.push(word),
                    None => self.wrong(value, "a name"),
                }
            }
        }
        names
    }

    /// One word out of `allowed`.
    pub fn word(&mut self, name: &str, allowed: &[&str]) -> Option<SmolStr> {
        let field = self.one(name)?;
        let value = field.values.first()?;
        let word = value_name(value);
        match word {
            Some(word) if allowed.is_empty() || allowed.contains(&word.text.as_str()) => Some(word.text),
            Some(word) => {
                let place = self.scope.place(word.span);
                let message = format!("`{name}` can't be `{}`", word.text);
                let mut diagnostic = Diagnostic::error(code::M023, place, message)
                    .help(format!("Write one of: {}.", allowed.join(", ")));
                if let Some(near) = nearest(&word.text, allowed.iter().copied()) {
                    diagnostic = diagnostic.fix(format!("write `{near}`"), place, near);
                }
                self.scope.say(diagnostic);
                None
            }
            None => {
                self.wrong(value, "a word");
                None
            }
        }
    }

    /// A number of that dimension.
    pub fn measure(&mut self, name: &str, dimension: Dimension) -> Option<i64> {
        self.interval(name, dimension).map(|i| i.low)
    }

    /// A number or a range of that dimension; an open end repeats the other.
    pub fn interval(&mut self, name: &str, dimension: Dimension) -> Option<Interval<i64>> {
        let field = self.one(name)?;
        let value = field.values.first()?;
        let interval = match &value.kind {
            ValueKind::Number(number) => self.number(number, dimension).map(Interval::point),
            ValueKind::Range(range) | ValueKind::Measure { range, .. } => self.range(range, dimension),
            ValueKind::Tool(tool) => match &tool.kind {
                ToolRefKind::Comb { length: Some(number), .. } => self.number(number, dimension).map(Interval::point),
                _ => None,
            },
            _ => {
                self.wrong(value, dimension.words());
                None
            }
        };
        // A range that runs backwards was told where the text was read.
        interval.filter(|i| i.low <= i.high)
    }

    fn range(&mut self, range: &Range, dimension: Dimension) -> Option<Interval<i64>> {
        let range = &one_unit(range);
        let low = range.low.as_ref().and_then(|e| self.plain(e, dimension));
        let high = range.high.as_ref().and_then(|e| self.plain(e, dimension));
        match (low, high) {
            (Some(low), Some(high)) => Some(Interval { low, high }),
            (Some(one), None) | (None, Some(one)) => Some(Interval::point(one)),
            (None, None) => None,
        }
    }

    fn plain(&mut self, expr: &Expr, dimension: Dimension) -> Option<i64> {
        match &expr.kind {
            ExprKind::Number(number) => self.number(number, dimension),
            ExprKind::Binary { op: Op::Sub, left, right } => {
                Some(self.plain(left, dimension)? - self.plain(right, dimension)?)
            }
            _ => {
                self.scope.say(
                    Diagnostic::error(code::M013, self.scope.place(expr.span), "a plain number is due here")
                        .help(format!("Write {}.", dimension.words())),
                );
                None
            }
        }
    }

    fn number(&mut self, number: &Number, dimension: Dimension) -> Option<i64> {
        number_of(number, dimension, self.units, self.scope)
    }

    /// Says that a value is of the wrong kind.
    pub fn wrong(&mut self, value: &Value, due: &str) {
        let place = self.scope.place(value.span);
        self.scope.say(Diagnostic::error(code::M013, place, format!("{due} is due here")));
    }
}

/// A number in its base unit; counts are in millionths. Says so if it measures something else.
pub fn number_of(number: &Number, dimension: Dimension, units: BodyUnits, scope: &mut Scope<'_>) -> Option<i64> {
    let place = scope.place(number.span);
    let Some(quantity) = measure::quantity(number, units) else {
        scope.say(Diagnostic::error(code::M009, place, format!("`{}` is too large", number.text)));
        return None;
    };
    if quantity.dimension == dimension {
        return Some(quantity.value);
    }
    let help = if quantity.dimension == Dimension::Count && dimension == Dimension::Length {
        // A part of one is of an inch.
        format!("Say the unit: `{} {}`.", number.text, if number.num < number.den { "in" } else { "mm" })
    } else {
        format!("Write {}.", dimension.words())
    };
    let message = format!("`{}` is {}, and {} is due here", number.text, quantity.dimension.words(), dimension.words());
    scope.say(Diagnostic::error(code::M009, place, message).help(help));
    None
}

/// The range with the unit of its right end on both: `3 to 35 kg`.
#[must_use]
pub fn one_unit(range: &Range) -> Range {
    let mut range = range.clone();
    if let (Some(low), Some(high)) = (range.low.as_mut(), range.high.as_ref())
        && let (ExprKind::Number(low), ExprKind::Number(high)) = (&mut low.kind, &high.kind)
        && low.unit == Unit::None
    {
        low.unit = high.unit;
    }
    range
}

/// The names of a line, each as one word.
pub fn listed_names(field: &Field) -> impl Iterator<Item = Word> {
    field.values.iter().filter_map(value_name)
}

/// The quoted texts of a line.
pub fn listed_texts(field: &Field) -> impl Iterator<Item = &grammar::tree::Text> {
    field.values.iter().filter_map(|value| match &value.kind {
        ValueKind::Text(text) => Some(text),
        _ => None,
    })
}

/// A value as one name: words joined by `-`, or a blade.
#[must_use]
pub fn value_name(value: &Value) -> Option<Word> {
    match &value.kind {
        ValueKind::Words(words) => Some(Word { text: joined(words), span: value.span }),
        ValueKind::Blade(blade) => Some(blade.clone()),
        ValueKind::Tool(tool) => match &tool.kind {
            ToolRefKind::Blade(name) => Some(Word { text: name.clone(), span: value.span }),
            ToolRefKind::Named(word) => Some(word.clone()),
            ToolRefKind::Comb { .. } => None,
        },
        _ => None,
    }
}

/// Words joined by `-`.
#[must_use]
pub fn joined(words: &[Word]) -> SmolStr {
    match words {
        [one] => one.text.clone(),
        many => SmolStr::from(many.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join("-")),
    }
}

/// Words with blanks between them.
#[must_use]
pub fn spaced(words: &[Word]) -> String {
    words.iter().map(|w| w.text.as_str()).collect::<Vec<_>>().join(" ")
}

fn unknown_line(field: &Field, block: &Block, allowed: &[&str], scope: &mut Scope<'_>) {
    let name = field.name.text.as_str();
    if allowed.contains(&name) {
        return;
    }
    let place = scope.place(field.name.span);
    let kind = block.keyword.text.as_str();
    let mut diagnostic = Diagnostic::error(code::M012, place, format!("a {kind} has no line `{name}`"));
    if let Some(near) = nearest(name, allowed.iter().copied()) {
        diagnostic = diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near);
    } else {
        diagnostic = diagnostic.help(format!("The lines of a {kind} are: {}.", allowed.join(", ")));
    }
    scope.say(diagnostic);
}

/// Complains of statements that don't belong into this kind of declaration.
pub fn only(block: &Block, scope: &mut Scope<'_>, fits: impl Fn(&Stmt) -> bool) {
    for stmt in &block.body {
        if matches!(stmt.kind, StmtKind::Broken | StmtKind::Field(_) | StmtKind::About(_)) || fits(stmt) {
            continue;
        }
        let span = stmt.span;
        let place = scope.place(span);
        let kind = block.keyword.text.as_str();
        scope.say(
            Diagnostic::error(code::M024, place, format!("this doesn't belong in a {kind}"))
                .help(format!("See the lines of a {kind} in the language page.")),
        );
    }
}
