//! Moves messages between the wire and the service. In place of tower-lsp's own loop, which ends at the first message
//! it can't read, waits for more after `exit`, and knows no exit code.

use super::frames::{Frame, Frames, mend_halves};
use super::text::{Answer, taken};
use futures_util::{FutureExt, SinkExt, StreamExt};
use serde::Serialize;
use serde_json::{Map, Value};
use std::panic::AssertUnwindSafe;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt};
use tokio::sync::mpsc;
use tokio::task::JoinSet;
use tower_lsp::ClientSocket;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};
use tower_service::Service;

/// How long answers under way may take once the client has gone.
const GRACE: Duration = Duration::from_secs(1);

/// Messages that wait for the wire.
const QUEUE: usize = 64;

/// Serves until `exit` or the end of the input. Says the exit code: 0 after `shutdown`, 1 without.
pub async fn serve<S>(
    input: impl AsyncRead + Unpin,
    output: impl AsyncWrite + Unpin + Send + 'static,
    mut service: S,
    client: ClientSocket,
) -> u8
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    let (mut asked, mut answered) = client.split();
    let (out, outgoing) = mpsc::channel(QUEUE);
    let mut writer = tokio::spawn(write(output, outgoing));
    let to_client = out.clone();
    let asking = tokio::spawn(async move {
        while let Some(request) = asked.next().await {
            if to_client.send(bytes(&without_null(request))).await.is_err() {
                return;
            }
        }
    });
    let mut flying = JoinSet::new();
    let mut frames = Frames::new(input);
    let mut junk = false;
    let mut shut = false;
    loop {
        while flying.try_join_next().is_some() {}
        // Nobody reads any more: then nobody is served.
        let frame = tokio::select! {
            biased;
            _ = &mut writer => break,
            frame = frames.next() => frame,
        };
        let body = match frame {
            Ok(Some(Frame::Body(body))) => body,
            Ok(Some(Frame::Junk)) => {
                // One answer for all of it.
                if !std::mem::replace(&mut junk, true) {
                    send(&out, &Response::from_error(Id::Null, Error::parse_error())).await;
                }
                continue;
            }
            Ok(Some(Frame::TooLong)) => {
                eprintln!("coatwright-lsp: a message that is too long");
                send(&out, &Response::from_error(Id::Null, Error::parse_error())).await;
                break;
            }
            Ok(None) | Err(_) => break,
        };
        junk = false;
        match read(&body) {
            Ok(Incoming::Request(request)) if request.method() == "exit" => break,
            Ok(Incoming::Request(request)) => {
                shut |= request.method() == "shutdown" && request.id().is_some();
                if std::future::poll_fn(|cx| service.poll_ready(cx)).await.is_err() {
                    break;
                }
                let first = matches!(request.method(), "initialize" | CANCEL);
                let id = request.id().cloned();
                let answer = answer(service.call(request), id);
                if first {
                    // What follows may not wait for the answer; it is read when all is set up. And what is taken back is what was
                    // asked before, not what is asked next under the same number.
                    if let Some(response) = answer.await {
                        send(&out, &response).await;
                    }
                } else {
                    let out = out.clone();
                    flying.spawn(async move {
                        if let Some(response) = answer.await {
                            send(&out, &response).await;
                        }
                    });
                }
            }
            // An answer that nobody waits for is no harm.
            Ok(Incoming::Response(response)) => drop(answered.send(response).await),
            Err(refusal) => send(&out, &refusal).await,
        }
    }
    drop(out);
    let rest = async {
        while flying.join_next().await.is_some() {}
        asking.abort();
        if !writer.is_finished() {
            let _ = writer.await;
        }
    };
    let _ = tokio::time::timeout(GRACE, rest).await;
    u8::from(!shut)
}

/// The answer of the service; a request over which it stumbles is told so.
async fn answer<E>(future: impl Future<Output = Result<Option<Response>, E>>, id: Option<Id>) -> Option<Answer> {
    let refused = |error| id.map(|id| Answer::Tree(Response::from_error(id, error)));
    match AssertUnwindSafe(taken(future)).catch_unwind().await {
        Ok(Ok(answer)) => answer,
        Ok(Err(_)) => refused(Error::invalid_request()),
        Err(_) => refused(Error::internal_error()),
    }
}

const CANCEL: &str = "$/cancelRequest";

enum Incoming {
    Request(Request),
    Response(Response),
}

/// Reads a message; one that can't be read is answered, as far as it can be told what it asks.
fn read(body: &[u8]) -> Result<Incoming, Response> {
    let refuse = |id: Option<Id>, error: Error| Response::from_error(id.unwrap_or(Id::Null), error);
    let text = std::str::from_utf8(body).map_err(|_| refuse(None, Error::parse_error()))?;
    let value: Value = serde_json::from_str(&mend_halves(text)).map_err(|_| refuse(None, Error::parse_error()))?;
    let Value::Object(mut message) = value else { return Err(refuse(None, Error::invalid_request())) };
    let id = match message.get("id").cloned().map(serde_json::from_value::<Id>) {
        Some(Ok(id)) => Some(id),
        Some(Err(_)) => return Err(refuse(None, Error::invalid_request())),
        None => None,
    };
    match message.remove("method") {
        Some(Value::String(method)) => Ok(Incoming::Request(request(method, id, message.remove("params")))),
        None if message.contains_key("result") || message.contains_key("error") => {
            response(message).map(Incoming::Response).ok_or_else(|| refuse(id, Error::invalid_request()))
        }
        _ => Err(refuse(id, Error::invalid_request())),
    }
}

fn request(method: String, id: Option<Id>, params: Option<Value>) -> Request {
    // tower-lsp takes no parameters at all where there are none to give; clients send `null` and `{}`.
    let params = params.filter(|params| !params.is_null() && method != "shutdown");
    let mut request = Request::build(method);
    if let Some(params) = params {
        request = request.params(params);
    }
    if let Some(id) = id {
        request = request.id(id);
    }
    request.finish()
}

fn response(mut message: Map<String, Value>) -> Option<Response> {
    message.insert("jsonrpc".to_owned(), Value::from("2.0"));
    serde_json::from_value(Value::Object(message)).ok()
}

fn without_null(asked: Request) -> Request {
    let (method, id, params) = asked.into_parts();
    request(method.into_owned(), id, params)
}

async fn send(out: &mpsc::Sender<Vec<u8>>, response: &impl Serialize) {
    // Nobody reads any more: the loop ends by itself.
    let _ = out.send(bytes(response)).await;
}

fn bytes(message: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec(message).unwrap_or_default()
}

/// Writes whole frames, one after the other.
async fn write(mut output: impl AsyncWrite + Unpin, mut messages: mpsc::Receiver<Vec<u8>>) {
    while let Some(message) = messages.recv().await {
        let mut frame = format!("Content-Length: {}\r\n\r\n", message.len()).into_bytes();
        frame.extend(message);
        if output.write_all(&frame).await.is_err() || output.flush().await.is_err() {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(body: &str) -> Option<(Id, i64)> {
        let (id, result) = read(body.as_bytes()).err()?.into_parts();
        Some((id, result.err()?.code.code()))
    }

    #[test]
    fn what_cannot_be_read_is_answered() {
        assert_eq!(refused("{"), Some((Id::Null, -32700)));
        assert_eq!(refused("[]"), Some((Id::Null, -32600)));
        assert_eq!(refused("{}"), Some((Id::Null, -32600)));
        assert_eq!(refused(r#"{"id":7,"method":7}"#), Some((Id::Number(7), -32600)));
        assert_eq!(refused(r#"{"id":[],"method":"x"}"#), Some((Id::Null, -32600)));
        assert_eq!(refused(&"[".repeat(100_000)), Some((Id::Null, -32700)));
        assert!(read(b"\"\xff\"").is_err());
        assert_eq!(refused(r#"{"id":1,"method":"x","params":"\ud83d"}"#), None);
        assert_eq!(refused(r#"{"id":1,"result":null}"#), None);
    }

    #[test]
    fn no_parameters_are_none() {
        for params in ["null", "{}", "[]"] {
            let body = format!(r#"{{"jsonrpc":"2.0","id":1,"method":"shutdown","params":{params}}}"#);
            let Ok(Incoming::Request(request)) = read(body.as_bytes()) else { unreachable!() };
            assert_eq!(request.params(), None);
        }
    }

    #[tokio::test(flavor = "current_thread")]
    async fn a_stumble_is_an_answer() {
        let stumble = async {
            assert!(!std::hint::black_box(true), "on purpose");
            Ok::<_, ()>(None)
        };
        let answered = answer(stumble, Some(Id::Number(1))).await;
        let expected = Response::from_error(Id::Number(1), Error::internal_error());
        assert!(matches!(answered, Some(Answer::Tree(response)) if response == expected));
    }
}
