//! For code hosts and build servers: SARIF 2.1.0 (OASIS), one log of one run.

use super::{bytes, line_column};
use crate::diagnostic::Diagnostic;
use crate::explain;
use crate::source::{Place, Sources};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A log file.
#[derive(Serialize)]
struct Log<'a> {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run<'a> {
    tool: Tool,
    /// Columns are counted in characters, as everywhere in this program.
    column_kind: &'static str,
    results: Vec<Found<'a>>,
}

#[derive(Serialize)]
struct Tool {
    driver: Driver,
}

#[derive(Serialize)]
struct Driver {
    name: &'static str,
    version: &'static str,
    rules: Vec<Rule>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Rule {
    id: &'static str,
    short_description: Words,
    help: Help,
}

#[derive(Serialize)]
struct Words {
    text: String,
}

#[derive(Serialize)]
struct Help {
    text: String,
    markdown: &'static str,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Found<'a> {
    rule_id: &'static str,
    rule_index: usize,
    level: &'static str,
    message: Words,
    locations: [Location<'a>; 1],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    related_locations: Vec<Location<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    fixes: Vec<FixOf>,
    /// By what the same mistake is known when the lines above it change.
    partial_fingerprints: BTreeMap<&'static str, String>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Location<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<usize>,
    physical_location: Physical<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    message: Option<Words>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Physical<'a> {
    artifact_location: Artifact,
    region: Region<'a>,
}

#[derive(Clone, Serialize)]
struct Artifact {
    uri: String,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Region<'a> {
    start_line: usize,
    start_column: usize,
    end_line: usize,
    end_column: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    snippet: Option<Snippet<'a>>,
}

#[derive(Serialize)]
struct Snippet<'a> {
    text: &'a str,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct FixOf {
    description: Words,
    artifact_changes: Vec<Change>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Change {
    artifact_location: Artifact,
    replacements: Vec<Replacement>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Replacement {
    deleted_region: Region<'static>,
    inserted_content: Words,
}

/// Shows the messages in their order, as one log.
#[must_use]
pub fn render(messages: &[Diagnostic], sources: &Sources) -> String {
    let mut codes: Vec<&'static str> = messages.iter().map(|m| m.code).collect();
    codes.sort_unstable();
    codes.dedup();
    let results = messages
        .iter()
        .map(|message| {
            let rule_index = codes.binary_search(&message.code).unwrap_or_default();
            found(message, rule_index, sources)
        })
        .collect();
    let rules = codes.into_iter().map(rule).collect();
    let driver = Driver { name: "Coatwright", version: env!("CARGO_PKG_VERSION"), rules };
    let log = Log {
        schema: "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
        version: "2.1.0",
        runs: [Run { tool: Tool { driver }, column_kind: "unicodeCodePoints", results }],
    };
    // INVARIANT: the value holds nothing but texts and numbers, which always have a JSON form.
    serde_json::to_string_pretty(&log).map(|text| text + "\n").unwrap_or_default()
}

fn rule(id: &'static str) -> Rule {
    let page = explain::page(id).unwrap_or_default();
    Rule {
        id,
        short_description: Words { text: sentence(explain::title(id).unwrap_or(id)) },
        help: Help { text: explain::render(page, 80, false), markdown: page },
    }
}

fn found<'a>(message: &Diagnostic, rule_index: usize, sources: &'a Sources) -> Found<'a> {
    // A host shows the message and little else, so that it says all of it.
    let mut text = sentence(&message.message);
    for more in [&message.why, &message.help].into_iter().flatten() {
        let _ = write!(text, "\n\n{more}");
    }
    if let Some(dog) = &message.dog {
        let _ = write!(text, "\n\nThe dog it fails for:\n\n{dog}");
    }
    let at = |place: Place, id: Option<usize>, words: Option<&str>| Location {
        id,
        physical_location: Physical {
            artifact_location: artifact(sources, place),
            region: Region {
                snippet: Some(Snippet { text: sources.text(place.file).get(bytes(sources, place)).unwrap_or("") }),
                ..region(sources, place)
            },
        },
        message: words.map(|w| Words { text: sentence(w) }),
    };
    let related = message.related.iter().enumerate();
    let fixes = message.fixes.iter().filter(|fix| !fix.edits.is_empty());
    let words = sources.at(message.place);
    let known = format!("{}\n{}\n{words}\n{}", message.code, sources.name(message.place.file), message.message);
    Found {
        rule_id: message.code,
        rule_index,
        level: message.severity.word(),
        message: Words { text },
        locations: [at(message.place, None, message.label.as_deref())],
        related_locations: related.map(|(n, r)| at(r.place, Some(n + 1), Some(&r.message))).collect(),
        fixes: fixes
            .map(|fix| FixOf {
                description: Words { text: sentence(&fix.title) },
                artifact_changes: fix
                    .edits
                    .iter()
                    .map(|edit| Change {
                        artifact_location: artifact(sources, edit.place),
                        replacements: vec![Replacement {
                            deleted_region: region(sources, edit.place),
                            inserted_content: Words { text: edit.text.clone() },
                        }],
                    })
                    .collect(),
            })
            .collect(),
        partial_fingerprints: BTreeMap::from([("coatwright/v1", format!("{:016x}", hash(known.as_bytes())))]),
    }
}

fn region(sources: &Sources, place: Place) -> Region<'static> {
    let range = bytes(sources, place);
    let ((start_line, start_column), (end_line, end_column)) =
        (line_column(sources, place.file, range.start), line_column(sources, place.file, range.end));
    Region { start_line, start_column, end_line, end_column, snippet: None }
}

/// A file's name as a URI (RFC 3986): with slashes, and what a path may not hold as `%20`.
fn artifact(sources: &Sources, place: Place) -> Artifact {
    let name = sources.name(place.file).replace('\\', "/");
    let mut uri = String::with_capacity(name.len());
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            let _ = write!(uri, "%{byte:02X}");
        }
    }
    Artifact { uri }
}

/// A message as a sentence of its own.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let end = if words.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

/// FNV-1a with 64 bits: the same on every machine. Source: the FNV reference parameters.
fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3))
}
