//! Every rule has its page, and every page its rule.

use coatwright::explain;

#[test]
fn every_code_has_a_page() {
    let missing: Vec<&str> = explain::codes().map(|(c, _)| c).filter(|c| explain::page(c).is_none()).collect();
    assert!(missing.is_empty(), "docs/codes has no page for {}", missing.join(", "));
}

#[test]
fn every_page_has_a_code() {
    let known: Vec<&str> = explain::codes().map(|(code, _)| code).collect();
    let extra: Vec<&str> = explain::pages().filter(|code| !known.contains(code)).collect();
    assert!(extra.is_empty(), "nothing reports {}", extra.join(", "));
}

#[test]
fn a_page_begins_with_its_code_and_title() {
    for (code, title) in explain::codes() {
        let first = explain::page(code).and_then(|page| page.lines().next()).unwrap_or_default();
        assert_eq!(first, format!("# {code}: {title}"));
    }
}

#[test]
fn pages_fit_the_terminal() {
    for family in explain::families() {
        for entry in family.entries {
            let page = explain::page(entry.code).unwrap_or_default();
            let text = explain::render(page, 80, false);
            let long = text.lines().find(|l| l.chars().count() > 80 && !l.trim_start().starts_with('|'));
            assert_eq!(long, None, "{}", entry.code);
        }
    }
}
