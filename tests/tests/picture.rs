//! The picture: its scale, its labels, its coat, and that it is the same each time.

mod common;

use coatwright::atlas::{self, Body};
use coatwright::basics;
use coatwright::date::Day;
use coatwright::names::trade::Trade;
use coatwright::picture::{self, Moment, Scene, View, scale};
use coatwright::sheet::render::Units;
use coatwright::sheet::{self, Sheet};
use palette::color_difference::{EuclideanDistance, Wcag21RelativeContrast};
use palette::{FromColor, LinSrgb, Oklab, Srgb};
use std::collections::BTreeSet;
use std::fs;

const DOGS: [&str; 4] = ["bramble", "kelp", "flint", "pearl"];

fn sheet_of(dog: &str) -> Sheet {
    let workspace = common::workspace(common::saltmarsh());
    let on = Day::new(2026, 11, 25);
    let request = sheet::Request { recipe: None, dog: dog.to_owned(), on, learner: false };
    sheet::make(&workspace, &request).unwrap_or_else(|said| panic!("{dog}: {said:#?}"))
}

fn colour(hex: &str) -> Srgb<f32> {
    let part = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
    Srgb::new(part(1), part(3), part(5)).into_format()
}

/// A view of a colour.
type Eye = fn(LinSrgb<f32>) -> LinSrgb<f32>;

/// Full-strength dichromacy. Source: Machado, Oliveira and Fernandes 2009, IEEE Trans Vis Comput Graph 15, 1291, table of
/// matrices for severity 1.0 (in linear RGB).
fn seen_by(matrix: [[f32; 3]; 3], c: LinSrgb<f32>) -> LinSrgb<f32> {
    let row = |r: [f32; 3]| (r[0] * c.red + r[1] * c.green + r[2] * c.blue).clamp(0.0, 1.0);
    LinSrgb::new(row(matrix[0]), row(matrix[1]), row(matrix[2]))
}

const EYES: [(&str, Eye); 5] = [
    ("normal", |c| c),
    ("protan", |c| {
        seen_by(
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
            c,
        )
    }),
    ("deutan", |c| {
        seen_by(
            [[0.367_322, 0.860_646, -0.227_968], [0.280_085, 0.672_501, 0.047_413], [-0.011_820, 0.042_940, 0.968_881]],
            c,
        )
    }),
    ("tritan", |c| {
        seen_by(
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
            c,
        )
    }),
    ("grey", |c| {
        // What a black-and-white printer prints: luminance (ITU-R BT.709).
        let y = 0.2126 * c.red + 0.7152 * c.green + 0.0722 * c.blue;
        LinSrgb::new(y, y, y)
    }),
];

/// Any two steps of the scale are apart for everybody: a distance of 9 in Oklab, times 100. The reference is the `palette`
/// crate's conversion and distance.
#[test]
fn every_pair_of_the_scale_is_apart() {
    for (name, eye) in EYES {
        let seen: Vec<Oklab> =
            scale::SCALE.iter().map(|c| Oklab::from_color(eye(colour(c.colour).into_linear()))).collect();
        for (i, a) in seen.iter().enumerate() {
            for (j, b) in seen.iter().enumerate().skip(i + 1) {
                let apart = a.distance(*b) * 100.0;
                assert!(apart >= 9.0, "{name}: {i} and {j} are {apart:.1} apart");
            }
        }
        // Light to dark is short to long, in every view.
        assert!(seen.windows(2).all(|w| w[0].l > w[1].l), "{name}");
    }
}

/// Where colours fail, hatchings tell: no two steps have the same one.
#[test]
fn every_step_has_its_own_hatching() {
    let all: Vec<_> = scale::SCALE.iter().map(|c| c.hatch).collect();
    for (i, a) in all.iter().enumerate() {
        assert!(all.iter().skip(i + 1).all(|b| a != b), "{a:?}");
    }
    let defined = picture::standalone(
        &picture::shown(&sheet_of("bramble").seen, &basics::trade()),
        "x",
        &[View::Left],
        true,
        Units::Metric,
    )
    .svg;
    for number in 1..scale::SCALE.len() {
        assert!(defined.contains(&format!("id=\"left-hatch-{number}\"")), "{number}");
    }
}

#[test]
fn classes_are_the_ranges_that_the_legend_tells() {
    for (mm, class) in [
        (0.0, 0),
        (1.5, 0),
        (1.6, 1),
        (3.9, 1),
        (4.0, 2),
        (8.0, 3),
        (14.9, 3),
        (15.0, 4),
        (30.0, 5),
        (60.0, 6),
        (500.0, 6),
    ] {
        assert_eq!(scale::class(mm), class, "{mm}");
    }
    assert_eq!(scale::range(0, Units::Metric), "under 1.6 mm");
    assert_eq!(scale::range(3, Units::Metric), "8 to 15 mm");
    assert_eq!(scale::range(6, Units::Metric), "60 mm and more");
    assert_eq!(scale::range(3, Units::Imperial), "5/16 to 5/8 in");
}

fn contrast(a: &str, b: &str) -> f32 {
    colour(a).into_linear::<f32>().relative_contrast(colour(b).into_linear())
}

/// The value of an attribute in a piece of SVG.
fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    tag.split_once(&format!(" {name}=\""))?.1.split_once('"').map(|(value, _)| value)
}

/// Every number and letter in every view of every dog has a contrast of at least 4.5 (WCAG 2.1, 1.4.3) with the colour that it
/// stands on: that of its halo, which is that of the patch. The reference is the `palette` crate's contrast.
#[test]
fn every_label_can_be_read() {
    let trade = basics::trade();
    let mut count = 0;
    for dog in DOGS {
        let sheet = sheet_of(dog);
        let svg = picture::standalone(&picture::shown(&sheet.seen, &trade), dog, &View::ALL, true, Units::Metric).svg;
        for text in svg.split("<text").skip(1) {
            let tag = text.split_once('>').unwrap().0;
            let ink = attribute(tag, "fill").unwrap();
            let ink = if ink == "#222" {
                "#222222"
            } else if ink == "#111" {
                "#111111"
            } else {
                ink
            };
            // Without a halo of its own a label stands on white: dangers in their sign, titles on the page.
            let ground = attribute(tag, "stroke").unwrap_or("#ffffff");
            let contrast = contrast(ink, ground);
            assert!(contrast >= 4.5, "{dog}: {ink} on {ground} is {contrast:.2} ({text:.80})");
            count += 1;
        }
    }
    assert!(count > 100, "{count}");
    for class in scale::SCALE {
        assert!(contrast(class.ink, class.colour) >= 4.5, "{class:?}");
    }
}

/// What finishes a place has its number in a picture that the sheet prints, and every danger with a place its letter.
#[test]
fn steps_and_dangers_are_all_there() {
    let trade = basics::trade();
    for dog in DOGS {
        let sheet = sheet_of(dog);
        let shown = picture::shown(&sheet.seen, &trade);
        let views = shown.needed();
        assert!([View::Left, View::Head, View::Under].iter().all(|v| views.contains(v)), "{dog}: {views:?}");
        let mut said = BTreeSet::new();
        for view in &views {
            let (drawn, _) = shown.draw(*view, &views, Moment::After, picture::Look::Numbered(24.0)).unwrap();
            said.extend(drawn.labels.iter().map(|l| match l.says {
                picture::Says::Step(n) => n.to_string(),
                picture::Says::Danger(letter) => letter.to_string(),
            }));
        }
        let steps: BTreeSet<String> = sheet.seen.places.iter().filter_map(|p| p.step).map(|n| n.to_string()).collect();
        let letters: BTreeSet<String> = sheet.seen.dangers.iter().map(|d| d.letter.to_string()).collect();
        let missing: Vec<_> = steps.union(&letters).filter(|s| !said.contains(*s)).collect();
        assert!(missing.is_empty(), "{dog}: no picture says {missing:?}, of {said:?}");
        for danger in &sheet.seen.dangers {
            assert!(danger.danger < sheet.dangers.len() + 20, "{dog}: {danger:?}");
        }
    }
}

/// Front and rear are printed when they tell more, the right side when it differs from the left; else they are not.
#[test]
fn only_the_views_that_are_needed() {
    let trade = basics::trade();
    let mut sheet = sheet_of("bramble");
    // Nothing on the right: a wart on the left lip, and both breeches.
    let views = picture::shown(&sheet.seen, &trade).needed();
    assert!(!views.contains(&View::Right), "{views:?}");
    let right = sheet.seen.places.iter_mut().find(|p| p.zone == "ribs" && p.side.as_deref() == Some("right")).unwrap();
    right.after += 20.0;
    assert!(picture::shown(&sheet.seen, &trade).needed().contains(&View::Right));
    // Kelp has a lump on the right ribs.
    let kelp = sheet_of("kelp");
    assert!(picture::shown(&kelp.seen, &trade).needed().contains(&View::Right));
    // One length all over needs neither front nor rear.
    for place in &mut sheet.seen.places {
        (place.after, place.step) = (6.0, Some(1));
    }
    sheet.seen.dangers.clear();
    assert_eq!(picture::shown(&sheet.seen, &trade).needed(), [View::Left, View::Head, View::Under]);
}

/// Coat lies outside the skin, as thick as its length says where it stands free, and coats never run into one another.
#[test]
fn the_coat_is_as_thick_as_its_length() {
    let trade = basics::trade();
    let mut sheet = sheet_of("bramble");
    for place in &mut sheet.seen.places {
        (place.after, place.stands, place.step) = (20.0, 40.0, Some(1));
    }
    let figure = sheet.seen.figure();
    let body = Body::place(atlas::drawing(), &trade, &figure, &[("side", false)], &mut Vec::new());
    let places = sheet_places(&sheet, &trade);
    let scene = Scene::dress(&body.views[0], &places, Moment::After);
    let coat = &scene.layers[0].coats[0];
    let units = body.views[0].units;
    // On the back, which is long and nearly straight: 20 mm, within half a millimetre.
    let back: Vec<f64> = coat
        .skin
        .iter()
        .zip(&coat.out)
        .filter(|(skin, _)| skin.x > 500.0 && skin.x < 640.0 && skin.y < 230.0)
        .map(|(skin, out)| (*out - *skin).hypot() / units)
        .collect();
    assert!(back.len() > 20);
    assert!(back.iter().all(|mm| (mm - 20.0).abs() < 0.5), "{back:?}");
    for (skin, out) in coat.skin.iter().zip(&coat.out) {
        assert!((*out - *skin).hypot() / units < 20.5);
        assert!(out.y <= body.views[0].ground.unwrap() + 1e-6, "under the ground");
    }
    // No point of the coat's line lies in another stretch's strip of coat.
    for dog in DOGS {
        let sheet = sheet_of(dog);
        let body = Body::place(
            atlas::drawing(),
            &trade,
            &sheet.seen.figure(),
            &[("side", false), ("front", false), ("rear", false)],
            &mut Vec::new(),
        );
        let places = sheet_places(&sheet, &trade);
        for placed in &body.views {
            for moment in [Moment::Before, Moment::After] {
                let scene = Scene::dress(placed, &places, moment);
                let coat = &scene.layers[0].coats[0];
                let faces = &scene.layers[0].part.map.faces;
                let inside = coat.out.iter().zip(&coat.skin).filter(|(out, skin)| {
                    (**out - **skin).hypot() > 2.0
                        && faces.iter().any(|f| atlas::inside(&f.polygon, **out) && depth(&f.polygon, **out) > 1.0)
                });
                let inside: Vec<_> = inside.collect();
                assert!(
                    inside.is_empty(),
                    "{dog} {} {moment:?}: coat runs into the body: {inside:?}",
                    placed.view.name
                );
            }
        }
    }
}

/// How deep a point lies in a polygon.
fn depth(polygon: &[kurbo::Point], at: kurbo::Point) -> f64 {
    use kurbo::ParamCurveNearest;
    let ends = polygon.iter().zip(polygon.iter().cycle().skip(1));
    ends.map(|(a, b)| kurbo::Line::new(*a, *b).nearest(at, 1e-6).distance_sq.sqrt()).fold(f64::MAX, f64::min)
}

fn sheet_places<'s>(sheet: &'s Sheet, trade: &Trade) -> picture::Places<'s> {
    picture::places(&sheet.seen, trade)
}

/// A hair that is longer than it stands hangs: below the belly it counts in full, on the back as far as it stands.
#[test]
fn long_hair_hangs() {
    let trade = basics::trade();
    let mut sheet = sheet_of("bramble");
    for place in &mut sheet.seen.places {
        (place.after, place.stands, place.step) = (if place.zone == "underline" { 60.0 } else { 10.0 }, 10.0, Some(1));
    }
    let body = Body::place(atlas::drawing(), &trade, &sheet.seen.figure(), &[("side", false)], &mut Vec::new());
    let places = sheet_places(&sheet, &trade);
    let scene = Scene::dress(&body.views[0], &places, Moment::After);
    let coat = &scene.layers[0].coats[0];
    let thick = |low: bool| {
        let here = coat
            .skin
            .iter()
            .zip(&coat.out)
            .filter(|(s, _)| s.x > 490.0 && s.x < 560.0 && (s.y > 380.0) == low && s.y < 500.0);
        here.map(|(s, o)| (*o - *s).hypot() / body.views[0].units).fold(0.0, f64::max)
    };
    assert!(thick(true) > 45.0, "{}", thick(true));
    assert!(thick(false) < 10.5, "{}", thick(false));
}

/// The same dog, the same bytes.
#[test]
fn same_bytes_twice() {
    let trade = basics::trade();
    for dog in DOGS {
        let (a, b) = (sheet_of(dog), sheet_of(dog));
        for large in [false, true] {
            assert_eq!(
                picture::page(&a, Units::Metric, large, &trade),
                picture::page(&b, Units::Metric, large, &trade)
            );
        }
        let svg =
            |s: &Sheet| picture::standalone(&picture::shown(&s.seen, &trade), dog, &View::ALL, true, Units::Metric).svg;
        assert_eq!(svg(&a), svg(&b));
        assert_eq!(picture::png(&svg(&a), 300).unwrap(), picture::png(&svg(&b), 300).unwrap());
    }
}

/// The page holds everything it needs: no address, no script, one of each id.
#[test]
fn the_page_stands_on_its_own() {
    let trade = basics::trade();
    for dog in DOGS {
        let page = picture::page(&sheet_of(dog), Units::Metric, false, &trade);
        for word in ["http://", "https://", "<script", "<link", "src=\"", "@import"] {
            assert!(!page.replace("http://www.w3.org/2000/svg", "").contains(word), "{dog}: {word}");
        }
        let mut ids = BTreeSet::new();
        for id in page.split(" id=").skip(1) {
            let id = &id[1..id[1..].find(id.chars().next().unwrap()).unwrap() + 1];
            assert!(ids.insert(id.to_owned()), "{dog}: two {id}");
        }
        for used in page.split("url(#").skip(1).map(|u| u.split(')').next().unwrap()) {
            assert!(ids.contains(used), "{dog}: {used}");
        }
        for used in page.split("href=\"#").skip(1).map(|u| u.split('"').next().unwrap()) {
            assert!(ids.contains(used), "{dog}: {used}");
        }
    }
}

/// What a card says is text, never markup.
#[test]
fn a_card_is_text() {
    let trade = basics::trade();
    let mut sheet = sheet_of("bramble");
    sheet.dog.name = "<b>Bram</b> & \"ble\"".into();
    sheet.dangers[0] = "</li><script>alert(1)</script>".into();
    let page = picture::page(&sheet, Units::Metric, false, &trade);
    assert!(!page.contains("<script") && !page.contains("<b>Bram"), "markup got through");
    assert!(page.contains("&lt;b&gt;Bram"));
    let svg =
        picture::standalone(&picture::shown(&sheet.seen, &trade), "\"<&>\"", &[View::Left], true, Units::Metric).svg;
    assert!(svg.contains("aria-label=\"&quot;&lt;&amp;>&quot;\""), "{:.300}", svg);
}

/// In a terminal: as wide as asked, in colour or in the signs of the scale.
#[test]
fn in_a_terminal() {
    let trade = basics::trade();
    let sheet = sheet_of("bramble");
    let shown = picture::shown(&sheet.seen, &trade);
    let plain = shown.blocks(View::Left, 80, false).unwrap();
    assert!(plain.lines().rev().skip(1).all(|l| l.chars().count() <= 81), "too wide");
    assert!(!plain.contains('\x1b') && plain.contains('4') && plain.contains('#'), "{plain}");
    let lines = plain.lines().count();
    assert!((20..60).contains(&lines), "{lines}");
    let colour = shown.blocks(View::Left, 80, true).unwrap();
    assert!(colour.contains("\x1b[38;2;") && colour.contains('▀'));
    assert_eq!(colour.lines().count(), lines);
}

/// Golden pictures: every view of the four dogs, small. `UPDATE=1` writes them anew; look at them before you commit.
#[test]
fn golden_pictures() {
    let trade = basics::trade();
    let folder = common::root().join("tests/golden");
    for dog in DOGS {
        let sheet = sheet_of(dog);
        let svg = picture::standalone(&picture::shown(&sheet.seen, &trade), dog, &View::ALL, true, Units::Metric).svg;
        let made = picture::png(&svg, 1400).unwrap();
        let path = folder.join(format!("{dog}.png"));
        if std::env::var_os("UPDATE").is_some() {
            fs::create_dir_all(&folder).unwrap();
            fs::write(&path, &made).unwrap();
            continue;
        }
        let golden = fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let (made, golden) = (pixels(&made), pixels(&golden));
        assert_eq!(
            (made.width(), made.height()),
            (golden.width(), golden.height()),
            "{dog}: another size; UPDATE=1 if it is meant"
        );
        let off = made
            .data()
            .chunks(4)
            .zip(golden.data().chunks(4))
            .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > 40));
        let share = off.count() as f64 / (made.data().len() / 4) as f64;
        // Another processor rounds edges another way; a moved line or label is far more.
        assert!(share < 0.001, "{dog}: {:.2} % of the pixels differ; UPDATE=1 if it is meant, and look", share * 100.0);
    }
}

/// The picture in the README is what the program draws.
#[test]
fn the_picture_in_the_readme() {
    let trade = basics::trade();
    let path = common::root().join("docs/pictures/bramble.svg");
    let sheet = sheet_of("bramble");
    let shown = picture::shown(&sheet.seen, &trade);
    let title = format!("{}, {}", sheet.dog.name, sheet.title);
    let svg = picture::standalone(&shown, &title, &shown.needed(), true, Units::Metric).svg;
    if std::env::var_os("UPDATE").is_some() {
        fs::write(&path, &svg).unwrap();
    }
    assert_eq!(common::read(&path), svg, "UPDATE=1 writes it anew");
}

fn pixels(png: &[u8]) -> resvg::tiny_skia::Pixmap {
    resvg::tiny_skia::Pixmap::decode_png(png).unwrap()
}

/// Sizes that make no picture are refused.
#[test]
fn impossible_sizes() {
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 10 10\"></svg>";
    assert!(picture::png(svg, 0).is_err());
    assert!(picture::png(svg, 1_000_000).is_err());
    assert!(picture::png("no picture", 100).is_err());
    assert!(picture::png(svg, 10).is_ok());
}

/// A finding on the right of the head is marked on the right of the head, and one on the body's right on the right side.
#[test]
fn findings_on_the_right_are_marked_on_the_right() {
    let trade = basics::trade();
    for (place, view) in
        [("cheek", View::HeadRight), ("ear-inside", View::HeadRight), ("flank", View::Right), ("armpit", View::Under)]
    {
        let mut texts = common::saltmarsh();
        let card = format!(
            "dog probe {{\n  sex dog\n  coat wavy, 40 mm\n  weight 12 kg\n  finding lump on right {place}\n  wants harbour-short\n}}\n"
        );
        texts.push(("recipes/saltmarsh/probe.trim".into(), card));
        let workspace = common::workspace(texts);
        let request = sheet::Request { recipe: None, dog: "probe".into(), on: Day::new(2026, 11, 25), learner: false };
        let sheet = sheet::make(&workspace, &request).unwrap_or_else(|said| panic!("{place}: {said:#?}"));
        let shown = picture::shown(&sheet.seen, &trade);
        let views = shown.needed();
        let marked: Vec<View> = views
            .iter()
            .copied()
            .filter(|v| {
                let (drawn, _) = shown.draw(*v, &views, Moment::After, picture::Look::Numbered(24.0)).unwrap();
                drawn.labels.iter().any(|l| l.says == picture::Says::Danger('A'))
            })
            .collect();
        assert_eq!(marked, [view], "right {place}, of {views:?}");
    }
}
