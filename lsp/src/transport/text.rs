//! Large answers as text. tower-lsp makes a tree of JSON of every answer before it is written, which takes longer than the
//! work for some; a handler may write its answer here instead, and gives tower-lsp an empty one.

use serde::Serialize;
use serde_json::value::{RawValue, to_raw_value};
use std::cell::RefCell;
use tower_lsp::jsonrpc::{Id, Response};

tokio::task_local! {
    static WRITTEN: RefCell<Option<Box<RawValue>>>;
}

/// Keeps the result of the request that is being answered. Says whether somebody will take it.
pub fn put(result: &impl Serialize) -> bool {
    let Ok(text) = to_raw_value(result) else { return false };
    WRITTEN.try_with(|written| written.replace(Some(text))).is_ok()
}

/// An answer with a result that is text already.
#[derive(Debug, Serialize)]
struct Written {
    jsonrpc: &'static str,
    id: Id,
    result: Box<RawValue>,
}

/// An answer as it is sent: tower-lsp's, or what its handler has written.
#[derive(Debug, Serialize)]
#[serde(untagged)]
pub enum Answer {
    /// A tree.
    Tree(Response),
    /// Text.
    #[allow(private_interfaces)]
    Text(Written),
}

/// Has a request answered, and takes what its handler wrote.
pub async fn taken<E>(answering: impl Future<Output = Result<Option<Response>, E>>) -> Result<Option<Answer>, E> {
    let scope = async {
        let answer = answering.await?;
        let written = WRITTEN.try_with(RefCell::take).ok().flatten();
        Ok(answer.map(|response| match written.filter(|_| response.is_ok()) {
            Some(result) => Answer::Text(Written { jsonrpc: "2.0", id: response.id().clone(), result }),
            None => Answer::Tree(response),
        }))
    };
    WRITTEN.scope(RefCell::new(None), scope).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    async fn answered(of: impl Future<Output = Response>) -> Value {
        let answer = taken(async { Ok::<_, ()>(Some(of.await)) }).await;
        serde_json::to_value(answer.ok().flatten()).unwrap_or_default()
    }

    #[tokio::test(flavor = "current_thread")]
    async fn what_is_written_is_the_answer() {
        let written = async {
            assert!(put(&["a", "b"]));
            Response::from_ok(Id::Number(3), Value::Null)
        };
        assert_eq!(answered(written).await, json!({ "jsonrpc": "2.0", "id": 3, "result": ["a", "b"] }));
        let plain = async { Response::from_ok(Id::Number(4), json!(1)) };
        assert_eq!(answered(plain).await, json!({ "jsonrpc": "2.0", "id": 4, "result": 1 }));
        let failed = async {
            assert!(put(&1));
            Response::from_error(Id::Number(5), tower_lsp::jsonrpc::Error::internal_error())
        };
        assert_eq!(answered(failed).await.get("error").and_then(|e| e.get("code")), Some(&json!(-32603)));
        assert!(!put(&1), "nobody asked");
    }
}
