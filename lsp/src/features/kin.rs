//! Who extends whom.

use super::diagnostics::FileName;
use super::resolve::{Target, use_at};
use crate::around::{Here, Location};
use crate::lines::Range;
use coatwright::names::lower::Decl;
use coatwright::workspace::Salon;
use grammar::tree::{StmtKind, ValueKind};

/// A recipe among its kin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its name.
    pub name: String,
    /// Its title.
    pub title: Option<String>,
    /// Where its name stands.
    pub location: Location,
    /// All of it.
    pub whole: Range,
}

/// The recipe whose name is at a byte.
#[must_use]
pub fn member_at(here: &Here<'_>, at: u32) -> Option<Member> {
    let salon = here.salon()?;
    match use_at(here, &salon, at)?.target {
        Target::Recipe(place) => member(here, here.decl_at(place)?),
        _ => None,
    }
}

/// The recipe of a name that stands in a file which is known when it is seen.
fn named<'a>(here: &Here<'a>, name: &str, of: impl Fn(&FileName) -> bool) -> Option<(Salon<'a>, Decl<'a>)> {
    let known = |decl: &Decl<'_>| here.around.name(decl.file).is_some_and(|file| of(&file));
    let mut salons = here.around.workspace().salons().into_iter();
    salons.find_map(|salon| salon.recipes.here(name).filter(known).map(|decl| (salon, decl)))
}

/// The recipe that one builds on.
#[must_use]
pub fn above(here: &Here<'_>, name: &str, of: impl Fn(&FileName) -> bool) -> Vec<Member> {
    let base = named(here, name, of).and_then(|(salon, recipe)| salon.base(recipe)?.ok());
    base.and_then(|base| member(here, base)).into_iter().collect()
}

/// The recipes that build on one, in every house.
#[must_use]
pub fn below(here: &Here<'_>, name: &str, of: impl Fn(&FileName) -> bool) -> Vec<Member> {
    let Some((_, own)) = named(here, name, of) else { return Vec::new() };
    let salons = here.around.workspace().salons().into_iter();
    let all = salons.flat_map(|salon| {
        let base = |recipe: &Decl<'_>| salon.base(*recipe).and_then(Result::ok).map(|base| base.place());
        salon.children(name).filter(|recipe| base(recipe) == Some(own.place())).collect::<Vec<_>>()
    });
    all.filter_map(|recipe| member(here, recipe)).collect()
}

fn member(here: &Here<'_>, decl: Decl<'_>) -> Option<Member> {
    let span = decl.block.span.shifted(decl.at);
    let title = decl.block.body.iter().find_map(|stmt| match &stmt.kind {
        StmtKind::Field(field) if field.name.text == "title" => match field.values.first().map(|v| &v.kind) {
            Some(ValueKind::Text(text)) => Some(text.text.clone()),
            _ => None,
        },
        _ => None,
    });
    Some(Member {
        name: decl.name().to_string(),
        title,
        location: here.around.location(decl.place())?,
        whole: Here { file: decl.file, ..*here }.range(span),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn kin_are_found_both_ways() {
        let other = "recipe base { title \"B\" }\nrecipe u { extends base }";
        with("recipe t { extends ba|se }", other, |here, at| {
            let found = member_at(here, at);
            assert_eq!(found.as_ref().map(|m| (m.name.as_str(), m.title.as_deref())), Some(("base", Some("B"))));
            let names = |all: Vec<Member>| all.into_iter().map(|m| m.name).collect::<Vec<_>>();
            assert_eq!(names(below(here, "base", |_| true)), ["t", "u"]);
            assert_eq!(names(above(here, "t", |_| true)), ["base"]);
            assert!(above(here, "base", |_| true).is_empty() && below(here, "nobody", |_| true).is_empty());
            assert!(below(here, "base", |_| false).is_empty());
        });
    }
}
