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
        ..lsp::ServerCapabilities::default()
    }
}
