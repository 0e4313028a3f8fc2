//! The one place that knows both our values and the protocol's.

pub mod answers;
pub mod commands;
pub mod offers;
pub mod tokens;

use crate::features::diagnostics::{FileName, Level, Message, Related, Report};
use crate::lines::{Columns, Position, Range};
use crate::state::{Change, Client, State, Uri};
use lsp_types as lsp;
use serde_json::Value;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};
use tower_lsp::jsonrpc;

/// What a client says it can do, from the parameters of `initialize`. Read leniently: a client that words one
/// capability in an odd way is still served.
#[must_use]
pub fn client(params: &Value) -> Client {
    let can = |path: &str| params.pointer(&format!("/capabilities/{path}")).filter(|v| !v.is_null());
    let yes = |path: &str| can(path).and_then(Value::as_bool) == Some(true);
    let encodings = can("general/positionEncodings").and_then(Value::as_array);
    let utf8 = encodings.is_some_and(|all| all.iter().any(|e| e == "utf-8"));
    Client {
        columns: if utf8 { Columns::Utf8 } else { Columns::Utf16 },
        pulls: can("textDocument/diagnostic").is_some() && yes("workspace/diagnostics/refreshSupport"),
        related: yes("textDocument/publishDiagnostics/relatedInformation")
            || yes("textDocument/diagnostic/relatedInformation"),
        watches: yes("workspace/didChangeWatchedFiles/dynamicRegistration"),
        tags: can("textDocument/publishDiagnostics/tagSupport").is_some()
            || can("textDocument/diagnostic/tagSupport").is_some(),
        code_links: yes("textDocument/publishDiagnostics/codeDescriptionSupport")
            || yes("textDocument/diagnostic/codeDescriptionSupport"),
        versions: yes("workspace/workspaceEdit/documentChanges"),
        actions: can("textDocument/codeAction/codeActionLiteralSupport").is_some(),
        nests: yes("textDocument/documentSymbol/hierarchicalDocumentSymbolSupport"),
        markdown: can("textDocument/hover/contentFormat")
            .and_then(Value::as_array)
            .is_some_and(|all| all.iter().any(|f| f == "markdown")),
        links: yes("textDocument/definition/linkSupport"),
        prepares: yes("textDocument/rename/prepareSupport"),
        shows: yes("window/showDocument/support"),
        hints_again: yes("workspace/inlayHint/refreshSupport"),
        lenses_again: yes("workspace/codeLens/refreshSupport"),
    }
}

/// What this server can do for a client.
#[must_use]
pub fn server(client: &Client) -> lsp::InitializeResult {
    let sync = lsp::TextDocumentSyncOptions {
        open_close: Some(true),
        change: Some(lsp::TextDocumentSyncKind::INCREMENTAL),
        save: Some(lsp::TextDocumentSyncSaveOptions::SaveOptions(lsp::SaveOptions { include_text: Some(false) })),
        ..lsp::TextDocumentSyncOptions::default()
    };
    let pull = lsp::DiagnosticOptions {
        identifier: Some("coatwright".to_owned()),
        inter_file_dependencies: true,
        workspace_diagnostics: true,
        ..lsp::DiagnosticOptions::default()
    };
    lsp::InitializeResult {
        capabilities: lsp::ServerCapabilities {
            position_encoding: Some(match client.columns {
                Columns::Utf8 => lsp::PositionEncodingKind::UTF8,
                Columns::Utf16 => lsp::PositionEncodingKind::UTF16,
                Columns::Utf32 => lsp::PositionEncodingKind::UTF32,
            }),
            text_document_sync: Some(lsp::TextDocumentSyncCapability::Options(sync)),
            diagnostic_provider: client.pulls.then_some(lsp::DiagnosticServerCapabilities::Options(pull)),
            ..offers::capabilities(client)
        },
        server_info: Some(lsp::ServerInfo {
            name: "coatwright-lsp".to_owned(),
            version: Some(env!("CARGO_PKG_VERSION").to_owned()),
        }),
    }
}

/// Asks the client to tell of recipes that change on disk.
#[must_use]
pub fn watch() -> lsp::Registration {
    lsp::Registration {
        id: "trim-files".to_owned(),
        method: "workspace/didChangeWatchedFiles".to_owned(),
        register_options: Some(serde_json::json!({ "watchers": [{ "globPattern": "**/*.trim" }] })),
    }
}

/// A document that was opened.
#[derive(Debug)]
pub struct Opened {
    /// Its address.
    pub uri: Uri,
    /// Its file.
    pub path: Option<PathBuf>,
    /// Its version.
    pub version: i32,
    /// Its text.
    pub text: String,
}

/// `textDocument/didOpen`.
///
/// # Errors
/// Parameters of another form.
pub fn opened(params: Value) -> serde_json::Result<Opened> {
    let params: lsp::DidOpenTextDocumentParams = serde_json::from_value(params)?;
    let document = params.text_document;
    let path = document.uri.scheme().eq("file").then(|| document.uri.to_file_path().ok()).flatten();
    Ok(Opened { uri: uri(&document.uri), path, version: document.version, text: document.text })
}

/// `textDocument/didChange`.
///
/// # Errors
/// Parameters of another form.
pub fn changed(params: Value) -> serde_json::Result<(Uri, i32, Vec<Change>)> {
    let params: lsp::DidChangeTextDocumentParams = serde_json::from_value(params)?;
    let change = |c: lsp::TextDocumentContentChangeEvent| Change { range: c.range.map(our_range), text: c.text };
    let document = params.text_document;
    Ok((uri(&document.uri), document.version, params.content_changes.into_iter().map(change).collect()))
}

/// `textDocument/didClose`.
///
/// # Errors
/// Parameters of another form.
pub fn closed(params: Value) -> serde_json::Result<Uri> {
    let params: lsp::DidCloseTextDocumentParams = serde_json::from_value(params)?;
    Ok(uri(&params.text_document.uri))
}

/// The document of a question for messages, and the name of the last answer.
#[must_use]
pub fn pull(params: &lsp::DocumentDiagnosticParams) -> (Uri, Option<&str>) {
    (uri(&params.text_document.uri), params.previous_result_id.as_deref())
}

/// The answer to a question for messages: nothing new if the last answer was the same.
#[must_use]
pub fn pulled(report: &Report, client: &Client, previous: Option<&str>) -> lsp::DocumentDiagnosticReportResult {
    let result_id = result_id(report);
    let answer = if previous == Some(result_id.as_str()) {
        lsp::DocumentDiagnosticReport::Unchanged(lsp::RelatedUnchangedDocumentDiagnosticReport {
            related_documents: None,
            unchanged_document_diagnostic_report: lsp::UnchangedDocumentDiagnosticReport { result_id },
        })
    } else {
        lsp::DocumentDiagnosticReport::Full(lsp::RelatedFullDocumentDiagnosticReport {
            related_documents: None,
            full_document_diagnostic_report: lsp::FullDocumentDiagnosticReport {
                result_id: Some(result_id),
                items: report.messages.iter().map(|m| diagnostic(m, client)).collect(),
            },
        })
    };
    lsp::DocumentDiagnosticReportResult::Report(answer)
}

/// The name of an answer.
fn result_id(report: &Report) -> String {
    let mut hasher = DefaultHasher::new();
    report.messages.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
}

/// The answer to a question for the messages of files that aren't open: those that the client doesn't know yet, and those that
/// have none any more.
#[must_use]
pub fn beside(state: &State, params: &lsp::WorkspaceDiagnosticParams) -> lsp::WorkspaceDiagnosticReportResult {
    let (reports, open, client) = (state.beside(), state.snapshot(), &state.client());
    let known =
        |uri: &lsp::Url| params.previous_result_ids.iter().find(|known| known.uri == *uri).map(|known| &known.value);
    let full = |uri, items, result_id| {
        lsp::WorkspaceDocumentDiagnosticReport::Full(lsp::WorkspaceFullDocumentDiagnosticReport {
            uri,
            version: None,
            full_document_diagnostic_report: lsp::FullDocumentDiagnosticReport { result_id, items },
        })
    };
    let mut items = Vec::new();
    let mut told = Vec::new();
    for report in &reports {
        let Ok(uri) = lsp::Url::parse(&report.uri) else { continue };
        let result_id = result_id(report);
        if known(&uri) == Some(&result_id) {
            items.push(lsp::WorkspaceDocumentDiagnosticReport::Unchanged(
                lsp::WorkspaceUnchangedDocumentDiagnosticReport {
                    uri: uri.clone(),
                    version: None,
                    unchanged_document_diagnostic_report: lsp::UnchangedDocumentDiagnosticReport { result_id },
                },
            ));
        } else {
            let messages = report.messages.iter().map(|m| diagnostic(m, client)).collect();
            items.push(full(uri.clone(), messages, Some(result_id)));
        }
        told.push(uri);
    }
    // Of open documents the client asks one by one.
    let gone = params.previous_result_ids.iter().filter(|known| !open.contains_key(known.uri.as_str()));
    let gone = gone.filter(|known| !told.contains(&known.uri));
    items.extend(gone.map(|known| full(known.uri.clone(), Vec::new(), None)));
    lsp::WorkspaceDiagnosticReportResult::Report(lsp::WorkspaceDiagnosticReport { items })
}

/// The refusal of a question that an edit has overtaken: the client asks again.
#[must_use]
pub fn overtaken() -> jsonrpc::Error {
    jsonrpc::Error {
        code: jsonrpc::ErrorCode::ServerError(-32802),
        message: "the document has changed since".into(),
        data: Some(serde_json::json!({ "retriggerRequest": true })),
    }
}

/// The refusal of any other question that an edit has overtaken.
#[must_use]
pub fn modified() -> jsonrpc::Error {
    jsonrpc::Error {
        code: jsonrpc::ErrorCode::ContentModified,
        message: "the document has changed since".into(),
        data: None,
    }
}

/// `textDocument/publishDiagnostics`; nothing for an address that isn't one.
#[must_use]
pub fn publish(report: &Report, client: &Client) -> Option<lsp::PublishDiagnosticsParams> {
    Some(lsp::PublishDiagnosticsParams {
        uri: lsp::Url::parse(&report.uri).ok()?,
        version: report.version,
        diagnostics: report.messages.iter().map(|m| diagnostic(m, client)).collect(),
    })
}

/// A message.
pub(crate) fn diagnostic(message: &Message, client: &Client) -> lsp::Diagnostic {
    let mut text = message.text.clone();
    let mut related = Vec::new();
    for other in &message.related {
        match address(&other.file).filter(|_| client.related) {
            Some(uri) => related.push(lsp::DiagnosticRelatedInformation {
                location: lsp::Location { uri, range: range(other.range) },
                message: other.text.clone(),
            }),
            None => text.push_str(&in_words(other)),
        }
    }
    lsp::Diagnostic {
        range: range(message.range),
        severity: Some(match message.severity {
            Level::Error => lsp::DiagnosticSeverity::ERROR,
            Level::Warning => lsp::DiagnosticSeverity::WARNING,
            Level::Note => lsp::DiagnosticSeverity::INFORMATION,
        }),
        code: message.code.map(|code| lsp::NumberOrString::String(code.to_owned())),
        code_description: message
            .page
            .filter(|_| client.code_links)
            .and_then(|page| lsp::Url::from_file_path(page).ok())
            .map(|href| lsp::CodeDescription { href }),
        source: Some("coatwright".to_owned()),
        message: text,
        related_information: (!related.is_empty()).then_some(related),
        tags: (message.idle && client.tags).then(|| vec![lsp::DiagnosticTag::UNNECESSARY]),
        ..lsp::Diagnostic::default()
    }
}

/// Another place for an editor that can't show it beside the message.
fn in_words(other: &Related) -> String {
    let name = match &other.file {
        FileName::Open(uri) => uri.rsplit('/').next().unwrap_or(uri).to_owned(),
        FileName::Path(path) => path.file_name().unwrap_or_default().to_string_lossy().into_owned(),
    };
    format!("\n{} ({name}, line {})", other.text, other.range.start.line.saturating_add(1))
}

pub(crate) fn address(file: &FileName) -> Option<lsp::Url> {
    match file {
        FileName::Open(uri) => lsp::Url::parse(uri).ok(),
        FileName::Path(path) => lsp::Url::from_file_path(path).ok(),
    }
}

/// What an editor most likely calls a file.
pub(crate) fn name_of(path: &Path) -> Option<Uri> {
    lsp::Url::from_file_path(path).ok().map(|url| uri(&url))
}

pub(crate) fn uri(url: &lsp::Url) -> Uri {
    Uri::from(url.as_str())
}

pub(crate) fn range(range: Range) -> lsp::Range {
    let position = |p: Position| lsp::Position { line: p.line, character: p.column };
    lsp::Range { start: position(range.start), end: position(range.end) }
}

pub(crate) fn our_range(range: lsp::Range) -> Range {
    let position = |p: lsp::Position| Position { line: p.line, column: p.character };
    Range { start: position(range.start), end: position(range.end) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_client_is_read_leniently() {
        assert_eq!(client(&Value::Null), Client::default());
        let odd = json!({ "capabilities": { "general": 3, "textDocument": { "diagnostic": null } } });
        assert_eq!(client(&odd), Client::default());
        let able = client(&json!({ "capabilities": {
            "general": { "positionEncodings": ["utf-16", "utf-8"] },
            "textDocument": { "diagnostic": {}, "publishDiagnostics": { "relatedInformation": true } },
            "workspace": {
                "diagnostics": { "refreshSupport": true },
                "didChangeWatchedFiles": { "dynamicRegistration": true },
            },
        } }));
        let wanted = Client { columns: Columns::Utf8, pulls: true, related: true, ..Client::default() };
        assert_eq!(able, Client { watches: true, ..wanted });
    }

    #[test]
    fn an_editor_pushes_or_pulls_and_never_both() {
        assert!(server(&Client::default()).capabilities.diagnostic_provider.is_none());
        assert!(server(&Client { pulls: true, ..Client::default() }).capabilities.diagnostic_provider.is_some());
    }

    #[test]
    fn the_same_answer_is_not_sent_twice() {
        let report = Report { uri: "untitled:1".into(), version: Some(1), messages: Vec::new(), held: false };
        let kind = |previous: Option<&str>| {
            let answer = serde_json::to_value(pulled(&report, &Client::default(), previous)).unwrap_or_default();
            (answer.get("kind").cloned().unwrap_or_default(), answer.get("resultId").cloned().unwrap_or_default())
        };
        let (first, id) = kind(None);
        assert_eq!((first, kind(id.as_str()).0), (json!("full"), json!("unchanged")));
        assert_eq!(kind(Some("other")).0, json!("full"));
    }
}
