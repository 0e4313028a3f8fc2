//! Parameters, lets and the kit: what the statements of a chain count with.

use super::{Builder, Houses, Layer};
use crate::choices::Level;
use crate::diagnostic::{Diagnostic, code};
use crate::names::condition;
use crate::names::fields::value_name;
use crate::names::nearest;
use crate::names::scope::Scope;
use crate::names::sums::Value;
use grammar::tree::{Field, Stmt, StmtKind, Word};
use smol_str::SmolStr;

impl Builder<'_> {
    /// Parameters are shared along the chain, the nearest value counting for every text of it.
    pub(super) fn parameters(&mut self, chain: &[Layer<'_>], out: &mut Vec<Diagnostic>) {
        for layer in chain {
            let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
            for stmt in layer.stmts {
                let StmtKind::Param { name, value, within } = &stmt.kind else { continue };
                let Some(found) = self.named_value(name, value, &mut scope) else { continue };
                let bounds = within
                    .as_ref()
                    .and_then(|range| condition::bounds(range, found.dimension, &self.sums(), &mut scope));
                if bounds.is_some_and(|b| !b.has(found.value)) {
                    let place = scope.place(value.span);
                    scope.say(
                        Diagnostic::error(code::M021, place, format!("`{}` is outside its own range", name.text))
                            .help("Widen `within`, or choose a value in it."),
                    );
                }
                self.within_base(name, found, chain, layer.level, &mut scope);
                self.params.insert(name.text.clone(), found);
                self.env.insert(name.text.clone(), found);
            }
        }
    }

    /// Lets are private to their text, and come after every parameter has its value.
    pub(super) fn lets(&mut self, stmts: &[Stmt], scope: &mut Scope<'_>) {
        self.env = self.params.clone();
        for stmt in stmts {
            let StmtKind::Let { name, value } = &stmt.kind else { continue };
            if let Some(found) = self.named_value(name, value, scope) {
                self.env.insert(name.text.clone(), found);
            }
        }
    }

    pub(super) fn named_value(&self, name: &Word, value: &grammar::tree::Expr, scope: &mut Scope<'_>) -> Option<Value> {
        if self.trade.index.places.contains_key(&name.text) {
            let place = scope.place(name.span);
            scope.say(
                Diagnostic::error(code::M011, place, format!("`{}` is a part of the dog", name.text))
                    .help(format!("Call the measure something else, such as `{}-length`.", name.text)),
            );
            return None;
        }
        self.sums().value(value, scope)
    }

    /// A parameter that a base declares may be chosen again within the base's range only.
    pub(super) fn within_base(
        &self,
        name: &Word,
        found: Value,
        chain: &[Layer<'_>],
        level: Level,
        scope: &mut Scope<'_>,
    ) {
        for layer in chain.iter().filter(|l| l.level < level) {
            for stmt in layer.stmts {
                let StmtKind::Param { name: base, within: Some(range), .. } = &stmt.kind else { continue };
                if base.text != name.text {
                    continue;
                }
                let mut silent = Vec::new();
                let mut quiet = Scope::new(layer.decl.file, layer.decl.at, &mut silent);
                let bounds = condition::bounds(range, found.dimension, &self.sums(), &mut quiet);
                if bounds.is_some_and(|b| !b.has(found.value)) {
                    let range_place = quiet.place(range.span);
                    let place = scope.place(name.span);
                    scope.say(
                        Diagnostic::error(
                            code::M021,
                            place,
                            format!("`{}` is outside what {} allows", name.text, layer.decl.name()),
                        )
                        .related(range_place, "this is the range that the base allows")
                        .help("Choose a value in that range, or change the base."),
                    );
                }
            }
        }
    }

    /// What hangs at the tables of the houses around the recipe; what a house beside has is elsewhere.
    pub(super) fn find_kit(&mut self, chain: &[Layer<'_>], out: &mut Vec<Diagnostic>) {
        let own = chain.last().map_or(Houses::default(), |layer| layer.houses);
        let houses = (0..).zip(chain.iter().filter(|l| l.level.is_house()));
        for (_, layer) in houses.filter(|(number, _)| own.has(*number)) {
            let mut scope = Scope::new(layer.decl.file, layer.decl.at, out);
            for stmt in layer.stmts {
                if let StmtKind::Field(field) = &stmt.kind
                    && field.name.text == "kit"
                {
                    self.own_kit(field, &mut scope);
                }
            }
        }
    }

    pub(super) fn own_kit(&mut self, field: &Field, scope: &mut Scope<'_>) {
        let Some(word) = field.values.first().and_then(value_name) else { return };
        match self.trade.index.kits.get(&word.text).and_then(|id| self.trade.kits.get(id.0 as usize)) {
            Some(kit) => {
                let own = self.kit.get_or_insert_default();
                own.extend(kit.owns.iter().map(|(tool, _)| *tool));
                self.choices.many.extend(kit.owns.iter().copied());
            }
            None => {
                let place = scope.place(word.span);
                let diagnostic = Diagnostic::error(code::M002, place, format!("no kit is called `{}`", word.text));
                scope.say(match nearest(&word.text, self.trade.index.kits.keys().map(SmolStr::as_str)) {
                    Some(near) => {
                        diagnostic.help(format!("Did you mean `{near}`?")).fix(format!("write `{near}`"), place, near)
                    }
                    None => diagnostic.help("Declare it: `kit NAME { owns #10, #7F, shears }`."),
                });
            }
        }
    }
}
