//! The protocol in and out, without logic of its own.

use crate::convert;
use crate::state::State;
use crate::transport::ordered::{Ordered, seen};
use crate::transport::pump;
use crate::worker::{Answer, Said, Worker};
use lsp_types::{
    DocumentDiagnosticParams, DocumentDiagnosticReportResult, InitializeParams, InitializeResult, InitializedParams,
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
            Ok(Answer::NotOpen) => Err(Error::invalid_params("that document isn't open")),
            Err(_) => Err(Error::internal_error()),
        }
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }
}
