//! The basics and the standards against values from outside the project.
//!
//! Each check names its source. `common practice, no source` and `from memory` are said where they are so; such a row
//! never stands alone. Where two sources part, both are written down and the looser one is what is asked. Nothing here is
//! computed by the code under test: an expected number is a number of the source, or arithmetic on such numbers.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use coatwright::check::{chain, check, units};
use coatwright::choices;
use coatwright::diagnostic::Severity;
use coatwright::finish::{Finish, Finishes, coat_factor, finish, site_words};
use coatwright::measure::{Interval, Length, MM, Time, Weight};
use coatwright::models::surface::{area, surface};
use coatwright::names::trade::{Coat, Direction, Gap, Tool, ToolKind, Trade};
use coatwright::prove::representatives;
use coatwright::workspace::Workspace;
use common::{house, root};

/// One inch: 25.4 mm exactly. Source: international yard and pound agreement of 1959.
const INCH: f64 = 25.4;

fn trade() -> Trade {
    coatwright::basics::trade()
}

fn tool<'t>(trade: &'t Trade, name: &str) -> &'t Tool {
    let id = trade.index.tools.get(name).unwrap_or_else(|| panic!("no tool {name}"));
    trade.tool(*id).unwrap()
}

fn coat<'t>(trade: &'t Trade, name: &str) -> &'t Coat {
    trade.coats.iter().find(|c| c.name == name).unwrap_or_else(|| panic!("no coat {name}"))
}

#[allow(clippy::cast_precision_loss)]
fn mm(length: Length) -> f64 {
    length.0 as f64 / MM as f64
}

fn near(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= b.abs() * relative
}

// ---------------------------------------------------------------------------------------------- Measures

/// The inch, the pound and the ounce as written in a text. Source: international yard and pound agreement of 1959:
/// 1 in = 25.4 mm, 1 lb = 453.59237 g, 1 oz = 1/16 lb = 28.349523125 g, each exactly.
#[test]
fn inches_and_pounds() {
    let texts = [
        ("1 in", 25_400_000),
        ("1/8 in", 3_175_000),
        ("1 1/2 in", 38_100_000),
        ("½ in", 12_700_000),
        ("1/4\"", 6_350_000),
    ];
    for (written, nanometres) in texts {
        let workspace = house(&format!(
            "tool a-blade {{\n  kind blade\n  leaves {written}\n  closeness {written}\n  gap open\n}}\n"
        ));
        let salons = workspace.salons();
        let made = salons[0].trade.tools.iter().find(|t| t.name == "a-blade").unwrap();
        assert_eq!(made.closeness, Some(Length(nanometres)), "{written}");
        assert_eq!(made.leaves, Some(Interval::point(Length(nanometres))), "{written}");
    }
    // Cards hold whole grams: 23 lb = 10 432.62 g, 5 oz = 141.75 g.
    for (written, grams) in [("23 lb", 10_433), ("1 lb", 454), ("5 oz", 142), ("12.4 kg", 12_400)] {
        let workspace = house(&format!("dog a {{\n  sex dog\n  coat curl, 30 mm\n  weight {written}\n}}\n"));
        let salons = workspace.salons();
        let card = salons[0].dogs.get("a").unwrap();
        let mut said = Vec::new();
        let dog = coatwright::names::card::read(
            card,
            &salons[0].trade,
            units(&salons[0].trade),
            Some(coatwright::date::Day(20_000)),
            &mut said,
        );
        assert_eq!(dog.weight, Some(Weight(grams)), "{written}: {said:?}");
    }
}

// ---------------------------------------------------------------------------------------------- Blades

/// A row of the published blade table: name, inches (parts), and the spread across makers in millimetres.
struct Row {
    blade: &'static str,
    inch: Option<(f64, f64)>,
    low: f64,
    high: f64,
}

const fn row(blade: &'static str, inch: Option<(f64, f64)>, low: f64, high: f64) -> Row {
    Row { blade, inch, low, high }
}

/// Finish blades by falling number. Sources: a grooming-supply seller's blade guide (inches) and a New Zealand trade
/// supplier's table (spread). #9 and #8.5: millimetres from the table, inches from memory. #6F: makers' charts, from
/// memory; its inch is the only oracle, so it is held by the order of its neighbours too.
const BLADES: &[Row] = &[
    row("#50", Some((1.0, 125.0)), 0.05, 0.2),
    row("#40", Some((1.0, 100.0)), 0.1, 0.25),
    row("#30", Some((1.0, 50.0)), 0.5, 0.5),
    row("#15", Some((3.0, 64.0)), 1.2, 1.5),
    row("#10", Some((1.0, 16.0)), 1.5, 1.8),
    row("#9", Some((5.0, 64.0)), 2.0, 2.0),
    row("#8.5", Some((7.0, 64.0)), 2.8, 2.8),
    row("#7F", Some((1.0, 8.0)), 3.0, 4.0),
    row("#6F", Some((3.0, 16.0)), 4.7, 4.8),
    row("#5F", Some((1.0, 4.0)), 6.0, 6.35),
    row("#4F", Some((3.0, 8.0)), 8.0, 9.53),
    row("#3F", Some((1.0, 2.0)), 12.7, 19.0),
];

/// Sorted by number from 50 to 3, lengths strictly increase within finish blades. Source: the order of the same table.
#[test]
fn a_smaller_number_leaves_more() {
    let trade = trade();
    for pair in BLADES.windows(2) {
        let (a, b) = (tool(&trade, pair[0].blade), tool(&trade, pair[1].blade));
        assert!(a.closeness < b.closeness, "{} {:?}, {} {:?}", a.name, a.closeness, b.name, b.closeness);
        let (x, y) = (a.leaves.unwrap(), b.leaves.unwrap());
        assert!(x.middle() < y.middle() && x.low < y.low, "{} leaves {x}, {} leaves {y}", a.name, b.name);
    }
    // No finish blade of the basics is left out of the table.
    let numbered: Vec<&str> = trade
        .tools
        .iter()
        .filter(|t| t.kind == ToolKind::Blade && t.name.starts_with('#') && t.gap != Some(Gap::Skip))
        .map(|t| t.name.as_str())
        .collect();
    assert!(numbered.iter().all(|n| BLADES.iter().any(|r| r.blade == *n)), "{numbered:?}");
    assert_eq!(numbered.len(), BLADES.len());
}

/// What each blade leaves lies within the published spread, and its nominal length is the published inch as printed in
/// millimetres: #10 is printed 1.5 for 1.59, which is the coarsest rounding, 5.6 %.
#[test]
fn blades_lie_within_the_published_spread() {
    let trade = trade();
    for row in BLADES {
        let blade = tool(&trade, row.blade);
        let (nominal, leaves) = (mm(blade.closeness.unwrap()), blade.leaves.unwrap());
        assert!(nominal >= row.low - 1e-9 && nominal <= row.high + 1e-9, "{}: {nominal}", row.blade);
        assert!(mm(leaves.low) >= row.low - 1e-9 && mm(leaves.high) <= row.high + 1e-9, "{}: {leaves}", row.blade);
        if let Some((above, below)) = row.inch {
            assert!(near(nominal, above / below * INCH, 0.056), "{}: {nominal}", row.blade);
        }
    }
}

/// A skip-tooth blade leaves what the finish blade of its number leaves. Source: the same table has one row for both; a
/// breed-club statement that a 5F or a 5 skip-tooth leaves about a quarter inch. Finish blades bear an F, skip-tooth blades
/// the bare number: a professional-groomer help site.
#[test]
fn skip_and_finish_of_one_number() {
    let trade = trade();
    for (skip, fine) in [("#7", "#7F"), ("#5", "#5F"), ("#4", "#4F")] {
        let (skip, fine) = (tool(&trade, skip), tool(&trade, fine));
        assert_eq!((skip.closeness, skip.leaves), (fine.closeness, fine.leaves), "{}", skip.name);
        assert_eq!(skip.gap, Some(Gap::Skip));
        assert_ne!(fine.gap, Some(Gap::Skip));
    }
    assert!(near(mm(tool(&trade, "#5").closeness.unwrap()), INCH / 4.0, 0.01));
}

const CHART_HEAD: &str = "house h { title \"H\" }\n";

/// The codes of the errors that a house with these blades gets: name, length, teeth.
fn chart(rows: &[(&str, &str, &str)]) -> Vec<&'static str> {
    let mut text = CHART_HEAD.to_owned();
    for (name, length, gap) in rows {
        text.push_str(&format!(
            "tool {name} {{\n  kind blade\n  leaves {length}\n  closeness {length}\n  gap {gap}\n}}\n"
        ));
    }
    let said = check(&house(&text));
    said.iter().filter(|d| d.severity == Severity::Error).map(|d| d.code).collect()
}

/// The scrambled chart is refused. Source: a public page (beautdogs.com, dog-grooming blade length chart) prints #40 as
/// 3/64 in, #9 as 3/4 in and a skip-tooth 10 as 1 in, and says that lower numbers cut shorter. Each line alone is enough,
/// under a maker's letter; and whoever writes it under the very names of the basics is refused too.
#[test]
fn the_scrambled_chart_is_refused() {
    let scrambled = [("#40FC", "3/64 in", "fine"), ("#9FC", "3/4 in", "medium"), ("#10S", "1 in", "skip")];
    for line in scrambled {
        assert_eq!(chart(&[line]), ["C008"], "{line:?}");
    }
    assert!(chart(&scrambled).iter().filter(|c| **c == "C008").count() >= 2, "{:?}", chart(&scrambled));
    for (own, basic) in scrambled.iter().zip(["#40", "#9", "#10"]) {
        assert!(!chart(&[(basic, own.1, own.2)]).is_empty(), "{basic} passes");
    }
    // The published lengths of the same blades pass: it is the lengths that are refused, not the naming.
    let published = [("#40FC", "1/100 in", "fine"), ("#9FC", "5/64 in", "medium"), ("#10S", "1/16 in", "skip")];
    assert_eq!(chart(&published), Vec::<&str>::new());
    // Ties are no scramble: makers' #3F and #3 3/4F are both half an inch (from memory; and a trade review).
    assert_eq!(chart(&[("#3FC", "13 mm", "open")]), Vec::<&str>::new());
}

/// Under a comb sit close blades. Source: a grooming-supply seller's guide (40 best; 50, 30 too); a tutorial page (40 under
/// half an inch); a pet-grooming book's chapter (30 under an inch). That a #10 is the longest is common practice, no source.
#[test]
fn close_blades_sit_under_combs() {
    let trade = trade();
    let ten = tool(&trade, "#10").closeness;
    let combs: Vec<&Tool> = trade.tools.iter().filter(|t| t.kind == ToolKind::Comb).collect();
    assert!(combs.len() >= 9);
    for comb in combs {
        let over: Vec<&Tool> = comb.over.iter().map(|id| trade.tool(*id).unwrap()).collect();
        assert_eq!(over.first().map(|t| t.name.as_str()), Some("#40"), "{}", comb.name);
        assert!(over.iter().any(|t| t.name == "#30"), "{}", comb.name);
        assert!(over.iter().all(|t| t.kind == ToolKind::Blade && t.closeness <= ten), "{}", comb.name);
    }
}

/// A wide skip-tooth blade stays off the groin, and off an old dog altogether. Source: a professional-groomer help site on
/// the wide-tooth 7 (groin, flank, old dogs with thin skin). Armpit and tuck-up are common practice, no source.
#[test]
fn skip_teeth_stay_off_folds_and_old_dogs() {
    let recipe = |body: &str| {
        let text = format!("recipe r {{\n  title \"R\"\n  serves coat curl\n  leave whole-coat\n  {body}\n}}\n");
        check(&common::workspace(vec![("r.trim".into(), text)]))
    };
    for zone in ["groin", "flank", "tuck-up", "armpit"] {
        let said = recipe(&format!("clip {zone} with #7 with the coat"));
        assert!(common::codes(&said).contains(&"C002"), "{zone}: {said:#?}");
        // The teeth are what is refused: the finer blade of about the same length class passes.
        let said = recipe(&format!("clip {zone} with #10 with the coat, one pass"));
        assert!(!common::codes(&said).contains(&"C002"), "{zone}: {said:#?}");
    }
    let text = "recipe r {\n  title \"R\"\n  serves coat curl\n  leave whole-coat\n  clip back, loin, ribs with #7 with the coat\n}\n\
                dog old {\n  sex dog\n  coat curl, 30 mm\n  weight 9 kg\n  asked skin, ears, heart, joints\n  finding old-dog\n  wants r\n}\n\
                dog young {\n  sex dog\n  coat curl, 30 mm\n  weight 9 kg\n  asked skin, ears, heart, joints\n  wants r\n}\n";
    let workspace = common::workspace(vec![("r.trim".into(), text.to_owned())]);
    let gaps = |dog: &str| {
        let request = coatwright::sheet::Request {
            recipe: None,
            dog: dog.into(),
            on: Some(coatwright::date::Day(20_000)),
            learner: false,
        };
        let made = coatwright::sheet::finished(&workspace, &request).unwrap_or_else(|said| panic!("{said:#?}"));
        made.trade.sites_of("ribs").unwrap().iter().map(|s| made.finishes.at(s).unwrap().fine.gap).collect::<Vec<_>>()
    };
    assert!(gaps("young").iter().all(|g| *g == Some(Gap::Skip)));
    assert!(gaps("old").iter().all(|g| *g != Some(Gap::Skip)), "{:?}", gaps("old"));
}

// ---------------------------------------------------------------------------------------------- With the coat

/// Coats that lie, and so are left longer by a blade that runs with them.
const LYING: &[&str] = &[
    "smooth",
    "short-double",
    "double",
    "long-double",
    "wire",
    "curly-wire",
    "silky",
    "feathered",
    "wavy",
    "fleece",
    "woolly",
    "puppy-coat",
];
/// Curls that stand off the skin, where the nominal length applies.
const STANDING: &[&str] = &["curl", "double-curl", "water-curl", "short-curl"];
/// No published rule speaks of these.
const UNSPOKEN: &[&str] = &["corded", "hairless"];

/// Two published rules say what a blade leaves with the coat, and each lying coat spans both.
/// Rule A: about twice the nominal length (a New Zealand trade supplier's guide; its example: size 7, 3 mm, leaves 6 mm).
/// Rule B: one class longer (a grooming-supply seller's guide; its example: a 7 leaves 1/8 in against, 1/4 in with).
/// They agree at the 7 and part at the 4: 3/4 in by A, 1/2 in by B.
#[test]
fn lying_coats_span_both_rules() {
    let trade = trade();
    for coat in &trade.coats {
        let lists = [LYING, STANDING, UNSPOKEN].iter().filter(|l| l.contains(&coat.name.as_str())).count();
        assert_eq!(lists, 1, "say in this test how {} lies", coat.name);
    }
    for name in LYING {
        let coat = coat(&trade, name);
        for (nominal, a, b) in [(INCH / 8.0, INCH / 4.0, INCH / 4.0), (3.0 * INCH / 8.0, 3.0 * INCH / 4.0, INCH / 2.0)]
        {
            let factor = coat_factor(Some(coat), ToolKind::Blade, Direction::With, true);
            #[allow(clippy::cast_precision_loss)]
            let (low, high) = (nominal * factor.low.0 as f64 / 1e6, nominal * factor.high.0 as f64 / 1e6);
            for rule in [a, b] {
                assert!(low <= rule + 1e-9 && rule <= high + 1e-9, "{name}: {low} to {high} mm misses {rule} mm");
            }
        }
    }
}

/// Coats that stand off take the nominal length. Source: a grooming-supply seller's guide (Poodle, Bichon). Up to a fifth
/// more until combed up and repeated is common practice, no source.
#[test]
fn standing_curls_take_the_nominal_length() {
    let trade = trade();
    for name in STANDING {
        let coat = coat(&trade, name);
        let factor = coat_factor(Some(coat), ToolKind::Blade, Direction::With, true);
        assert_eq!(factor.low.0, 1_000_000, "{name}");
        assert!(factor.high.0 <= 1_200_000, "{name}");
    }
}

/// The nominal length is that against the growth, on every coat. Source: both guides agree.
#[test]
fn in_reverse_the_nominal_length_stays() {
    let trade = trade();
    for coat in &trade.coats {
        let factor = coat_factor(Some(coat), ToolKind::Blade, Direction::Reverse, false);
        assert_eq!((factor.low.0, factor.high.0), (1_000_000, 1_000_000), "{}", coat.name);
    }
}

// ---------------------------------------------------------------------------------------------- Coats

/// Seven genotypes make seven coats, by variants of FGF5 (long), KRT71 (curly) and RSPO2 (furnished). Source: Cadieu et al.
/// 2009, Science 326:150-153, by its lay summary with breeds as examples; Shearin & Ostrander 2010, PLoS Biol, fig. 4, for
/// four cross-checks (none, RSPO2 alone, FGF5 alone, all three). The coat for each example breed is this project's reading.
#[test]
fn the_seven_genotypes() {
    let trade = trade();
    let published: [(&str, &str, [&str; 3]); 7] = [
        ("smooth", "Beagle; Vizsla", ["short", "straight", "bare"]),
        ("wire", "Australian Terrier; Giant Schnauzer", ["short", "straight", "furnished"]),
        ("curly-wire", "Airedale", ["short", "curly", "furnished"]),
        ("long-double", "Golden Retriever; Cocker", ["long", "straight", "bare"]),
        ("silky", "Bearded Collie", ["long", "straight", "furnished"]),
        ("water-curl", "Irish Water Spaniel", ["long", "curly", "bare"]),
        ("double-curl", "Bichon", ["long", "curly", "furnished"]),
    ];
    for (name, breed, genes) in published {
        assert_eq!(coat(&trade, name).genes, genes, "{name} ({breed})");
    }
    // Every coat that tells its genes tells one of the seven, or the eighth (KRT71 alone), which the paper's table doesn't
    // have and lay pages know as a short curl. One copy of KRT71 makes waves: UC Davis Veterinary Genetics Laboratory.
    let mut told = 0;
    for coat in trade.coats.iter().filter(|c| !c.genes.is_empty()) {
        told += 1;
        let two: Vec<&str> = coat.genes.iter().map(|g| if g == "wavy" { "curly" } else { g.as_str() }).collect();
        let known = published.iter().any(|(_, _, genes)| two == genes);
        let eighth = two == ["short", "curly", "bare"] && coat.name == "short-curl";
        assert!(known || eighth, "{}: {:?}", coat.name, coat.genes);
    }
    assert!(told >= 10);
}

/// A curly single coat grows a third to half an inch a month: 0.28 to 0.42 mm a day. Source: a breed column on the Spanish
/// Water Dog's coat (showsightmagazine.com); mm a day computed with a month of 30.44 days. Weeks are rounded to a tenth of a
/// millimetre in the basics, hence 0.05 mm.
#[test]
fn a_water_dogs_curl_grows_as_published() {
    let trade = trade();
    let grows = coat(&trade, "water-curl").grows;
    let week = |inches_a_month: f64| inches_a_month * INCH / 30.44 * 7.0;
    #[allow(clippy::cast_precision_loss)]
    let (low, high) = (grows.low.0 as f64 / 1e6, grows.high.0 as f64 / 1e6);
    assert!((low - week(1.0 / 3.0)).abs() <= 0.06, "{low} mm a week, not {}", week(1.0 / 3.0));
    assert!((high - week(0.5)).abs() <= 0.06, "{high} mm a week, not {}", week(0.5));
}

/// How long coats get. Sources: FCI 172 (Poodle: cords at least 20 cm); AKC West Highland White Terrier (outer coat about two
/// inches); a water dog's standard (six inches in one edition); University of Minnesota, Canine post-clipping alopecia, and
/// Diaz et al. 2004, Vet Dermatol 15:25-30 (a clipped Labrador is back in 13.6 to 15.4 weeks).
#[test]
fn coats_get_as_long_as_published() {
    let trade = trade();
    let grows_to = |name: &str| mm(coat(&trade, name).grows_to.unwrap());
    assert!(grows_to("curl") >= 200.0);
    assert!(near(grows_to("wire"), 2.0 * INCH, 0.01));
    assert!(near(grows_to("water-curl"), 6.0 * INCH, 0.01));
    // Back to full length in the time that the study saw, at the middle of the coat's own growth.
    let labrador = coat(&trade, "short-double");
    #[allow(clippy::cast_precision_loss)]
    let weeks = grows_to("short-double") / ((labrador.grows.low.0 + labrador.grows.high.0) as f64 / 2e6);
    assert!((13.6..=15.4).contains(&weeks), "{weeks} weeks");
}

/// Clipping short risks poor regrowth on plush northern coats and retrievers. Source: University of Minnesota, Canine
/// post-clipping alopecia (plush, long thick coats; Husky, Malamute, other northern breeds; Golden Retriever).
#[test]
fn coats_that_may_not_grow_back() {
    let trade = trade();
    let poor: Vec<&str> = trade.coats.iter().filter(|c| c.regrowth_poor).map(|c| c.name.as_str()).collect();
    assert_eq!(poor, ["double", "long-double"]);
}

// ---------------------------------------------------------------------------------------------- Surface

/// The shares of the regions. Source: a CT study of 9 adult mesocephalic dogs, a chart for body surface estimation in canine
/// burn victims, J Vet Emerg Crit Care, early view December 2021. Its authors say that it doesn't hold for every shape.
const REGIONS: [(&str, i64); 7] = [
    ("head", 14),
    ("neck", 9),
    ("thorax", 18),
    ("abdomen", 14),
    ("front-limb", 2 * 9),
    ("hind-limb", 2 * 11),
    ("pelvis", 5),
];

/// The zones of each region add up to the chart's share, exactly, and all of them to the whole dog.
#[test]
fn region_shares_are_the_published_chart() {
    let trade = trade();
    let mut total = 0;
    for (region, percent) in REGIONS {
        let zones = trade.zones.iter().filter(|z| z.region == region);
        let sum: i64 = zones.map(|z| z.share.0).sum();
        assert_eq!(sum, percent * 10_000, "{region} in millionths");
        total += sum;
    }
    assert_eq!(total, 1_000_000);
    assert!(trade.zones.iter().all(|z| z.share.0 > 0 && REGIONS.iter().any(|(r, _)| z.region == *r)));
}

/// Body surface by weight. Formula column: K = 10.1 with the exponent 2/3, computed to four digits from the veterinary
/// formula (fluffyaffair.com, dog BSA conversion guide). Last column: the table of the manuals, from memory, K = 10.0 cut to
/// two digits: so 1 % for the K and one unit of the last digit. (The notes say 2 %, which its own small rows don't keep:
/// 0.1587 for 2 kg is printed 0.15.)
#[test]
fn body_surface_by_weight() {
    let table = [
        (0.5, 0.0636, 0.06),
        (1.0, 0.1010, 0.10),
        (2.0, 0.1603, 0.15),
        (5.0, 0.2953, 0.29),
        (10.0, 0.4688, 0.46),
        (15.0, 0.6143, 0.60),
        (20.0, 0.7442, 0.74),
        (25.0, 0.8635, 0.85),
        (30.0, 0.9751, 0.96),
        (35.0, 1.0807, 1.07),
        (40.0, 1.1813, 1.17),
        (50.0, 1.3708, 1.36),
    ];
    for (kg, formula, handbook) in table {
        let metres = surface(grams(kg)) / 1e6;
        assert!((metres - formula).abs() <= 0.000_05 + 1e-9, "{kg} kg: {metres} m2, not {formula}");
        assert!((metres - handbook).abs() <= handbook * 0.01 + 0.01, "{kg} kg: {metres} m2, handbook {handbook}");
    }
}

#[allow(clippy::cast_possible_truncation)]
fn grams(kg: f64) -> Weight {
    Weight((kg * 1000.0).round() as i64)
}

/// A worked example: 23 lb, taken as 23/2.2 kg, has 0.486693815653 m2. Source: a breed-club dosage page
/// (mycockerspaniel.com, pet_dose), which raises to 0.67 where the formula here has 2/3; the two part by W^(1/300), 0.8 % here
/// and 1.3 % at 50 kg. The weight is rounded to a gram, hence 5e-5.
/// Traps: with 10.45 kg instead of 23/2.2 the page's number isn't met; and a page that divides by 10 000 without saying
/// grams is a hundred times off.
#[test]
fn the_worked_example_of_body_surface() {
    let other_exponent = |kg: f64| surface(grams(kg)) / 1e6 * kg.powf(1.0 / 300.0);
    let kg = 23.0 / 2.2;
    assert!(near(other_exponent(kg), 0.486_693_815_653, 5e-5), "{}", other_exponent(kg));
    assert!(!near(other_exponent(10.45), 0.486_693_815_653, 5e-5));
    assert!(near(surface(grams(kg)) / 1e6, 0.486_693_815_653, 0.013));
    assert!(near(other_exponent(50.0), 1.3888, 1e-4), "{}", other_exponent(50.0));
}

/// The regions of a dog of 10 kg in cm2, computed from the two published figures above: 4688 times the chart.
#[test]
fn areas_of_a_ten_kilo_dog() {
    let trade = trade();
    let expected = [656.0, 422.0, 844.0, 656.0, 2.0 * 422.0, 2.0 * 516.0, 234.0];
    for ((region, _), cm2) in REGIONS.iter().zip(expected) {
        let zones = trade.zones.iter().filter(|z| z.region == *region);
        let sum: f64 = zones.map(|z| area(Weight(10_000), z.share) / 100.0).sum();
        assert!((sum - cm2).abs() <= 1.0, "{region}: {sum} cm2, not {cm2}");
    }
}

// ---------------------------------------------------------------------------------------------- Time

/// Steps take about what is published. Source: a groomer's table (petloverguy.com, how many dogs can you groom in a day):
/// bath 10 to 20 min for a small dog, 15 to 30 for a large one; nails 5 to 10. A single source, so the ranges must only meet.
#[test]
fn steps_take_about_as_long_as_published() {
    let trade = trade();
    let minutes = |name: &str| -> Interval<Time> {
        let id = trade.index.steps.get(name).unwrap_or_else(|| panic!("no step {name}"));
        trade.steps[id.0 as usize].minutes.unwrap_or_else(|| panic!("{name} takes no time"))
    };
    for (step, low, high) in [("bath", 10, 30), ("nails", 5, 10)] {
        let own = minutes(step);
        assert!(own.low.0 <= high * 60 && own.high.0 >= low * 60, "{step}: {own:?}");
        assert!(own.high.0 <= 2 * high * 60 && own.low.0 * 2 >= low * 60, "{step}: {own:?}");
    }
}

// ---------------------------------------------------------------------------------------------- Standards

/// One inch as an upper bound, in nanometres.
const ONE_INCH: Length = Length(25_400_000);

struct Served {
    trade: Trade,
    /// Coat, sex, weight in words, and what is done to that dog.
    dogs: Vec<(String, Finishes)>,
}

fn standard(file: &str, recipe: &str) -> Served {
    let path = root().join("recipes/standards").join(file);
    let text = common::read(&path);
    let workspace = Workspace::from_texts(vec![(file.into(), text)], 1);
    let said: Vec<_> = check(&workspace).into_iter().filter(|d| d.severity == Severity::Error).collect();
    assert!(said.is_empty(), "{said:#?}");
    let salons = workspace.salons();
    let salon = &salons[0];
    let mut out = Vec::new();
    let layers = chain(salon, salon.recipes.get(recipe).unwrap(), &mut out);
    let choices = choices::build(&layers, &salon.trade, units(&salon.trade), &mut out);
    let dogs = representatives(&choices, &salon.trade)
        .into_iter()
        .map(|dog| {
            let coat = salon.trade.coat(dog.coat.unwrap()).unwrap().name.clone();
            let words = format!("{coat}, {:?}, {}", dog.sex.unwrap(), dog.weight.unwrap());
            let finishes = finish(&choices, &salon.trade, &dog, &mut out);
            (words, finishes)
        })
        .collect::<Vec<_>>();
    assert!(!dogs.is_empty());
    Served { trade: (*salon.trade).clone(), dogs }
}

impl Served {
    /// Asks something of every finish in a place, on every dog that is served.
    fn each(&self, place: &str, ask: impl Fn(&Finish) -> bool) {
        let sites = self.trade.sites_of(place).unwrap_or_else(|| panic!("no place {place}"));
        for (dog, finishes) in &self.dogs {
            let mut seen = 0;
            for site in sites.iter() {
                let Some(finish) = finishes.at(site) else { continue };
                seen += 1;
                assert!(ask(finish), "{dog}: {}: {:?}", site_words(&self.trade, site), finish.fine);
            }
            assert!(seen > 0, "{dog}: nothing is done on {place}");
        }
    }

    fn kind(&self, finish: &Finish) -> Option<ToolKind> {
        finish.fine.kind(&self.trade)
    }
}

fn at_most(finish: &Finish, most: Length) -> bool {
    finish.fine.leaves.is_some_and(|l| l.high <= most && l.low.0 > 0)
}

/// Sporting clip: a blanket no longer than one inch. Source: AKC Poodle standard, Clip (d); one inch: a secondary page
/// (ehow.co.uk, list_5986453); the rest from memory. Slightly longer legs, shaved face, feet, throat and base of the tail, a
/// cap on the head and a pompon on the tail. Shaved is a #10 or closer: a pet-grooming book's chapter (face, feet, tail base
/// 10, 15 or 30).
#[test]
fn the_sporting_clip_keeps_its_inch() {
    let clip = standard("poodle-sporting-clip.trim", "poodle-sporting-clip");
    for place in ["torso", "body", "neck-side", "crest", "breastbone"] {
        clip.each(place, |f| at_most(f, ONE_INCH));
    }
    // "Slightly longer" has no number of its own: not more than an eighth again.
    clip.each("legs", |f| f.fine.leaves.is_some_and(|l| l.low.0 * 8 <= ONE_INCH.0 * 9));
    let ten = tool(&clip.trade, "#10").closeness.unwrap();
    for place in ["foreface", "cheek", "throat", "foot-top", "tail-set"] {
        clip.each(place, |f| clip.kind(f) == Some(ToolKind::Blade) && f.fine.closeness.is_some_and(|c| c <= ten));
    }
    for place in ["topknot", "tail-tip"] {
        clip.each(place, |f| f.fine.leaves.is_some_and(|l| l.low > ONE_INCH));
    }
    // The puppy clip is for the first twelve months, this one for after: AKC Poodle standard, Clip (a).
    let text = common::read(&root().join("recipes/standards/poodle-sporting-clip.trim"));
    assert!(text.contains("age from 12 months"));
}

/// Retriever clip: the whole coat no longer than one inch, the end of the tail at full length. Source: AKC Portuguese Water
/// Dog standard, Clip (digital.showsightmagazine.com view 188595; groomertogroomer.com, May 2013).
#[test]
fn the_retriever_clip_keeps_its_inch() {
    let clip = standard("water-dog-retriever-clip.trim", "water-dog-retriever-clip");
    clip.each("tail-tip", |f| f.fine.tool.is_none());
    let end = clip.trade.sites_of("tail-tip").unwrap() | clip.trade.sites_of("tail-feather").unwrap();
    clip.each("whole-coat", |f| {
        end.has(f.site) || f.fine.tool.is_none() || f.fine.leaves.is_some_and(|l| l.low <= ONE_INCH)
    });
    for place in ["torso", "body", "neck", "legs", "topknot", "cheek"] {
        clip.each(place, |f| at_most(f, ONE_INCH));
    }
}

/// The sheet says no more than the inch either: every length printed for the body is one inch at most.
#[test]
fn the_sheet_of_a_sporting_clip_keeps_its_inch() {
    let text = common::read(&root().join("recipes/standards/poodle-sporting-clip.trim"));
    let card = "dog a {\n  sex dog\n  coat curl, 60 mm\n  weight 22 kg\n  born 2022-01\n  seen 2026-11-20\n  asked skin, ears, heart, joints\n  \
                consent clip-off yes\n  wants poodle-sporting-clip\n}\n";
    let workspace = Workspace::from_texts(vec![("p.trim".into(), text), ("a.trim".into(), card.into())], 2);
    let on = coatwright::date::Day::new(2026, 11, 25).unwrap();
    let request = coatwright::sheet::Request { recipe: None, dog: "a".into(), on: Some(on), learner: false };
    let sheet = coatwright::sheet::make(&workspace, &request).unwrap_or_else(|said| panic!("{said:#?}"));
    let mut seen = 0;
    for line in sheet.steps.iter().flat_map(|s| &s.lines).filter(|l| l.work.contains("body")) {
        let Some(leaves) = &line.leaves else { continue };
        let numbers: Vec<f64> =
            leaves.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|w| w.parse().ok()).collect();
        assert!(!numbers.is_empty() && numbers.iter().all(|n| *n <= INCH), "{line:?}");
        seen += 1;
    }
    assert!(seen > 0, "{:#?}", sheet.steps);
}
