//! Questions of the protocol as our values, and our values as its answers.

use super::{address as url_of, diagnostic, our_range, range, uri};
use crate::around::Location;
use crate::features::at::Role;
use crate::features::complete::Offer;
use crate::features::diagnostics::FileName;
use crate::features::fixes::{Action, Replace};
use crate::features::hints::Hint;
use crate::features::hover::Hover;
use crate::features::kin::Member;
use crate::features::links::Link;
use crate::features::ranges::Fold;
use crate::features::signature::Form;
use crate::features::symbols::{Kind, Named, Symbol};
use crate::lines::{Position, Range};
use crate::state::{Client, Documents, Uri};
use grammar::tree::BlockKind;
use lsp_types as lsp;
use std::collections::HashMap;
use tower_lsp::jsonrpc;

/// The document of a question.
#[must_use]
pub fn document(document: &lsp::TextDocumentIdentifier) -> Uri {
    uri(&document.uri)
}

/// A document by its address.
#[must_use]
pub fn address(url: &lsp::Url) -> Uri {
    uri(url)
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
    Some(lsp::Location { uri: url_of(&of.file)?, range: range(of.range) })
}

/// Changes of texts, with the versions that they are for where the client can tell them.
#[must_use]
pub fn edit(replaces: &[Replace], client: &Client, documents: &Documents) -> lsp::WorkspaceEdit {
    let mut by_text: Vec<(lsp::Url, Vec<lsp::TextEdit>)> = Vec::new();
    for replace in replaces {
        let Some(url) = url_of(&replace.file) else { continue };
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
pub fn symbols(symbols: Vec<Symbol>, client: &Client, url: &lsp::Url) -> lsp::DocumentSymbolResponse {
    if client.nests {
        return lsp::DocumentSymbolResponse::Nested(symbols.into_iter().map(nested).collect());
    }
    let mut flat = Vec::new();
    for symbol in &symbols {
        flatten(symbol, None, url, &mut flat);
    }
    lsp::DocumentSymbolResponse::Flat(flat)
}

#[allow(deprecated)]
fn nested(symbol: Symbol) -> lsp::DocumentSymbol {
    let inside: Vec<_> = symbol.inside.into_iter().map(nested).collect();
    lsp::DocumentSymbol {
        name: symbol.name,
        detail: symbol.detail,
        kind: symbol_kind(symbol.kind),
        tags: None,
        deprecated: None,
        range: range(symbol.range),
        selection_range: range(symbol.name_range),
        children: (!inside.is_empty()).then_some(inside),
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

/// Markdown, or its words alone for a client that doesn't draw it.
fn text(markdown: &str, client: &Client) -> lsp::MarkupContent {
    if client.markdown {
        lsp::MarkupContent { kind: lsp::MarkupKind::Markdown, value: markdown.to_owned() }
    } else {
        lsp::MarkupContent {
            kind: lsp::MarkupKind::PlainText,
            value: markdown.replace("**", "").replace("\n\n- ", "\n- "),
        }
    }
}

/// `textDocument/hover`.
#[must_use]
pub fn hover(found: &Hover, client: &Client) -> lsp::Hover {
    lsp::Hover { contents: lsp::HoverContents::Markup(text(&found.text, client)), range: Some(range(found.range)) }
}

/// Whether a completion was asked for by a blank.
#[must_use]
pub fn by_blank(params: &lsp::CompletionParams) -> bool {
    params.context.as_ref().and_then(|c| c.trigger_character.as_deref()) == Some(" ")
}

/// `textDocument/completion`.
#[must_use]
pub fn completion(offers: &[Offer]) -> lsp::CompletionResponse {
    let item = |(number, offer): (usize, &Offer)| {
        let edit = lsp::TextEdit { range: range(offer.range), new_text: offer.word.clone() };
        lsp::CompletionItem {
            label: offer.word.clone(),
            kind: Some(match offer.role {
                None => lsp::CompletionItemKind::KEYWORD,
                Some(Role::Place) => lsp::CompletionItemKind::FIELD,
                Some(Role::Tool | Role::Comb(_)) => lsp::CompletionItemKind::VALUE,
                Some(Role::Coat | Role::Finding) => lsp::CompletionItemKind::ENUM_MEMBER,
                Some(Role::Recipe) => lsp::CompletionItemKind::CLASS,
                Some(Role::Value) => lsp::CompletionItemKind::CONSTANT,
                Some(Role::Step | Role::Manner) => lsp::CompletionItemKind::FUNCTION,
                Some(_) => lsp::CompletionItemKind::REFERENCE,
            }),
            detail: offer.detail.clone(),
            documentation: offer.about.clone().map(lsp::Documentation::String),
            // As they were given: the nearest first.
            sort_text: Some(format!("{number:05}")),
            text_edit: Some(lsp::CompletionTextEdit::Edit(edit)),
            ..Default::default()
        }
    };
    lsp::CompletionResponse::Array(offers.iter().enumerate().map(item).collect())
}

/// `textDocument/definition`: with what was asked about, for a client that shows it.
#[must_use]
pub fn definition(found: &(Range, Location), client: &Client) -> Option<lsp::GotoDefinitionResponse> {
    let to = location(&found.1)?;
    Some(if client.links {
        lsp::GotoDefinitionResponse::Link(vec![lsp::LocationLink {
            origin_selection_range: Some(range(found.0)),
            target_uri: to.uri,
            target_range: to.range,
            target_selection_range: to.range,
        }])
    } else {
        lsp::GotoDefinitionResponse::Scalar(to)
    })
}

/// `textDocument/documentHighlight`.
#[must_use]
pub fn highlight(found: &(Range, bool)) -> lsp::DocumentHighlight {
    let kind = if found.1 { lsp::DocumentHighlightKind::WRITE } else { lsp::DocumentHighlightKind::READ };
    lsp::DocumentHighlight { range: range(found.0), kind: Some(kind) }
}

/// `textDocument/prepareRename`.
#[must_use]
pub fn renamable((of, placeholder): (Range, String)) -> lsp::PrepareRenameResponse {
    lsp::PrepareRenameResponse::RangeWithPlaceholder { range: range(of), placeholder }
}

/// A question that can be read but not answered, in words for a person.
#[must_use]
pub fn refused(why: String) -> jsonrpc::Error {
    jsonrpc::Error { code: jsonrpc::ErrorCode::ServerError(-32803), message: why.into(), data: None }
}

/// `textDocument/foldingRange`.
#[must_use]
pub fn fold(fold: &Fold) -> lsp::FoldingRange {
    lsp::FoldingRange {
        start_line: fold.first,
        end_line: fold.last,
        kind: fold.comment.then_some(lsp::FoldingRangeKind::Comment),
        ..Default::default()
    }
}

/// `textDocument/selectionRange`: the smallest range, in the next, in the next; around a place outside of everything, that
/// place.
#[must_use]
pub fn selection(growing: &[Range], at: Position) -> lsp::SelectionRange {
    let outwards = growing
        .iter()
        .rev()
        .fold(None, |parent, of| Some(lsp::SelectionRange { range: range(*of), parent: parent.map(Box::new) }));
    outwards.unwrap_or(lsp::SelectionRange { range: range(Range { start: at, end: at }), parent: None })
}

/// `textDocument/inlayHint`.
#[must_use]
pub fn hint(hint: &Hint) -> lsp::InlayHint {
    lsp::InlayHint {
        position: range(Range { start: hint.at, end: hint.at }).start,
        label: lsp::InlayHintLabel::String(hint.words.clone()),
        kind: None,
        text_edits: None,
        tooltip: hint.about.clone().map(lsp::InlayHintTooltip::String),
        padding_left: Some(true),
        padding_right: None,
        data: None,
    }
}

/// `workspace/symbol`.
#[must_use]
#[allow(deprecated)]
pub fn named(named: &Named) -> Option<lsp::SymbolInformation> {
    Some(lsp::SymbolInformation {
        name: named.name.clone(),
        kind: block_kind(named.kind),
        tags: None,
        deprecated: None,
        location: location(&named.location)?,
        container_name: named.detail.clone(),
    })
}

/// `textDocument/documentLink`: the file, and the line in it as most editors read it.
#[must_use]
pub fn link(link: &Link) -> Option<lsp::DocumentLink> {
    let mut target = url_of(&link.to.file)?;
    target.set_fragment(Some(&format!("L{}", link.to.range.start.line.saturating_add(1))));
    Some(lsp::DocumentLink { range: range(link.range), target: Some(target), tooltip: None, data: None })
}

/// A recipe among its kin, with the document by which to ask on.
#[must_use]
pub fn member(member: &Member, asked: &lsp::Url) -> Option<lsp::TypeHierarchyItem> {
    Some(lsp::TypeHierarchyItem {
        name: member.name.clone(),
        kind: lsp::SymbolKind::CLASS,
        tags: None,
        detail: member.title.clone(),
        uri: url_of(&member.location.file)?,
        range: range(member.whole),
        selection_range: range(member.location.range),
        data: Some(serde_json::json!({ "from": asked })),
    })
}

/// The document by which a member was asked for: its own may not be open.
#[must_use]
pub fn asked_by(item: &lsp::TypeHierarchyItem) -> lsp::Url {
    let from = item.data.as_ref().and_then(|data| data.get("from")).and_then(serde_json::Value::as_str);
    from.and_then(|from| lsp::Url::parse(from).ok()).unwrap_or_else(|| item.uri.clone())
}

/// Whether a file is that of a member.
pub fn is_at(item: &lsp::TypeHierarchyItem) -> impl Fn(&FileName) -> bool {
    |file| url_of(file).as_ref() == Some(&item.uri)
}

/// `textDocument/signatureHelp`.
#[must_use]
pub fn signature(form: &Form) -> lsp::SignatureHelp {
    let now = form.now.and_then(|n| u32::try_from(n).ok());
    // As text and not by offsets: every client takes those. No part's words stand in an earlier part.
    let parts = form.parts.iter().filter_map(|(from, to)| form.words.get(*from..*to));
    let parameter = |words: &str| lsp::ParameterInformation {
        label: lsp::ParameterLabel::Simple(words.to_owned()),
        documentation: None,
    };
    lsp::SignatureHelp {
        signatures: vec![lsp::SignatureInformation {
            label: form.words.clone(),
            documentation: None,
            parameters: Some(parts.map(parameter).collect()),
            active_parameter: now,
        }],
        active_signature: Some(0),
        active_parameter: now,
    }
}
