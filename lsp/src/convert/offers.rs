//! What this server can do beyond messages.

use crate::state::Client;
use lsp_types as lsp;

/// The features.
#[must_use]
pub fn capabilities(client: &Client) -> lsp::ServerCapabilities {
    let actions = lsp::CodeActionOptions {
        code_action_kinds: Some(vec![lsp::CodeActionKind::QUICKFIX, lsp::CodeActionKind::SOURCE_FIX_ALL]),
        resolve_provider: Some(false),
        ..lsp::CodeActionOptions::default()
    };
    lsp::ServerCapabilities {
        code_action_provider: client.actions.then_some(lsp::CodeActionProviderCapability::Options(actions)),
        document_formatting_provider: Some(lsp::OneOf::Left(true)),
        document_range_formatting_provider: Some(lsp::OneOf::Left(true)),
        document_symbol_provider: Some(lsp::OneOf::Left(true)),
        hover_provider: Some(lsp::HoverProviderCapability::Simple(true)),
        completion_provider: Some(lsp::CompletionOptions {
            // A blank is answered only after a word that names must follow.
            trigger_characters: Some(vec!["#".to_owned(), " ".to_owned()]),
            ..lsp::CompletionOptions::default()
        }),
        definition_provider: Some(lsp::OneOf::Left(true)),
        references_provider: Some(lsp::OneOf::Left(true)),
        document_highlight_provider: Some(lsp::OneOf::Left(true)),
        rename_provider: Some(if client.prepares {
            lsp::OneOf::Right(lsp::RenameOptions {
                prepare_provider: Some(true),
                work_done_progress_options: lsp::WorkDoneProgressOptions::default(),
            })
        } else {
            lsp::OneOf::Left(true)
        }),
        ..lsp::ServerCapabilities::default()
    }
}
