//! `lock`: what the texts of a salon are, so that its sheets can be made again; and sheets from what was locked.

use super::{
    Found, diff, files,
    out::Out,
    revisions::{Git, Texts, said},
    run,
    stop::Stop,
    target::Target,
    write,
};
use coatwright::{
    diagnostic::code,
    lock::{Differs, LOCK, Lock, NoLock, Sum, basics, only_cards},
    workspace::Workspace,
};
use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
    sync::Arc,
};

/// Write down what the texts are, so that a sheet can be made again years later
///
/// The lock is a small file beside the house: what each text is, and the basics. Sheets made while it holds tell its name, and
/// `sheet --lock NAME` makes them again, with the old texts from git. Cards are left out unless `--cards` asks for them.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  coatwright lock                                  whenever the style is agreed
  coatwright lock --check                          in CI: do the texts still say what was agreed?
  coatwright sheet --dog bramble --lock 5f1a0c77d2e4 --on 2026-11-20")]
pub(super) struct Args {
    /// A folder or file of the salon [default: this folder]
    path: Option<PathBuf>,
    /// Write nothing; end with 1 if the texts aren't those of the lock
    #[arg(long)]
    check: bool,
    /// Lock files with nothing but cards and cases, too
    #[arg(long, conflicts_with = "check")]
    cards: bool,
}

pub(super) fn run(args: &Args, out: &mut Out) -> Result<Found, Stop> {
    let root = root(args.path.as_deref().unwrap_or(Path::new(".")));
    let path = if root == Path::new(".") { PathBuf::from(LOCK) } else { root.join(LOCK) };
    if !args.check {
        let lock = now(&root, args.cards)?;
        write::replace(&path, lock.to_string())?;
        let texts = counted(lock.texts.len());
        out.say(&format!("Written to {}: {texts}, lock {}.", diff::plain(&path).display(), lock.name()));
        return Ok(Found::Nothing);
    }
    let lock = read(&path)?;
    let differs = lock.differs(&now(&root, lock.cards)?);
    let same = lock.basics == basics();
    if differs.is_empty() && same {
        out.say(&format!("{} as locked, lock {}.", counted(lock.texts.len()), lock.name()));
        return Ok(Found::Nothing);
    }
    for (path, how) in &differs {
        let how = match how {
            Differs::Changed => "changed",
            Differs::New => "new",
            Differs::Gone => "gone",
        };
        out.write(&format!("{how:<9}{path}\n"))?;
    }
    if !same {
        out.write("changed  the basics\n")?;
    }
    let many = counted(differs.len() + usize::from(!same));
    let words = format!(
        "error[{}]: {many} not as locked. If they are meant so, `coatwright lock` locks them anew.",
        code::G005
    );
    out.say(&words);
    Ok(Found::Something)
}

fn counted(many: usize) -> String {
    if many == 1 { "1 text".to_owned() } else { format!("{many} texts") }
}

/// The folder of the house around a file or folder; without one, the folder itself.
fn root(path: &Path) -> PathBuf {
    let within = if path.is_dir() { path.join(LOCK) } else { path.to_path_buf() };
    coatwright::workspace::root_of(&within).0
}

/// The texts below a folder, each with its path as a lock has it.
fn texts(root: &Path) -> Result<BTreeMap<String, String>, Stop> {
    let named = |path: &Path| {
        let parts = path.strip_prefix(root).unwrap_or(path).components();
        parts.map(|part| part.as_os_str().to_string_lossy().into_owned()).collect::<Vec<_>>().join("/")
    };
    let found = files::find(&[root.to_path_buf()])?;
    found.into_iter().map(|path| Ok((named(&path), files::read(&path)?))).collect()
}

fn now(root: &Path, cards: bool) -> Result<Lock, Stop> {
    let texts = texts(root)?;
    Ok(Lock::of(texts.iter().map(|(path, text)| (path.clone(), text.as_str())), cards))
}

fn read(path: &Path) -> Result<Lock, Stop> {
    if !path.exists() {
        let words = format!("there is no {} yet: `coatwright lock` writes it", path.display());
        return Err(said(code::G008, &words));
    }
    Lock::read(&files::read(path)?).map_err(|why| broken(&path.display().to_string(), &why))
}

fn broken(name: &str, why: &NoLock) -> Stop {
    said(code::G008, &format!("{name} isn't a lock: {why}; `coatwright lock` writes it anew"))
}

/// The name of the lock that the texts around some files still are; none if there is no lock, or it doesn't hold.
pub(super) fn holding(targets: &[Option<&Target>]) -> Option<String> {
    let root = root_of(targets);
    let lock = Lock::read(&std::fs::read_to_string(root.join(LOCK)).ok()?).ok()?;
    let holds = lock.basics == basics() && lock.differs(&now(&root, lock.cards).ok()?).is_empty();
    holds.then(|| lock.name())
}

fn root_of(targets: &[Option<&Target>]) -> PathBuf {
    let file = targets.iter().flatten().find_map(|target| target.file.as_deref());
    root(file.unwrap_or(Path::new(".")))
}

/// The salon as a lock has it, and the lock's name. The lock is a file, or the name that an old sheet tells.
pub(super) fn salon(wanted: &str, targets: &[Option<&Target>], out: &mut Out) -> Result<(Workspace, String), Stop> {
    let root = root_of(targets);
    let lock = match Path::new(wanted) {
        file if file.is_file() => read(file)?,
        _ => named(wanted, &root)?,
    };
    if lock.basics != basics() {
        let words = format!(
            "this lock was made by coatwright {} with other basics than this one has ({}): take that version",
            lock.version,
            env!("CARGO_PKG_VERSION")
        );
        return Err(said(code::G007, &words));
    }
    if lock.version != env!("CARGO_PKG_VERSION") {
        let words = format!(
            "Locked by coatwright {}, made by {}: steps may be worded otherwise.",
            lock.version,
            env!("CARGO_PKG_VERSION")
        );
        out.say(&words);
    }
    let texts = locked(&lock, &root)?;
    Ok((run::of_texts(texts), lock.name()))
}

/// The texts of a lock: from the disk where they are there still, else from git. What a lock leaves out is as it is now.
fn locked(lock: &Lock, root: &Path) -> Result<Texts, Stop> {
    let mut here = if root.is_dir() { texts(root).unwrap_or_default() } else { BTreeMap::new() };
    let mut out: BTreeMap<String, Arc<str>> = BTreeMap::new();
    if !lock.cards {
        let cards = here.iter().filter(|(path, text)| !lock.texts.contains_key(*path) && only_cards(text));
        out.extend(cards.map(|(path, text)| (path.clone(), Arc::from(text.as_str()))));
    }
    let mut missing: BTreeMap<Sum, Vec<&String>> = BTreeMap::new();
    for (path, sum) in &lock.texts {
        match here.remove(path).filter(|text| Sum::of(text) == *sum) {
            Some(text) => {
                out.insert(path.clone(), text.into());
            }
            None => missing.entry(*sum).or_default().push(path),
        }
    }
    if !missing.is_empty() {
        for text in Git::here()?.ever("*.trim")? {
            for path in missing.remove(&Sum::of(&text)).unwrap_or_default() {
                out.insert(path.clone(), Arc::clone(&text));
            }
        }
    }
    if let Some(path) = missing.values().flatten().min() {
        let words = format!("{path} as it was locked is neither here nor in any revision of this repository");
        return Err(said(code::G006, &format!("{words}; a whole clone may have it (`git fetch --unshallow`)")));
    }
    Ok(out.into_iter().map(|(path, text)| (root.join(path), text)).collect())
}

/// The least of a lock's name that is looked for.
const LEAST: usize = 7;

/// The lock of a name, as it is or once was.
fn named(name: &str, root: &Path) -> Result<Lock, Stop> {
    let wanted = name.to_lowercase();
    let unknown =
        || said(code::G008, &format!("there is neither a file `{name}` nor a lock of that name, here or in git"));
    if wanted.len() < LEAST || !wanted.bytes().all(|b| b.is_ascii_hexdigit()) {
        return Err(unknown());
    }
    let is_it = |text: &str| Lock::read(text).ok().filter(|lock| lock.sum().starts_with(&wanted));
    let here = std::fs::read_to_string(root.join(LOCK)).ok().and_then(|text| is_it(&text));
    match here {
        Some(lock) => Ok(lock),
        None => Git::here()?.ever(LOCK)?.iter().find_map(|text| is_it(text)).ok_or_else(unknown),
    }
}
