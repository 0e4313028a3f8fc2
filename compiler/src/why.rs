//! `why ZONE`: the chain of reasons behind a finish.

use crate::check;
use crate::choices;
use crate::diagnostic::{Diagnostic, code};
use crate::finish::{Finish, Finishes, Outcome, finish, stroke_words};
use crate::names::nearest;
use crate::names::sites::Sites;
use crate::names::trade::{Direction, Side, Trade};
use crate::names::zone_words::zone_words;
use crate::prove::representatives;
use crate::sheet::{Request, finished};
use crate::source::{FileId, Place};
use crate::workspace::Workspace;
use smol_str::SmolStr;

/// The answer, a paragraph a site.
#[derive(Clone, Debug, Default)]
pub struct Answer {
    lines: Vec<String>,
}

impl Answer {
    /// The lines, ready to be read.
    #[must_use]
    pub fn lines(&self) -> &[String] {
        &self.lines
    }
}

/// Why a zone, group or mark is done as it is: for the dog of a card, or without a card for each coat that the recipe
/// serves.
///
/// # Errors
/// Messages if the zone, the recipe or the card is unknown, or if no sheet can be made for the dog.
pub fn why(
    workspace: &Workspace,
    recipe: Option<&str>,
    dog: Option<&str>,
    zone: &str,
) -> Result<Answer, Vec<Diagnostic>> {
    let name = SmolStr::from(zone.trim().to_lowercase().split_whitespace().collect::<Vec<_>>().join("-"));
    let nowhere = Place { file: workspace.asked().first().copied().unwrap_or(FileId(0)), start: 0, end: 0 };
    match dog {
        Some(dog) => {
            let request = Request { recipe: recipe.map(str::to_owned), dog: dog.to_owned(), on: None, learner: true };
            let made = finished(workspace, &request)?;
            let sites = sites(&made.trade, &name, nowhere)?;
            let mut answer = Answer::default();
            answer.all(&made.finishes, sites, &made.trade, workspace);
            Ok(answer)
        }
        None => every_coat(workspace, recipe, &name, nowhere),
    }
}

fn sites(trade: &Trade, name: &str, place: Place) -> Result<Sites, Vec<Diagnostic>> {
    let (side, name) = match name.split_once('-') {
        Some(("left", rest)) => (Some(Side::Left), rest),
        Some(("right", rest)) => (Some(Side::Right), rest),
        _ => (None, name),
    };
    let found = trade.sites_of(name).map(|sites| side.map_or(sites, |side| trade.half(sites, side)));
    found.ok_or_else(|| {
        let diagnostic = Diagnostic::error(code::M001, place, format!("no part of the dog is called `{name}`"));
        vec![match nearest(name, trade.index.places.keys().map(SmolStr::as_str)) {
            Some(near) => diagnostic.help(format!("Did you mean `{near}`?")),
            None => diagnostic,
        }]
    })
}

fn every_coat(
    workspace: &Workspace,
    recipe: Option<&str>,
    zone: &str,
    nowhere: Place,
) -> Result<Answer, Vec<Diagnostic>> {
    let salons = workspace.salons();
    let asked = workspace.asked().iter().copied().collect();
    let found = salons.iter().find_map(|salon| {
        let decl = match recipe {
            Some(name) => salon.recipes.here(name),
            None => salon.recipes.within(&asked).next(),
        };
        decl.map(|d| (salon, d))
    });
    let Some((salon, decl)) = found else {
        let Some(salon) = salons.first() else { return Err(Vec::new()) };
        return Err(vec![check::unknown_recipe(salon, recipe.unwrap_or(""), nowhere)]);
    };
    let sites = sites(&salon.trade, zone, nowhere)?;
    let mut said = Vec::new();
    let layers = check::chain(salon, decl, &mut said);
    let choices = choices::build(&layers, &salon.trade, check::units(&salon.trade), &mut said);
    if said.iter().any(|d| d.severity == crate::diagnostic::Severity::Error) {
        return Err(said);
    }
    let mut answer = Answer::default();
    let mut coats = Vec::new();
    for dog in representatives(&choices, &salon.trade) {
        if coats.contains(&dog.coat) {
            continue;
        }
        coats.push(dog.coat);
        let mut silent = Vec::new();
        let finishes = finish(&choices, &salon.trade, &dog, &mut silent);
        let coat = dog.coat.and_then(|c| salon.trade.coat(c)).map_or("", |c| c.name.as_str());
        answer.lines.push(format!("On a {coat} coat:"));
        answer.all(&finishes, sites, &salon.trade, workspace);
    }
    Ok(answer)
}

impl Answer {
    /// The places asked for; what is done alike for the same reasons is said once.
    fn all(&mut self, finishes: &Finishes, asked: Sites, trade: &Trade, workspace: &Workspace) {
        let mut groups: Vec<(&Finish, Sites)> = Vec::new();
        for found in finishes.all.iter().filter(|f| asked.has(f.site)) {
            match groups.iter_mut().find(|(f, _)| {
                (&f.fine, &f.rough, &f.reasons, f.outcome) == (&found.fine, &found.rough, &found.reasons, found.outcome)
            }) {
                Some((_, sites)) => *sites = *sites | Sites::one(found.site),
                None => groups.push((found, Sites::one(found.site))),
            }
        }
        for (finish, sites) in groups {
            self.say(finish, sites, trade, workspace);
        }
    }

    fn say(&mut self, finish: &Finish, sites: Sites, trade: &Trade, workspace: &Workspace) {
        let sources = workspace.sources();
        let leaves = finish.fine.leaves.map(|l| format!(", leaves {l}")).unwrap_or_default();
        let edge = finish.fine.closeness.map(|c| format!(", the edge {c} from the skin")).unwrap_or_default();
        let outcome = match finish.outcome {
            Outcome::Written => "",
            Outcome::Raised => " (gentler than written)",
            Outcome::Left => " (left)",
            Outcome::Referred => " (for a vet)",
            Outcome::Shortened => " (shorter than written)",
            Outcome::Waits => " (another visit)",
        };
        self.lines.push(format!(
            "{}: {}{leaves}{edge}{outcome}",
            zone_words(trade, sites),
            stroke_words(&finish.fine, trade)
        ));
        if let Some(rough) = &finish.rough {
            self.lines.push(format!("  first {}", stroke_words(rough, trade)));
        }
        if let (Some(Direction::With | Direction::Across), Some(tool)) =
            (finish.fine.direction, finish.fine.tool.and_then(|t| trade.tool(t)))
            && let Some(nominal) = tool.leaves
        {
            self.lines.push(format!(
                "  {} leaves {nominal} in reverse; this way this coat keeps more",
                crate::finish::tool_words(tool)
            ));
        }
        for reason in &finish.reasons {
            let (line, _) = sources.line_column(reason.place);
            let text = sources.text(reason.place.file).lines().nth(line.saturating_sub(1)).unwrap_or("").trim();
            self.lines.push(format!(
                "  {} {}:{line}  {text}",
                crate::sheet::did_words(&reason.what),
                sources.name(reason.place.file)
            ));
        }
    }
}
