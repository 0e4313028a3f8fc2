//! The one thread that analyses. It takes the latest texts, and what an edit has overtaken meanwhile is dropped.
//!
//! Everything that is sent unasked comes from this thread, clearing included, so that what the editor gets last is about
//! what it sent last.

mod inbox;

use crate::around::{Around, Here};
use crate::features::dependants::{self, Beside};
use crate::features::diagnostics::{Ask, Level, Message, Report, WRITING, report};
use crate::house::{Disk, Root, TRUSTED};
use crate::lines::{Position, Range};
use crate::state::{Document, Documents, Snapshot, State, Uri};
use inbox::{Inbox, Job, Look, Of, Question, Work};
use std::collections::{BTreeSet, HashMap};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;
use tokio::sync::{mpsc, oneshot};

/// What the thread says.
#[derive(Debug, PartialEq, Eq)]
pub enum Said {
    /// A document's messages, to be shown in place of those before.
    Report(Report),
    /// Other documents than the one that changed may have other messages: ask again.
    Refresh,
}

/// The answer to a question.
#[derive(Debug, PartialEq, Eq)]
pub enum Answer {
    /// The document's messages.
    Report(Report),
    /// The document has changed since; ask again.
    Overtaken,
    /// The document isn't open.
    NotOpen,
}

/// Why something asked about a document has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The document has changed since.
    Overtaken,
    /// The document isn't open.
    NotOpen,
}

/// Hands work to the thread. Dropping it ends the thread.
#[derive(Debug)]
pub struct Worker(Arc<Inbox>);

/// The thread's stack: deep enough for what the grammar lets through, debug builds included.
const STACK: usize = 32 * 1024 * 1024;

impl Worker {
    /// Starts the thread.
    ///
    /// # Errors
    /// The system gives no thread.
    pub fn start(state: Arc<State>, out: mpsc::Sender<Said>) -> std::io::Result<Self> {
        Self::start_with(state, out, report)
    }

    fn start_with(
        state: Arc<State>,
        out: mpsc::Sender<Said>,
        analyse: impl FnMut(&Ask<'_>, &mut Disk) -> Vec<Report> + Send + 'static,
    ) -> std::io::Result<Self> {
        let inbox = Arc::new(Inbox::default());
        let inside = Arc::clone(&inbox);
        // What it keeps isn't for other threads, so it is made there.
        let run = move || {
            let disk = Disk::default();
            Thread {
                inbox: inside,
                state,
                out,
                analyse,
                sent: HashMap::new(),
                disk,
                held: None,
                news: false,
                looked: true,
            }
            .run();
        };
        std::thread::Builder::new().name("analysis".to_owned()).stack_size(STACK).spawn(run)?;
        Ok(Self(inbox))
    }

    /// A document was opened, changed or closed.
    pub fn changed(&self, uri: Uri) {
        self.0.put(|work| {
            work.changed.insert(uri);
        });
    }

    /// Files on disk may have changed: what stands beside the open documents is looked at again.
    pub fn files_changed(&self, documents: &Documents) {
        self.0.put(|work| work.doubt = true);
        self.documents_changed(documents);
    }

    /// Other documents are open than before: one that is open counts, and not what is on disk under its name.
    pub fn documents_changed(&self, documents: &Documents) {
        self.0.put(|work| {
            work.others = true;
            work.refresh = true;
            work.changed.extend(documents.keys().cloned());
        });
    }

    /// Asks for the messages of one document, as it is in a snapshot. A dropped answer is work that isn't begun.
    pub fn ask(&self, uri: Uri, snapshot: Snapshot) -> oneshot::Receiver<Answer> {
        let (answer, receiver) = oneshot::channel();
        self.0.put(|work| work.questions.push(Question { uri, snapshot, of: Of::Messages(answer) }));
        receiver
    }

    /// Has some work done about one document, as it is in a snapshot. A stumble costs this answer and nothing else.
    pub fn look<T: Send + 'static>(
        &self,
        uri: Uri,
        snapshot: Snapshot,
        work: impl FnOnce(&Here<'_>) -> T + Send + 'static,
    ) -> oneshot::Receiver<Result<T, Refusal>> {
        let (answer, receiver) = oneshot::channel();
        self.0.put(|queue| {
            queue.questions.push(Question { uri, snapshot, of: Of::Other(Box::new(Look { work, answer })) });
        });
        receiver
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.0.put(|work| work.over = true);
    }
}

struct Thread<A> {
    inbox: Arc<Inbox>,
    state: Arc<State>,
    out: mpsc::Sender<Said>,
    analyse: A,
    /// What the editor shows: a document's opening, and the last report about it.
    sent: HashMap<Uri, (u64, Report)>,
    /// The files as they were read last.
    disk: Disk,
    /// Documents with a message that is held back, and until when.
    held: Option<(Instant, BTreeSet<Uri>)>,
    /// The folders were looked through since something was done last.
    looked: bool,
    /// An editor that asks for messages doesn't know yet that there are others of files that aren't open.
    news: bool,
}

impl<A: FnMut(&Ask<'_>, &mut Disk) -> Vec<Report>> Thread<A> {
    fn run(mut self) {
        loop {
            let due = self.disk.arounds.values().any(|around| !around.dependants.due.is_empty());
            let now = Instant::now();
            let held = self.held.as_ref().map(|(until, _)| *until);
            let stale = self.disk.stale;
            let looks = (!self.looked && !self.disk.watched).then(|| if stale { now } else { now + TRUSTED });
            let mut work = self.inbox.take(if due { Some(now) } else { held.into_iter().chain(looks).min() });
            if work.over {
                return;
            }
            self.looked &= work.is_empty();
            // After some work, and when there is no more: what nobody tells of is looked for.
            if work.is_empty() && (!due || stale) && looks.is_some_and(|when| when <= Instant::now()) {
                self.looked = true;
                if self.disk.look_again() {
                    work.changed.extend(self.state.snapshot().keys().cloned());
                    work.refresh = true;
                }
            }
            // Nobody waits for anything: what hangs on an edit elsewhere is looked at now.
            if work.is_empty() && due && !self.beside(&mut work) {
                return;
            }
            // The author has paused: what was held back is told now.
            if let Some((_, uris)) = self.held.take_if(|(until, _)| *until <= Instant::now()) {
                work.changed.extend(uris);
                work.refresh = true;
            }
            // What was listed before the client began to watch may have changed since.
            let watched = self.state.watched();
            work.doubt |= watched && !self.disk.watched;
            self.disk.watched = watched;
            let client = self.state.client();
            self.disk.mended = !client.pulls || client.refreshes;
            if work.doubt {
                self.disk.doubt();
            }
            for question in std::mem::take(&mut work.questions) {
                self.answer(question);
            }
            let told = if client.pulls {
                !(work.refresh && client.refreshes) || self.say(Said::Refresh)
            } else {
                self.publish(&work.changed.into_iter().collect::<Vec<_>>())
            };
            let told = told && (!work.others || self.take_back(&self.state.snapshot()));
            if !told {
                return;
            }
        }
    }

    fn answer(&mut self, question: Question) {
        let Question { uri, snapshot, of } = question;
        let dropped = match &of {
            Of::Messages(answer) => answer.is_closed(),
            Of::Other(job) => job.is_dropped(),
        };
        if dropped {
            return;
        }
        let now = self.state.snapshot();
        let refusal = match (snapshot.get(&uri), now.get(&uri)) {
            (None, _) => Some(Refusal::NotOpen),
            (Some(then), Some(now)) if !same(then, now) => Some(Refusal::Overtaken),
            _ => None,
        };
        match of {
            Of::Messages(answer) => {
                let answered = match refusal {
                    Some(Refusal::Overtaken) => Answer::Overtaken,
                    Some(Refusal::NotOpen) => Answer::NotOpen,
                    None => match self.fenced(&snapshot, std::slice::from_ref(&uri), true).pop() {
                        Some(report) => Answer::Report(report),
                        None => Answer::NotOpen,
                    },
                };
                // Nobody waits any more: then nobody is told.
                let _ = answer.send(answered);
            }
            Of::Other(job) => match refusal {
                Some(why) => job.refuse(why),
                // A job that stumbles drops its answer, and whoever waits for it is told so.
                None => {
                    let _ = catch_unwind(AssertUnwindSafe(|| self.job(uri, snapshot, job)));
                }
            },
        }
    }

    fn job(&mut self, uri: Uri, snapshot: Snapshot, job: Box<dyn Job>) {
        let root = snapshot.get(&uri).and_then(|d| d.path.as_deref()).and_then(|p| Root::of(p, &snapshot));
        let (columns, table) = (self.state.client().columns, self.state.table());
        let around = Around::read(&snapshot, root.as_ref(), &mut self.disk, &[&uri], columns, table);
        if let Some(file) = around.file(&snapshot, &uri) {
            job.run(&Here { around: &around, file });
        }
        around.keep(&mut self.disk);
    }

    /// Reports on what changed. Says whether anybody still listens.
    fn publish(&mut self, changed: &[Uri]) -> bool {
        let before = self.state.snapshot();
        let mut reports = self.fenced(&before, changed, false);
        let closed = changed.iter().filter(|uri| !before.contains_key(*uri));
        reports.extend(closed.map(|uri| Report {
            uri: Uri::clone(uri),
            version: None,
            messages: Vec::new(),
            held: false,
        }));
        let now = self.state.snapshot();
        for report in reports {
            let news = match (before.get(&report.uri), now.get(&report.uri)) {
                (Some(then), Some(now)) if same(then, now) => {
                    let entry = (now.opening, report.clone());
                    self.sent.insert(Uri::clone(&report.uri), entry.clone()) != Some(entry)
                }
                (None, None) => self.sent.remove(&report.uri).is_some(),
                // Overtaken: the document is in the inbox again.
                _ => false,
            };
            if news && !self.say(Said::Report(report)) {
                return false;
            }
        }
        true
    }

    /// An analysis that stumbles costs its messages and not the session.
    fn fenced(&mut self, documents: &Snapshot, about: &[Uri], only: bool) -> Vec<Report> {
        let ask = Ask { documents, about, only, columns: self.state.client().columns, table: self.state.table() };
        let reports = catch_unwind(AssertUnwindSafe(|| (self.analyse)(&ask, &mut self.disk))).unwrap_or_else(|_| {
            let open = about.iter().filter_map(|uri| Some((uri, documents.get(uri)?)));
            open.map(|(uri, document)| stumbled(uri, document)).collect()
        });
        for report in reports.iter().filter(|r| r.held) {
            let (until, uris) = self.held.get_or_insert_with(|| (Instant::now(), BTreeSet::new()));
            *until = Instant::now() + WRITING;
            uris.insert(Uri::clone(&report.uri));
        }
        reports
    }

    /// Checks some of the files that aren't open and hang on what changed, and tells of them. Whether anybody still listens.
    fn beside(&mut self, work: &mut Work) -> bool {
        let mut arounds = self.disk.arounds.values_mut();
        let Some(around) = arounds.find(|around| !around.dependants.due.is_empty()) else { return true };
        let found = catch_unwind(AssertUnwindSafe(|| dependants::some(around))).unwrap_or_else(|_| {
            // What stumbles here stumbles again where it is opened, and is told there.
            around.dependants.due.clear();
            Vec::new()
        });
        let last = around.dependants.due.is_empty();
        if last && around.dependants.inherits() {
            work.changed.extend(around.open_uris());
        }
        let pulls = self.state.client().pulls;
        for Beside { path, report } in found {
            self.news |= self.state.keep_beside(path, &report);
            if !pulls && self.news && !self.say(Said::Report(report)) {
                return false;
            }
            self.news &= pulls;
        }
        work.refresh |= last && (!work.changed.is_empty() || std::mem::take(&mut self.news));
        true
    }

    /// Takes back what was told of files that were opened, that are gone, or that nothing open hangs with any more.
    fn take_back(&mut self, documents: &Documents) -> bool {
        let paths = documents.values().filter_map(|document| document.path.as_deref());
        let roots: BTreeSet<Root> = paths.filter_map(|path| Root::of(path, documents)).collect();
        let stale = |path: &Path| {
            let open = documents.values().any(|document| document.path.as_deref() == Some(path));
            open || !roots.iter().any(|root| root.holds(path)) || !path.is_file()
        };
        // Where the editor calls the file the same, what is told of the open document has taken its place.
        let taken = self.state.forget_beside(stale).into_iter().filter(|report| !documents.contains_key(&report.uri));
        self.state.client().pulls
            || taken.into_iter().all(|report| self.say(Said::Report(Report { messages: Vec::new(), ..report })))
    }

    fn say(&self, said: Said) -> bool {
        self.out.blocking_send(said).is_ok()
    }
}

fn same(a: &Document, b: &Document) -> bool {
    a.opening == b.opening && a.version == b.version && Arc::ptr_eq(&a.text, &b.text)
}

fn stumbled(uri: &Uri, document: &Document) -> Report {
    let start = Position { line: 0, column: 0 };
    let text = "Coatwright stumbled over this text, so its other messages are missing\n\
        That is a mistake in Coatwright. Change the line you wrote last, and please report it.";
    let message = Message {
        range: Range { start, end: start },
        severity: Level::Error,
        code: None,
        text: text.to_owned(),
        related: Vec::new(),
        idle: false,
        page: None,
    };
    Report { uri: Uri::clone(uri), version: Some(document.version), messages: vec![message], held: false }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::{Change, Client};
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    /// A thread that stumbles over the text `panic`, takes its time for `slow`, and reports nothing otherwise.
    fn start(state: &Arc<State>) -> (Option<Worker>, mpsc::Receiver<Said>, Arc<AtomicUsize>) {
        let (out, said) = mpsc::channel(16);
        let runs = Arc::new(AtomicUsize::new(0));
        let count = Arc::clone(&runs);
        let worker = Worker::start_with(Arc::clone(state), out, move |ask, _| {
            count.fetch_add(1, Ordering::SeqCst);
            let open = ask.about.iter().filter_map(|uri| Some((uri, ask.documents.get(uri)?)));
            open.map(|(uri, document)| {
                assert_ne!(document.text.as_str(), "panic", "on purpose");
                if document.text.as_str() == "slow" {
                    std::thread::sleep(Duration::from_millis(100));
                }
                Report { uri: Uri::clone(uri), version: Some(document.version), messages: Vec::new(), held: false }
            })
            .collect()
        });
        (worker.ok(), said, runs)
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
        state.agree(Client { pulls: true, refreshes: true, ..Client::default() });
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
}
