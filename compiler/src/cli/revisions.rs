//! Old texts, from git: what a revision held, and which revisions changed a file.

use super::stop::Stop;
use coatwright::{diagnostic::code, workspace::MOST};
use std::{
    cell::RefCell,
    collections::HashMap,
    io::{self, BufRead, BufReader, Write},
    path::{Component, Path, PathBuf},
    process::{Command, Output, Stdio},
    sync::Arc,
};

/// Texts with their paths, as seen from the folder we are in.
pub(super) type Texts = Vec<(PathBuf, Arc<str>)>;

/// A revision that changed something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Commit {
    /// What git calls it.
    pub(super) id: String,
    /// The same, short.
    pub(super) short: String,
    /// The day, as `2026-11-24`.
    pub(super) day: String,
    /// Its first line.
    pub(super) subject: String,
}

/// Where old texts come from.
pub(super) trait Revisions {
    /// Every `.trim` text of a revision; an empty name stands for what is staged.
    fn texts(&self, revision: &str) -> Result<Texts, Stop>;

    /// The revisions that touched any `.trim` file below a folder, the newest first, beginning with one.
    fn history(&self, from: &str, most: usize) -> Result<Vec<Commit>, Stop>;
}

/// The system's git, in the repository around the folder we are in.
pub(super) struct Git {
    /// The folder we are in, as seen from the top: empty, or ending in `/`.
    prefix: String,
    /// Texts that were read, by what git calls them.
    known: RefCell<HashMap<String, Arc<str>>>,
}

impl Git {
    /// The repository around this folder.
    pub(super) fn here() -> Result<Self, Stop> {
        let output = git(&["rev-parse", "--show-prefix"])?;
        if !output.status.success() {
            let words = "this folder lies in no git repository, so that there are no old texts; `git init` makes one";
            return Err(said(code::G002, words));
        }
        let prefix = String::from_utf8_lossy(&output.stdout).trim_end_matches(['\n', '\r']).to_owned();
        Ok(Self { prefix, known: RefCell::default() })
    }

    /// A path from the top, as seen from the folder we are in. None if it could lie outside.
    fn seen(&self, path: &str) -> Option<PathBuf> {
        let plain = Path::new(path).components().all(|c| matches!(c, Component::Normal(_)));
        let hidden = path.split('/').any(|part| part.starts_with('.') || part == "target" || part == "node_modules");
        if !plain || hidden {
            return None;
        }
        if let Some(rest) = path.strip_prefix(self.prefix.as_str()) {
            return Some(PathBuf::from(rest));
        }
        // As many folders up as are needed, and no more.
        let mut here: Vec<&str> = self.prefix.split('/').filter(|p| !p.is_empty()).collect();
        let mut there: Vec<&str> = path.split('/').collect();
        while !here.is_empty() && there.len() > 1 && here.first() == there.first() {
            here.remove(0);
            there.remove(0);
        }
        Some(here.iter().map(|_| "..").chain(there).collect())
    }

    /// What git calls the tree of a revision.
    fn tree(revision: &str) -> Result<String, Stop> {
        let unknown = || {
            let words = format!("there is neither a file nor a revision called `{revision}`");
            said(code::G002, &format!("{words}; `git log` and `git branch` list revisions"))
        };
        // A name that begins so is an option to git.
        if revision.starts_with('-') {
            return Err(unknown());
        }
        let output = git(&["rev-parse", "--verify", "--quiet", "--end-of-options", &format!("{revision}^{{tree}}")])?;
        let id = String::from_utf8_lossy(&output.stdout).trim().to_owned();
        if output.status.success() && !id.is_empty() { Ok(id) } else { Err(unknown()) }
    }

    /// What git calls each `.trim` file of a revision, with its path from the top.
    fn listed(revision: &str) -> Result<Vec<(String, String)>, Stop> {
        let staged = revision.is_empty();
        let tree;
        let words: Vec<&str> = if staged {
            vec!["ls-files", "--stage", "-z", "--full-name", ":/"]
        } else {
            tree = Self::tree(revision)?;
            vec!["ls-tree", "-r", "-z", "--full-tree", &tree]
        };
        let output = git(&words)?;
        if !output.status.success() {
            return Err(failed(&output));
        }
        let mut out = Vec::new();
        for line in output.stdout.split(|b| *b == 0).filter(|l| !l.is_empty()) {
            let line = String::from_utf8_lossy(line);
            let Some((about, path)) = line.split_once('\t') else { continue };
            let mut words = about.split(' ');
            let (mode, second, third) = (words.next(), words.next(), words.next());
            let id = if staged { second } else { third };
            // Links aren't followed: a workspace ends at its folder.
            let plain = mode.is_some_and(|m| m.starts_with("100"));
            if let Some(id) = id.filter(|_| plain && path.ends_with(".trim")) {
                out.push((id.to_owned(), path.to_owned()));
            }
        }
        if out.len() > MOST {
            let words = format!("`{revision}` holds more than {MOST} .trim files: name a smaller folder");
            return Err(said(code::G002, &words));
        }
        Ok(out)
    }

    /// Every text that a file of such a name had in any revision that a branch or tag reaches, each once.
    pub(super) fn ever(&self, name: &str) -> Result<Vec<Arc<str>>, Stop> {
        let anywhere = format!(":(top,glob)**/{name}");
        let words =
            ["log", "--all", "--full-history", "-m", "--raw", "--no-abbrev", "--no-renames", "--format=", "-z", "--"];
        let output = git(&[&words[..], &[&anywhere]].concat())?;
        if !output.status.success() {
            return Err(failed(&output));
        }
        // `:100644 100644 OLD NEW M`, then the path.
        let heads = output.stdout.split(|b| *b == 0).filter(|part| part.starts_with(b":"));
        let ids = heads.filter_map(|head| {
            let head = String::from_utf8_lossy(head);
            let mut words = head.split(' ').skip(1);
            let plain = words.next().is_some_and(|mode| mode.starts_with("100"));
            words.nth(1).filter(|_| plain).map(str::to_owned)
        });
        let ids: Vec<String> = ids.collect::<std::collections::BTreeSet<_>>().into_iter().collect();
        self.read(&ids)?;
        let known = self.known.borrow();
        Ok(ids.iter().filter_map(|id| known.get(id).cloned()).collect())
    }

    /// Reads texts that aren't known yet, all through one git.
    fn read(&self, ids: &[String]) -> Result<(), Stop> {
        let missing: Vec<String> = {
            let known = self.known.borrow();
            ids.iter().filter(|id| !known.contains_key(*id)).cloned().collect()
        };
        if missing.is_empty() {
            return Ok(());
        }
        let mut child = Command::new("git")
            .args(["cat-file", "--batch"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|e| no_git(&e))?;
        let (Some(mut asks), Some(tells)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(said(code::G002, "git can't be asked for old texts"));
        };
        let lines: String = missing.iter().map(|id| format!("{id}\n")).collect();
        // Both at once: git stops to read while nobody takes what it tells.
        let asking = std::thread::spawn(move || asks.write_all(lines.as_bytes()));
        let told = self.take(&mut BufReader::new(tells), &missing);
        let _ = asking.join();
        let _ = child.wait();
        told
    }

    fn take(&self, tells: &mut impl BufRead, ids: &[String]) -> Result<(), Stop> {
        let broken = |e: &io::Error| said(code::G002, &format!("git stopped while it told an old text: {e}"));
        let mut known = self.known.borrow_mut();
        for id in ids {
            let mut head = String::new();
            tells.read_line(&mut head).map_err(|e| broken(&e))?;
            let size = head.trim_end().rsplit(' ').next().and_then(|n| n.parse::<usize>().ok());
            let Some(size) = size else {
                return Err(said(
                    code::G002,
                    &format!("git doesn't have the text {id} (a shallow clone? `git fetch --unshallow`)"),
                ));
            };
            let mut bytes = vec![0; size + 1];
            tells.read_exact(&mut bytes).map_err(|e| broken(&e))?;
            bytes.truncate(size);
            // As from a disk: text in UTF-8, or none.
            if let Ok(text) = String::from_utf8(bytes) {
                known.insert(id.clone(), text.into());
            }
        }
        Ok(())
    }
}

impl Revisions for Git {
    fn texts(&self, revision: &str) -> Result<Texts, Stop> {
        let listed = Self::listed(revision)?;
        let listed: Vec<(String, PathBuf)> =
            listed.into_iter().filter_map(|(id, path)| self.seen(&path).map(|seen| (id, seen))).collect();
        let ids: Vec<String> = listed.iter().map(|(id, _)| id.clone()).collect();
        self.read(&ids)?;
        let known = self.known.borrow();
        let text = |(id, path): (String, PathBuf)| match known.get(&id) {
            Some(text) => Ok((path, Arc::clone(text))),
            None => Err(said(code::G002, &format!("{} isn't a text in UTF-8 in `{revision}`", path.display()))),
        };
        listed.into_iter().map(text).collect()
    }

    fn history(&self, from: &str, most: usize) -> Result<Vec<Commit>, Stop> {
        Self::tree(from)?;
        let most = format!("--max-count={most}");
        let form = "--format=%H%x1f%h%x1f%as%x1f%s";
        let output = git(&["log", "--first-parent", &most, form, "--end-of-options", from, "--", ":/*.trim"])?;
        if !output.status.success() {
            return Err(failed(&output));
        }
        let text = String::from_utf8_lossy(&output.stdout);
        let commit = |line: &str| {
            let mut parts = line.split('\u{1f}').map(str::to_owned);
            Some(Commit { id: parts.next()?, short: parts.next()?, day: parts.next()?, subject: parts.next()? })
        };
        Ok(text.lines().filter_map(commit).collect())
    }
}

/// Runs git and takes what it writes.
pub(super) fn git(words: &[&str]) -> Result<Output, Stop> {
    Command::new("git").args(words).stdin(Stdio::null()).output().map_err(|e| no_git(&e))
}

fn no_git(error: &io::Error) -> Stop {
    match error.kind() {
        io::ErrorKind::NotFound => said(
            code::G001,
            "git isn't installed, and old texts are kept by git: install it (`apt install git`, `brew install git`, \
             `winget install Git.Git`)",
        ),
        _ => said(code::G001, &format!("git can't be started: {error}")),
    }
}

fn failed(output: &Output) -> Stop {
    let words = String::from_utf8_lossy(&output.stderr);
    let line = words.lines().next().unwrap_or("git said nothing of why").trim_start_matches("fatal: ");
    said(code::G002, &format!("git can't tell the old texts: {line}"))
}

/// A message with its code, in one line.
pub(super) fn said(code: &str, words: &str) -> Stop {
    Stop::because(format!("error[{code}]: {words}"))
}
