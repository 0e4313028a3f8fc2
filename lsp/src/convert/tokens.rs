//! Semantic tokens as the protocol packs them, and what changed between two answers.

use crate::features::at::Role;
use crate::features::tokens::{Kind, Token};
use lsp_types as lsp;

/// The kinds, in the order of their numbers: those that every theme knows.
fn kinds() -> Vec<lsp::SemanticTokenType> {
    vec![
        lsp::SemanticTokenType::KEYWORD,
        lsp::SemanticTokenType::PROPERTY,
        lsp::SemanticTokenType::ENUM_MEMBER,
        lsp::SemanticTokenType::EVENT,
        lsp::SemanticTokenType::TYPE,
        lsp::SemanticTokenType::CLASS,
        lsp::SemanticTokenType::FUNCTION,
        lsp::SemanticTokenType::PARAMETER,
        lsp::SemanticTokenType::MODIFIER,
        lsp::SemanticTokenType::NUMBER,
        lsp::SemanticTokenType::STRING,
        lsp::SemanticTokenType::COMMENT,
        lsp::SemanticTokenType::NAMESPACE,
    ]
}

const fn kind(kind: Kind) -> u32 {
    match kind {
        Kind::Word(role) => match role {
            Role::Opening => 0,
            Role::Place => 1,
            Role::Tool | Role::Comb(_) | Role::Kit | Role::Code => 2,
            Role::Finding => 3,
            Role::Coat => 4,
            Role::Recipe | Role::Dog | Role::Case => 5,
            Role::Step | Role::Manner => 6,
            Role::Value => 7,
            Role::Way(_) => 8,
            Role::Number => 9,
            Role::Text => 10,
            Role::Source => 11,
            Role::House => 12,
        },
        Kind::Comment => 11,
    }
}

/// What the numbers mean.
#[must_use]
pub fn legend() -> lsp::SemanticTokensLegend {
    lsp::SemanticTokensLegend {
        token_types: kinds(),
        token_modifiers: vec![lsp::SemanticTokenModifier::DECLARATION, lsp::SemanticTokenModifier::DEFAULT_LIBRARY],
    }
}

/// Tokens, each told by how far it is from the one before.
#[must_use]
pub fn packed(tokens: &[Token]) -> Vec<lsp::SemanticToken> {
    let (mut line, mut column) = (0, 0);
    tokens
        .iter()
        .map(|token| {
            let start = token.range.start;
            let delta_line = start.line.saturating_sub(line);
            let delta_start = if delta_line == 0 { start.column.saturating_sub(column) } else { start.column };
            (line, column) = (start.line, start.column);
            lsp::SemanticToken {
                delta_line,
                delta_start,
                length: token.range.end.column.saturating_sub(start.column),
                token_type: kind(token.kind),
                token_modifiers_bitset: u32::from(token.declares) | u32::from(token.basic) << 1,
            }
        })
        .collect()
}

/// What turns one answer into the next: at most one run replaced, counted in numbers and not in tokens.
#[must_use]
pub fn changes(old: &[lsp::SemanticToken], new: &[lsp::SemanticToken]) -> Vec<lsp::SemanticTokensEdit> {
    let (head, tail) = grammar::alike(old, new);
    let (from, to) = (old.len() - tail, new.len() - tail);
    if from == head && to == head {
        return Vec::new();
    }
    let numbers = |tokens: usize| u32::try_from(tokens * 5).unwrap_or(u32::MAX);
    vec![lsp::SemanticTokensEdit {
        start: numbers(head),
        delete_count: numbers(from - head),
        data: new.get(head..to).map(<[_]>::to_vec),
    }]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn token(number: u32) -> lsp::SemanticToken {
        lsp::SemanticToken { delta_line: number, delta_start: 0, length: 1, token_type: 0, token_modifiers_bitset: 0 }
    }

    #[test]
    fn the_edit_gives_the_next_answer() {
        let lists: Vec<Vec<u32>> = vec![vec![], vec![1], vec![1, 2, 3], vec![1, 3], vec![2, 2, 2, 2], vec![2, 2]];
        for old in &lists {
            for new in &lists {
                let tokens = |list: &[u32]| list.iter().map(|n| token(*n)).collect::<Vec<_>>();
                let mut made = tokens(old);
                for edit in changes(&tokens(old), &tokens(new)) {
                    let (start, gone) = (edit.start as usize / 5, edit.delete_count as usize / 5);
                    made.splice(start..start + gone, edit.data.unwrap_or_default());
                }
                assert_eq!(made, tokens(new), "{old:?}");
            }
        }
    }
}
