//! Which recipe or card is meant: `harbour-short`, `short.trim` or `short.trim#harbour-short`.

use super::{run, stop::Stop};
use std::{convert::Infallible, path::PathBuf, str::FromStr};

/// A recipe or card by name, by file, or by both.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Target {
    /// The file to look in.
    pub(super) file: Option<PathBuf>,
    /// The name, as the language writes it.
    pub(super) name: Option<String>,
}

impl FromStr for Target {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        let is_file = |t: &str| t.to_ascii_lowercase().ends_with(".trim") || t.contains(['/', '\\']);
        let by_name = |t: &str| Some(plain_name(t)).filter(|n| !n.is_empty());
        Ok(match text.rsplit_once('#') {
            Some((file, name)) if is_file(file) => Self { file: Some(file.into()), name: by_name(name) },
            _ if is_file(text) => Self { file: Some(text.into()), name: None },
            _ => Self { file: None, name: by_name(text) },
        })
    }
}

impl Target {
    /// The name. Of a file given without one, the only thing of its kind that it holds.
    pub(super) fn named(&self, kind: run::Kind) -> Result<String, Stop> {
        let (Some(file), None) = (&self.file, &self.name) else {
            return self.name.clone().ok_or_else(|| Stop::because(format!("give the name of a {}", kind.word())));
        };
        let mut names = run::declared(&super::files::read(file)?, kind).into_iter();
        let (shown, word) = (file.display(), kind.word());
        match (names.next(), names.next()) {
            (Some(name), None) => Ok(name),
            (None, _) => Err(Stop::because(format!("{shown} holds no {word}"))),
            (Some(first), Some(second)) => {
                let all: Vec<_> = [first.clone(), second].into_iter().chain(names).collect();
                let all = all.join(", ");
                Err(Stop::because(format!("{shown} holds more than one {word}: {all}; say which: {shown}#{first}")))
            }
        }
    }
}

/// A name as the language writes it: small letters, hyphens between the words.
pub(super) fn plain_name(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join("-").to_lowercase()
}

/// Where to look for some targets: in their files and the houses around them; here only if none has a file.
pub(super) fn places(targets: &[Option<&Target>]) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for file in targets.iter().flatten().filter_map(|t| t.file.clone()) {
        if !paths.contains(&file) {
            paths.push(file);
        }
    }
    if paths.is_empty() {
        paths.push(PathBuf::from("."));
    }
    paths
}

#[cfg(test)]
mod tests {
    use super::*;

    fn target(text: &str) -> (Option<String>, Option<String>) {
        let Ok(target) = text.parse::<Target>();
        (target.file.map(|f| f.display().to_string()), target.name)
    }

    #[test]
    fn names_and_files() {
        let some = |t: &str| Some(t.to_owned());
        assert_eq!(target("harbour-short"), (None, some("harbour-short")));
        assert_eq!(target("Harbour Short"), (None, some("harbour-short")));
        assert_eq!(target("a/short.trim"), (some("a/short.trim"), None));
        assert_eq!(target("short.trim#Harbour short"), (some("short.trim"), some("harbour-short")));
        assert_eq!(target("short.trim#"), (some("short.trim"), None));
        assert_eq!(target("#1 trim"), (None, some("#1-trim")));
        assert_eq!(target("cards/bramble"), (some("cards/bramble"), None));
    }

    #[test]
    fn places_are_looked_at_once() {
        let targets: Vec<Target> = ["a.trim#x", "a.trim", "b", "c"].iter().flat_map(|t| t.parse()).collect();
        let all: Vec<_> = targets.iter().map(Some).collect();
        assert_eq!(places(&all), [PathBuf::from("a.trim")]);
        let names: Vec<_> = all.into_iter().skip(2).collect();
        assert_eq!(places(&names), [PathBuf::from(".")]);
    }
}
