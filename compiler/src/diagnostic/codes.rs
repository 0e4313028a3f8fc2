//! The one list of codes. Each has a page in `docs/codes/`, which is also the text of `explain`.

/// A rule's code and its title.
#[derive(Clone, Copy, Debug)]
pub struct Code {
    /// `C001`.
    pub code: &'static str,
    /// What it is about, in a few words.
    pub title: &'static str,
}

macro_rules! codes {
    ($($code:ident $title:literal)*) => {
        $(#[doc = $title] pub const $code: &str = stringify!($code);)*
        /// Every code of the compiler, in order; the codes of the text itself (`W…`) are the grammar's.
        pub const CODES: &[Code] = &[$(Code { code: $code, title: $title }),*];
    };
}

/// The codes by name.
pub mod code {
    use super::Code;
    codes! {
        C001 "closer to the skin than this place allows"
        C002 "teeth too far apart for this skin"
        C003 "a tool or a direction that is ruled out here"
        C004 "an answer that is closer than what it replaces"
        C005 "a finding that asks for the author's answer"
        C006 "a blade that isn't for bare skin"
        C007 "work on a place that must stay untouched"
        C008 "a blade chart that falls"
        C009 "no tool is left for this place"
        C010 "keeps that together leave no tool"
        D001 "the recipe doesn't serve this dog"
        D002 "a finding that the salon doesn't know"
        D003 "a line that the card needs"
        D004 "nobody asked about this"
        D005 "a vet first"
        D006 "consent is missing"
        D007 "left as it is"
        D008 "a card that is old"
        D009 "a card that can't be so"
        D010 "a card in JSON that can't be read"
        D011 "more than the dog bears"
        D012 "a step that the sheet doesn't have"
        G001 "git is missing"
        G002 "a version that can't be read"
        G003 "less care than before"
        G004 "a trim that changed under its old version"
        G005 "texts that aren't as locked"
        G006 "a locked text that is nowhere"
        G007 "a lock of other basics"
        G008 "no such lock"
        H001 "a tool that the kit doesn't hold"
        H002 "a keep that loosens"
        H003 "more than one house"
        H004 "a blade's heat that can't be so"
        H005 "a rule that can't be overridden"
        H006 "an override of nothing"
        H007 "an override that nobody answers for"
        H008 "a folder outside the outermost house's"
        J001 "a line will show here"
        J002 "a blend between parts that don't touch"
        J003 "a blend too short for its step"
        J004 "too little room for a blend"
        K001 "clipping this coat short risks poor regrowth"
        K002 "this coat isn't hand-stripped"
        M001 "an unknown zone"
        M002 "an unknown tool"
        M003 "an unknown finding"
        M004 "an unknown coat"
        M005 "an unknown recipe"
        M006 "an unknown shape or way of working"
        M007 "an unknown step"
        M008 "an unknown name in a sum"
        M009 "the wrong kind of measure"
        M010 "a range that runs backwards"
        M011 "said twice"
        M012 "an unknown line"
        M013 "a value of the wrong kind"
        M014 "a line is missing"
        M015 "two statements that neither wins"
        M016 "a part that nobody finishes"
        M017 "a clause that doesn't fit its verb"
        M018 "an exception that takes nothing away"
        M019 "a recipe that builds on itself"
        M020 "another version of the base"
        M021 "outside what the base allows"
        M022 "no tool leaves this length"
        M023 "an unknown word"
        M024 "a statement that doesn't belong here"
        M025 "a line that changes nothing"
        O001 "an order that goes round in a circle"
        O002 "first and last at once"
        O003 "an order against first or last"
        T001 "a case expects another finish"
        T002 "a case expects a message that isn't said"
        T003 "a message that a case doesn't expect"
        T004 "a case that can't be run"
        T005 "nothing that any case proves"
        T006 "a case expects another time"
        U001 "longer than the shape allows"
        U002 "too long before the next visit"
        U003 "over the eyes before the next visit"
        V001 "the check of the finished sheet said no"
    }
}

pub use code::CODES;
