//! What the words of the language mean: a sentence for whoever points at one.

use crate::tree::{BlockKind, Direction};

/// What a word means with which a line, or a part of one, begins.
#[must_use]
pub fn meaning(word: &str) -> Option<&'static str> {
    Some(match word.to_lowercase().replace('-', " ").as_str() {
        "set in" => "The rough pass: the part is brought near its length, and finished later.",
        "finish" => "The fine pass over what was set in: how the part is left.",
        "clip" => "A blade or a comb on the clipper runs over the part.",
        "skim" => "The blade runs lightly, lifted out of the coat: for what mustn't be gone over closely.",
        "scissor" => "Shears cut it to a length.",
        "shape" => "Shears, or a long comb, give the part its outline.",
        "thin" => "Thinning shears take bulk out; the outline stays.",
        "hand strip" => "Dead coat is plucked by hand or knife, with the lie; nothing is cut.",
        "card" => "A carder draws dead undercoat out of the jacket.",
        "rake" => "A rake draws dead undercoat out.",
        "taper" => "Length runs out evenly toward the border.",
        "leave" => "No tool touches the part.",
        "keep" => "A rule for this text and all that build on it. It only ever tightens what binds already.",
        "override" => {
            "Takes a rule of the house back here, with a name that answers for it and a reason; both are on the sheet."
        }
        "blend" => "Melts the first part into the second, over the room that is said.",
        "line" => "Between these parts a line is meant to show, so none is complained of.",
        "order" => "The first part is worked before the second.",
        "first" => "The part is worked before all others.",
        "last" => "The part is worked after all others.",
        "when" => "Counts for dogs that meet the condition.",
        "else" => "Counts for dogs that met no condition above.",
        "guard" => "What is done on a dog that has the finding. It may only be gentler than what is done without.",
        "lasts" => "How long until the next visit, and how long a part may be by then.",
        "prep" => "The steps before the trim.",
        "param" => "A measure that a recipe built on this one may choose again, within its range.",
        "let" => "A name for a measure, for this text alone.",
        "serves" => "The dogs that the recipe is for. Each such line narrows the last; it is proved on all of them.",
        "extends" => "Builds on another recipe: what isn't said here is as it says, and its rules bind.",
        "about" => "What it is, in your words.",
        "title" => "What people call it, on the sheet too.",
        "version" => "Raised when the trim changes, so that whoever builds on it notices.",
        "kit" => "The tools that there are: no other is written on a sheet.",
        "errors" => "Messages that this house takes for mistakes.",
        "seniors" => "Who may answer for an override.",
        "wants" => "The recipe that this dog gets, and what its people want otherwise.",
        "given" => "The dog of this case: a card, or what is written in the braces.",
        "expect" => "What must be so on that dog; `coatwright test` says if it isn't.",
        "throughout" => "Also where a finer line of a base would count.",
        _ => return None,
    })
}

/// What a way of running the tool means.
#[must_use]
pub const fn meaning_of_way(way: Direction) -> &'static str {
    match way {
        Direction::With => "With the lie of the hair: leaves it longer than in reverse, and is the gentlest way.",
        Direction::Across => "From the side, across the lie: between the two other ways.",
        Direction::Reverse => {
            "Against the lie of the hair: leaves what the blade's number says, and is the closest way."
        }
    }
}

/// What a kind of block is for.
#[must_use]
pub const fn meaning_of_block(kind: BlockKind) -> Option<&'static str> {
    Some(match kind {
        BlockKind::Recipe => "A trim: what is done at each part, and on which dogs.",
        BlockKind::House => "What holds for every recipe of this folder and those below it.",
        BlockKind::Dog => "A dog's card: what it is, what was found, what it gets.",
        BlockKind::Case => "A dog and what must come of the recipe on it.",
        BlockKind::Finding => "Something found on a dog, and the rules that come with it.",
        BlockKind::Group => "A name for several parts.",
        BlockKind::Tool => "A tool: what it leaves, how near the skin it runs, how wide its teeth stand.",
        BlockKind::Kit => "The tools that somebody owns.",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::{RECIPE_LINES, VERBS};

    #[test]
    fn every_line_of_a_recipe_is_explained() {
        let words = VERBS.iter().map(|(word, _)| *word).chain(RECIPE_LINES.iter().copied());
        let missing: Vec<&str> = words.filter(|word| meaning(word).is_none()).collect();
        assert!(missing.is_empty(), "{missing:?}");
    }
}
