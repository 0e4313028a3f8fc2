//! Names of recipes and cards as links to the files in which they stand.

use super::at::Role;
use super::resolve::{declared_at, uses};
use crate::around::{Here, Location};
use crate::lines::Range;
use coatwright::names::lower::Decl;

/// Words that lead to another file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// The words.
    pub range: Range,
    /// Where they lead.
    pub to: Location,
}

/// The links of a document. What stands in the same file is a definition and no link.
#[must_use]
pub fn links(here: &Here<'_>) -> Vec<Link> {
    let (Some(tree), Some(salon)) = (here.tree(), here.salon()) else { return Vec::new() };
    let blocks = tree.blocks.iter().map(|p| Decl { file: here.file, at: p.at, block: &p.block.block });
    let named = blocks.flat_map(|decl| uses(&salon, decl));
    named
        .filter(|u| matches!(u.word.role, Role::Recipe | Role::Dog | Role::Kit) && !u.word.declares)
        .filter_map(|u| {
            let place = declared_at(&salon, &u.target).filter(|p| p.file != here.file)?;
            Some(Link { range: here.range(u.word.span), to: here.around.location(place)? })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::around::tests::with;

    #[test]
    fn a_base_in_another_file_is_a_link() {
        with("recipe t { extends base }\ndog d { wants t }|", "recipe base {}", |here, _| {
            let found: Vec<u32> = links(here).iter().map(|l| l.range.start.column).collect();
            assert_eq!(found, [19]);
        });
    }
}
