//! Any text: reading and laying out never panic, mistakes stay in place, and the layout keeps the tree.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let file = grammar::parse(text);
    for e in grammar::errors(&file) {
        assert!(text.get(e.span.start as usize..e.span.end as usize).is_some());
    }
    if let Ok(made) = grammar::format(text) {
        let again = grammar::parse(&made);
        assert_eq!(grammar::shape(&file), grammar::shape(&again));
        assert_eq!(grammar::comments(&file), grammar::comments(&again));
        assert_eq!(grammar::format(&made).as_deref(), Ok(made.as_str()));
    }
});
