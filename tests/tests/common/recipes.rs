//! Random recipes as text, small enough to be brute-forced: a few zones that border each other, everything else left by one broad
//! line, and up to fourteen statements of every kind that decides something. What fails can be pasted and tried.
//!
//! Every value of the strategy is a text that can be read; whether it asks for something that the basics forbid from the start (a
//! keep weaker than one that binds anyway) only the program can tell, and such texts are passed over by the tests.
#![allow(dead_code)]

use proptest::prelude::*;
use std::fmt::Write;

/// Findings of a house, so that there are some that ask for an answer anywhere, and on the whole dog.
pub const OWN: &str = "finding tickle {
  about   \"Jerks where it is touched.\"
  on      any zone
  keep    never in reverse
  reply   answer
}

finding fidgets {
  about   \"Never stands still.\"
  on      whole dog
  reply   answer
}

";

/// Part of the body in which a random recipe plays.
pub struct Arena {
    /// Zones, groups and parts of them as an author writes them; simple ones first.
    zones: &'static [&'static str],
    /// Single zones that border one another.
    leaves: &'static [&'static str],
    /// Findings that matter here.
    findings: &'static [&'static str],
}

/// The parts of the body: thin skin and folds, the face with its answers, flat skin, a chain of small zones.
pub const ARENAS: &[Arena] = &[
    Arena {
        zones: &[
            "torso",
            "back",
            "ribs",
            "loin",
            "flank",
            "topline",
            "left ribs",
            "croup",
            "torso except croup",
            "right flank",
            "back, loin",
            "ribs, flank",
        ],
        leaves: &["back", "loin", "ribs", "flank", "croup", "withers"],
        findings: &["sensitive-skin", "pink-skin", "irritation", "hot-spot", "heart", "redness", "tickle", "old-dog"],
    },
    Arena {
        zones: &[
            "belly",
            "belly-rear",
            "groin",
            "sanitary except under-tail",
            "inside-thigh",
            "belly-front",
            "left groin",
            "belly, groin",
            "prepuce, vulva",
            "right inside-thigh",
            "tuck-up",
        ],
        leaves: &["belly-front", "belly-rear", "groin", "inside-thigh", "tuck-up", "prepuce"],
        findings: &["sensitive-belly", "in-milk", "thin-skin", "urine-scald", "lick-sore", "tickle", "wart", "fidgets"],
    },
    Arena {
        zones: &[
            "foreface",
            "cheek",
            "muzzle",
            "cheek, throat",
            "chin",
            "beard",
            "left cheek",
            "throat",
            "bridge",
            "foreface except chin",
            "right muzzle",
        ],
        leaves: &["bridge", "muzzle", "chin", "cheek", "throat"],
        findings: &["face-shy", "sensitive-skin", "yeasty-skin", "crusts", "tickle", "redness", "fidgets", "heart"],
    },
    Arena {
        zones: &[
            "tail",
            "tail-set",
            "tail-top",
            "tail-underset",
            "tail-feather",
            "tail except tail-set",
            "tail-set, tail-top",
            "tail-underside",
            "tail-underset, tail-underside",
        ],
        leaves: &["tail-set", "tail-top", "tail-underset", "tail-feather", "tail-underside"],
        findings: &["sensitive-skin", "thin-skin", "irritation", "lick-sore", "tickle", "pink-skin", "fidgets"],
    },
];

/// Coats that may be clipped short.
const COATS: &[&str] = &["curl", "fleece", "silky", "wavy"];

/// Work by a named tool, with everything that can be wrong about it.
const WORK: &[(&str, &str)] = &[
    ("clip", "with #10 with the coat"),
    ("clip", "with #7F with the coat"),
    ("clip", "by 6 mm comb with the coat"),
    ("leave", ""),
    ("skim", "with #10 with the coat, one pass"),
    ("clip", "with #10 in reverse"),
    ("clip", "by 13 mm comb with the coat"),
    ("scissor", "to 20 mm by shears"),
    ("clip", "with #5F with the coat"),
    ("clip", "with #15 in reverse, again"),
    ("thin", "to 20 mm by thinners-46"),
    ("clip", "with #7F across, twice"),
    ("scissor", "to 8 mm by ball-tip-shears"),
    ("clip", "with #7 with the coat"),
    ("scissor", "to 5 mm by shears"),
    ("clip", "with #30 with the coat"),
    ("thin", "by thinners-46"),
    ("clip", "with #7F with the coat, again"),
];

/// What a keep may ask.
const KEEPS: &[&str] = &[
    "no closer than #10",
    "never in reverse",
    "no closer than #7F",
    "gap fine",
    "one pass",
    "never clipper",
    "untouched",
    "at most 20 mm",
    "never shears",
    "no shorter than 6 mm",
    "with the coat",
    "only shears or thinners",
    "never comb",
    "no closer than 6 mm",
];

/// A random recipe by numbers that are taken modulo what there is to choose from.
#[derive(Clone, Debug)]
pub struct Recipe {
    /// Which part of the body.
    pub arena: usize,
    /// Which coats, and how many.
    pub coats: (usize, usize),
    /// What else `serves` says.
    pub serves: [usize; 5],
    /// How the rest of the dog is left.
    pub rest: usize,
    /// The lines of a base; none is no base.
    pub base: Vec<Line>,
    /// The lines.
    pub lines: Vec<Line>,
}

/// A line by numbers, with numbers for what stands inside it.
#[derive(Clone, Debug)]
pub struct Line {
    /// What it is, and its parts.
    pub dice: [usize; 6],
    /// The lines inside.
    pub inner: Vec<[usize; 6]>,
}

fn line() -> impl Strategy<Value = Line> {
    (prop::array::uniform6(0_usize..997), prop::collection::vec(prop::array::uniform6(0_usize..997), 1..3))
        .prop_map(|(dice, inner)| Line { dice, inner })
}

/// A recipe of 2 to 14 lines, short ones more often; every fourth has a base.
pub fn a_recipe() -> impl Strategy<Value = Recipe> {
    let lines = prop_oneof![
        4 => prop::collection::vec(line(), 2..5),
        3 => prop::collection::vec(line(), 4..9),
        1 => prop::collection::vec(line(), 8..15),
    ];
    let base = prop_oneof![3 => Just(Vec::new()), 1 => prop::collection::vec(line(), 1..4)];
    (0_usize..997, (0_usize..997, 0_usize..997), prop::array::uniform5(0_usize..997), 0_usize..997, base, lines)
        .prop_map(|(arena, coats, serves, rest, base, lines)| Recipe { arena, coats, serves, rest, base, lines })
}

fn pick<T: Copy>(from: &[T], number: usize) -> T {
    from[number % from.len()]
}

impl Recipe {
    fn arena(&self) -> &'static Arena {
        &ARENAS[self.arena % ARENAS.len()]
    }

    /// The coats that it serves.
    fn coats(&self) -> Vec<&'static str> {
        (0..=self.coats.1 % 3).map(|n| pick(COATS, self.coats.0 + n)).collect()
    }

    /// A finding; the first few of the part are spoken of most, so that guards meet.
    fn finding(&self, number: usize) -> &'static str {
        let all = self.arena().findings;
        pick(all, (number % 5) * (number % 7) / 3 + self.serves[4])
    }

    /// The text: findings of the house, a base if it has one, and the recipe `short`.
    pub fn text(&self) -> String {
        let mut out = OWN.to_owned();
        if !self.base.is_empty() {
            out.push_str("recipe under {\n");
            for line in &self.base {
                self.line(line, &mut out);
            }
            out.push_str("}\n\n");
        }
        out.push_str("recipe short {\n");
        if !self.base.is_empty() {
            out.push_str("  extends under\n");
        }
        let _ = writeln!(out, "  serves coat {}", self.coats().join(" or "));
        let _ = writeln!(
            out,
            "  serves weight {}",
            pick(&["3 kg to 30 kg", "3 kg to 12 kg", "5.9 kg to 12 kg"], self.serves[0])
        );
        // What asks for an answer is mostly not served, or every recipe would lack one.
        for (at, finding) in ["tickle", "fidgets", "face-shy"].iter().enumerate() {
            if self.serves[1] >> (2 * at) & 3 != 3 {
                let _ = writeln!(out, "  serves without {finding}");
            }
        }
        match self.serves[2] % 9 {
            1 => out.push_str("  serves mats up to knots\n"),
            2 => out.push_str("  serves mats up to tight\n"),
            3 => out.push_str("  serves height 20 cm to 60 cm\n"),
            4 => out.push_str("  serves sex bitch\n"),
            5 => out.push_str("  serves age from 26 weeks\n"),
            _ => {}
        }
        match self.rest % 6 {
            5 => {
                let _ = writeln!(out, "  leave whole-coat except {}", pick(self.arena().leaves, self.rest / 6));
            }
            _ => out.push_str("  leave whole-coat\n"),
        }
        for line in &self.lines {
            self.line(line, &mut out);
        }
        out.push_str("}\n");
        out
    }

    fn work(&self, [_, zone, how, more, ..]: [usize; 6], indent: &str, out: &mut String) {
        // Common work more often than what is odd.
        let (verb, tool) = if more.is_multiple_of(3) { pick(WORK, how) } else { WORK[how % 8] };
        let zone = pick(self.arena().zones, zone);
        let all = if more % 17 == 16 { ", throughout" } else { "" };
        let all = if tool.is_empty() { all.trim_start_matches(',') } else { all };
        let _ = writeln!(out, "{}", format!("{indent}{verb} {zone} {tool}{all}").trim_end());
    }

    fn keep(&self, [_, zone, how, ..]: [usize; 6], indent: &str, out: &mut String) {
        let _ = writeln!(out, "{indent}keep {} {}", pick(self.arena().zones, zone), pick(KEEPS, how));
    }

    fn condition(&self, number: usize, more: usize) -> String {
        let coats = self.coats();
        let simple = |n: usize| match n % 17 {
            0 | 1 => format!("coat {}", pick(&coats, n / 16)),
            2 => "weight under 6 kg".to_owned(),
            3 => "weight from 6 kg".to_owned(),
            4 => "weight 6 kg to 12 kg".to_owned(),
            5 => "weight over 9 kg".to_owned(),
            6 => format!("coat {} or {}", coats[0], coats[coats.len() - 1]),
            7 => "sex bitch".to_owned(),
            8 => "height under 35 cm".to_owned(),
            9 => "height from 35 cm".to_owned(),
            10 => "age under 12 months".to_owned(),
            11 => "age over 7 years".to_owned(),
            12 => "build long".to_owned(),
            13 => "mats up to tangles".to_owned(),
            14 => format!("finding {}", self.finding(n / 16)),
            15 => "weight up to 9 kg".to_owned(),
            // Ends in the value at which another begins.
            _ => "weight 3 kg to 6 kg".to_owned(),
        };
        let first = simple(number);
        // Two parts of one kind would often be met by nobody.
        let second = simple(more);
        let kind = |text: &str| text.split(' ').next().map(str::to_owned);
        if more.is_multiple_of(4) && kind(&first) != kind(&second) { format!("{first}, {second}") } else { first }
    }

    fn line(&self, line: &Line, out: &mut String) {
        let [what, a, b, c, d, e] = line.dice;
        let leaves = self.arena().leaves;
        let two = |n: usize, m: usize| {
            let at = n % leaves.len();
            (leaves[at], leaves[(at + 1 + m % (leaves.len() - 1)) % leaves.len()])
        };
        match what % 21 {
            0..=6 => self.work(line.dice, "  ", out),
            7..=9 => {
                let _ = writeln!(out, "  when {} {{", self.condition(a, b));
                self.inside(&line.inner, "    ", out);
                out.push_str("  }\n");
                if c % 3 == 1 {
                    let _ = writeln!(out, "  else when {} {{", self.condition(d, e));
                    self.work([0, d, e, a, b, c], "    ", out);
                    out.push_str("  }\n");
                }
                if c % 3 != 0 && d.is_multiple_of(2) {
                    out.push_str("  else {\n");
                    self.work([0, a, e, b, d, c], "    ", out);
                    out.push_str("  }\n");
                }
            }
            10..=14 => {
                let second = if b % 5 == 4 { format!(", {}", self.finding(a + 1 + c)) } else { String::new() };
                let first = self.finding(a);
                let both = second.trim_start_matches(", ") != first;
                let _ = writeln!(out, "  guard {first}{} {{", if both { second.as_str() } else { "" });
                if d % 6 == 5 {
                    let _ = writeln!(out, "    when {} {{", self.condition(e, c));
                    self.inside(&line.inner, "      ", out);
                    out.push_str("    }\n");
                } else {
                    self.inside(&line.inner, "    ", out);
                }
                out.push_str("  }\n");
            }
            15 => self.keep(line.dice, "  ", out),
            16 => {
                let (x, y) = two(a, b);
                let _ = writeln!(out, "  blend {x} into {y} over two fingers by skimming");
            }
            17 => {
                let (x, y) = two(a, b);
                let _ = writeln!(out, "  line between {x} and {y}");
            }
            18 => {
                let (x, y) = two(a, b);
                let _ = writeln!(out, "  order {x} before {y}");
                if c % 3 == 2 {
                    let _ = writeln!(out, "  guard {} {{\n    order {y} before {x}\n  }}", self.finding(d));
                }
            }
            19 => {
                let (x, y) = two(a, b);
                let _ = writeln!(out, "  {} {x}", pick(&["first", "last"], c));
                match c % 5 {
                    3 => {
                        let _ = writeln!(out, "  when {} {{\n    last {x}\n  }}", self.condition(d, e));
                    }
                    4 => {
                        let _ = writeln!(out, "  guard {} {{\n    first {x}, {y}\n  }}", self.finding(d));
                    }
                    _ => {}
                }
            }
            _ => {
                let _ = writeln!(out, "  set in {} by 19 mm comb with the coat", pick(self.arena().zones, a));
                let _ = writeln!(
                    out,
                    "  finish {} by shears",
                    pick(self.arena().zones, if c.is_multiple_of(4) { b } else { a })
                );
            }
        }
    }

    /// What stands inside a condition or a guard: work, a keep, now and then a line about borders or order.
    fn inside(&self, inner: &[[usize; 6]], indent: &str, out: &mut String) {
        let leaves = self.arena().leaves;
        for dice in inner {
            let (x, y) = (dice[1] % leaves.len(), dice[2] % (leaves.len() - 1));
            let (x, y) = (leaves[x], leaves[(x + 1 + y) % leaves.len()]);
            match dice[0] % 12 {
                0..=5 => self.work(*dice, indent, out),
                6..=9 => self.keep(*dice, indent, out),
                10 => {
                    let _ = writeln!(out, "{indent}order {x} before {y}");
                }
                _ => {
                    let _ = writeln!(out, "{indent}line between {x} and {y}");
                }
            }
        }
    }
}
