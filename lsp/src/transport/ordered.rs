//! Order: documents change the moment their message arrives, and every request sees the documents of its own moment.
//!
//! Handlers of tower-lsp run side by side, so an edit applied in a handler could be overtaken by the next one. This
//! service stands around it; it is called in the order of the wire, applies edits at once and hands the rest on, each
//! with a snapshot.

use crate::convert;
use crate::state::{Snapshot, State};
use crate::worker::Worker;
use futures_util::future::{BoxFuture, FutureExt};
use serde_json::Value;
use std::sync::Arc;
use std::task::{Context, Poll};
use tower_lsp::jsonrpc::{Request, Response};
use tower_service::Service;

tokio::task_local! {
    static SEEN: Snapshot;
}

/// The documents as they were when the request that is being answered arrived.
#[must_use]
pub fn seen() -> Snapshot {
    SEEN.try_with(Arc::clone).unwrap_or_default()
}

/// The service around tower-lsp's.
#[derive(Debug)]
pub struct Ordered<S> {
    inner: S,
    state: Arc<State>,
    worker: Arc<Worker>,
    phase: Phase,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    Before,
    Running,
    After,
}

impl<S> Ordered<S> {
    /// Puts order around a service.
    pub fn new(inner: S, state: Arc<State>, worker: Arc<Worker>) -> Self {
        Self { inner, state, worker, phase: Phase::Before }
    }

    /// Applies a notification about documents. Says whether it was one.
    fn apply(&self, method: &str, params: Option<&Value>) -> bool {
        let params = || params.cloned().unwrap_or_default();
        let done = match method {
            "textDocument/didOpen" => convert::opened(params()).map(|o| {
                self.state.open(Arc::clone(&o.uri), o.path, o.version, o.text);
                self.worker.changed(o.uri);
                self.worker.documents_changed(&self.state.snapshot());
            }),
            "textDocument/didChange" => convert::changed(params()).map(|(uri, version, changes)| {
                if self.state.change(&uri, version, changes) {
                    self.worker.changed(uri);
                }
            }),
            "textDocument/didClose" => convert::closed(params()).map(|uri| {
                self.state.close(&uri);
                self.worker.changed(uri);
                self.worker.documents_changed(&self.state.snapshot());
            }),
            "textDocument/didSave" | "workspace/didChangeWatchedFiles" => {
                self.worker.files_changed(&self.state.snapshot());
                Ok(())
            }
            _ => return false,
        };
        if let Err(why) = done {
            eprintln!("coatwright-lsp: {method}: {why}");
        }
        true
    }
}

impl<S> Service<Request> for Ordered<S>
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = Option<Response>;
    type Error = S::Error;
    type Future = BoxFuture<'static, Result<Self::Response, Self::Error>>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, mut request: Request) -> Self::Future {
        let initialize = request.method() == "initialize";
        match request.method() {
            "initialize" if self.phase == Phase::Before => {
                self.state.agree(convert::client(request.params().unwrap_or(&Value::Null)));
                self.phase = Phase::Running;
                request = without_capabilities(request);
            }
            "shutdown" if self.phase == Phase::Running => self.phase = Phase::After,
            method if request.id().is_none() => {
                let running = self.phase == Phase::Running;
                if running && self.apply(method, request.params()) {
                    return std::future::ready(Ok(None)).boxed();
                }
            }
            _ => {}
        }
        let answer = SEEN.scope(self.state.snapshot(), self.inner.call(request));
        if initialize { answer.map(|a| a.map(|a| a.map(with_hierarchy))).boxed() } else { answer.boxed() }
    }
}

/// `initialize` without what the client can do: that is read already, and leniently. The types of the protocol would
/// refuse a client for one capability that it words in its own way.
fn without_capabilities(request: Request) -> Request {
    match request.into_parts() {
        (method, Some(id), Some(Value::Object(_))) => {
            Request::build(method).id(id).params(serde_json::json!({ "capabilities": {} })).finish()
        }
        (method, id, params) => {
            let mut again = Request::build(method);
            if let Some(id) = id {
                again = again.id(id);
            }
            if let Some(params) = params {
                again = again.params(params);
            }
            again.finish()
        }
    }
}

/// An answer to `initialize` with what the types of the protocol can't say.
fn with_hierarchy(answer: Response) -> Response {
    let (id, result) = answer.into_parts();
    match result {
        Ok(mut value) => {
            convert::offers::add_hierarchy(&mut value);
            Response::from_ok(id, value)
        }
        Err(why) => Response::from_error(id, why),
    }
}
