//! What this server can do beyond messages.

use super::{commands, tokens};
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
        semantic_tokens_provider: Some(lsp::SemanticTokensServerCapabilities::SemanticTokensOptions(
            lsp::SemanticTokensOptions {
                legend: tokens::legend(),
                range: Some(true),
                full: Some(lsp::SemanticTokensFullOptions::Delta { delta: Some(true) }),
                ..lsp::SemanticTokensOptions::default()
            },
        )),
        folding_range_provider: Some(lsp::FoldingRangeProviderCapability::Simple(true)),
        selection_range_provider: Some(lsp::SelectionRangeProviderCapability::Simple(true)),
        inlay_hint_provider: Some(lsp::OneOf::Left(true)),
        code_lens_provider: Some(lsp::CodeLensOptions { resolve_provider: Some(false) }),
        execute_command_provider: Some(lsp::ExecuteCommandOptions {
            commands: commands::names(),
            ..lsp::ExecuteCommandOptions::default()
        }),
        workspace_symbol_provider: Some(lsp::OneOf::Left(true)),
        document_link_provider: Some(lsp::DocumentLinkOptions {
            resolve_provider: Some(false),
            work_done_progress_options: lsp::WorkDoneProgressOptions::default(),
        }),
        signature_help_provider: Some(lsp::SignatureHelpOptions {
            trigger_characters: Some(vec![" ".to_owned()]),
            retrigger_characters: Some(vec![",".to_owned()]),
            ..lsp::SignatureHelpOptions::default()
        }),
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

/// Says in an answer to `initialize` that recipes know who extends whom: the types of the protocol have no word for it.
pub fn add_hierarchy(result: &mut serde_json::Value) {
    if let Some(serde_json::Value::Object(capabilities)) = result.get_mut("capabilities") {
        capabilities.insert("typeHierarchyProvider".to_owned(), serde_json::Value::Bool(true));
    }
}
