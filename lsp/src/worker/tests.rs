//! The thread over made-up analyses.

use super::*;
use crate::features::diagnostics::Message;
use crate::state::{Change, Client};
use std::sync::atomic::{AtomicUsize, Ordering};

/// A thread that stumbles over the text `panic`, takes its time for `slow`, and reports nothing otherwise.
fn start(state: &Arc<State>) -> (Option<Worker>, mpsc::Receiver<Said>, Arc<AtomicUsize>) {
    let (out, said) = mpsc::channel(16);
    let runs = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&runs);
    let worker = Worker::start_with(Arc::clone(state), out, move |ask, _, mut early| {
        count.fetch_add(1, Ordering::SeqCst);
        let misspelt = ask.about.iter().filter_map(|uri| Some((uri, ask.documents.get(uri)?)));
        for (uri, document) in misspelt.filter(|(_, document)| document.text.contains("misspelt")) {
            if let Some(early) = &mut early {
                early(told(uri, document.version, &["M001"]));
            }
        }
        let open = ask.about.iter().filter_map(|uri| Some((uri, ask.documents.get(uri)?)));
        open.map(|(uri, document)| {
            assert_ne!(document.text.as_str(), "panic", "on purpose");
            if document.text.as_str() == "slow" {
                std::thread::sleep(Duration::from_millis(100));
            }
            let codes = ["M001", "C002"].iter().zip(["misspelt", "too close"]);
            let codes = codes.filter(|(_, words)| document.text.contains(words)).map(|(code, _)| *code);
            told(uri, document.version, &codes.collect::<Vec<_>>())
        })
        .collect()
    });
    (worker.ok(), said, runs)
}

/// A report of messages about the third letter.
fn told(uri: &Uri, version: i32, codes: &[&'static str]) -> Report {
    let mut report = Report::stumbled(uri, version);
    let message = report.messages.pop();
    let at = |column| crate::lines::Position { line: 0, column };
    let range = crate::lines::Range { start: at(2), end: at(3) };
    let of = |code: &&'static str| Some(Message { range, code: Some(code), ..message.clone()? });
    report.messages = codes.iter().filter_map(of).collect();
    report
}

fn codes(said: Option<Said>) -> Option<(i32, Vec<(&'static str, u32)>)> {
    let Some(Said::Report(report)) = said else { return None };
    let all = report.messages.iter().map(|m| Some((m.code?, m.range.start.column)));
    Some((report.version?, all.collect::<Option<_>>()?))
}

#[test]
fn words_come_first_and_what_was_proved_moves_along() {
    let state = Arc::new(State::default());
    state.open(uri(), None, 1, "is too close".to_owned());
    let (Some(worker), mut said, _) = start(&state) else { return };
    worker.changed(uri());
    assert_eq!(codes(said.blocking_recv()), Some((1, vec![("C002", 2)])));
    std::thread::sleep(2 * PAUSE);
    // A word is wrong now: that is told at once, with the proof of the text before at its place of now.
    state.change("u", 2, whole("misspelt, is too close"));
    worker.changed(uri());
    assert_eq!(codes(said.blocking_recv()), Some((2, vec![("M001", 2), ("C002", 12)])));
    assert_eq!(codes(said.blocking_recv()), Some((2, vec![("M001", 2), ("C002", 2)])));
    std::thread::sleep(2 * PAUSE);
    // The same words are wrong: there is nothing to be told before the proof.
    state.change("u", 3, whole("misspelt, isn't close"));
    worker.changed(uri());
    assert_eq!(codes(said.blocking_recv()), Some((3, vec![("M001", 2)])));
    // Nor is there in haste.
    state.change("u", 4, whole("is too close"));
    worker.changed(uri());
    assert_eq!(codes(said.blocking_recv()), Some((4, vec![("C002", 2)])));
    drop(worker);
    assert_eq!(said.blocking_recv(), None);
}

fn uri() -> Uri {
    "u".into()
}

fn whole(text: &str) -> Vec<Change> {
    vec![Change { range: None, text: text.to_owned() }]
}

fn version(said: Option<Said>) -> Option<i32> {
    match said {
        Some(Said::Report(report)) => report.version,
        _ => None,
    }
}

#[test]
fn a_stumble_is_told_and_survived() {
    let state = Arc::new(State::default());
    state.open(uri(), None, 1, "panic".to_owned());
    let (Some(worker), mut said, _) = start(&state) else { return };
    worker.changed(uri());
    let Some(Said::Report(report)) = said.blocking_recv() else { unreachable!() };
    assert!(report.messages.iter().any(|m| m.text.contains("stumbled")));
    state.change("u", 2, whole("well"));
    worker.changed(uri());
    assert_eq!(version(said.blocking_recv()), Some(2));
}

#[test]
fn many_edits_are_few_reports_and_the_last_one_is_the_last() {
    let state = Arc::new(State::default());
    state.open(uri(), None, 0, "slow".to_owned());
    let (Some(worker), mut said, runs) = start(&state) else { return };
    for number in 1..=200 {
        state.change("u", number, whole("slow"));
        worker.changed(uri());
    }
    assert_eq!(version(said.blocking_recv()), Some(200));
    assert!(runs.load(Ordering::SeqCst) <= 3);
    assert!(said.try_recv().is_err());
}

#[test]
fn closing_clears_once_even_while_a_report_is_made() {
    let state = Arc::new(State::default());
    state.open(uri(), None, 1, "well".to_owned());
    let (Some(worker), mut said, _) = start(&state) else { return };
    worker.changed(uri());
    assert_eq!(version(said.blocking_recv()), Some(1));
    state.change("u", 2, whole("slow"));
    worker.changed(uri());
    std::thread::sleep(Duration::from_millis(30));
    state.close("u");
    worker.changed(uri());
    worker.changed(uri());
    let cleared = Report { uri: uri(), version: None, messages: Vec::new(), held: false };
    assert_eq!(said.blocking_recv(), Some(Said::Report(cleared)));
    drop(worker);
    assert_eq!(said.blocking_recv(), None);
}

#[test]
fn a_stumble_over_one_question_costs_its_answer_alone() {
    let state = Arc::new(State::default());
    state.open(uri(), None, 1, "recipe t {}".to_owned());
    let (Some(worker), _said, _) = start(&state) else { return };
    let stumbled = worker.look(uri(), state.snapshot(), |_| assert!(std::hint::black_box(false), "on purpose"));
    assert!(stumbled.blocking_recv().is_err());
    let length = worker.look(uri(), state.snapshot(), |here| here.text().len());
    assert_eq!(length.blocking_recv(), Ok(Ok(11)));
    let before = state.snapshot();
    state.change("u", 2, whole("new"));
    assert_eq!(worker.look(uri(), before, |_| ()).blocking_recv(), Ok(Err(Refusal::Overtaken)));
    assert_eq!(worker.look("o".into(), state.snapshot(), |_| ()).blocking_recv(), Ok(Err(Refusal::NotOpen)));
}

#[test]
fn an_overtaken_question_says_so() {
    let state = Arc::new(State::default());
    state.agree(Client { pulls: true, ..Client::default() });
    state.open(uri(), None, 1, "well".to_owned());
    let (Some(worker), mut said, _) = start(&state) else { return };
    let before = state.snapshot();
    assert!(matches!(worker.ask(uri(), Arc::clone(&before)).blocking_recv(), Ok(Answer::Report(_))));
    state.change("u", 2, whole("new"));
    assert_eq!(worker.ask(uri(), before).blocking_recv(), Ok(Answer::Overtaken));
    assert_eq!(worker.ask("other".into(), state.snapshot()).blocking_recv(), Ok(Answer::NotOpen));
    worker.files_changed(&state.snapshot());
    assert_eq!(said.blocking_recv(), Some(Said::Refresh));
    worker.changed(uri());
    drop(worker);
    assert_eq!(said.blocking_recv(), None, "a client that asks is sent nothing");
}
