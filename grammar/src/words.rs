//! The words of the language: which word opens what, units, number words, and the nearest word to a misspelt one.

use crate::tree::{BlockKind, Unit, Verb};

/// The keywords that open a block.
pub const BLOCKS: &[(&str, BlockKind)] = &[
    ("recipe", BlockKind::Recipe),
    ("dog", BlockKind::Dog),
    ("case", BlockKind::Case),
    ("house", BlockKind::House),
    ("zone", BlockKind::Zone),
    ("group", BlockKind::Group),
    ("mark", BlockKind::Mark),
    ("coat", BlockKind::Coat),
    ("finding", BlockKind::Finding),
    ("tool", BlockKind::Tool),
    ("kit", BlockKind::Kit),
    ("step", BlockKind::Step),
    ("form", BlockKind::Form),
    ("motion", BlockKind::Motion),
];

/// The verbs of work. `set in` and `hand strip` are two words as often as one.
pub const VERBS: &[(&str, Verb)] = &[
    ("set-in", Verb::SetIn),
    ("finish", Verb::Finish),
    ("clip", Verb::Clip),
    ("skim", Verb::Skim),
    ("scissor", Verb::Scissor),
    ("shape", Verb::Shape),
    ("thin", Verb::Thin),
    ("hand-strip", Verb::HandStrip),
    ("card", Verb::Card),
    ("rake", Verb::Rake),
    ("taper", Verb::Taper),
    ("leave", Verb::Leave),
];

/// The other words that may begin a line of a recipe or house.
pub const RECIPE_LINES: &[&str] = &[
    "keep", "override", "blend", "line", "order", "first", "last", "when", "else", "guard", "lasts", "prep", "param",
    "let", "serves", "extends", "about",
];

/// Parts of the dog that may begin a line, short for `shape …`.
pub const SHORT: &[&str] = &["feet", "tail", "head", "ears"];

/// The plain lines of a recipe or house.
pub const RECIPE_FIELDS: &[&str] = &["title", "version", "kit", "errors", "seniors", "note", "calls"];

/// The lines of a card.
pub const DOG_LINES: &[&str] = &[
    "coat",
    "finding",
    "mats",
    "wants",
    "about",
    "sex",
    "breed",
    "colour",
    "color",
    "build",
    "carries",
    "weight",
    "height",
    "born",
    "seen",
    "asked",
    "consent",
    "stands",
    "handling",
    "last",
    "by",
    "visit",
    "owner-says",
    "vet",
    "phone",
    "allergies",
    "medicine",
    "brushed",
    "note",
    "title",
    "photo",
];

/// The lines of a case.
pub const CASE_LINES: &[&str] = &["recipe", "given", "expect", "about", "house", "kit", "note"];

/// The lines of a declaration: the one list of them, as the language page has it.
#[must_use]
pub const fn fields_of(kind: BlockKind) -> &'static [&'static str] {
    match kind {
        BlockKind::Zone => &[
            "about", "calls", "paired", "sex", "station", "skin", "hygiene", "share", "region", "borders", "hidden",
            "keep", "caution",
        ],
        BlockKind::Group => &["about", "calls", "zones", "zone", "group"],
        BlockKind::Mark => &["about", "calls", "on", "sex", "find", "landmark", "parts", "keep", "caution"],
        BlockKind::Coat => &[
            "about",
            "calls",
            "texture",
            "undercoat",
            "length",
            "density",
            "genes",
            "with-coat",
            "across-coat",
            "comb-with-coat",
            "first-pass",
            "shows",
            "shows-share",
            "grows",
            "grows-to",
            "stands-to",
            "regrowth",
            "shortest",
            "strips",
            "dries",
            "dries-at",
            "mats-after",
        ],
        BlockKind::Finding => &[
            "about",
            "calls",
            "sex",
            "on",
            "cause",
            "margin",
            "spot",
            "one-side",
            "keep",
            "reply",
            "vet",
            "stops-visit",
            "apart",
            "steps",
            "widens",
            "younger-than",
            "older-than",
            "from-mats",
            "hygiene",
            "needs",
            "caution",
            "owner",
        ],
        BlockKind::Tool => &[
            "about",
            "calls",
            "kind",
            "leaves",
            "closeness",
            "gap",
            "does",
            "blends",
            "over",
            "bare",
            "teeth",
            "removes",
            "rate",
            "warms",
            "caution",
        ],
        BlockKind::Kit => &["about", "owns", "finger", "hand", "room", "ends-at", "cools", "thin-skin"],
        BlockKind::Step => &[
            "about", "calls", "stage", "on", "uses", "asks", "needs", "good-for", "or-else", "rate", "most", "minutes",
            "every", "after", "wet", "stands", "waits", "caution", "owner",
        ],
        BlockKind::Form => &["about", "calls", "on"],
        BlockKind::Motion => &["about", "calls", "on", "freehand", "closes", "along"],
        BlockKind::House | BlockKind::Recipe | BlockKind::Unknown => RECIPE_FIELDS,
        BlockKind::Dog => DOG_LINES,
        BlockKind::Case => CASE_LINES,
    }
}

/// Prepositions: a line that begins with one continues the line before.
pub const PREPOSITIONS: &[&str] = &["to", "with", "over", "by", "along", "at", "into", "except", "from", "off"];

/// Small words inside a line, for suggestions.
pub const SMALL: &[&str] = &[
    "to",
    "with",
    "over",
    "by",
    "at",
    "into",
    "except",
    "from",
    "and",
    "or",
    "in",
    "is",
    "before",
    "between",
    "within",
    "because",
    "reverse",
    "across",
    "against",
    "pass",
    "passes",
    "once",
    "twice",
    "throughout",
    "closer",
    "shorter",
    "than",
    "most",
    "least",
    "never",
    "only",
    "untouched",
    "first",
    "last",
    "open",
    "refer",
    "gap",
    "no",
    "one",
    "two",
    "three",
    "version",
    "on",
    "after",
    "seen",
    "under",
    "up",
    "coat",
    "comb",
    "weight",
    "height",
    "age",
    "mats",
    "sex",
    "build",
    "without",
    "finding",
    "longer",
    "combs",
    "class",
    "message",
    "takes",
    "dog",
    "but",
    "off",
    "the",
    "skin",
    "stretch",
    "all",
    "mm",
    "cm",
    "kg",
    "weeks",
    "week",
    "fingers",
    "inches",
    "minutes",
    "months",
    "years",
    "min",
    "days",
    "hours",
    "times",
];

/// The block a word opens.
#[must_use]
pub fn block(word: &str) -> Option<BlockKind> {
    BLOCKS.iter().find(|(w, _)| *w == word).map(|(_, k)| *k)
}

/// The verb a word is.
#[must_use]
pub fn verb(word: &str) -> Option<Verb> {
    Some(match word {
        "set-in" => Verb::SetIn,
        "finish" => Verb::Finish,
        "clip" => Verb::Clip,
        "skim" => Verb::Skim,
        "scissor" => Verb::Scissor,
        "shape" => Verb::Shape,
        "thin" => Verb::Thin,
        "hand-strip" => Verb::HandStrip,
        "card" => Verb::Card,
        "rake" => Verb::Rake,
        "taper" => Verb::Taper,
        "leave" => Verb::Leave,
        _ => return None,
    })
}

/// The unit a word (lower case) or sign names.
#[must_use]
pub fn unit(word: &str) -> Option<Unit> {
    Some(match word {
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Unit::Mm,
        "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Unit::Cm,
        "m" | "metre" | "metres" | "meter" | "meters" => Unit::M,
        "in" | "inch" | "inches" | "\"" | "″" | "”" => Unit::Inch,
        "finger" | "fingers" => Unit::Finger,
        "hand" | "hands" => Unit::Hand,
        "g" | "gram" | "grams" => Unit::G,
        "kg" | "kilo" | "kilos" | "kilogram" | "kilograms" => Unit::Kg,
        "lb" | "lbs" | "pound" | "pounds" => Unit::Pound,
        "oz" | "ounce" | "ounces" => Unit::Ounce,
        "min" | "mins" | "minute" | "minutes" => Unit::Minute,
        "s" | "sec" | "secs" | "second" | "seconds" => Unit::Second,
        "h" | "hr" | "hrs" | "hour" | "hours" => Unit::Hour,
        "d" | "day" | "days" => Unit::Day,
        "week" | "weeks" | "wk" | "wks" => Unit::Week,
        "month" | "months" => Unit::Month,
        "year" | "years" | "yr" | "yrs" => Unit::Year,
        "%" | "percent" => Unit::Percent,
        "cm2/min" | "cm²/min" => Unit::Cm2PerMinute,
        "mm/week" => Unit::MmPerWeek,
        "°c" | "c" | "celsius" => Unit::Celsius,
        "x" | "times" => Unit::Times,
        _ => return None,
    })
}

/// `one` to `twelve`.
#[must_use]
pub fn count(word: &str) -> Option<i64> {
    Some(match word {
        "one" | "once" => 1,
        "two" | "twice" => 2,
        "three" | "thrice" => 3,
        "four" => 4,
        "five" => 5,
        "six" => 6,
        "seven" => 7,
        "eight" => 8,
        "nine" => 9,
        "ten" => 10,
        "eleven" => 11,
        "twelve" => 12,
        _ => return None,
    })
}

/// Damerau-Levenshtein distance (a swap of neighbours counts one), or `limit + 1` when it is above `limit`.
#[must_use]
pub fn distance(a: &str, b: &str, limit: usize) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    if a.len().abs_diff(b.len()) > limit || a.len() > 40 || b.len() > 40 {
        return limit + 1;
    }
    let mut two: Vec<usize> = Vec::new();
    let mut one: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.iter().enumerate() {
        let mut row = Vec::with_capacity(b.len() + 1);
        row.push(i + 1);
        for (j, cb) in b.iter().enumerate() {
            let get = |v: &[usize], k: usize| v.get(k).copied().unwrap_or(usize::MAX / 2);
            let mut d = (get(&one, j + 1) + 1).min(get(&row, j) + 1).min(get(&one, j) + usize::from(ca != cb));
            if i > 0 && j > 0 && a.get(i - 1) == Some(cb) && b.get(j - 1) == Some(ca) {
                d = d.min(get(&two, j - 1) + 1);
            }
            row.push(d);
        }
        two = std::mem::replace(&mut one, row);
    }
    one.last().copied().unwrap_or(0)
}

/// How many slips a word of this length may hold and still be recognised.
const fn slack(len: usize) -> usize {
    match len {
        0..=2 => 0,
        3..=5 => 1,
        _ => 2,
    }
}

/// What people say for a verb of the language: owners say `shave` where a groomer clips.
#[must_use]
pub fn meant(word: &str) -> Option<&'static str> {
    Some(match word {
        "shave" | "shear" | "buzz" | "clipper" => "clip",
        "cut" | "snip" => "scissor",
        "strip" | "pluck" => "hand-strip",
        "comb" | "deshed" => "rake",
        "skip" => "leave",
        _ => return None,
    })
}

/// The one nearest word of `among`, if it is near enough to be meant; at a tie, one that begins with the same letter.
#[must_use]
pub fn nearest<'a>(word: &str, among: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let n = word.chars().count();
    let mut best: Option<(usize, &'a str)> = None;
    let mut tie = false;
    for candidate in among {
        let limit = slack(n.max(candidate.len())).min(slack(n) + 1);
        if limit == 0 {
            continue;
        }
        let same = candidate.chars().next() == word.chars().next();
        let d =
            distance(word, candidate, limit) * 4 + usize::from(!same) * 2 + usize::from(!same_letters(word, candidate));
        if d > limit * 4 + 3 {
            continue;
        }
        match best {
            Some((b, w)) if d > b || w == candidate => {}
            Some((b, _)) if d == b => tie = true,
            _ => {
                best = Some((d, candidate));
                tie = false;
            }
        }
    }
    best.filter(|_| !tie).map(|(_, w)| w)
}

/// Whether two words hold the same letters in another order.
fn same_letters(a: &str, b: &str) -> bool {
    let sorted = |s: &str| {
        let mut v: Vec<char> = s.chars().collect();
        v.sort_unstable();
        v
    };
    a.len() == b.len() && sorted(a) == sorted(b)
}

/// The Latin letter that a Cyrillic or Greek letter looks like.
#[must_use]
pub const fn look_alike(c: char) -> Option<char> {
    Some(match c {
        'а' | 'А' | 'α' | 'Α' => 'a',
        'В' | 'Β' | 'в' => 'b',
        'с' | 'С' | 'ϲ' => 'c',
        'е' | 'Е' | 'Ε' => 'e',
        'Н' | 'Η' | 'һ' => 'h',
        'і' | 'І' | 'Ι' | 'ι' => 'i',
        'ј' | 'Ј' => 'j',
        'К' | 'к' | 'Κ' | 'κ' => 'k',
        'М' | 'м' | 'Μ' => 'm',
        'п' | 'Ν' => 'n',
        'о' | 'О' | 'ο' | 'Ο' => 'o',
        'р' | 'Р' | 'ρ' | 'Ρ' => 'p',
        'ѕ' | 'Ѕ' => 's',
        'Т' | 'т' | 'Τ' | 'τ' => 't',
        'υ' => 'u',
        'ν' => 'v',
        'х' | 'Х' | 'Χ' | 'χ' => 'x',
        'у' | 'У' | 'Υ' => 'y',
        'Ζ' => 'z',
        _ => return None,
    })
}
