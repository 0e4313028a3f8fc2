//! What the pages tell, salon by salon.

use super::dogs::{Example, Part, example, parts};
use super::links;
use crate::cases::{self, Ran};
use crate::check;
use crate::choices::{self, Choices, Layer};
use crate::names::lower::Decl;
use crate::names::trade::Trade;
use crate::source::Sources;
use crate::workspace::{Salon, Workspace};
use smol_str::SmolStr;
use std::collections::BTreeSet;

/// All of it.
pub(super) struct Book<'w> {
    pub(super) sources: &'w Sources,
    pub(super) houses: Vec<House<'w>>,
    /// The title of the whole.
    pub(super) title: String,
}

/// A house, or the recipes that have none.
pub(super) struct House<'w> {
    pub(super) salon: Salon<'w>,
    /// Its folder.
    pub(super) slug: String,
    pub(super) title: String,
    /// What the house itself says.
    pub(super) choices: Choices,
    pub(super) recipes: Vec<Recipe<'w>>,
    /// Cases that can't be run, and so belong to no recipe.
    pub(super) idle: Vec<(Decl<'w>, Ran)>,
}

/// A recipe with what was worked out for it.
pub(super) struct Recipe<'w> {
    pub(super) decl: Decl<'w>,
    pub(super) name: SmolStr,
    /// Its file, without the end.
    pub(super) file: String,
    /// House, bases and recipe.
    pub(super) layers: Vec<Layer<'w>>,
    pub(super) choices: Choices,
    /// A dog that it serves, with its sheet.
    pub(super) example: Option<Example>,
    /// What is done where, coat by coat.
    pub(super) parts: Vec<Part>,
    pub(super) cases: Vec<(Decl<'w>, Ran)>,
    /// The names of the recipes that build on it.
    pub(super) children: Vec<SmolStr>,
}

impl<'w> Book<'w> {
    pub(super) fn of(workspace: &'w Workspace) -> Self {
        let asked: BTreeSet<_> = workspace.asked().iter().copied().collect();
        let mut houses: Vec<House<'w>> = Vec::new();
        for salon in workspace.salons() {
            if !salon.files.iter().any(|file| asked.contains(file)) {
                continue;
            }
            let taken: Vec<String> = houses.iter().map(|h| h.slug.clone()).collect();
            houses.push(House::of(workspace, salon, &taken));
        }
        houses.retain(|house| !house.recipes.is_empty() || house.salon.house.is_some());
        let title = match houses.as_slice() {
            [one] if one.salon.house.is_some() => format!("Handbook of {}", one.title),
            _ => "Handbook of trims".to_owned(),
        };
        Self { sources: workspace.sources(), houses, title }
    }
}

impl<'w> House<'w> {
    fn of(workspace: &'w Workspace, salon: Salon<'w>, taken: &[String]) -> Self {
        let units = check::units(&salon.trade);
        let layers: Vec<Layer<'w>> = check::houses(&salon).collect();
        let choices = choices::build(&layers, &salon.trade, units, &mut Vec::new());
        let name = salon.house.map_or_else(|| SmolStr::new_static("recipes"), |decl| decl.name());
        let title = match (&choices.house_title, salon.house) {
            (Some(title), _) => title.clone(),
            (None, Some(decl)) => links::spoken(&decl.name()),
            (None, None) => "Recipes without a house".to_owned(),
        };
        let wanted = links::slug(&name);
        let slug = (1..).map(|n| if n == 1 { wanted.clone() } else { format!("{wanted}-{n}") });
        let slug = slug.into_iter().find(|s| !taken.contains(s)).unwrap_or(wanted);
        let ran = cases::run(workspace, std::slice::from_ref(&salon), "");
        let recipes = salon.recipes.values().map(|decl| Recipe::of(workspace, &salon, decl, &ran)).collect();
        let idle = ran.into_iter().filter(|r| r.recipe.is_none()).filter_map(|r| with_text(&salon, r)).collect();
        Self { slug, title, choices, recipes: in_order(recipes), idle, salon }
    }

    pub(super) fn trade(&self) -> &Trade {
        &self.salon.trade
    }

    /// A recipe by its name.
    pub(super) fn recipe(&self, name: &str) -> Option<&Recipe<'w>> {
        self.recipes.iter().find(|r| r.name == name)
    }
}

impl<'w> Recipe<'w> {
    fn of(workspace: &'w Workspace, salon: &Salon<'w>, decl: Decl<'w>, ran: &[Ran]) -> Self {
        let layers = check::chain(salon, decl, &mut Vec::new());
        let choices = choices::build(&layers, &salon.trade, check::units(&salon.trade), &mut Vec::new());
        let name = decl.name();
        let own = ran.iter().filter(|r| r.recipe.as_ref() == Some(&name));
        let mut children: Vec<SmolStr> = salon.children(&name).map(|child| child.name()).collect();
        children.sort();
        children.dedup();
        Self {
            file: links::file(&name),
            example: example(workspace, salon, decl, &choices),
            parts: parts(&choices, &salon.trade),
            cases: own.filter_map(|ran| with_text(salon, ran.clone())).collect(),
            children,
            decl,
            name,
            layers,
            choices,
        }
    }

    /// The recipe that it builds on.
    pub(super) fn base(&self) -> Option<&SmolStr> {
        self.choices.bases.first()
    }
}

/// A case that was run, with its text.
fn with_text<'w>(salon: &Salon<'w>, ran: Ran) -> Option<(Decl<'w>, Ran)> {
    Some((salon.cases.iter().find(|case| case.place() == ran.place)?, ran))
}

/// What dogs are served by first, by name; what only others build on comes last.
fn in_order(mut recipes: Vec<Recipe<'_>>) -> Vec<Recipe<'_>> {
    recipes.sort_by_key(|r| (r.example.is_none(), r.name.clone()));
    recipes
}
