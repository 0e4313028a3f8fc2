//! Cards as JSON, many cards in a pipe, and visits written back, as a user meets them.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::{
    fs,
    io::{BufRead, BufReader, Write},
    path::PathBuf,
    process::{Command, Output, Stdio},
};

const SHORT: &str =
    "recipe short {\n  title \"Short\"\n  version 3\n  leave whole-coat\n  clip torso with #7F with the coat\n}\n";
const WREN: &str = "-- The best dog.\ndog wren {\n  sex bitch, spayed -- since spring\n  coat curl, 30 mm\n  weight 6 kg\n  finding wart on left lip -- small\n  wants short -- always\n} -- end\n";

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("coatwright-cards-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        fs::write(path.join("short.trim"), SHORT).unwrap();
        fs::write(path.join("wren.trim"), WREN).unwrap();
        Self(path)
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_coatwright"));
        command.args(args).current_dir(&self.0).env_remove("CLICOLOR_FORCE").env_remove("COLUMNS").stdin(Stdio::null());
        command
    }

    #[track_caller]
    fn run(&self, args: &[&str], code: i32) -> (String, String) {
        ended(&self.command(args).output().unwrap(), code)
    }

    #[track_caller]
    fn with_stdin(&self, args: &[&str], input: Vec<u8>, code: i32) -> (String, String) {
        let mut child =
            self.command(args).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut stdin = child.stdin.take().unwrap();
        let writer = std::thread::spawn(move || stdin.write_all(&input));
        let output = child.wait_with_output().unwrap();
        writer.join().unwrap().unwrap();
        ended(&output, code)
    }

    fn wren(&self) -> String {
        fs::read_to_string(self.0.join("wren.trim")).unwrap()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[track_caller]
fn ended(output: &Output, code: i32) -> (String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert_eq!(output.status.code(), Some(code), "{out}\n{err}");
    for inside in ["panicked", "Some(", "Err(", "::", "os error", "Json"] {
        assert!(!out.contains(inside) && !err.contains(inside), "{inside}: {out}\n{err}");
    }
    (out, err)
}

fn wren(number: usize) -> String {
    format!(
        r#"{{"dog":"wren","id":"n{number}","sex":"bitch","coat":{{"coat":"curl","length":"30 mm"}},"weight":"{} kg","wants":{{"recipe":"short"}}}}"#,
        3 + number % 20
    )
}

#[test]
fn a_card_becomes_json_and_a_text_again() {
    let folder = Folder::new("json");
    let (out, _) = folder.run(&["card", "wren.trim"], 0);
    assert!(
        out.starts_with(r#"{"dog":"wren","sex":["bitch","spayed"],"coat":{"coat":"curl","length":"30 mm"}"#),
        "{out}"
    );
    fs::write(folder.0.join("wren.jsonl"), &out).unwrap();
    let (text, _) = folder.run(&["card", "wren.jsonl", "--format", "trim"], 0);
    fs::write(folder.0.join("again.trim"), &text).unwrap();
    assert_eq!(folder.run(&["card", "again.trim#wren"], 0).0, out);
    folder.run(&["card", "again.trim#robin"], 2);
    folder.run(&["card", "short.trim"], 2);
    fs::write(folder.0.join("bad.trim"), "dog a {\n  clip ears\n").unwrap();
    let (_, err) = folder.run(&["card", "bad.trim"], 2);
    assert!(err.contains("bad.trim"), "{err}");
    let (_, err) = folder.with_stdin(&["card", "-", "--format", "trim"], b"\n{\"dog\":\"a\",\"wieght\":1}".to_vec(), 2);
    assert!(err.contains("line 2: unknown field `wieght`"), "{err}");
}

/// Answers come in the order of the cards, also of those that are passed over; a line that is no card costs its own answer only.
#[test]
fn answers_keep_the_order() {
    let folder = Folder::new("order");
    let mut input = Vec::new();
    for number in 1..=300 {
        match number {
            50 => input.extend(b"not a card"),
            60 => input.extend([0xff, 0xfe]),
            70 => input.extend(vec![b'['; 3 << 20]),
            80 => {}
            90 => input.extend(
                br#"{"dog":"wren","sex":"bitch","coat":{"coat":"crul"},"weight":"3 kg","wants":{"recipe":"short"}}"#,
            ),
            _ => input.extend(wren(number).bytes()),
        }
        input.push(b'\n');
    }
    // The last line may lack its end.
    input.pop();
    let (out, err) = folder.with_stdin(&["batch", "--on", "2026-11-25"], input, 1);
    let lines: Vec<serde_json::Value> = out.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let numbers: Vec<u64> = lines.iter().filter_map(|l| l.get("line")?.as_u64()).collect();
    let due: Vec<u64> = (1..=300).filter(|n| *n != 80).collect();
    assert_eq!(numbers, due);
    for line in &lines {
        let number = line.get("line").and_then(serde_json::Value::as_u64).unwrap();
        let code = line.pointer("/messages/0/code").and_then(serde_json::Value::as_str).unwrap_or_default();
        match number {
            50 | 60 | 70 => assert_eq!((line.get("ok"), code), (Some(&false.into()), "D010"), "{line}"),
            90 => {
                let said = line.get("messages").unwrap().to_string();
                assert!(said.contains("M004") && said.contains(r#""at":"/coat""#), "{line}");
            }
            _ => {
                assert_eq!(line.get("ok"), Some(&true.into()), "{line}");
                assert_eq!(line.get("id").unwrap(), &format!("n{number}"));
            }
        }
    }
    assert!(
        err.contains("4 of 299 cards passed over: line 50 (D010), line 60 (D010), line 70 (D010), line 90 ("),
        "{err}"
    );
    let (out, _) = folder.run(&["batch", "wren.jsonl"], 2);
    assert!(out.is_empty());
}

/// A program may write one card and wait for its answer before it writes the next.
#[test]
fn a_card_alone_is_answered_at_once() {
    let folder = Folder::new("alone");
    let mut child = folder.command(&["batch"]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    for number in 1..4 {
        writeln!(stdin, "{}", wren(number)).unwrap();
        let mut line = String::new();
        out.read_line(&mut line).unwrap();
        assert!(
            line.starts_with(&format!("{{\"line\":{number},\"id\":\"n{number}\"")) && line.ends_with("}\n"),
            "{line}"
        );
    }
    drop(stdin);
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// `coatwright batch … | head -1`: the reader leaves, what it got is whole lines, and nothing is said.
#[test]
fn a_reader_that_leaves_ends_it() {
    let folder = Folder::new("leaves");
    let mut child =
        folder.command(&["batch"]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    writeln!(stdin, "{}", wren(1)).unwrap();
    let mut line = String::new();
    out.read_line(&mut line).unwrap();
    assert!(line.ends_with("}\n"), "{line}");
    drop(out);
    // Until it has gone: then the pipe says so.
    let mut lines = 0;
    while writeln!(stdin, "{}", wren(2)).is_ok() && lines < 1_000_000 {
        lines += 1;
    }
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), output.stderr.as_slice()), (Some(0), &b""[..]));
}

#[test]
fn a_visit_is_written_and_the_next_card_starts_from_it() {
    let folder = Folder::new("visit");
    let found = "irritation on throat after #10 in reverse";
    let (out, _) = folder.run(&["visit", "wren.trim", "--on", "2026-11-25", "--found", found, "--show"], 0);
    assert_eq!(folder.wren(), WREN);
    let (_, err) = folder.run(&["visit", "wren.trim", "--on", "2026-11-25", "--found", found], 0);
    assert!(err.contains("visit 2026-11-25, short version 3, #7F"), "{err}");
    let text = folder.wren();
    assert_eq!(text, out);
    for line in [
        "-- The best dog.",
        "-- since spring",
        "finding  wart on left lip  -- small",
        "finding  irritation on throat after #10 in reverse seen 2026-11-25",
        "wants    short  -- always",
        "visit    2026-11-25, short version 3, #7F",
        "}  -- end",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    // Laid out already, and read without a mistake.
    folder.run(&["fmt", "--check", "wren.trim"], 0);
    folder.run(&["check", "wren.trim"], 0);
    // Once is enough.
    let (_, err) = folder.run(&["visit", "wren.trim", "--on", "2026-11-25"], 1);
    assert!(err.contains("D009") && folder.wren() == text, "{err}");
    folder.run(&["visit", "wren", "--on", "2027-01-20", "--used", "#5F, 19 mm comb, #40"], 0);
    assert!(
        folder.wren().contains("visit    2027-01-20, short version 3, #5F, 19 mm comb, #40\n"),
        "{}",
        folder.wren()
    );
    // The next card and its sheet.
    let (card, _) =
        folder.run(&["new", "card", "wren-march", "--from", "wren.trim", "--on", "2027-03-01", "-o", "-"], 0);
    assert!(
        card.contains("last      2027-01-20") && card.contains("irritation on throat after #10 in reverse"),
        "{card}"
    );
    let (sheet, _) = folder.run(&["sheet", "--dog", "wren", "--on", "2027-03-01"], 0);
    assert!(
        sheet.contains("Irritation, throat (after #10 in reverse)") && sheet.contains("2027-01-20, short version 3"),
        "{sheet}"
    );
    let names: Vec<_> = fs::read_dir(&folder.0).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(names.len(), 2, "{names:?}");
}

#[test]
fn what_cannot_be_written_leaves_the_card_alone() {
    let folder = Folder::new("alone-card");
    for found in [
        "irritatoin on throat",
        "wart",
        "wart on left lip\n  weight 40 kg",
        "wart on left lip }",
        "wart on nowhere",
        "",
    ] {
        let line = ["visit", "wren.trim", "--on", "2026-11-25", "--used", "#10", "--found", found];
        let (_, err) = folder.run(&line, i32::from(!found.is_empty()));
        if found.is_empty() {
            // No finding is no mistake; the card is put back for the rest.
            fs::write(folder.0.join("wren.trim"), WREN).unwrap();
        }
        assert!(!err.is_empty() && folder.wren() == WREN, "{found}: {err}");
    }
    for used in ["#10\n  weight 40 kg", "}", "\"", "{"] {
        let output = folder.command(&["visit", "wren.trim", "--on", "2026-11-25", "--used", used]).output().unwrap();
        assert!(output.status.code() == Some(1) && folder.wren() == WREN, "{used}: {}", folder.wren());
    }
    folder.run(&["visit", "robin.trim"], 2);
    folder.run(&["visit", "robin"], 1);
    folder.run(&["visit", "wren.trim", "--recipe", "long"], 1);
    // In one line, too.
    fs::write(
        folder.0.join("wren.trim"),
        "dog wren { sex bitch; coat curl, 30 mm; weight 6 kg; finding heart; wants short }\n",
    )
    .unwrap();
    folder.run(&["visit", "wren.trim", "--on", "2026-11-25", "--found", "wart on left lip"], 0);
    let (out, _) = folder.run(&["card", "wren.trim"], 0);
    assert!(
        out.contains(r##""visits":{"on":"2026-11-25","did":["short version 3","#7F"]}"##) && out.contains("wart"),
        "{out}"
    );
}

/// What a dog doesn't bear today is in the summary; a dog that bears all of it has nothing there.
#[test]
fn a_summary_says_what_waits() {
    let folder = Folder::new("waits");
    let weary = r#""stands":"8 min in all","wants""#;
    let input = format!("{}\n{}\n", wren(9), wren(9).replace("\"wants\"", weary));
    let (out, _) = folder.with_stdin(&["batch", "--on", "2026-11-25"], input.into_bytes(), 0);
    let waits = |line: &str| -> Vec<String> {
        let answer: serde_json::Value = serde_json::from_str(line).unwrap();
        let said = answer.pointer("/summary/waits").and_then(serde_json::Value::as_array).unwrap();
        said.iter().map(|words| words.as_str().unwrap().to_owned()).collect()
    };
    let [fresh, weary]: [Vec<String>; 2] = out.lines().map(waits).collect::<Vec<_>>().try_into().unwrap();
    assert!(fresh.is_empty(), "{out}");
    assert!(weary.iter().any(|w| w.contains("one more visit")), "{out}");
    assert!(weary.iter().any(|w| w.contains("8 min in all (card)")), "{out}");
}
