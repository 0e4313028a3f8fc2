//! The one thread that analyses. It takes the latest texts, and what an edit has overtaken meanwhile is dropped.
//!
//! Everything that is sent unasked comes from this thread, clearing included, so that what the editor gets last is about
//! what it sent last.

mod inbox;
mod sent;
#[cfg(test)]
mod tests;

use crate::around::{Around, Here};
use crate::features::dependants::{self, Beside};
use crate::features::diagnostics::{Ask, Early, Report, WRITING, report};
use crate::house::{AT_LAST, Disk, Root, TRUSTED};
use crate::state::{Document, Documents, Snapshot, State, Uri};
use inbox::{Inbox, Job, Look, Of, Question, Work};
use sent::Sent;
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
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

/// Edits that follow each other quicker than this come from no hand. Of those that come together the last is told, and once.
const PAUSE: Duration = Duration::from_millis(30);
/// So long it is waited for more of them.
const TOGETHER: Duration = Duration::from_millis(8);

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
        analyse: impl FnMut(&Ask<'_>, &mut Disk, Option<Early<'_>>) -> Vec<Report> + Send + 'static,
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
                sent: Sent::default(),
                disk,
                held: None,
                news: false,
                looked: true,
                looked_at: Instant::now(),
                rests: None,
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
    sent: Sent,
    /// The files as they were read last.
    disk: Disk,
    /// Documents with a message that is held back, and until when.
    held: Option<(Instant, BTreeSet<Uri>)>,
    /// The folders were looked through since something was done last.
    looked: bool,
    /// When they were looked through last.
    looked_at: Instant,
    /// An editor that asks for messages doesn't know yet that there are others of files that aren't open.
    news: bool,
    /// When documents were looked at last.
    rests: Option<Instant>,
}

impl<A: FnMut(&Ask<'_>, &mut Disk, Option<Early<'_>>) -> Vec<Report>> Thread<A> {
    fn run(mut self) {
        loop {
            let due = self.disk.arounds.values().any(|around| around.dependants.waits());
            let now = Instant::now();
            let held = self.held.as_ref().map(|(until, _)| *until);
            let stale = self.disk.stale;
            // Of somebody who never pauses, too.
            let quiet = if stale { now } else { (now + TRUSTED).min(self.looked_at + AT_LAST) };
            let looks = (!self.looked && !self.disk.watched).then_some(quiet);
            let mut work = self.inbox.take(if due { Some(now) } else { held.into_iter().chain(looks).min() });
            if !work.changed.is_empty()
                && work.questions.is_empty()
                && self.rests.is_some_and(|when| when.elapsed() < PAUSE)
            {
                work = self.inbox.more(work, TOGETHER);
            }
            if work.over {
                return;
            }
            self.looked &= work.is_empty();
            // After some work, and when there is no more: what nobody tells of is looked for.
            if work.is_empty() && (!due || stale) && looks.is_some_and(|when| when <= Instant::now()) {
                self.looked = true;
                self.looked_at = Instant::now();
                if self.disk.look_again() {
                    work.changed.extend(self.state.snapshot().keys().cloned());
                    work.refresh = true;
                    // A file may be gone of which something was told.
                    work.others = true;
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
            if work.doubt {
                self.disk.doubt();
            }
            for question in std::mem::take(&mut work.questions) {
                self.answer(question);
            }
            let told = if client.pulls {
                !work.refresh || self.say(Said::Refresh)
            } else {
                self.publish(&work.changed.into_iter().collect::<Vec<_>>())
            };
            let others = work.others || !self.disk.dropped.is_empty();
            let told = told && (!others || self.take_back(&self.state.snapshot()));
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
        reports.into_iter().all(|report| {
            let news = match (before.get(&report.uri), now.get(&report.uri)) {
                (Some(then), Some(now)) if same(then, now) => self.sent.is_news(&report, now),
                (None, None) => self.sent.is_taken_back(&report),
                // Overtaken: the document is in the inbox again.
                _ => false,
            };
            !news || self.say(Said::Report(report))
        })
    }

    /// An analysis that stumbles costs its messages and not the session.
    fn fenced(&mut self, documents: &Snapshot, about: &[Uri], only: bool) -> Vec<Report> {
        let ask = Ask { documents, about, only, columns: self.state.client().columns, table: self.state.table() };
        let Self { inbox, state, out, analyse, sent, disk, rests, .. } = self;
        // Words and names are told before the proof, if they say something else than before and nothing else waits.
        let rested = rests.is_none_or(|when| when.elapsed() > PAUSE + TOGETHER);
        let mut early = |report: Report| {
            let now = state.snapshot();
            let open = documents.get(&report.uri).zip(now.get(&report.uri)).filter(|(then, now)| same(then, now));
            let Some((_, document)) = open.filter(|_| inbox.lock().is_empty()) else { return };
            let first = sent.words_first(report, document, ask.columns);
            if let Some(report) = first.filter(|report| sent.is_news(report, document)) {
                // If nobody listens any more, the report with the proof finds that out.
                let _ = out.blocking_send(Said::Report(report));
            }
        };
        let early: Option<Early<'_>> = (!only && rested).then_some(&mut early);
        let reports = catch_unwind(AssertUnwindSafe(|| analyse(&ask, disk, early))).unwrap_or_else(|_| {
            let open = about.iter().filter_map(|uri| Some((uri, documents.get(uri)?)));
            open.map(|(uri, document)| Report::stumbled(uri, document.version)).collect()
        });
        *rests = Some(Instant::now());
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
        let Some(around) = arounds.find(|around| around.dependants.waits()) else { return true };
        let found = catch_unwind(AssertUnwindSafe(|| dependants::some(around))).unwrap_or_else(|_| {
            // What stumbles here stumbles again where it is opened, and is told there.
            around.dependants.give_up();
            Vec::new()
        });
        let last = !around.dependants.waits();
        if last && around.dependants.news() {
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
        // Of some nothing was open for a moment, though there is again.
        let dropped = std::mem::take(&mut self.disk.dropped);
        let stale = |path: &Path| {
            let open = documents.values().any(|document| document.path.as_deref() == Some(path));
            let dropped = || Root::of(path, documents).is_some_and(|root| dropped.contains(&root));
            open || !roots.iter().any(|root| root.holds(path)) || !path.is_file() || dropped()
        };
        // Where the editor calls the file the same, what is told of the open document has taken its place; if it was told: one that
        // was closed again at once never is.
        let (forgotten, sent) = (self.state.forget_beside(stale), &self.sent);
        let taken: Vec<Report> = forgotten.into_iter().filter(|report| !sent.shows(&report.uri)).collect();
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
