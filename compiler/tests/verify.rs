//! The verifier: each keep broken once, and once only nearly; and that it shares no code with what it checks.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use coatwright::verify::{
    AirFelt, Breach, Case, Done, Known, Pass, Piece, Standing, StepDone, Text, air, order, verify,
};
use grammar::tree::{BlockKind, Direction, File, Side, Stmt};

// ---------------------------------------------------------------- A plan in few words

fn at(zone: &str) -> Done {
    let (side, zone) = match zone.split_once(' ') {
        Some(("left", z)) => (Some(Side::Left), z),
        Some(("right", z)) => (Some(Side::Right), z),
        _ => (None, zone),
    };
    Done {
        zone: zone.into(),
        side,
        tool: None,
        over: None,
        direction: None,
        passes: 1,
        length: None,
        order: 0,
        pass: Pass::Finish,
    }
}

trait Words: Sized {
    fn by(self, tool: &str) -> Self;
    fn above(self, blade: &str) -> Self;
    fn reverse(self) -> Self;
    fn across(self) -> Self;
    fn with_coat(self) -> Self;
    fn times(self, n: u32) -> Self;
    fn leaves(self, micrometres: i64) -> Self;
}

impl Words for Done {
    fn by(mut self, tool: &str) -> Self {
        self.tool = Some(tool.into());
        self
    }
    fn above(mut self, blade: &str) -> Self {
        self.over = Some(blade.into());
        self
    }
    fn reverse(mut self) -> Self {
        self.direction = Some(Direction::Reverse);
        self
    }
    fn across(mut self) -> Self {
        self.direction = Some(Direction::Across);
        self
    }
    fn with_coat(mut self) -> Self {
        self.direction = Some(Direction::With);
        self
    }
    fn times(mut self, n: u32) -> Self {
        self.passes = n;
        self
    }
    fn leaves(mut self, micrometres: i64) -> Self {
        self.length = Some(micrometres * 1_000);
        self
    }
}

// ---------------------------------------------------------------- Files

const HOUSE: u32 = 10;
const BASE: u32 = 11;
const RECIPE: u32 = 12;
const WISH: u32 = 13;
const CARD: u32 = 14;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

struct Source {
    text: String,
    tree: File,
}

fn source(text: &str) -> Source {
    let tree = grammar::parse(text);
    let errors = grammar::errors(&tree);
    assert!(errors.is_empty(), "{text}\n{errors:?}");
    Source { text: text.to_owned(), tree }
}

fn basics() -> &'static [Source] {
    static BASICS: OnceLock<Vec<Source>> = OnceLock::new();
    BASICS.get_or_init(|| {
        ["body", "coats", "findings", "steps", "tools"]
            .map(|n| {
                let text = std::fs::read_to_string(root().join(format!("recipes/prelude/{n}.trim"))).unwrap();
                Source { tree: grammar::parse(&text), text }
            })
            .into()
    })
}

/// House (with blocks of the trade after it), base, recipe, wish, card; and the dog's age.
#[derive(Clone)]
struct Job {
    house: String,
    base: String,
    recipe: String,
    wish: String,
    card: String,
    days: Option<i64>,
}

fn job() -> Job {
    Job {
        house: "house h { title \"H\" }\n".to_owned(),
        base: "recipe b { title \"B\" }\n".to_owned(),
        recipe: "recipe r { title \"R\" }\n".to_owned(),
        wish: "recipe w { title \"W\" }\n".to_owned(),
        card: "dog d {\n  sex dog\n  coat fleece, 40 mm\n  weight 12 kg\n}\n".to_owned(),
        days: Some(1_000),
    }
}

fn rows(rows: &str) -> String {
    rows.split('|').map(|r| format!("  {}\n", r.trim())).collect()
}

impl Job {
    /// Statements of the house, parted by `|`.
    fn house(mut self, body: &str) -> Self {
        self.house = format!("house h {{\n{}}}\n", rows(body));
        self
    }
    /// Blocks of the house's own trade.
    fn trade(mut self, blocks: &str) -> Self {
        self.house.push_str(blocks);
        self
    }
    fn base(mut self, body: &str) -> Self {
        self.base = format!("recipe b {{\n{}}}\n", rows(body));
        self
    }
    fn recipe(mut self, body: &str) -> Self {
        self.recipe = format!("-- A recipe.\n\nrecipe r {{\n{}}}\n", rows(body));
        self
    }
    fn wish(mut self, body: &str) -> Self {
        self.wish = format!("recipe w {{\n{}}}\n", rows(body));
        self
    }
    /// Lines of the card, besides sex, coat and weight.
    fn dog(mut self, lines: &str) -> Self {
        self.card = format!("dog d {{\n  sex dog\n  coat fleece, 40 mm\n  weight 12 kg\n{}}}\n", rows(lines));
        self
    }
    /// The whole card.
    fn card(mut self, lines: &str) -> Self {
        self.card = format!("dog d {{\n{}}}\n", rows(lines));
        self
    }
    fn days(mut self, days: Option<i64>) -> Self {
        self.days = days;
        self
    }

    fn run<R>(&self, then: impl FnOnce(&Case<'_>, &dyn Fn(u32) -> String) -> R) -> R {
        let [house, base, recipe, wish, card] =
            [&self.house, &self.base, &self.recipe, &self.wish, &self.card].map(|s| source(s));
        let blocks = |s: &'_ Source| s.tree.blocks.clone();
        let placed: Vec<_> = basics().iter().map(blocks).collect();
        let own = blocks(&house);
        let mut trade: Vec<Text<'_>> = placed
            .iter()
            .enumerate()
            .map(|(i, b)| Text {
                file: u32::try_from(i).unwrap(),
                blocks: b.iter().map(|p| (p.at, &p.block.block)).collect(),
            })
            .collect();
        trade.push(Text {
            file: HOUSE,
            blocks: own
                .iter()
                .filter(|p| p.block.block.kind != BlockKind::House)
                .map(|p| (p.at, &p.block.block))
                .collect(),
        });
        let first =
            |s: &'_ Source| -> (u32, Vec<Stmt>) { (s.tree.blocks[0].at, s.tree.blocks[0].block.block.body.to_vec()) };
        let parts = [(HOUSE, first(&house)), (BASE, first(&base)), (RECIPE, first(&recipe)), (WISH, first(&wish))];
        let chain: Vec<(u32, u32, &[Stmt])> = parts.iter().map(|(f, (at, s))| (*f, *at, s.as_slice())).collect();
        let (at, lines) = first(&card);
        let case =
            Case { trade: &trade, chain: &chain, houses: &[1; 4], card: (CARD, at, &lines), days_old: self.days };
        let text = |file: u32| match file {
            HOUSE => house.text.clone(),
            BASE => base.text.clone(),
            RECIPE => recipe.text.clone(),
            WISH => wish.text.clone(),
            CARD => card.text.clone(),
            n => basics()[n as usize].text.clone(),
        };
        then(&case, &text)
    }

    fn breaches(&self, plan: &[Done]) -> Vec<(Breach, String)> {
        self.run(|case, text| {
            let known = Known::read(case.trade, case.chain);
            let turns = known.on_table(case).out_of_turn(plan);
            verify(case, plan)
                .into_iter()
                .chain(turns)
                .map(|b| {
                    let said =
                        text(b.file)[b.start as usize..b.end as usize].split_whitespace().collect::<Vec<_>>().join(" ");
                    (b, said)
                })
                .collect()
        })
    }

    /// The plan breaks a keep that reads so.
    #[track_caller]
    fn bad(&self, done: Done, keep: &str) -> &Self {
        let all = self.breaches(std::slice::from_ref(&done));
        assert!(all.iter().any(|(_, s)| s.starts_with(keep)), "{done:?}\nshould break `{keep}`, but breaks {all:#?}");
        self
    }

    /// The plan breaks nothing.
    #[track_caller]
    fn good(&self, done: Done) -> &Self {
        let all = self.breaches(std::slice::from_ref(&done));
        assert!(all.is_empty(), "{done:?}\nshould break nothing, but breaks {all:#?}");
        self
    }
}

// ---------------------------------------------------------------- Every dog: zones and marks

#[test]
fn wide_teeth_in_a_fold() {
    job().bad(at("left groin").by("#7F").with_coat(), "keep gap fine").good(at("left groin").by("#10").with_coat());
}

#[test]
fn a_comb_on_a_fold_however_long() {
    job()
        .bad(at("tuck-up").by("comb-25").above("#30"), "keep gap fine")
        .good(at("tuck-up").by("thinners-46").leaves(10_000));
}

#[test]
fn too_close_on_the_groin() {
    job().bad(at("right groin").by("#30"), "keep no closer than #15").good(at("right groin").by("#15"));
}

#[test]
fn open_teeth_on_thin_skin() {
    job().bad(at("belly-rear").by("#5F"), "keep gap medium").good(at("belly-rear").by("#7F"));
}

#[test]
fn skip_teeth_on_the_flank() {
    job().bad(at("flank").by("#7"), "keep gap open").good(at("flank").by("#4F"));
}

#[test]
fn a_marks_keep_binds_its_zone() {
    // The fold at the armpit says so a second time.
    let two = job().breaches(&[at("armpit").by("#9")]);
    let files: Vec<_> = two.iter().map(|(b, s)| (b.start, s.as_str())).collect();
    assert_eq!(two.len(), 2, "{files:?}");
    let house = job().trade("mark scar {\n  on loin\n  keep never comb\n}\n");
    house.bad(at("loin").by("comb-13"), "keep never comb").good(at("loin").by("#4F")).good(at("back").by("comb-13"));
}

#[test]
fn a_marks_sex() {
    let scar = job().trade("mark udder {\n  on belly-front\n  sex bitch\n  keep never blade\n}\n");
    scar.clone().card("sex bitch | coat curl, 30 mm").bad(at("belly-front").by("#10"), "keep never blade");
    scar.clone().card("sex dog | coat curl, 30 mm").good(at("belly-front").by("#10"));
    // Not told: it binds.
    scar.card("coat curl, 30 mm").bad(at("belly-front").by("#10"), "keep never blade");
}

#[test]
fn keeps_of_groups_of_the_house() {
    let own = job().trade("group wave-line {\n  zones legs, belly\n  keep never in reverse\n}\n");
    own.bad(at("left forearm").by("#7F").reverse(), "keep never in reverse")
        .good(at("left forearm").by("#7F").with_coat());
    own.good(at("left ribs").by("#7F").reverse());
}

// ---------------------------------------------------------------- Tools

#[test]
fn the_surgical_blade() {
    job().bad(at("back").by("#50"), "bare never").good(at("back").by("comb-13").above("#50"));
}

#[test]
fn shears_below_a_hands_care() {
    job().bad(at("back").by("shears").leaves(5_999), "closeness 6 mm").good(at("back").by("shears").leaves(6_000));
    job()
        .bad(at("chin").by("ball-tip-shears").leaves(3_000), "closeness 4 mm")
        .good(at("chin").by("ball-tip-shears").leaves(4_000));
}

#[test]
fn left_alone_breaks_nothing() {
    job().recipe("keep untouched").bad(at("back").by("#7F"), "keep untouched").good(at("back"));
}

#[test]
fn an_unknown_tool_is_never_allowed_where_a_keep_asks() {
    job().bad(at("groin").by("#99"), "keep gap fine").good(at("back").by("#99"));
}

#[test]
fn an_unknown_zone() {
    assert_eq!(job().breaches(&[at("wing").by("#10")]).len(), 1);
    job().good(at("wing"));
}

#[test]
fn a_tool_whose_teeth_nobody_told() {
    let own = job().trade("tool odd-blade {\n  kind blade\n  leaves 3 mm\n}\n");
    own.bad(at("groin").by("odd-blade"), "keep gap fine").good(at("back").by("odd-blade"));
}

#[test]
fn the_basics_blade_counts_and_not_the_houses() {
    let own = job().trade("tool #7F {\n  kind blade\n  leaves 9 mm\n  closeness 9 mm\n  gap fine\n}\n");
    own.bad(at("groin").by("#7F"), "keep gap fine").good(at("groin").by("#10"));
}

// ---------------------------------------------------------------- Bounds

#[test]
fn never_a_kind() {
    let j = job().house("keep under tail never shears");
    j.bad(at("under-tail").by("ball-tip-shears").leaves(6_000), "keep under tail never shears");
    j.good(at("under-tail").by("#10").with_coat());
    j.good(at("tail-set").by("shears").leaves(9_000));
}

/// An override frees what a house asks for, in the same words, where it says; never without a senior and a reason, and never what
/// the basics or a finding keep.
#[test]
fn what_a_senior_takes_back() {
    let house = "seniors \"A\" | keep belly never in reverse | guard sensitive-skin { keep back never in reverse }";
    let job = |line: &str| job().house(house).recipe(line);
    let rear = || at("belly-rear").by("#10").reverse();
    let free = "override belly rear never in reverse by \"a\" because \"x\"";
    job(free).good(rear()).bad(at("belly-front").by("#10").reverse(), "keep belly never in reverse");
    for no in [
        "override belly never in reverse by \"B\" because \"x\"",
        "override belly never in reverse by \"A\"",
        "override belly never in reverse because \"x\"",
        "override belly one pass by \"A\" because \"x\"",
        "when weight over 1 kg { override belly never in reverse by \"A\" because \"x\" }",
        "guard sensitive-skin { override belly never in reverse by \"A\" because \"x\" }",
    ] {
        job(no).bad(rear(), "keep belly never in reverse");
    }
    // The finding's own keep stands, whatever is taken back of the house's guard.
    let guard = "guard sensitive-skin { override back never in reverse by \"A\" because \"x\" }";
    let tender = job(guard).dog("finding sensitive-skin on back");
    tender.bad(at("back").by("#10").reverse(), "keep with the coat");
    let basics = job("override groin gap fine by \"A\" because \"x\"");
    basics.bad(at("groin").by("#7"), "keep gap fine");
}

#[test]
fn never_clipper_is_blades_and_combs() {
    let j = job().recipe("keep jacket never clipper");
    j.bad(at("back").by("#4F"), "keep jacket never clipper").bad(at("ribs").by("comb-25"), "keep jacket never clipper");
    j.good(at("back").by("shears").leaves(30_000)).good(at("left thigh").by("#4F"));
}

#[test]
fn another_word_for_a_tool() {
    let j = job().recipe("keep topknot never fine-thinners");
    j.bad(at("topknot").by("thinners-46").leaves(20_000), "keep topknot never")
        .good(at("topknot").by("blender-28").leaves(20_000));
    let j = job().recipe("keep topknot never scissors");
    j.bad(at("topknot").by("curved-shears").leaves(20_000), "keep topknot never").good(at("topknot").by("comb-19"));
}

#[test]
fn one_comb_by_its_length() {
    let j = job().recipe("keep thigh never 1/2 in comb");
    j.bad(at("thigh").by("comb-13"), "keep thigh never").good(at("thigh").by("comb-16"));
}

#[test]
fn a_comb_over_one_blade() {
    let j = job().recipe("keep thigh only 13 mm comb over #10");
    j.bad(at("thigh").by("comb-13").above("#40"), "keep thigh only").good(at("thigh").by("comb-13").above("#10"));
}

#[test]
fn a_blade_beneath_a_comb() {
    let j = job().recipe("keep thigh never #40");
    j.bad(at("thigh").by("comb-13").above("#40"), "keep thigh never").good(at("thigh").by("comb-13").above("#30"));
    // It isn't the blade that goes over the coat.
    let j = job().recipe("keep thigh only #10");
    j.bad(at("thigh").by("comb-13").above("#10"), "keep thigh only").good(at("thigh").by("#10"));
}

#[test]
fn two_combs_of_one_length() {
    let j = job()
        .trade("tool broad {\n  kind comb\n  leaves 16 mm\n  closeness 16 mm\n  gap open\n}\n")
        .recipe("keep thigh never 16 mm comb");
    j.bad(at("thigh").by("broad"), "keep thigh never")
        .bad(at("thigh").by("comb-16"), "keep thigh never")
        .good(at("thigh").by("comb-19"));
}

#[test]
fn ways_of_work_as_kinds() {
    let j = job().recipe(
        "keep back never stripping | keep loin never carding | keep ribs never thinning-shears | keep flank only bath",
    );
    j.bad(at("back").by("hand"), "keep back never")
        .bad(at("back").by("coarse-knife"), "keep back never")
        .good(at("back").by("#7F"));
    j.bad(at("loin").by("carding-knife"), "keep loin never").good(at("loin").by("rake"));
    j.bad(at("ribs").by("blender-28").leaves(9_000), "keep ribs never").good(at("ribs").by("shears").leaves(9_000));
    // A list of steps says nothing of tools.
    j.good(at("flank").by("#7F"));
}

#[test]
fn only_some() {
    let j = job().recipe("keep cheeks only shears or thinners");
    j.bad(at("left cheek").by("#10"), "keep cheeks only").good(at("left cheek").by("blender-28").leaves(9_000));
    j.good(at("left cheek").by("curved-shears").leaves(9_000));
}

#[test]
fn only_what_nobody_knows() {
    let j = job().recipe("keep cheeks only lasers");
    j.bad(at("cheek").by("shears").leaves(9_000), "keep cheeks only").good(at("cheek"));
}

#[test]
fn directions() {
    let j = job().house("keep sanitary never in reverse");
    j.bad(at("belly-rear").by("#10").reverse(), "keep sanitary never").good(at("belly-rear").by("#10").across());
    let j = job().recipe("keep cheeks with the coat");
    j.bad(at("cheek").by("#10").across(), "keep cheeks with the coat").good(at("cheek").by("#10").with_coat());
    // What isn't said runs with the coat; shears don't run.
    j.good(at("cheek").by("#10")).good(at("cheek").by("shears").leaves(9_000));
    let j = job().recipe("keep cheeks in reverse");
    j.bad(at("cheek").by("#10"), "keep cheeks in reverse").good(at("cheek").by("#10").reverse());
}

#[test]
fn passes() {
    let j = job().recipe("keep throat one pass | keep back at most 2 passes");
    j.bad(at("throat").by("#10").times(2), "keep throat one pass").good(at("throat").by("#10").times(1));
    j.bad(at("back").by("#10").times(3), "keep back at most 2 passes").good(at("back").by("#10").times(2));
}

#[test]
fn refer() {
    let j = job().recipe("keep left thigh refer");
    j.bad(at("left thigh").by("#4F"), "keep left thigh refer").good(at("right thigh").by("#4F")).good(at("left thigh"));
    j.bad(at("thigh").by("#4F"), "keep left thigh refer");
}

#[test]
fn shape_keeps_are_no_breaches() {
    let j = job().recipe("keep topknot at most 45 mm, eyes open | keep head in short turns | keep back skin flat | keep head last | first feet | keep at most 20 min at a stretch");
    j.good(at("topknot").by("shears").leaves(90_000)).good(at("back").by("#7F"));
}

#[test]
fn no_shorter() {
    let j = job().recipe("keep jacket no shorter than 25 mm");
    j.bad(at("back").by("comb-22").leaves(24_999), "keep jacket no shorter")
        .good(at("back").by("comb-25").leaves(25_000));
    j.bad(at("back").by("comb-25"), "keep jacket no shorter").good(at("back").by("rake"));
}

#[test]
fn the_plan_isnt_trusted_for_blades() {
    let j = job().recipe("keep back no closer than 6 mm");
    // However long the sheet says that it stays, the edge rides at 3.2 mm.
    j.bad(at("back").by("#7F").leaves(9_000), "keep back no closer").good(at("back").by("#5F").leaves(6_000));
    j.bad(at("back").by("comb-3").leaves(9_000), "keep back no closer").good(at("back").by("comb-6"));
}

#[test]
fn shears_go_as_near_as_the_plan_says() {
    let j = job().recipe("keep back no closer than 8 mm");
    j.bad(at("back").by("shears").leaves(7_000), "keep back no closer").good(at("back").by("shears").leaves(8_000));
    j.bad(at("back").by("shears"), "keep back no closer");
    j.bad(at("back").by("thinners-46").leaves(1_000), "keep back no closer")
        .good(at("back").by("thinners-46").leaves(8_000));
    job().recipe("keep back no closer than 4 mm").good(at("back").by("thinners-46").leaves(1_000));
}

#[test]
fn an_unknown_floor_is_broken() {
    let j = job().recipe("keep back no closer than #98");
    j.bad(at("back").by("comb-38"), "keep back no closer than #98").good(at("loin").by("comb-38")).good(at("back"));
}

#[test]
fn two_bounds_in_one_line() {
    let j = job().recipe("keep thigh never comb, one pass, no closer than #7F");
    assert_eq!(j.breaches(&[at("thigh").by("comb-3").times(2)]).len(), 3);
    j.good(at("thigh").by("#7F"));
}

#[test]
fn zones_less_some() {
    let j = job().recipe("keep legs except left thigh, forelegs never #4F");
    j.bad(at("right thigh").by("#4F"), "keep legs except")
        .good(at("left thigh").by("#4F"))
        .good(at("forearm").by("#4F"));
}

// ---------------------------------------------------------------- Measures

#[test]
fn inches_and_fractions() {
    let j = job().recipe("keep back no closer than 1/4 in");
    // 6.35 mm, and a #5F rides at 6.3.
    j.bad(at("back").by("#5F"), "keep back no closer").good(at("back").by("#4F"));
    j.bad(at("back").by("shears").leaves(6_349), "keep back no closer").good(at("back").by("shears").leaves(6_350));
    let j = job().recipe("keep back no shorter than 1 1/2 in");
    j.bad(at("back").by("shears").leaves(38_099), "keep back no shorter").good(at("back").by("shears").leaves(38_100));
    let j = job().recipe("keep back no shorter than 1.5 cm");
    j.bad(at("back").by("shears").leaves(14_999), "keep back no shorter").good(at("back").by("shears").leaves(15_000));
    let j = job().recipe("keep back no shorter than 1/3 in");
    j.bad(at("back").by("shears").leaves(8_466), "keep back no shorter").good(at("back").by("shears").leaves(8_467));
}

#[test]
fn sums_and_names() {
    let j = job().recipe("param body is 9 mm | let leg is 2 times body | keep thigh no shorter than leg + 3 mm");
    j.bad(at("thigh").by("shears").leaves(20_999), "keep thigh no shorter")
        .good(at("thigh").by("shears").leaves(21_000));
    // The recipe may set the base's parameter anew.
    let j = job().base("param body is 9 mm | keep thigh no shorter than body").recipe("param body is 12 mm");
    j.bad(at("thigh").by("shears").leaves(11_000), "keep thigh no shorter")
        .good(at("thigh").by("shears").leaves(12_000));
    let j = job().recipe("let a is b | let b is a | keep thigh no shorter than a");
    j.bad(at("thigh").by("shears").leaves(90_000), "keep thigh no shorter").good(at("thigh"));
    let j = job().recipe("keep thigh no closer than one class over #10");
    j.bad(at("thigh").by("#10"), "keep thigh no closer").good(at("thigh").by("#9"));
    // Steps go along the house's own blades and combs.
    let j = job()
        .house("kit usual-kit")
        .recipe("keep thigh no closer than one class over #10 | keep back no shorter than two combs longer than 18 mm");
    j.bad(at("thigh").by("#9"), "keep thigh no closer").good(at("thigh").by("#7F"));
    j.bad(at("back").by("shears").leaves(21_000), "keep back no shorter").good(at("back").by("shears").leaves(22_000));
    // Two fingers are 36 mm.
    let j = job().recipe("keep thigh no shorter than two fingers");
    j.bad(at("thigh").by("shears").leaves(35_000), "keep thigh no shorter")
        .good(at("thigh").by("shears").leaves(36_000));
}

// ---------------------------------------------------------------- Findings

#[test]
fn reverse_on_an_irritation() {
    let j = job().dog("finding irritation on throat after #10 in reverse seen 2026-08-02");
    j.bad(at("throat").by("#7F").reverse(), "keep never in reverse").good(at("throat").by("#7F").with_coat());
    j.good(at("neck-front").by("#7F").reverse());
}

#[test]
fn one_class_over_the_cause() {
    let j = job().dog("finding irritation on throat after #10");
    j.bad(at("throat").by("#10").with_coat(), "keep no closer than one class over its cause")
        .good(at("throat").by("#9").with_coat());
    let j = job().dog("finding irritation on throat after #7F");
    j.bad(at("throat").by("#8.5"), "keep no closer than one class")
        .bad(at("throat").by("#7F"), "keep no closer")
        .good(at("throat").by("#6F"));
    // Past the longest blade the combs go on.
    let j = job().dog("finding irritation on throat after #3F");
    j.bad(at("throat").by("comb-13"), "keep no closer than one class").good(at("throat").by("comb-16"));
}

#[test]
fn a_cause_that_nobody_told() {
    let j = job().dog("finding irritation on throat");
    j.bad(at("throat").by("comb-25"), "keep no closer than one class").good(at("throat"));
}

#[test]
fn a_floor_on_both_sides() {
    let j = job().dog("finding sensitive-skin on left cheek");
    j.bad(at("right cheek").by("#15"), "keep no closer than #10").good(at("right cheek").by("#10").reverse().times(3));
    j.bad(at("left cheek").by("#10").reverse(), "keep with the coat")
        .bad(at("left cheek").by("#10").times(2), "keep one pass");
}

#[test]
fn a_ban_on_one_side() {
    let j = job().trade("finding bump-x {\n  on any zone\n  keep never comb\n}\n").dog("finding bump-x on left lip");
    j.bad(at("left muzzle").by("comb-6"), "keep never comb").good(at("right muzzle").by("comb-6"));
    // A line for both sides is one for the left as well.
    j.bad(at("muzzle").by("comb-6"), "keep never comb");
}

#[test]
fn a_gap_on_one_side() {
    let j = job().dog("finding thin-skin on right thigh");
    j.bad(at("right thigh").by("#7F"), "keep gap fine").good(at("left thigh").by("#7F"));
    j.bad(at("left thigh").by("#15"), "keep no closer than #10");
}

#[test]
fn one_sided_findings() {
    let j = job()
        .trade("finding scar {\n  on any zone\n  one-side\n  keep no closer than #7F\n}\n")
        .dog("finding scar on left thigh");
    j.bad(at("left thigh").by("#10"), "keep no closer than #7F").good(at("right thigh").by("#10"));
    let j = job().dog("finding hot-spot on left thigh");
    j.bad(at("left thigh").by("comb-25"), "keep untouched")
        .good(at("right thigh").by("comb-25"))
        .good(at("left thigh"));
}

#[test]
fn a_spot_is_gone_round() {
    let own = "finding tag {\n  on any zone\n  spot\n  keep never comb\n}\nfinding bump {\n  on any zone\n  keep never comb\n}\n";
    job().trade(own).dog("finding bump on loin").bad(at("loin").by("comb-6"), "keep never comb");
    job().trade(own).dog("finding tag on loin").good(at("loin").by("comb-6"));
}

#[test]
fn a_finding_where_it_is_at_home() {
    let j = job().dog("finding sensitive-belly");
    j.bad(at("belly-front").by("#15"), "keep no closer than #10")
        .good(at("belly-front").by("#10"))
        .good(at("back").by("#15"));
    // By another word.
    job()
        .dog("finding tender-belly")
        .bad(at("belly-rear").by("#15"), "keep no closer than #10")
        .good(at("belly-rear").by("#10"));
}

#[test]
fn a_finding_of_the_whole_dog() {
    let j = job().dog("finding old-dog");
    j.bad(at("back").by("#7"), "keep gap open")
        .bad(at("left ear-back").by("#15"), "keep no closer than #10")
        .good(at("back").by("#4F"));
}

#[test]
fn a_place_that_nobody_told_is_the_whole_dog() {
    let j = job().dog("finding sensitive-skin");
    j.bad(at("back").by("#15"), "keep no closer than #10").good(at("back").by("#10"));
}

#[test]
fn a_keep_with_zones_holds_wherever_the_finding_is() {
    let j = job().dog("finding sore-eye on left eyes");
    j.bad(at("right cheek").by("#10"), "keep face untouched").bad(at("left lashes").by("#10"), "keep face untouched");
    j.good(at("right lashes")).good(at("back").by("#10"));
    let j = job().dog("finding clip-alopecia");
    j.bad(at("back").by("comb-38").leaves(38_000), "keep jacket never clipper")
        .good(at("back").by("shears").leaves(30_000));
    j.bad(at("back").by("shears").leaves(20_000), "keep jacket no shorter");
}

#[test]
fn a_finding_without_a_name() {
    let j = job().dog("finding other \"hot thing\" on left thigh");
    j.bad(at("left thigh").by("comb-25"), "finding other").good(at("right thigh").by("comb-25")).good(at("left thigh"));
}

#[test]
fn a_findings_floor_on_a_named_zone_is_even() {
    let own = job()
        .trade("finding limp {\n  on whole dog\n  keep left thigh no closer than #7F, one pass\n}\n")
        .dog("finding limp");
    own.bad(at("right thigh").by("#10"), "keep left thigh no closer").good(at("right thigh").by("#7F").times(2));
    let own = job()
        .trade("finding limp {\n  on whole dog\n  one-side\n  keep left thigh no closer than #7F\n}\n")
        .dog("finding limp");
    own.bad(at("left thigh").by("#10"), "keep left thigh no closer").good(at("right thigh").by("#10"));
}

#[test]
fn kinds_and_steps_in_a_finding() {
    let j = job().dog("finding clotting-medicine");
    j.bad(at("back").by("fine-knife"), "keep never knife").good(at("back").by("#10"));
}

#[test]
fn a_finding_on_the_card_that_nobody_knows_is_not_our_business() {
    job().dog("finding gremlins on back").good(at("back").by("#10"));
}

// ---------------------------------------------------------------- Guards and conditions

#[test]
fn a_guards_keeps() {
    let j = job().recipe("guard deaf { keep cheeks never #10 }");
    j.clone().dog("finding deaf").bad(at("cheek").by("#10"), "keep cheeks never #10").good(at("cheek").by("#15"));
    j.good(at("cheek").by("#10"));
    // For a finding that may be anywhere: only where the card says.
    let j = job().recipe("guard yeasty-skin, deaf { keep legs never #7F }").dog("finding yeasty-skin on left thigh");
    j.bad(at("left thigh").by("#7F"), "keep legs never #7F")
        .good(at("right thigh").by("#7F"))
        .good(at("left forearm").by("#7F"));
    // Its floors hold on the other side too.
    let j = job().recipe("guard yeasty-skin { keep legs no closer than #7F }").dog("finding yeasty-skin on left thigh");
    j.bad(at("right thigh").by("#10"), "keep legs no closer").good(at("right forearm").by("#10"));
}

#[test]
fn when_and_else() {
    let j = job().recipe("when weight under 6 kg { keep back never #10 } | else when weight 6 kg to 12 kg { keep back never #9 } | else { keep back never #7F }");
    let of = |kg: &str| j.clone().card(&format!("sex dog | coat fleece, 40 mm | weight {kg}"));
    of("5.9 kg").bad(at("back").by("#10"), "keep back never #10").good(at("back").by("#9")).good(at("back").by("#7F"));
    of("6 kg").bad(at("back").by("#9"), "keep back never #9").good(at("back").by("#10")).good(at("back").by("#7F"));
    of("12 kg").bad(at("back").by("#9"), "keep back never #9").good(at("back").by("#7F"));
    of("12.1 kg").bad(at("back").by("#7F"), "keep back never #7F").good(at("back").by("#9")).good(at("back").by("#10"));
}

#[test]
fn what_the_card_doesnt_tell_binds_on_both_branches() {
    let j = job()
        .recipe("when weight under 6 kg { keep back never #10 } | else { keep back never #9 }")
        .card("sex dog | coat curl, 30 mm");
    j.bad(at("back").by("#10"), "keep back never #10")
        .bad(at("back").by("#9"), "keep back never #9")
        .good(at("back").by("#7F"));
}

#[test]
fn pounds() {
    let j = job().recipe("when weight over 10 lb { keep back never #10 }");
    let of = |w: &str| j.clone().card(&format!("sex dog | coat fleece, 40 mm | weight {w}"));
    // Ten pounds are 4.5359237 kg.
    of("4.536 kg").bad(at("back").by("#10"), "keep back never");
    of("4.535 kg").good(at("back").by("#10"));
    of("10 lb").good(at("back").by("#10"));
}

#[test]
fn ages() {
    let j = job().recipe("when age under 12 weeks { keep back never #10 }");
    j.clone().days(Some(83)).bad(at("back").by("#10"), "keep back never");
    j.days(Some(84)).good(at("back").by("#10"));
}

#[test]
fn heights_builds_and_sexes() {
    let j = job().recipe("when height from 40 cm { keep back never #10 } | when build long { keep loin never #10 } | when sex bitch { keep ribs never #10 }");
    let of = |c: &str| j.clone().card(&format!("coat fleece, 40 mm | {c}"));
    of("sex bitch | height 40 cm | build long")
        .bad(at("back").by("#10"), "keep back")
        .bad(at("loin").by("#10"), "keep loin")
        .bad(at("ribs").by("#10"), "keep ribs");
    of("sex dog | height 39.9 cm | build square")
        .good(at("back").by("#10"))
        .good(at("loin").by("#10"))
        .good(at("ribs").by("#10"));
    // A male is a dog.
    let k = job().recipe("when sex male { keep back never #10 }");
    k.clone().card("sex dog, neutered | coat curl, 3 mm").bad(at("back").by("#10"), "keep back");
    k.card("sex female | coat curl, 3 mm").good(at("back").by("#10"));
    // Square, if nobody says so.
    of("sex dog | height 39 cm").good(at("loin").by("#10"));
}

#[test]
fn the_coat_where_the_keep_is() {
    let j = job()
        .recipe("when coat wire or curly { keep never #10 }")
        .card("sex dog | coat fleece, 40 mm | coat curl on legs, 20 mm");
    j.bad(at("left thigh").by("#10"), "keep never #10").good(at("back").by("#10"));
    let j = job()
        .recipe("when coat fleece { keep back never #10 } | else { keep back never #9 }")
        .card("sex dog | coat wire, 40 mm");
    j.bad(at("back").by("#9"), "keep back never #9").good(at("back").by("#10"));
}

#[test]
fn mats() {
    let j = job().recipe("when mats up to knots { keep back never #10 } | else { keep back never #9 }");
    j.good(at("back").by("#9"));
    j.bad(at("back").by("#10"), "keep back never #10");
    j.dog("mats tight on breeches, 20 mm off the skin | mats tangle on tail")
        .bad(at("back").by("#9"), "keep back never #9")
        .good(at("back").by("#10"));
}

#[test]
fn a_finding_as_condition() {
    let j = job().recipe("when finding deaf and weight over 6 kg { keep back never #10 }");
    j.good(at("back").by("#10"));
    j.clone().dog("finding poor-hearing").bad(at("back").by("#10"), "keep back never #10").good(at("back").by("#9"));
    j.card("sex dog | coat curl, 3 mm | weight 6 kg | finding deaf").good(at("back").by("#10"));
}

#[test]
fn bodies_in_bodies() {
    let j = job().recipe("when sex dog { guard deaf { when coat fleece { keep back never #10 } } }");
    j.clone().dog("finding deaf").bad(at("back").by("#10"), "keep back never #10");
    j.clone().dog("finding blind").good(at("back").by("#10"));
    j.card("sex bitch | coat fleece, 3 mm | weight 6 kg | finding deaf").good(at("back").by("#10"));
}

#[test]
fn house_base_recipe_and_wish_all_bind() {
    let j = job()
        .house("keep back never #10")
        .base("keep back never #9")
        .recipe("keep back never #7F")
        .wish("keep back never #5F");
    for blade in ["#10", "#9", "#7F", "#5F"] {
        j.bad(at("back").by(blade), &format!("keep back never {blade}"));
    }
    j.good(at("back").by("#4F"));
}

#[test]
fn a_coats_keep_binds_where_the_coat_is() {
    let j = job()
        .trade("coat thatch {\n  texture wire\n  keep never shears\n}\n")
        .card("sex dog | coat thatch, 40 mm | coat curl on head, 20 mm");
    j.bad(at("back").by("shears").leaves(20_000), "keep never shears").good(at("topknot").by("shears").leaves(20_000));
}

#[test]
fn words_for_a_groomer() {
    let all = job().dog("finding irritation on throat after #10").breaches(&[at("throat").by("#15").with_coat()]);
    let words: Vec<&str> = all.iter().map(|(b, _)| b.words.as_str()).collect();
    assert_eq!(
        words,
        ["throat: #15 comes as close as 1.2 mm; nothing may come closer than 2 mm (one class over #10) (irritation)"]
    );
}

// ---------------------------------------------------------------- Whole plans

#[test]
fn a_long_plan_in_two_milliseconds() {
    let zones = [
        "back",
        "left groin",
        "right groin",
        "belly-rear",
        "left cheek",
        "right cheek",
        "throat",
        "topknot",
        "left thigh",
        "right thigh",
        "tail-set",
    ];
    let plan: Vec<Done> = (0..110).map(|i| at(zones[i % zones.len()]).by("#10").with_coat()).collect();
    let house = std::fs::read_to_string(root().join("recipes/saltmarsh/house.trim")).unwrap();
    let mut j = job().dog("finding sensitive-belly | finding irritation on throat after #10 | finding wart on left lip | finding old-dog | finding lump on left thigh");
    j.house = house;
    j.run(|case, _| {
        let best = (0..20)
            .map(|_| {
                let start = Instant::now();
                let broken = verify(case, &plan);
                assert_eq!(broken.len(), 10, "{broken:#?}");
                start.elapsed()
            })
            .min()
            .unwrap();
        let most = if cfg!(debug_assertions) { 100 } else { 2 };
        assert!(best < Duration::from_millis(most), "{best:?}");
    });
}

// ---------------------------------------------------------------- Independence

/// The words of a Rust text and its `::`, without comments and texts in quotes.
fn tokens(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let (mut out, mut i) = (Vec::new(), 0);
    while i < chars.len() {
        let two: String = chars[i..chars.len().min(i + 2)].iter().collect();
        match chars[i] {
            '/' if two == "//" => {
                while i < chars.len() && chars[i] != '\n' {
                    i += 1;
                }
            }
            '/' if two == "/*" => panic!("block comments aren't read here"),
            'r' if two == "r#" || two == "r\"" => panic!("raw texts and names aren't read here"),
            '"' => {
                i += 1;
                while i < chars.len() && chars[i] != '"' {
                    i += if chars[i] == '\\' { 2 } else { 1 };
                }
                i += 1;
            }
            '\'' if chars.get(i + 2) == Some(&'\'') => i += 3,
            c if c.is_alphanumeric() || c == '_' => {
                let start = i;
                while i < chars.len() && (chars[i].is_alphanumeric() || chars[i] == '_') {
                    i += 1;
                }
                out.push(chars[start..i].iter().collect());
            }
            ':' if two == "::" => {
                out.push("::".to_owned());
                i += 2;
            }
            c => {
                if !c.is_whitespace() {
                    out.push(c.to_string());
                }
                i += 1;
            }
        }
    }
    out
}

/// What a file of the verifier may not say.
fn barred(name: &str, text: &str, own: &[String]) -> Vec<String> {
    let mut out = Vec::new();
    let words = tokens(text);
    let is_name = |w: &str| w.starts_with(|c: char| c.is_alphabetic() || c == '_');
    for (i, w) in words.iter().enumerate() {
        let before = i.checked_sub(1).map_or("", |j| words[j].as_str());
        let after = words.get(i + 1).map_or("", String::as_str);
        match w.as_str() {
            "crate" | "coatwright" | "extern" | "include" | "include_str" | "path" | "macro_use" => {
                out.push(format!("{name}: `{w}`"))
            }
            // In `mod.rs` the way up leads out of the verifier; in its parts only the second step does.
            "super" if name == "mod.rs" && before != "(" => out.push(format!("{name}: `super`")),
            "super" if ["::", "{", ","].contains(&before) => out.push(format!("{name}: `super::super`")),
            // The first word of a path.
            w if is_name(w) && !["::", "."].contains(&before) && (after == "::" || before == "use") => {
                let known = ["std", "grammar", "smol_str", "super", "self", "Self", "clippy"].contains(&w)
                    || w.starts_with(char::is_uppercase)
                    || own.iter().any(|o| o == w)
                    || ["i32", "i64", "i128", "u8", "u32", "u64", "u128", "usize", "f64", "char", "str"].contains(&w);
                if !known {
                    out.push(format!("{name}: `{w}::`"));
                }
            }
            // `use ::other` and `use { … }` hide the first word.
            "::" if !is_name(before) && before != ">" => out.push(format!("{name}: a path that begins with `::`")),
            "{" if before == "use" => out.push(format!("{name}: `use {{`")),
            _ => {}
        }
    }
    out
}

#[test]
fn it_shares_no_code_with_what_it_checks() {
    let dir = root().join("compiler/src/verify");
    let mut files = Vec::new();
    for entry in std::fs::read_dir(&dir).unwrap() {
        let path = entry.unwrap().path();
        assert!(path.extension().is_some_and(|e| e == "rs"), "only Rust files lie in verify/: {path:?}");
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.len() < 20_000, "{path:?} is too long to be read in one sitting");
        files.push((path.file_name().unwrap().to_string_lossy().into_owned(), text));
    }
    assert!(files.iter().any(|(n, _)| n == "mod.rs"));
    let own: Vec<String> = files.iter().map(|(n, _)| n.trim_end_matches(".rs").to_owned()).collect();
    let found: Vec<String> = files.iter().flat_map(|(n, t)| barred(n, t, &own)).collect();
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn the_bar_itself_works() {
    let own = ["dog".to_owned()];
    for (name, bad) in [
        ("dog.rs", "use crate::names::Names;"),
        ("dog.rs", "fn f() { crate::measure::mm(3) }"),
        ("dog.rs", "use super::super::finish;"),
        ("dog.rs", "use super::{super::finish};"),
        ("dog.rs", "use super::{trade, super::finish};"),
        ("mod.rs", "use super::names;"),
        ("dog.rs", "use coatwright::names::Names;"),
        ("dog.rs", "use serde::Serialize;"),
        ("dog.rs", "fn f() { strsim::jaro(a, b) }"),
        ("dog.rs", "use ::strsim::jaro;"),
        ("dog.rs", "use {strsim::jaro};"),
        ("dog.rs", "#[path = \"../names/mod.rs\"] mod names;"),
        ("dog.rs", "include!(\"../names/mod.rs\");"),
        ("dog.rs", "extern crate coatwright;"),
    ] {
        assert!(!barred(name, bad, &own).is_empty(), "{bad}");
    }
    for good in [
        "use super::dog::Dog;",
        "use std::fmt;",
        "// crate::names\nlet a = \"crate::names\";",
        "use grammar::tree::{Stmt, Word};",
        "let a = i64::MAX;",
    ] {
        assert!(barred("other.rs", good, &own).is_empty(), "{good}");
    }
    assert!(barred("mod.rs", "pub(super) fn f() {}", &own).is_empty());
}

// ---------------------------------------------------------------- The order of the steps

fn basics_alone() -> Vec<Text<'static>> {
    let blocks = |s: &'static Source| s.tree.blocks.iter().map(|p| (p.at, &p.block.block)).collect();
    basics().iter().zip(0..).map(|(s, file)| Text { file, blocks: blocks(s) }).collect()
}

/// What is wrong with these steps in this order, with one stroke of a blade after so many of them.
fn disorder(steps: &[&str], worked_after: u32) -> Vec<String> {
    disorder_of(steps, worked_after, false)
}

/// The same for a dog that may be bathed already.
fn disorder_of(steps: &[&str], worked_after: u32, bathed: bool) -> Vec<String> {
    let texts = basics_alone();
    let case = Case { trade: &texts, chain: &[], houses: &[], card: (CARD, 0, &[]), days_old: None };
    let line = Done { order: worked_after * 2 + 1, ..at("back").by("#10").with_coat() };
    order(&case, &numbered(steps), &[line], bathed).into_iter().map(|b| b.words).collect()
}

fn numbered(steps: &[&str]) -> Vec<StepDone> {
    steps.iter().zip(0..).map(|(name, n)| StepDone { name: (*name).into(), order: n * 2 }).collect()
}

/// A hand goes into the air of every dryer, as often as the basics say; a towel has none.
#[test]
fn a_dryer_is_felt() {
    let texts = basics_alone();
    let case = Case { trade: &texts, chain: &[], houses: &[], card: (CARD, 0, &[]), days_old: None };
    let said = |step: &str, felt: &[AirFelt]| {
        air(&case, &numbered(&["bath", step]), felt).into_iter().map(|b| b.words).collect::<Vec<_>>()
    };
    let often = |order: u32, seconds: i64| [AirFelt { order, every: Some(seconds) }];
    for step in ["dry-force", "dry-stretch", "dry-stand"] {
        let no = [format!("nobody feels the air of `{}` often enough", step.replace('-', " "))];
        assert_eq!(said(step, &[]), no);
        assert_eq!(said(step, &[AirFelt { order: 2, every: None }]), no);
        assert_eq!(said(step, &often(0, 120)), no);
        assert_eq!(said(step, &often(2, 181)), no);
        assert!(said(step, &often(2, 120)).is_empty() && said(step, &often(2, 180)).is_empty());
    }
    assert!(said("dry-towel", &[]).is_empty());
}

const USUAL: [&str; 7] = ["check", "nails", "pelts-off", "bath", "dry-stretch", "comb-to-skin", "body-work"];

#[test]
fn the_usual_order_is_sound() {
    assert_eq!(disorder(&USUAL, 6), [""; 0]);
}

/// On a dog that is bathed already nothing that wants a dry coat comes before the drying, and what belongs before the bath may
/// come after it; nothing else may.
#[test]
fn a_bathed_dog_is_dried_first() {
    let wet = |steps: &[&str], after| disorder_of(steps, after, true);
    assert_eq!(wet(&["dry-stretch", "pelts-off", "comb-to-skin", "body-work"], 3), [""; 0]);
    assert_eq!(wet(&["pelts-off", "comb-to-skin", "body-work"], 2), [""; 0]);
    let early = wet(&["pelts-off", "dry-stretch", "comb-to-skin", "body-work"], 3);
    assert_eq!(early, ["`pelts off` needs a dry coat, and stands between the bath and the drying"]);
    let worked = wet(&["check", "dry-stretch", "comb-to-skin"], 0);
    assert_eq!(worked, ["a tool goes over the back while the coat is wet"]);
    let nails = wet(&["dry-stretch", "nails", "comb-to-skin"], 2);
    assert_eq!(nails, ["`nails` comes after `dry stretch`, and belongs before it"]);
    // Without a bath before, a pelt after the drying is wrong.
    let dry = disorder(&["bath", "dry-stretch", "pelts-off", "comb-to-skin"], 3);
    assert!(dry.iter().any(|w| w == "`pelts off` comes after `dry stretch`, and belongs before it"), "{dry:?}");
}

#[test]
fn nobody_works_a_wet_coat() {
    let said = disorder(&USUAL, 3);
    assert_eq!(said, ["a tool goes over the back while the coat is wet"]);
}

/// Water tightens mats.
#[test]
fn mats_come_off_dry() {
    let said = disorder(&["check", "nails", "bath", "pelts-off", "dry-stretch", "comb-to-skin"], 5);
    assert!(said.iter().any(|w| w.contains("`pelts off` comes after `bath`")), "{said:?}");
    assert!(said.iter().any(|w| w.contains("`pelts off` needs a dry coat")), "{said:?}");
}

#[test]
fn skin_is_looked_at_before_anything() {
    let said = disorder(&["nails", "check", "bath", "dry-stretch"], 3);
    assert_eq!(said, ["`check` comes after `nails`, and belongs before it"]);
}

#[test]
fn combed_through_before_it_is_finished() {
    let said = disorder(&["check", "bath", "dry-stretch", "body-work", "comb-to-skin"], 4);
    assert!(said.iter().any(|w| w.contains("`comb to skin` comes after `body work`")), "{said:?}");
}

/// A part whose turn is first or last: a finishing step goes with most of its places; what is set in before doesn't count.
#[test]
fn whose_turn_it_is() {
    let turn = |zone: &str, order: u32| Done { order, ..at(zone).by("shears").leaves(9_000) };
    let said = |job: &Job, plan: &[Done]| job.breaches(plan).into_iter().map(|(_, keep)| keep).collect::<Vec<_>>();
    let last = job().house("keep head last");
    assert_eq!(said(&last, &[turn("cheek", 1), turn("back", 2)]), ["keep head last"]);
    assert!(said(&last, &[turn("back", 1), turn("cheek", 2)]).is_empty());
    assert!(said(&last, &[turn("cheek", 1)]).is_empty());
    let rough = Done { pass: Pass::Rough, ..turn("cheek", 1) };
    assert!(said(&last, &[rough, turn("back", 2), turn("cheek", 3)]).is_empty());
    // Two of three places, and one of two.
    let mixed = [turn("cheek", 1), turn("muzzle", 1), turn("withers", 1), turn("back", 2)];
    assert_eq!(said(&last, &mixed), ["keep head last"]);
    assert!(said(&last, &[turn("cheek", 1), turn("withers", 1), turn("back", 2)]).is_empty());
    let first = job().recipe("keep left thigh first");
    assert_eq!(said(&first, &[turn("back", 1), turn("left thigh", 2)]), ["keep left thigh first"]);
    assert!(said(&first, &[turn("left thigh", 1), turn("right thigh", 2)]).is_empty());
    // On a dog of which it holds.
    let heavy = |line: &str| job().recipe(&format!("when weight over {line} {{ keep head last }}"));
    assert!(said(&heavy("20 kg"), &[turn("cheek", 1), turn("back", 2)]).is_empty());
    assert_eq!(said(&heavy("2 kg"), &[turn("cheek", 1), turn("back", 2)]), ["keep head last"]);
    let sore = job().dog("finding sore-ear");
    let ears = [turn("ear-back", 1), turn("back", 2)];
    assert!(said(&sore, &ears).iter().any(|keep| keep.contains("last")), "{:?}", said(&sore, &ears));
}

/// What a text wants before something else: steps by all that they hold, and the strokes of one step; what lies on both sides is of
/// neither.
#[test]
fn what_comes_before_what() {
    let turn = |zone: &str, order: u32| Done { order, ..at(zone).by("shears").leaves(9_000) };
    let said = |job: &Job, plan: &[Done]| job.breaches(plan).into_iter().map(|(_, keep)| keep).collect::<Vec<_>>();
    let (feet, body) = (turn("left foot-top", 1), turn("back", 2));
    let wants = job().recipe("order back, loin before feet");
    assert_eq!(said(&wants, &[feet.clone(), body.clone()]), ["order back, loin before feet"]);
    assert!(said(&wants, &[body.clone(), Done { order: 3, ..feet.clone() }]).is_empty());
    // What is set in before doesn't count, nor what is no part of either.
    assert!(said(&wants, &[Done { pass: Pass::Rough, ..feet.clone() }, body.clone()]).is_empty());
    assert!(said(&wants, &[turn("cheek", 1), body.clone()]).is_empty());
    // One step that holds both, in one stroke and in two.
    let one = |zone: &str| turn(zone, 1);
    let other = |zone: &str| Done { length: Some(12_000_000), ..turn(zone, 1) };
    assert!(said(&wants, &[one("left foot-top"), one("back")]).is_empty());
    assert_eq!(said(&wants, &[one("left foot-top"), other("back")]), ["order back, loin before feet"]);
    assert!(said(&wants, &[other("back"), one("left foot-top")]).is_empty());
    // On the dog of which it is said.
    let guarded = |finding: &str| job().recipe("guard wart { order back before feet }").dog(finding);
    assert_eq!(said(&guarded("finding wart on left ribs"), &[feet.clone(), body.clone()]), ["order back before feet"]);
    assert!(said(&guarded("finding heart"), &[feet.clone(), body.clone()]).is_empty());
    let heavy = |line: &str| job().recipe(&format!("when weight over {line} {{ order back before feet }}"));
    assert!(said(&heavy("20 kg"), &[feet.clone(), body.clone()]).is_empty());
    assert_eq!(said(&heavy("2 kg"), &[feet, body]), ["order back before feet"]);
}

// ---------------------------------------------------------------- How long the dog stands

/// A visit of pieces that take exactly so many minutes; `r` before a number is a rest before it.
fn visit(pieces: &[&str]) -> Standing {
    let piece = |(task, text): (u32, &&str)| {
        let minutes: i64 = text.trim_start_matches('r').parse::<i64>().unwrap() * 60;
        Piece { step: None, task, low: minutes, high: minutes, rested: text.starts_with('r'), within: 0 }
    };
    Standing { pieces: (0..).zip(pieces).map(piece).collect(), rest: 600, one_visit: true, ..Standing::default() }
}

fn stands(job: &Job, visit: &Standing) -> Vec<String> {
    job.run(|case, _| {
        let known = Known::read(case.trade, case.chain);
        known.on_table(case).overstood(visit).into_iter().map(|b: Breach| b.words).collect()
    })
}

/// Each limit, kept to the minute and broken by one: the card's, a finding's, one by age, the house's, and any dog's.
#[test]
fn each_limit_binds() {
    for (job, stretch, all) in [
        (job().dog("stands 20 min at a stretch, 50 min in all"), 20, 50),
        (job().dog("finding heart"), 15, 45),
        (job().dog("finding heart | stands 1 h at a stretch, 2 h in all"), 15, 45),
        (job().days(Some(100)), 15, 45),
        (job().days(Some(300)), 30, 75),
        (job().days(Some(4_000)), 20, 90),
        (job().house("keep at most 25 min at a stretch, at most 70 min in all"), 25, 70),
        (job().recipe("guard heart { keep at most 5 min at a stretch }").dog("finding heart"), 5, 45),
        (job(), 60, 150),
        // Who knows the dog knows better than what any dog stands.
        (job().dog("stands 80 min at a stretch, 3 h in all"), 80, 180),
    ] {
        let most = stretch.to_string();
        assert_eq!(stands(&job, &visit(&[&most])), [""; 0], "{}", job.card);
        let more = (stretch + 1).to_string();
        let said = stands(&job, &visit(&[&more]));
        assert!(said.iter().any(|w| w.contains("at a stretch")), "{}: {said:?}", job.card);
        // As many rests as it likes, and a minute too long in all.
        let whole: Vec<String> = (0..all).map(|_| "r1".to_owned()).collect();
        let mut whole: Vec<&str> = whole.iter().map(String::as_str).collect();
        assert_eq!(stands(&job, &visit(&whole)), [""; 0], "{}", job.card);
        whole.push("r1");
        let said = stands(&job, &visit(&whole));
        assert!(said.iter().any(|w| w.contains("in all")), "{}: {said:?}", job.card);
        let part = Standing { one_visit: false, ..visit(&whole) };
        assert_eq!(stands(&job, &part), [""; 0], "{}", job.card);
    }
}

/// A heart rests ten minutes; what a step needs no standing for is a rest if it is as long; what was before counts.
#[test]
fn rests_and_what_was_before() {
    let heart = job().dog("finding heart");
    let short = Standing { rest: 300, ..visit(&["10", "r10"]) };
    assert!(stands(&heart, &short)[0].contains("too short"));
    assert_eq!(stands(&heart, &visit(&["10", "r10"])), [""; 0]);
    let mut lying = visit(&["10", "15", "10"]);
    lying.pieces[1].step = Some("wrap-ears".into());
    assert_eq!(stands(&heart, &lying), [""; 0]);
    lying.pieces[1].step = Some("bath".into());
    assert!(!stands(&heart, &lying).is_empty());
    let late = Standing { stretch_before: 600, all_before: 600, ..visit(&["10"]) };
    assert!(stands(&heart, &late)[0].contains("at a stretch"));
    let late = Standing { all_before: 40 * 60, ..visit(&["10"]) };
    assert!(stands(&heart, &late)[0].contains("in all"));
    // Broken off twice, 45 min are three stretches of 15.
    let mut long = visit(&["44"]);
    long.pieces[0].within = 2;
    assert_eq!(stands(&heart, &long), [""; 0]);
    long.pieces[0].within = 1;
    assert!(stands(&heart, &long)[0].contains("22 min at a stretch"));
}
