//! The handbook as texts: what it teaches, what it never tells, and that it is the same each time. In a browser: `tests/page/`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use coatwright::handbook::{Handbook, handbook};
use coatwright::workspace::Workspace;
use std::path::PathBuf;

fn of(texts: Vec<(PathBuf, String)>) -> Result<Handbook, Vec<coatwright::diagnostic::Diagnostic>> {
    let many = texts.len();
    handbook(&mut Workspace::from_texts(texts, many))
}

/// The demo salon with one file changed.
fn changed(name: &str, change: impl Fn(&str) -> String) -> Vec<(PathBuf, String)> {
    let mut texts = common::saltmarsh();
    let text = texts.iter_mut().find(|(path, _)| path.file_name().is_some_and(|n| n == name)).unwrap();
    let new = change(&text.1);
    assert_ne!(new, text.1, "nothing changed in {name}");
    text.1 = new;
    texts
}

/// That of the demo salon as it is.
fn demo() -> &'static Handbook {
    static BOOK: std::sync::OnceLock<Handbook> = std::sync::OnceLock::new();
    BOOK.get_or_init(|| of(common::saltmarsh()).unwrap())
}

fn page<'h>(book: &'h Handbook, end: &str) -> &'h str {
    &book.pages.iter().find(|p| p.path.ends_with(end)).unwrap_or_else(|| panic!("no page {end}")).text
}

#[test]
fn the_same_texts_in_any_order_give_the_same_pages() {
    let texts = common::saltmarsh();
    let one = demo();
    let other = of(texts.into_iter().rev().collect()).unwrap();
    assert_eq!(one.recipes, 8);
    assert!(one.said.is_empty());
    assert_eq!(one.pages, other.pages);
    assert!(one.pages.is_sorted_by(|a, b| a.path < b.path));
}

/// Cards are of clients: neither their words nor their numbers stand on any page.
#[test]
fn nothing_of_a_card_is_told() {
    let book = demo();
    let cards = common::saltmarsh().into_iter().find(|(p, _)| p.ends_with("dogs.trim")).unwrap().1;
    let told = [
        "01632 960117",
        "the vet at the harbour",
        "oat shampoo",
        "heart tablets",
        "Shakes her head",
        "Please nothing short",
        "red grizzle",
        "northern spitz cross",
        "12.4 kg",
        "19.5 kg",
        "2026-08-02",
    ];
    for words in told {
        assert!(cards.contains(words), "the demo's cards have changed: {words}");
        for page in &book.pages {
            assert!(!page.text.contains(words), "{}: {words}", page.path);
        }
    }
}

/// Lengths as the demo's recipes write them, and a blade's as its trade guides print it (#10 leaves 1.5 to 1.8 mm in reverse:
/// `recipes/prelude/tools.trim`, two trade suppliers' guides).
#[test]
fn the_table_tells_what_the_recipe_asks_for() {
    let book = demo();
    let text = page(book, "saltmarsh/harbour-short.html");
    let row = |part: &str| {
        let at = text.find(&format!("<th scope=\"row\">{part}</th>")).unwrap_or_else(|| panic!("no row {part}"));
        &text[at..at + text[at..].find("</tr>").unwrap()]
    };
    assert!(row("topknot").contains("shape to 25 mm with shears") && row("topknot").contains(">25 mm<"));
    assert!(row("foreface and cheek").contains("clip with #10 in reverse"));
    assert!(row("foreface and cheek").contains(">1.5 to 1.8 mm<"));
    assert!(row("lashes").contains("as it is"));
    // Dogs and bitches both.
    assert!(row("prepuce and vulva").contains("skim with #10 with the coat"));
    // Its base, and what builds on that.
    assert!(text.contains("<a href=\"saltmarsh-base.html\">"));
    assert!(page(book, "saltmarsh/saltmarsh-base.html").contains("<a href=\"harbour-short.html\">Harbour short</a>"));
    // What a house added is told on its own page, and linked to there.
    assert!(page(book, "saltmarsh/index.html").contains("id=\"finding-salt-itch\""));
    assert!(!page(book, "findings.html").contains("finding-salt-itch"));
    assert!(page(book, "saltmarsh/short-tide.html").contains("href=\"../saltmarsh/index.html#finding-salt-itch\""));
}

#[test]
fn nobody_learns_from_what_is_refused() {
    let recipe = changed("harbour-short.trim", |t| {
        t.replace("  leave    lashes", "  leave    lashes\n  clip     tuck-ups with #4F with the coat")
    });
    let wrong = of(recipe).map(|_| ()).unwrap_err();
    assert!(wrong.iter().any(|d| d.code.starts_with('C')), "{wrong:?}");
    let house = changed("house.trim", |t| t.replace("head last", "hed last"));
    assert!(of(house).is_err());
    // A card's mistake is no matter of the handbook's.
    let card = changed("dogs.trim", |t| t.replace("weight   12.4 kg", "weight   12.4 mm"));
    let book = of(card).unwrap();
    assert!(!book.said.is_empty(), "the case on that card can't be run");
}

#[test]
fn a_case_that_fails_is_told_on_its_page() {
    let book = of(changed("cases.trim", |t| t.replace("expect  ears leave", "expect  ears clip"))).unwrap();
    assert_eq!(book.said.len(), 1);
    let text = page(&book, "saltmarsh/harbour-short.html");
    assert!(text.contains("bramble at the belly: <strong>doesn't hold</strong>"));
    assert!(text.contains("a small curl: holds"));
}

/// What an author writes is text, never a tag.
#[test]
fn no_word_becomes_a_tag() {
    let text = "-- <script>x</script>\nrecipe a { title \"<script>y</script>\"; about \"<i>z\"; leave whole-coat\n keep ears untouched because \"</td><script>\" }\n";
    let book = of(vec![(PathBuf::from("a.trim"), text.to_owned())]).unwrap();
    for page in book.pages.iter().filter(|p| p.path.ends_with(".html") || p.path.ends_with(".svg")) {
        let scripts = page.text.matches("<script").count();
        assert_eq!(scripts, if page.path.ends_with(".svg") { 0 } else { 2 }, "{}", page.path);
        assert!(!page.text.contains("<i>"), "{}", page.path);
    }
}

/// A house inside another teaches what both keep, and tells whose rule is whose.
#[test]
fn the_rules_of_the_houses_around_are_taught() {
    let texts = [
        ("house.trim", "house chain {\n  keep loin no closer than 3 mm\n}\n"),
        ("creek/house.trim", "house creek {\n  keep belly one pass\n}\n"),
        ("creek/easy.trim", "recipe easy {\n  serves coat curl\n  leave whole-coat\n}\n"),
    ];
    let book = of(texts.map(|(path, text)| (PathBuf::from(path), text.to_owned())).to_vec()).unwrap();
    let creek =
        book.pages.iter().find(|page| page.path.starts_with("creek") && page.path.ends_with("index.html")).unwrap();
    let rules = creek
        .text
        .split("What holds for every recipe")
        .nth(1)
        .and_then(|rest| rest.split("</section>").next())
        .unwrap();
    for words in ["belly one pass", "loin no closer than", "the house chain"] {
        assert!(rules.contains(words), "{words}: {rules}");
    }
}

/// A keep of the house that a recipe takes back is marked where it stands, with the name and the reason; on other pages it isn't.
#[test]
fn what_is_overridden_is_marked() {
    let texts = changed("short-tide.trim", |text| {
        let line = "  override ears never plucking by \"head groomer\" because \"The vet asked for it.\"\n";
        let at = text.find("  serves ").unwrap();
        format!("{}{line}{}", &text[..at], &text[at..])
    });
    let texts = texts.into_iter().map(|(path, text)| {
        let house = path.ends_with("house.trim") && !text.contains("seniors");
        (path, if house { text.replacen("{\n", "{\n  seniors  \"head groomer\"\n", 1) } else { text })
    });
    let few = ["house.trim", "saltmarsh-base.trim", "short-tide.trim", "bath-and-tidy.trim"];
    let texts = texts.filter(|(path, _)| few.iter().any(|few| path.ends_with(few)));
    let book = of(texts.collect()).unwrap_or_else(|said| panic!("{said:#?}"));
    let mark = "Overridden on the ears by head groomer: The vet asked for it.";
    assert!(page(&book, "short-tide.html").contains(mark), "{}", page(&book, "short-tide.html"));
    assert!(!page(&book, "bath-and-tidy.html").contains("Overridden"));
}
