//! Blends: the fewest rungs, each kept by the zone it lies in, and one weight from which a blend fits.
#![allow(clippy::unwrap_used, clippy::panic, missing_docs)]

use coatwright::finish::{active_keeps, breach, coat_factor};
use coatwright::joins::{fewest, rooms, rungs};
use coatwright::measure::{Length, Weight};
use coatwright::names::card::Dog;
use coatwright::names::trade::{Direction, Side};
use coatwright::{basics, choices::Choices};
use proptest::prelude::*;

/// The least number of rungs over all subsets.
fn brute(from: i64, to: i64, rungs: &[i64], closes: i64) -> Option<u32> {
    let reaches = |subset: &u32| {
        let chosen = rungs.iter().enumerate().filter(|(n, _)| subset & (1 << n) != 0).map(|(_, r)| *r);
        let mut path: Vec<i64> = chosen.chain([from, to]).collect();
        path.sort_unstable();
        path.first() == Some(&from) && path.last() == Some(&to) && path.windows(2).all(|w| w[1] - w[0] <= closes)
    };
    (0..1u32 << rungs.len()).filter(reaches).map(u32::count_ones).min()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    /// Farthest reach against every subset: the same existence and the same number.
    #[test]
    fn no_subset_has_fewer_rungs(
        from in 0i64..30,
        more in 0i64..50,
        lengths in prop::collection::vec(0i64..80, 0..11),
        closes in 1i64..12,
    ) {
        let to = from + more;
        let all: Vec<Length> = lengths.iter().map(|r| Length(*r)).collect();
        let found = fewest(Length(from), Length(to), &all, Length(closes));
        let many = found.as_ref().map(|f| u32::try_from(f.len()).unwrap());
        prop_assert_eq!(many, brute(from, to, &lengths, closes));
        if let Some(found) = found {
            let path: Vec<i64> = [from].into_iter().chain(found.iter().map(|n| lengths[*n])).chain([to]).collect();
            prop_assert!(path.windows(2).all(|w| w[0] <= w[1] && w[1] - w[0] <= closes), "{:?}", path);
        }
    }

    /// What fits at a weight fits at each greater one, and not at the tenth of a kilogram below the least.
    #[test]
    fn one_weight_tells_where_a_blend_fits(mm in 1i64..200, build in 0usize..4, border in 0usize..200) {
        let trade = basics::trade();
        let build = coatwright::names::condition::BUILDS[build];
        let all = trade.zones.iter().flat_map(|z| z.borders.iter().filter_map(|id| trade.zone(*id)).map(move |b| (z, b)));
        let all: Vec<_> = all.collect();
        let (a, b) = all[border % all.len()];
        let width = Length::mm(mm);
        let room = |grams: i64| {
            let height = rooms().height(build, Weight(grams))?;
            rooms().room(build, &a.name, &b.name, height)
        };
        match rooms().fits_from(build, &a.name, &b.name, width) {
            Some(Weight(grams)) => {
                for more in [0, 100, 1000, 20_000] {
                    prop_assert!(room(grams + more).is_some_and(|r| r >= width));
                }
                prop_assert!(grams == 0 || room(grams - 100).is_some_and(|r| r < width));
            }
            None => prop_assert!(room(100_000).is_none_or(|r| r < width)),
        }
    }
}

/// Every rung is a tool of the kit that every keep of its zone allows; where thin skin or a fold is, none with open teeth.
#[test]
fn rungs_keep_what_their_zone_asks() {
    let trade = basics::trade();
    let tool = |name: &str| *trade.index.tools.get(name).unwrap();
    let kit = ["#30", "#10", "#7F", "#7", "#5F", "#4F", "comb-10", "comb-13", "comb-16", "comb-19", "shears"];
    let choices = Choices {
        kit: kit.iter().map(|n| tool(n)).collect(),
        keeps: trade
            .keeps
            .iter()
            .map(|line| coatwright::choices::KeepEntry {
                line: line.clone(),
                finding: None,
                cond: Default::default(),
                until_next: false,
                whole: None,
                key: Default::default(),
                of: None,
            })
            .collect(),
        keeps_at: (0..128u8)
            .map(|site| {
                let names = |on: coatwright::names::trade::KeepOn| match on {
                    coatwright::names::trade::KeepOn::Sites(sites) => sites.has(coatwright::names::sites::Site(site)),
                    _ => false,
                };
                let all = trade.keeps.iter().zip(0u32..).filter(|(k, _)| names(k.on));
                all.map(|(_, n)| n).collect()
            })
            .collect(),
        ..Choices::default()
    };
    let coat = trade.index.coats.get("fleece").copied();
    let dog = Dog { coat, weight: Some(Weight(12_000)), ..Dog::default() };
    let at = |zone: &str| {
        let zone = trade.zone(trade.zone_called(zone).unwrap()).unwrap();
        let site = zone.site_on(Side::Left);
        let found = rungs(&choices, &trade, &dog, site);
        for rung in &found {
            let declared = trade.tool(rung.tool).unwrap();
            let factor = coat_factor(trade.coat(coat.unwrap()), declared.kind, Direction::With, false);
            assert_eq!(Some(rung.leaves), declared.leaves.map(|l| l.times(factor)));
            let stroke = coatwright::finish::Stroke {
                verb: grammar::tree::Verb::Taper,
                tool: Some(rung.tool),
                over: rung.over,
                direction: Some(Direction::With),
                passes: 1,
                leaves: Some(rung.leaves),
                closeness: declared.closeness,
                gap: declared.gap,
                manners: Vec::new(),
            };
            for keep in active_keeps(&choices, &trade, &dog, site) {
                assert_eq!(breach(&stroke, keep.bound(), None, &trade), None, "{} at {}", declared.name, zone.name);
            }
        }
        found.iter().map(|r| trade.tool(r.tool).unwrap().name.to_string()).collect::<Vec<_>>()
    };
    // A skip tooth roughs in and a #30 sits under a comb: neither tapers. From the shortest on this coat to the longest.
    assert_eq!(at("ribs"), ["#10", "#7F", "#5F", "comb-10", "#4F", "comb-13", "comb-16", "comb-19"].map(str::to_owned));
    assert_eq!(at("tuck-up"), ["#10".to_owned()], "a fold bears fine teeth alone");
}
