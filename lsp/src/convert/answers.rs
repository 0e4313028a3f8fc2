//! Questions of the protocol as our values, and our values as its answers.

use super::{address, diagnostic, our_range, range, uri};
use crate::around::Location;
use crate::features::fixes::{Action, Replace};
use crate::features::symbols::{Kind, Symbol};
use crate::lines::{Position, Range};
use crate::state::{Client, Documents, Uri};
use grammar::tree::BlockKind;
use lsp_types as lsp;
use std::collections::HashMap;

/// The document of a question.
#[must_use]
pub fn document(document: &lsp::TextDocumentIdentifier) -> Uri {
    uri(&document.uri)
}

/// The place of a question.
#[must_use]
pub fn position(at: lsp::Position) -> Position {
    Position { line: at.line, column: at.character }
}

/// The document and place of a question.
#[must_use]
pub fn place(params: &lsp::TextDocumentPositionParams) -> (Uri, Position) {
    (uri(&params.text_document.uri), position(params.position))
}

/// The range of a question.
#[must_use]
pub fn ours(of: lsp::Range) -> Range {
    our_range(of)
}

/// A place in some text; none for an address that isn't one.
#[must_use]
pub fn location(of: &Location) -> Option<lsp::Location> {
    Some(lsp::Location { uri: address(&of.file)?, range: range(of.range) })
}

/// Changes of texts, with the versions that they are for where the client can tell them.
#[must_use]
pub fn edit(replaces: &[Replace], client: &Client, documents: &Documents) -> lsp::WorkspaceEdit {
    let mut by_text: Vec<(lsp::Url, Vec<lsp::TextEdit>)> = Vec::new();
    for replace in replaces {
        let Some(url) = address(&replace.file) else { continue };
        let edit = text_edit(replace);
        match by_text.iter_mut().find(|(known, _)| *known == url) {
            Some((_, edits)) => edits.push(edit),
            None => by_text.push((url, vec![edit])),
        }
    }
    if !client.versions {
        return lsp::WorkspaceEdit {
            changes: Some(by_text.into_iter().collect::<HashMap<_, _>>()),
            ..Default::default()
        };
    }
    let of_text = |(url, edits): (lsp::Url, Vec<lsp::TextEdit>)| lsp::TextDocumentEdit {
        text_document: lsp::OptionalVersionedTextDocumentIdentifier {
            version: documents.get(url.as_str()).map(|d| d.version),
            uri: url,
        },
        edits: edits.into_iter().map(lsp::OneOf::Left).collect(),
    };
    let changes = lsp::DocumentChanges::Edits(by_text.into_iter().map(of_text).collect());
    lsp::WorkspaceEdit { document_changes: Some(changes), ..Default::default() }
}

/// A change in the document that was asked about.
#[must_use]
pub fn text_edit(replace: &Replace) -> lsp::TextEdit {
    lsp::TextEdit { range: range(replace.range), new_text: replace.text.clone() }
}

/// Which kinds of action are wanted: quick fixes, and the mending of everything.
#[must_use]
pub fn wanted(context: &lsp::CodeActionContext) -> (bool, bool) {
    let asks = |kind: &lsp::CodeActionKind| {
        // `source` asks for `source.fixAll` too, and so does `source.fixAll.coatwright`.
        let fits = |only: &lsp::CodeActionKind| {
            let (only, kind) = (only.as_str(), kind.as_str());
            let under = |a: &str, b: &str| a == b || a.strip_prefix(b).is_some_and(|rest| rest.starts_with('.'));
            only.is_empty() || under(kind, only) || under(only, kind)
        };
        context.only.as_ref().map(|only| only.iter().any(fits))
    };
    (
        asks(&lsp::CodeActionKind::QUICKFIX).unwrap_or(true),
        // Nobody wants to see it beside every quick fix.
        asks(&lsp::CodeActionKind::SOURCE_FIX_ALL).unwrap_or(false),
    )
}

/// `textDocument/codeAction`.
#[must_use]
pub fn action(action: &Action, client: &Client, documents: &Documents) -> lsp::CodeActionOrCommand {
    let kind = if action.of.is_some() { lsp::CodeActionKind::QUICKFIX } else { lsp::CodeActionKind::SOURCE_FIX_ALL };
    lsp::CodeActionOrCommand::CodeAction(lsp::CodeAction {
        title: action.title.clone(),
        kind: Some(kind),
        diagnostics: action.of.as_ref().map(|message| vec![diagnostic(message, client)]),
        edit: Some(edit(&action.edits, client, documents)),
        is_preferred: action.preferred.then_some(true),
        ..Default::default()
    })
}

/// The protocol's kind for a declaration.
pub(crate) const fn block_kind(kind: BlockKind) -> lsp::SymbolKind {
    match kind {
        BlockKind::Recipe => lsp::SymbolKind::CLASS,
        BlockKind::Dog => lsp::SymbolKind::OBJECT,
        BlockKind::Case => lsp::SymbolKind::METHOD,
        BlockKind::House | BlockKind::Unknown => lsp::SymbolKind::NAMESPACE,
        BlockKind::Group => lsp::SymbolKind::PACKAGE,
        BlockKind::Zone | BlockKind::Mark => lsp::SymbolKind::FIELD,
        BlockKind::Coat | BlockKind::Finding => lsp::SymbolKind::ENUM_MEMBER,
        BlockKind::Tool | BlockKind::Kit => lsp::SymbolKind::STRUCT,
        BlockKind::Step | BlockKind::Form | BlockKind::Motion => lsp::SymbolKind::FUNCTION,
    }
}

const fn symbol_kind(kind: Kind) -> lsp::SymbolKind {
    match kind {
        Kind::Block(kind) => block_kind(kind),
        Kind::Value => lsp::SymbolKind::CONSTANT,
        Kind::Branch => lsp::SymbolKind::EVENT,
        Kind::Rule => lsp::SymbolKind::PROPERTY,
        Kind::Work => lsp::SymbolKind::FUNCTION,
        Kind::Line => lsp::SymbolKind::FIELD,
    }
}

/// `textDocument/documentSymbol`: a tree, or a list for a client that shows no tree.
#[must_use]
pub fn symbols(symbols: &[Symbol], client: &Client, url: &lsp::Url) -> lsp::DocumentSymbolResponse {
    if client.nests {
        return lsp::DocumentSymbolResponse::Nested(symbols.iter().map(nested).collect());
    }
    let mut flat = Vec::new();
    for symbol in symbols {
        flatten(symbol, None, url, &mut flat);
    }
    lsp::DocumentSymbolResponse::Flat(flat)
}

#[allow(deprecated)]
fn nested(symbol: &Symbol) -> lsp::DocumentSymbol {
    lsp::DocumentSymbol {
        name: symbol.name.clone(),
        detail: symbol.detail.clone(),
        kind: symbol_kind(symbol.kind),
        tags: None,
        deprecated: None,
        range: range(symbol.range),
        selection_range: range(symbol.name_range),
        children: (!symbol.inside.is_empty()).then(|| symbol.inside.iter().map(nested).collect()),
    }
}

#[allow(deprecated)]
fn flatten(symbol: &Symbol, within: Option<&str>, url: &lsp::Url, out: &mut Vec<lsp::SymbolInformation>) {
    out.push(lsp::SymbolInformation {
        name: symbol.name.clone(),
        kind: symbol_kind(symbol.kind),
        tags: None,
        deprecated: None,
        location: lsp::Location { uri: url.clone(), range: range(symbol.range) },
        container_name: within.map(str::to_owned),
    });
    for inner in &symbol.inside {
        flatten(inner, Some(&symbol.name), url, out);
    }
}
