//! The protocol in and out, without logic of its own.

use crate::around::Here;
use crate::convert::{self, answers, commands, tokens as packing};
use crate::features::{
    cases, complete, fixes, format, hints, hover, kin, links, navigate, ranges, sheets, signature, symbols, tokens,
};
use crate::house::Root;
use crate::state::{State, Uri};
use crate::transport::ordered::{Ordered, seen};
use crate::transport::pump;
use crate::transport::text;
use crate::worker::{Answer, Refusal, Said, Worker};
use lsp_types::*;
use serde_json::Value;
use std::collections::{BTreeSet, HashMap};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::mpsc;
use tower_lsp::jsonrpc::{Error, Result};
use tower_lsp::{LanguageServer, LspService};

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
        Server { client, state: Arc::clone(&state), worker: Arc::clone(&worker), coloured: Mutex::default() }
    });
    pump::serve(input, output, Ordered::new(service, state, worker), socket).await
}

/// Sends what the analysis says.
async fn tell(client: tower_lsp::Client, state: Arc<State>, mut said: mpsc::Receiver<Said>) {
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
    client: tower_lsp::Client,
    state: Arc<State>,
    worker: Arc<Worker>,
    /// The last tokens of each document and the name of that answer.
    coloured: Mutex<HashMap<Uri, Coloured>>,
}

/// An answer about tokens.
#[derive(Clone, Debug)]
struct Coloured {
    name: String,
    tokens: Vec<SemanticToken>,
}

/// Documents whose tokens are kept; beyond that all are sent anew.
const COLOURED: usize = 64;

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

impl Server {
    /// All tokens of a document, and those that were sent under a name before.
    async fn colour(&self, uri: Uri, before: Option<&str>) -> Result<(Coloured, Option<Vec<SemanticToken>>)> {
        let found = self.look(Uri::clone(&uri), |here| tokens::tokens(here, None)).await?;
        let mut kept = self.coloured.lock().unwrap_or_else(PoisonError::into_inner);
        let old = kept.remove(&uri);
        let number = old.as_ref().and_then(|o| o.name.parse::<u64>().ok()).unwrap_or(0).wrapping_add(1);
        let new = Coloured { name: number.to_string(), tokens: packing::packed(&found) };
        if kept.len() >= COLOURED {
            kept.clear();
        }
        kept.insert(uri, new.clone());
        Ok((new, old.filter(|o| Some(o.name.as_str()) == before).map(|o| o.tokens)))
    }

    /// Puts a dog on the table, or takes it off. Whatever tells of it is told anew.
    fn put_on_table(&self, dog: Option<String>) {
        if self.state.table() == dog {
            return;
        }
        self.state.put_on_table(dog);
        self.worker.files_changed(&self.state.snapshot());
        let (client, can) = (self.client.clone(), self.state.client());
        tokio::spawn(async move {
            if can.hints_again {
                let _ = tokio::time::timeout(PATIENCE, client.inlay_hint_refresh()).await;
            }
            if can.lenses_again {
                let _ = tokio::time::timeout(PATIENCE, client.code_lens_refresh()).await;
            }
        });
    }

    /// Runs a case; from a lens what came of it is said as well.
    async fn case(&self, of: commands::Of) -> Result<Option<Value>> {
        let at = of.at;
        let run = move |here: &Here<'_>| cases::run(here, at.map_or(0, |at| here.byte(at)));
        let Some(told) = self.look(of.uri, run).await? else { return Ok(None) };
        if of.show {
            let (client, words) = (self.client.clone(), told.words.clone());
            let kind = if told.passed { MessageType::INFO } else { MessageType::WARNING };
            tokio::spawn(async move { client.show_message(kind, words).await });
        }
        Ok(Some(commands::told(&told)))
    }

    /// Has a page opened in a browser, or says where it is.
    fn show(&self, title: &str, html: &str) {
        let Ok(path) = crate::house::page(title, html) else { return };
        let (client, shows) = (self.client.clone(), self.state.client().shows);
        tokio::spawn(async move {
            match Url::from_file_path(&path) {
                Ok(uri) if shows => {
                    let params =
                        ShowDocumentParams { uri, external: Some(true), take_focus: Some(true), selection: None };
                    let _ = tokio::time::timeout(PATIENCE, client.show_document(params)).await;
                }
                _ => client.show_message(MessageType::INFO, format!("The sheet is in {}", path.display())).await,
            }
        });
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
            let (client, state) = (self.client.clone(), Arc::clone(&self.state));
            tokio::spawn(async move {
                let asked = client.register_capability(vec![convert::watch()]);
                if let Ok(Ok(())) = tokio::time::timeout(PATIENCE, asked).await {
                    state.files_are_watched();
                }
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

    async fn workspace_diagnostic(&self, params: WorkspaceDiagnosticParams) -> Result<WorkspaceDiagnosticReportResult> {
        Ok(convert::beside(&self.state, &params))
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
        let answer = answers::symbols(found, &self.state.client(), &params.text_document.uri);
        Ok((!text::put(&answer)).then_some(answer))
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

    async fn semantic_tokens_full(&self, params: SemanticTokensParams) -> Result<Option<SemanticTokensResult>> {
        let (new, _) = self.colour(answers::document(&params.text_document), None).await?;
        let tokens = SemanticTokens { result_id: Some(new.name), data: new.tokens };
        let answer = SemanticTokensResult::Tokens(tokens);
        Ok((!text::put(&answer)).then_some(answer))
    }

    async fn semantic_tokens_full_delta(
        &self,
        params: SemanticTokensDeltaParams,
    ) -> Result<Option<SemanticTokensFullDeltaResult>> {
        let uri = answers::document(&params.text_document);
        let (new, old) = self.colour(uri, Some(&params.previous_result_id)).await?;
        Ok(Some(match old {
            Some(old) => SemanticTokensFullDeltaResult::TokensDelta(SemanticTokensDelta {
                edits: packing::changes(&old, &new.tokens),
                result_id: Some(new.name),
            }),
            None => {
                SemanticTokensFullDeltaResult::Tokens(SemanticTokens { result_id: Some(new.name), data: new.tokens })
            }
        }))
    }

    async fn semantic_tokens_range(
        &self,
        params: SemanticTokensRangeParams,
    ) -> Result<Option<SemanticTokensRangeResult>> {
        let range = answers::ours(params.range);
        let work = move |here: &Here<'_>| tokens::tokens(here, Some(here.bytes(range)));
        let found = self.look(answers::document(&params.text_document), work).await?;
        let tokens = SemanticTokens { result_id: None, data: packing::packed(&found) };
        Ok(Some(SemanticTokensRangeResult::Tokens(tokens)))
    }

    async fn folding_range(&self, params: FoldingRangeParams) -> Result<Option<Vec<FoldingRange>>> {
        let found = self.look(answers::document(&params.text_document), ranges::folds).await?;
        Ok(Some(found.iter().map(answers::fold).collect()))
    }

    async fn selection_range(&self, params: SelectionRangeParams) -> Result<Option<Vec<SelectionRange>>> {
        let places: Vec<_> = params.positions.iter().map(|at| answers::position(*at)).collect();
        let work = move |here: &Here<'_>| {
            let grow = |at| (at, ranges::growing(here, here.byte(at)));
            places.into_iter().map(grow).collect::<Vec<_>>()
        };
        let found = self.look(answers::document(&params.text_document), work).await?;
        Ok(Some(found.iter().map(|(at, growing)| answers::selection(growing, *at)).collect()))
    }

    async fn inlay_hint(&self, params: InlayHintParams) -> Result<Option<Vec<InlayHint>>> {
        let range = answers::ours(params.range);
        let work = move |here: &Here<'_>| hints::hints(here, here.bytes(range));
        let found = self.look(answers::document(&params.text_document), work).await?;
        Ok(Some(found.iter().map(answers::hint).collect()))
    }

    async fn code_lens(&self, params: CodeLensParams) -> Result<Option<Vec<CodeLens>>> {
        let found = self.look(answers::document(&params.text_document), sheets::lenses).await?;
        Ok(Some(found.iter().map(|lens| commands::lens(lens, &params.text_document.uri)).collect()))
    }

    async fn execute_command(&self, params: ExecuteCommandParams) -> Result<Option<Value>> {
        let (of, table) = match commands::asked(&params).map_err(Error::invalid_params)? {
            commands::Asked::Explain(code) => return Ok(coatwright::explain::page(&code).map(Value::from)),
            commands::Asked::TakeOff => {
                self.put_on_table(None);
                return Ok(None);
            }
            commands::Asked::Case(of) => return self.case(of).await,
            commands::Asked::Sheet(of) => (of, false),
            commands::Asked::Table(of) => (of, true),
        };
        let (at, dog, recipe) = (of.at, of.dog.clone(), of.recipe.clone());
        let work = move |here: &Here<'_>| {
            let (dog, recipe) = sheets::whose(here, at.map(|at| here.byte(at)), dog, recipe)?;
            let made = sheets::sheet(here, &dog, recipe);
            Some((dog, made))
        };
        let Some((dog, made)) = self.look(of.uri, work).await? else { return Ok(None) };
        if table {
            self.put_on_table(Some(dog));
        }
        if let (true, sheets::Made::Page { title, html }) = (of.show, &made) {
            self.show(title, html);
        }
        match commands::made(made) {
            Ok(value) => Ok(Some(value)),
            // It is on the table all the same.
            Err(_) if table => Ok(None),
            Err(why) => Err(answers::refused(why)),
        }
    }

    async fn symbol(&self, params: WorkspaceSymbolParams) -> Result<Option<Vec<SymbolInformation>>> {
        let documents = seen();
        let mut roots = BTreeSet::new();
        let mut out = Vec::new();
        for (uri, document) in documents.iter() {
            let root = document.path.as_deref().and_then(|path| Root::of(path, &documents));
            // One document of each house speaks for all of it.
            if root.is_some_and(|root| !roots.insert(root)) {
                continue;
            }
            let query = params.query.clone();
            let found = self.look(Uri::clone(uri), move |here| symbols::of_salon(here, &query)).await?;
            out.extend(found.iter().filter_map(answers::named));
        }
        Ok(Some(out))
    }

    async fn document_link(&self, params: DocumentLinkParams) -> Result<Option<Vec<DocumentLink>>> {
        let found = self.look(answers::document(&params.text_document), links::links).await?;
        Ok(Some(found.iter().filter_map(answers::link).collect()))
    }

    async fn prepare_type_hierarchy(
        &self,
        params: TypeHierarchyPrepareParams,
    ) -> Result<Option<Vec<TypeHierarchyItem>>> {
        let (uri, at) = answers::place(&params.text_document_position_params);
        let found = self.look(uri, move |here| kin::member_at(here, here.byte(at))).await?;
        let asked = &params.text_document_position_params.text_document.uri;
        Ok(found.and_then(|m| answers::member(&m, asked)).map(|item| vec![item]))
    }

    async fn supertypes(&self, params: TypeHierarchySupertypesParams) -> Result<Option<Vec<TypeHierarchyItem>>> {
        let asked = answers::asked_by(&params.item);
        let work = move |here: &Here<'_>| kin::above(here, &params.item.name, answers::is_at(&params.item));
        let found = self.look(answers::address(&asked), work).await?;
        Ok(Some(found.iter().filter_map(|m| answers::member(m, &asked)).collect()))
    }

    async fn subtypes(&self, params: TypeHierarchySubtypesParams) -> Result<Option<Vec<TypeHierarchyItem>>> {
        let asked = answers::asked_by(&params.item);
        let work = move |here: &Here<'_>| kin::below(here, &params.item.name, answers::is_at(&params.item));
        let found = self.look(answers::address(&asked), work).await?;
        Ok(Some(found.iter().filter_map(|m| answers::member(m, &asked)).collect()))
    }

    async fn signature_help(&self, params: SignatureHelpParams) -> Result<Option<SignatureHelp>> {
        let (uri, at) = answers::place(&params.text_document_position_params);
        let found = self.look(uri, move |here| signature::form(here, here.byte(at))).await?;
        Ok(found.as_ref().map(answers::signature))
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }
}
