//! The protocol in and out, without logic of its own.

use crate::around::Here;
use crate::convert::{self, answers};
use crate::features::{complete, fixes, format, hover, navigate, symbols};
use crate::state::{State, Uri};
use crate::transport::ordered::{Ordered, seen};
use crate::transport::pump;
use crate::worker::{Answer, Refusal, Said, Worker};
use lsp_types::{
    CodeActionParams, CodeActionResponse, CompletionParams, CompletionResponse, DocumentDiagnosticParams,
    DocumentDiagnosticReportResult, DocumentFormattingParams, DocumentHighlight, DocumentHighlightParams,
    DocumentRangeFormattingParams, DocumentSymbolParams, DocumentSymbolResponse, GotoDefinitionParams,
    GotoDefinitionResponse, Hover, HoverParams, InitializeParams, InitializeResult, InitializedParams, Location,
    PrepareRenameResponse, ReferenceParams, RenameParams, TextDocumentPositionParams, TextEdit, WorkspaceEdit,
};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::mpsc;
use tower_lsp::jsonrpc::{Error, Result};
use tower_lsp::{Client, LanguageServer, LspService};

/// How long a client may think about what it is asked.
const PATIENCE: Duration = Duration::from_secs(10);

/// Reports that wait to be sent. When a client reads slowly the analysis waits, and newer texts replace older ones.
const QUEUE: usize = 8;

/// Serves one editor until it leaves, and says the exit code.
pub async fn run(input: impl AsyncRead + Unpin, output: impl AsyncWrite + Unpin + Send + 'static) -> u8 {
    let state = Arc::new(State::default());
    let (out, said) = mpsc::channel(QUEUE);
    let worker = match Worker::start(Arc::clone(&state), out) {
        Ok(worker) => Arc::new(worker),
        Err(why) => {
            eprintln!("coatwright-lsp: can't start the analysis: {why}");
            return 2;
        }
    };
    let (service, socket) = LspService::new(|client| {
        tokio::spawn(tell(client.clone(), Arc::clone(&state), said));
        Server { client, state: Arc::clone(&state), worker: Arc::clone(&worker) }
    });
    pump::serve(input, output, Ordered::new(service, state, worker), socket).await
}

/// Sends what the analysis says.
async fn tell(client: Client, state: Arc<State>, mut said: mpsc::Receiver<Said>) {
    while let Some(said) = said.recv().await {
        match said {
            Said::Report(report) => {
                if let Some(params) = convert::publish(&report, &state.client()) {
                    client.publish_diagnostics(params.uri, params.diagnostics, params.version).await;
                }
            }
            Said::Refresh => {
                let client = client.clone();
                tokio::spawn(
                    async move { tokio::time::timeout(PATIENCE, client.workspace_diagnostic_refresh()).await },
                );
            }
        }
    }
}

#[derive(Debug)]
struct Server {
    client: Client,
    state: Arc<State>,
    worker: Arc<Worker>,
}

impl Server {
    /// Has something about a document worked out, on the thread for that.
    async fn look<T: Send + 'static>(&self, uri: Uri, work: impl FnOnce(&Here<'_>) -> T + Send + 'static) -> Result<T> {
        match self.worker.look(uri, seen(), work).await {
            Ok(Ok(answer)) => Ok(answer),
            Ok(Err(Refusal::Overtaken)) => Err(convert::modified()),
            Ok(Err(Refusal::NotOpen)) => Err(not_open()),
            Err(_) => Err(Error::internal_error()),
        }
    }
}

fn not_open() -> Error {
    Error::invalid_params("that document isn't open")
}

#[tower_lsp::async_trait]
impl LanguageServer for Server {
    async fn initialize(&self, _: InitializeParams) -> Result<InitializeResult> {
        Ok(convert::server(&self.state.client()))
    }

    async fn initialized(&self, _: InitializedParams) {
        if self.state.client().watches {
            // Never wait for the client inside a handler: its answer may stand behind this message.
            let client = self.client.clone();
            tokio::spawn(async move {
                tokio::time::timeout(PATIENCE, client.register_capability(vec![convert::watch()])).await
            });
        }
    }

    async fn diagnostic(&self, params: DocumentDiagnosticParams) -> Result<DocumentDiagnosticReportResult> {
        let (uri, previous) = convert::pull(&params);
        match self.worker.ask(uri, seen()).await {
            Ok(Answer::Report(report)) => Ok(convert::pulled(&report, &self.state.client(), previous)),
            Ok(Answer::Overtaken) => Err(convert::overtaken()),
            Ok(Answer::NotOpen) => Err(not_open()),
            Err(_) => Err(Error::internal_error()),
        }
    }

    async fn code_action(&self, params: CodeActionParams) -> Result<Option<CodeActionResponse>> {
        let range = answers::ours(params.range);
        let (quick, all) = answers::wanted(&params.context);
        let work = move |here: &Here<'_>| {
            let quick = if quick { fixes::quick(here, here.bytes(range)) } else { Vec::new() };
            quick.into_iter().chain(all.then(|| fixes::all(here)).flatten()).collect::<Vec<_>>()
        };
        let found = self.look(answers::document(&params.text_document), work).await?;
        let client = self.state.client();
        Ok(Some(found.iter().map(|a| answers::action(a, &client, &seen())).collect()))
    }

    async fn formatting(&self, params: DocumentFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        let edits = self.look(answers::document(&params.text_document), |here| format::layout(here, None)).await?;
        Ok(edits.map(|edits| edits.iter().map(answers::text_edit).collect()))
    }

    async fn range_formatting(&self, params: DocumentRangeFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        let range = answers::ours(params.range);
        let work = move |here: &Here<'_>| format::layout(here, Some(here.bytes(range)));
        let edits = self.look(answers::document(&params.text_document), work).await?;
        Ok(edits.map(|edits| edits.iter().map(answers::text_edit).collect()))
    }

    async fn document_symbol(&self, params: DocumentSymbolParams) -> Result<Option<DocumentSymbolResponse>> {
        let found = self.look(answers::document(&params.text_document), symbols::of_document).await?;
        Ok(Some(answers::symbols(&found, &self.state.client(), &params.text_document.uri)))
    }

    async fn hover(&self, params: HoverParams) -> Result<Option<Hover>> {
        let (uri, at) = answers::place(&params.text_document_position_params);
        let found = self.look(uri, move |here| hover::hover(here, here.byte(at))).await?;
        Ok(found.map(|h| answers::hover(&h, &self.state.client())))
    }

    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let (uri, at) = answers::place(&params.text_document_position);
        let by_blank = answers::by_blank(&params);
        let found = self.look(uri, move |here| complete::offers(here, here.byte(at), by_blank)).await?;
        Ok(Some(answers::completion(&found)))
    }

    async fn goto_definition(&self, params: GotoDefinitionParams) -> Result<Option<GotoDefinitionResponse>> {
        let (uri, at) = answers::place(&params.text_document_position_params);
        let found = self.look(uri, move |here| navigate::definition(here, here.byte(at))).await?;
        Ok(found.and_then(|found| answers::definition(&found, &self.state.client())))
    }

    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let (uri, at) = answers::place(&params.text_document_position);
        let declaration = params.context.include_declaration;
        let found = self.look(uri, move |here| navigate::references(here, here.byte(at), declaration)).await?;
        Ok(Some(found.iter().filter_map(|m| answers::location(&m.location)).collect()))
    }

    async fn document_highlight(&self, params: DocumentHighlightParams) -> Result<Option<Vec<DocumentHighlight>>> {
        let (uri, at) = answers::place(&params.text_document_position_params);
        let found = self.look(uri, move |here| navigate::highlights(here, here.byte(at))).await?;
        Ok(Some(found.iter().map(answers::highlight).collect()))
    }

    async fn prepare_rename(&self, params: TextDocumentPositionParams) -> Result<Option<PrepareRenameResponse>> {
        let (uri, at) = answers::place(&params);
        let found = self.look(uri, move |here| navigate::can_rename(here, here.byte(at))).await?;
        found.map(|found| Some(answers::renamable(found))).map_err(answers::refused)
    }

    async fn rename(&self, params: RenameParams) -> Result<Option<WorkspaceEdit>> {
        let (uri, at) = answers::place(&params.text_document_position);
        let found = self.look(uri, move |here| navigate::rename(here, here.byte(at), &params.new_name)).await?;
        let edits = found.map_err(answers::refused)?;
        Ok(Some(answers::edit(&edits, &self.state.client(), &seen())))
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }
}
