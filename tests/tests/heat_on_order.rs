//! Heat placed on orders: no blade runs until skin would burn, by the reckoning of the verifier, which shares nothing with the plan's.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing, missing_docs)]

mod common;

use coatwright::basics;
use coatwright::diagnostic::Severity;
use coatwright::plan::{ForBlade, Plan, Stop};
use coatwright::sheet::render::{Options, markdown, text};
use coatwright::sheet::{Made, Request, blades, finished, make};
use coatwright::verify::{Case, Known, Text};
use coatwright::why_order::why_order;
use coatwright::workspace::Workspace;
use grammar::tree::{BlockKind, File};

fn request(dog: &str) -> Request {
    Request { recipe: None, dog: dog.to_owned(), on: None, learner: false }
}

/// Numbers at random, the same in every run: Steele, Lea and Flood's SplitMix64.
struct Random(u64);

impl Random {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % end
    }

    fn of<'a>(&mut self, all: &[&'a str]) -> &'a str {
        let count = u64::try_from(all.len()).unwrap();
        all[usize::try_from(self.below(count)).unwrap()]
    }
}

/// A house with its kit, a recipe and a dog, all at random.
fn salon(random: &mut Random) -> (String, u64) {
    let own = random.below(3) + 1;
    let blades: Vec<String> = ["#40", "#30", "#15", "#10", "#7F", "#5F", "#4F"]
        .iter()
        .map(|b| format!("{} {b}", ["one", "two", "three"][own as usize - 1]))
        .collect();
    let mut lines = String::new();
    for (zone, tools, ways) in [
        ("torso", 4, 3),
        ("front", 4, 1),
        ("legs", 4, 2),
        ("breastbone, belly front", 2, 1),
        ("cheeks, foreface", 2, 1),
        ("tail-top, tail-tip", 4, 1),
    ] {
        let tool = random.of(&["#10", "#7F", "#5F", "#4F"][..tools]);
        let way = random.of(&[
            "clip ZONE with TOOL with the coat",
            "clip ZONE by 19 mm comb with the coat",
            "set in ZONE with #4F with the coat\n  finish ZONE by shears",
        ][..ways]);
        lines.push_str(&format!("  {}\n", way.replace("ZONE", zone).replace("TOOL", tool)));
    }
    for zone in ["belly rear", "armpits", "groin", "under tail", "ears", "pads, between-toes", "throat"] {
        lines.push_str(&format!("  skim {zone} with #10 with the coat, one pass\n"));
    }
    let finding = random.of(&[
        "",
        "  finding old-dog\n",
        "  finding sensitive-belly\n",
        "  mats pelted on breeches, ribs\n  consent clip-off yes\n",
    ]);
    let text = format!(
        "house h {{\n  title \"H\"\n  kit k\n}}\n\nkit k {{\n  owns {}, comb-19, shears\n  room {} °C\n  ends-at {} °C\n  cools {} min\n}}\n\n\
         recipe r {{\n  title \"R\"\n  serves coat curl, weight 2 kg to 70 kg\n  leave whole-coat\n{lines}}}\n\ndog d {{\n  sex dog\n  coat \
         curl, 60 mm\n  weight {} kg\n  born 2021-05\n  seen 2026-11-20\n{finding}  wants r\n}}\n",
        blades.join(", "),
        16 + random.below(14),
        44 + random.below(42),
        2 + random.below(7),
        2 + random.below(58),
    );
    (text, own)
}

/// The trees of the basics.
fn trees() -> Vec<File> {
    basics::TEXTS.iter().map(|(_, text)| grammar::parse(text)).collect()
}

/// What the verifier says of a plan.
fn said(trees: &[File], text: &str, made: &Made, plan: &Plan) -> Vec<String> {
    let file = grammar::parse(text);
    let mut trade: Vec<Text<'_>> = (0..)
        .zip(trees)
        .map(|(number, f)| Text { file: number, blocks: f.blocks.iter().map(|p| (p.at, &p.block.block)).collect() })
        .collect();
    trade.push(Text { file: 20, blocks: file.blocks.iter().map(|p| (p.at, &p.block.block)).collect() });
    let block = |kind: BlockKind| {
        let placed = file.blocks.iter().find(|p| p.block.block.kind == kind).unwrap();
        (20, placed.at, placed.block.block.body.as_slice())
    };
    let chain = [block(BlockKind::House), block(BlockKind::Recipe)];
    let case = Case { trade: &trade, chain: &chain, houses: &[1; 2], card: block(BlockKind::Dog), days_old: None };
    Known::read(&trade, &chain).on_table(&case).burns(&blades(&made.trade, plan)).into_iter().map(|b| b.words).collect()
}

fn without(plan: &Plan, gone: impl Fn(&Stop) -> bool) -> Option<Plan> {
    let mut plan = plan.clone();
    let all = plan.stops.len();
    plan.stops.retain(|s| !gone(s));
    (plan.stops.len() < all).then_some(plan)
}

fn is_feel(stop: &Stop) -> bool {
    matches!(stop.what, ForBlade::Feel(_))
}

/// Orders at random, with blades warmer and cooler than the basics' and one, two or three of each: the verifier never says no; with the
/// changes or the feels taken away it does.
#[test]
fn another_arithmetic_agrees() {
    let trees = trees();
    let mut random = Random(33);
    let (mut made_it, mut changed, mut unfelt, mut refused) = (0, 0, 0, Vec::new());
    for round in 0..80 {
        let (text, own) = salon(&mut random);
        let workspace = common::house(&text);
        let made = match finished(&workspace, &request("d")) {
            Ok(made) => made,
            Err(said) => {
                assert!(said.iter().all(|d| d.code != "V001"), "round {round}: {said:#?}\n{text}");
                refused.extend(said.into_iter().filter(|d| d.severity == Severity::Error).map(|d| d.message));
                continue;
            }
        };
        made_it += 1;
        assert!(own > 1 || made.plan.stops.iter().all(|s| s.what != ForBlade::Swap), "round {round}");
        assert_eq!(said(&trees, &text, &made, &made.plan), [""; 0], "round {round}\n{text}");
        if let Some(plan) = without(&made.plan, |s| !is_feel(s)) {
            assert!(said(&trees, &text, &made, &plan).iter().any(|w| w.contains("without a change")), "round {round}");
            changed += 1;
        }
        if let Some(plan) = without(&made.plan, is_feel) {
            assert!(said(&trees, &text, &made, &plan).iter().any(|w| w.contains("nobody has felt")), "round {round}");
            unfelt += 1;
        }
    }
    assert!(
        made_it > 60 && changed > 30 && unfelt > 30,
        "{made_it} made, {changed} with changes, {unfelt} with feels; {refused:#?}"
    );
}

/// A swap with a blade that the kit hasn't is told, too.
#[test]
fn a_blade_that_isn_t_there_is_no_help() {
    let trees = trees();
    let text = "house h { title \"H\"; kit k }\n\nkit k { owns one #7F }\n\nrecipe r {\n  title \"R\"\n  serves coat curl, weight 2 kg to 70 kg\n  \
                leave whole-coat\n  clip torso with #7F with the coat\n}\n\ndog d {\n  sex dog\n  coat curl, 60 mm\n  weight 40 kg\n  born 2021-05\n  seen 2026-11-20\n  wants r\n}\n";
    let made = finished(&common::house(text), &request("d")).unwrap();
    let mut plan = made.plan.clone();
    assert!(plan.stops.iter().any(|s| s.what == ForBlade::Cool));
    plan.stops.iter_mut().for_each(|s| s.what = ForBlade::Swap);
    assert!(said(&trees, text, &made, &plan).iter().any(|w| w.contains("the kit has no other")));
}

/// The demo's dogs: stops on the sheet, in its time and its lay-out, told by `why-order`; few, and none for a blade that isn't used.
#[test]
fn the_demo_s_sheets_tell_of_heat() {
    let workspace: Workspace = common::workspace(common::saltmarsh());
    let mut all = 0;
    for dog in ["bramble", "kelp", "flint", "pearl"] {
        let made = finished(&workspace, &request(dog)).unwrap();
        let sheet = make(&workspace, &request(dog)).unwrap();
        let stops = made.plan.stops.len();
        all += stops;
        assert!(stops <= 12, "{dog}: {stops} stops");
        for shown in [text(&sheet, &Options::default()), markdown(&sheet, &Options::default())] {
            let feels = made.plan.stops.iter().any(is_feel);
            assert_eq!(shown.contains("inside of the wrist"), feels, "{dog}");
        }
        let told = why_order(&made, workspace.sources(), &request(dog), None).unwrap();
        assert_eq!(told.iter().filter(|l| l.contains("heat: ")).count(), stops, "{dog}");
    }
    assert!(all > 4, "{all}");
}
