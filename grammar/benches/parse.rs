//! How fast files are read: `cargo bench -p coatwright-grammar`. A plain program that prints megabytes a second.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, missing_docs)]

use std::fmt::Write as _;
use std::time::Instant;

/// A recipe of 80 statements, no two alike.
fn recipe(n: usize) -> String {
    let zones = [
        "torso",
        "withers",
        "back",
        "loin",
        "croup",
        "left ribs",
        "flank",
        "hind legs",
        "fore legs",
        "cheeks",
        "foreface",
        "topknot",
        "under tail",
        "breeches",
    ];
    let z = |i: usize| zones[(i * 7 + n * 3) % zones.len()];
    let mut s = format!(
        "-- A recipe for the bench, number {n}.\nrecipe bench-{n} {{\n  title    \"Bench trim {n}\"\n  version  {}\n",
        n % 9 + 1
    );
    s.push_str("  about\n    A short, even, easy trim\n    for dogs that swim.\n");
    let _ = write!(
        s,
        "  serves   coat curl, fleece or wavy\n  serves   weight 3 kg to {} kg, mats up to knots\n  extends  base-{n} version 3\n",
        20 + n % 20
    );
    let _ = write!(
        s,
        "  param    body-length is {} mm, within 6 mm to 23 mm\n  let      leg-length is two combs longer than body-length\n\n  prep     {{ bath; dry stretch }}\n",
        6 + n % 9
    );
    for i in 0..11 {
        let _ = write!(
            s,
            "  set in   {} to body-length with the coat, comb up, again\n  set in   {}, {} by {} mm comb\n",
            z(i),
            z(i + 1),
            z(i + 2),
            6 + (i + n) % 20
        );
        let _ = write!(
            s,
            "  finish   {} by shears, column   -- fine\n  clip     {}, {} with #{} in reverse\n",
            z(i + 3),
            z(i),
            z(i + 5),
            10 + i
        );
        let _ = writeln!(s, "  blend    {} into {} over three fingers by skimming", z(i + 1), z(i + 4));
        let _ = writeln!(s, "  keep     {} no closer than #10", z(i + 2));
    }
    s.push_str("  when     weight under 6 kg { shape topknot to 18 mm by shears }\n  else when coat curl { shape topknot to 30 mm by shears }\n  else     { shape topknot to 25 mm by shears }\n");
    s.push_str("  guard    sensitive-belly, irritation { skim belly-rear with #10 with the coat, one pass }\n  order    feet before legs\n  lasts    6 weeks { topknot at most 45 mm; eyes open }\n}\n\n");
    s
}

fn main() {
    let mut text = String::new();
    let mut n = 0;
    while text.len() < 2_000_000 {
        text.push_str(&recipe(n));
        n += 1;
    }
    let file = grammar::parse(&text);
    let errors = grammar::errors(&file);
    assert!(errors.is_empty(), "{:?}", errors.first());
    let mb = text.len() as f64 / 1e6;
    let mut times: Vec<f64> = (0..9)
        .map(|_| {
            let t = Instant::now();
            let f = grammar::parse(&text);
            let d = t.elapsed().as_secs_f64();
            std::hint::black_box(f);
            d
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!("parse: {n} recipes, {mb:.2} MB: median {:.1} MB/s, best {:.1} MB/s", mb / times[4], mb / times[0]);
    let t = Instant::now();
    let chunks = grammar::scan(&text);
    println!("scan:  {} blocks: {:.1} MB/s", chunks.len(), mb / t.elapsed().as_secs_f64());
}
