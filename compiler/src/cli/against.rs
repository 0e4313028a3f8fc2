//! `check --against`: no keep and no guard may ask for less than a revision did.

use super::{
    diff::{self, Named},
    revisions::Git,
    stop::Stop,
};
use coatwright::{
    compare::{self, Change, Compared, Rank, Status},
    diagnostic::{Diagnostic, code},
    memo::Memo,
    source::Place,
    workspace::Workspace,
};
use grammar::tree::BlockKind;
use std::path::{Path, PathBuf};

/// G003 for each keep and guard that asks for less in these files than in a revision: once, at the house where it is the house's, else at
/// each recipe.
pub(super) fn looser(revision: &str, paths: &[PathBuf], workspace: &Workspace) -> Result<Vec<Diagnostic>, Stop> {
    let git = Git::here()?;
    let mut out: Vec<Diagnostic> = Vec::new();
    for path in paths {
        let path = diff::plain(path);
        let (old, new) = (Named::Revision(revision.to_owned(), Some(path.clone())), Named::Disk(path));
        let mut memo = Memo::default();
        let before = diff::version(diff::texts(&old, Some(&git))?, &old, &mut memo);
        let now = diff::version(diff::texts(&new, None)?, &new, &mut memo);
        let all = compare::compare(&before, &now, false);
        let of_house = |change: &Change| {
            all.iter()
                .filter(|c| c.house)
                .flat_map(Compared::changes)
                .any(|c| (&c.what, &c.new) == (&change.what, &change.new))
        };
        for one in &all {
            let Some(place) = place(workspace, one) else { continue };
            if let Status::Unreadable(why) = &one.status {
                let message = format!("{} can't be held against `{revision}`: {why}", one.name);
                out.push(Diagnostic::warning(code::G003, place, message).help("Mend that text first."));
            }
            for change in one.changes().iter().filter(|c| c.rank == Rank::Looser && (one.house || !of_house(c))) {
                out.push(message(revision, one, change, place));
            }
        }
    }
    Ok(out)
}

fn message(revision: &str, one: &Compared, change: &Change, place: Place) -> Diagnostic {
    let words = format!("{} asks for less care than at `{revision}`: {}", one.name, change.sentence());
    let whom = match (&change.whom, change.on_all) {
        (Some(whom), false) => format!(" The dog: {whom}."),
        _ => String::new(),
    };
    let mut diagnostic = Diagnostic::error(code::G003, place, words)
        .why(format!("Whoever wrote it had a dog in mind that was hurt, or could have been.{whom}"))
        .help("Put it back. If it is meant, let somebody who may decide it look at this change by itself.");
    diagnostic.dog.clone_from(&change.dog);
    diagnostic
}

/// Where the name of a recipe or house stands.
fn place(workspace: &Workspace, one: &Compared) -> Option<Place> {
    let file = workspace.files().iter().find(|f| diff::plain(&f.path) == Path::new(&one.file))?;
    let kind = if one.house { BlockKind::House } else { BlockKind::Recipe };
    let of = |b: &grammar::tree::Block| b.kind == kind && b.name.as_ref().is_some_and(|n| n.text == one.name);
    let placed = file.tree().blocks.iter().find(|p| of(&p.block.block));
    // What a house adds to the basics may stand without a house.
    let placed = placed.or_else(|| file.tree().blocks.first().filter(|_| one.house))?;
    let span = placed.block.block.name.as_ref().map_or(placed.block.block.keyword.span, |n| n.span);
    Some(Place { file: file.id, start: placed.at + span.start, end: placed.at + span.end })
}
