//! What the analysis is asked: it waits here until the thread takes it.

use super::{Answer, Refusal};
use crate::around::Here;
use crate::state::{Snapshot, Uri};
use std::collections::BTreeSet;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// Work, and a bell for whoever waits for some.
#[derive(Debug, Default)]
pub(super) struct Inbox {
    work: Mutex<Work>,
    bell: Condvar,
}

/// What is to be done.
#[derive(Debug, Default)]
pub(super) struct Work {
    pub(super) changed: BTreeSet<Uri>,
    pub(super) questions: Vec<Question>,
    /// What is on disk may have changed.
    pub(super) doubt: bool,
    /// Other files count than before.
    pub(super) others: bool,
    pub(super) refresh: bool,
    pub(super) over: bool,
}

impl Work {
    pub(super) fn is_empty(&self) -> bool {
        self.changed.is_empty() && self.questions.is_empty() && !self.refresh && !self.over
    }
}

/// Something asked about a document.
#[derive(Debug)]
pub(super) struct Question {
    pub(super) uri: Uri,
    pub(super) snapshot: Snapshot,
    pub(super) of: Of,
}

/// What is asked.
#[derive(Debug)]
pub(super) enum Of {
    /// The messages.
    Messages(oneshot::Sender<Answer>),
    /// Anything else.
    Other(Box<dyn Job>),
}

/// Work of any kind about one document.
pub(super) trait Job: std::fmt::Debug + Send {
    /// Nobody waits for it any more.
    fn is_dropped(&self) -> bool;
    /// Answers that there is no answer.
    fn refuse(self: Box<Self>, why: Refusal);
    /// Does the work and answers.
    fn run(self: Box<Self>, here: &Here<'_>);
}

/// Any work, with whoever waits for it.
pub(super) struct Look<T, F> {
    pub(super) work: F,
    pub(super) answer: oneshot::Sender<Result<T, Refusal>>,
}

impl<T, F> std::fmt::Debug for Look<T, F> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Look")
    }
}

impl<T: Send, F: FnOnce(&Here<'_>) -> T + Send> Job for Look<T, F> {
    fn is_dropped(&self) -> bool {
        self.answer.is_closed()
    }

    fn refuse(self: Box<Self>, why: Refusal) {
        let _ = self.answer.send(Err(why));
    }

    fn run(self: Box<Self>, here: &Here<'_>) {
        let _ = self.answer.send(Ok((self.work)(here)));
    }
}

impl Inbox {
    pub(super) fn lock(&self) -> MutexGuard<'_, Work> {
        self.work.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn put(&self, what: impl FnOnce(&mut Work)) {
        what(&mut self.lock());
        self.bell.notify_one();
    }

    /// Waits for work and takes all of it; no longer than until a moment, if one is given.
    pub(super) fn take(&self, until: Option<Instant>) -> Work {
        let idle = |work: &mut Work| work.is_empty();
        let mut work = match until {
            Some(until) => {
                let left = until.saturating_duration_since(Instant::now());
                let waited = self.bell.wait_timeout_while(self.lock(), left, idle);
                waited.unwrap_or_else(PoisonError::into_inner).0
            }
            None => self.bell.wait_while(self.lock(), idle).unwrap_or_else(PoisonError::into_inner),
        };
        std::mem::take(&mut *work)
    }

    /// Waits whether more edits come, and takes them along; a question doesn't wait.
    pub(super) fn more(&self, mut work: Work, wait: Duration) -> Work {
        let quiet = |more: &mut Work| more.questions.is_empty() && !more.over;
        let waited = self.bell.wait_timeout_while(self.lock(), wait, quiet);
        let Work { changed, questions, doubt, others, refresh, over } =
            std::mem::take(&mut *waited.unwrap_or_else(PoisonError::into_inner).0);
        work.changed.extend(changed);
        work.questions.extend(questions);
        work.doubt |= doubt;
        work.others |= others;
        work.refresh |= refresh;
        work.over |= over;
        work
    }
}
