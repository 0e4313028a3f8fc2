//! The demo salon in a repository of its own, and the program run there.
#![allow(dead_code)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

pub fn program() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let folder = own.parent().and_then(Path::parent).unwrap();
    folder.join(format!("coatwright{}", std::env::consts::EXE_SUFFIX))
}

/// The demo salon in a repository of its own, once committed.
pub struct Repo {
    folder: TempDir,
}

#[derive(Debug)]
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Ran {
    pub fn of(output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let ran = Self { code: output.status.code(), out: text(&output.stdout), err: text(&output.stderr) };
        assert!(!ran.err.contains("panicked"), "{ran:#?}");
        ran
    }

    #[track_caller]
    pub fn ends(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{self:#?}");
        self
    }
}

impl Repo {
    pub fn empty() -> Self {
        let repo = Self { folder: tempfile::tempdir().unwrap() };
        repo.git("init -q -b main").ends(0);
        // Nobody's own settings play a part.
        for line in [
            "config user.name A",
            "config user.email a@example.org",
            "config core.autocrlf false",
            "config commit.gpgsign false",
        ] {
            repo.git(line).ends(0);
        }
        repo
    }

    pub fn demo() -> Self {
        let repo = Self::empty();
        for (path, text) in crate::common::saltmarsh() {
            repo.write(path.file_name().unwrap().to_str().unwrap(), &text);
        }
        repo.commit("the salon");
        repo
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, text: &str) {
        fs::create_dir_all(self.path(name).parent().unwrap()).unwrap();
        fs::write(self.path(name), text).unwrap();
    }

    pub fn read(&self, name: &str) -> String {
        crate::common::read(&self.path(name))
    }

    /// Other words in a file, which must be there.
    #[track_caller]
    pub fn change(&self, name: &str, old: &str, new: &str) {
        let text = self.read(name);
        assert!(text.contains(old), "{name} doesn't hold {old}");
        self.write(name, &text.replacen(old, new, 1));
    }

    pub fn command(&self, program: &Path, words: &[&str]) -> Command {
        let mut command = Command::new(program);
        command.args(words).current_dir(self.folder.path()).stdin(Stdio::null());
        command
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("NO_COLOR", "1")
            .env("COLUMNS", "80");
        for name in ["GIT_DIR", "GIT_INDEX_FILE", "GIT_EXTERNAL_DIFF", "GIT_WORK_TREE"] {
            command.env_remove(name);
        }
        command
    }

    pub fn git(&self, line: &str) -> Ran {
        let words: Vec<&str> = line.split(' ').collect();
        Ran::of(&self.command(Path::new("git"), &words).output().unwrap())
    }

    pub fn run(&self, line: &str) -> Ran {
        let words: Vec<&str> = line.split(' ').filter(|w| !w.is_empty()).collect();
        Ran::of(&self.command(&program(), &words).output().unwrap())
    }

    pub fn commit(&self, words: &str) {
        self.git("add -A").ends(0);
        let ran = Ran::of(&self.command(Path::new("git"), &["commit", "-q", "-m", words]).output().unwrap());
        assert_eq!(ran.code, Some(0), "{ran:#?}");
    }
}
