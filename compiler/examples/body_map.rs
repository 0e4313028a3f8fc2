//! Draws a view of the body map bare, with the names of its zones, and says what is wrong with it: for whoever redraws it.
//!
//! ```text
//! cargo run --example body_map -- side side.png --names --flow --build=long --tail=curled [FILE.atlas …]
//! ```
//!
//! Without files it takes the drawing of the basics; the first file must be the side view, which gives the scale. Options:
//! `--names`, `--points`, `--flow`, `--borders`, `--turned`, `--build=`, `--ears=`, `--tail=`, `--sex=bitch`, `--girth=1.2`,
//! `--width=1600`.
// A tool of the workshop: it may stop where it stands.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use coatwright::atlas::{self, Body, Drawing, Figure, Kind, Line, Measures, Placed};
use coatwright::basics;
use coatwright::names::trade::{Sex, Trade};
use coatwright::picture;
use std::fmt::Write;

const HUES: [&str; 8] = ["#f2d7c9", "#d9e7cb", "#cfe0ee", "#efe3b5", "#e2d3ea", "#c9e6e0", "#f0cfd8", "#dcdcd2"];

struct Asked(Vec<String>);

impl Asked {
    fn value(&self, name: &str) -> Option<&str> {
        self.0.iter().find_map(|a| a.strip_prefix("--")?.strip_prefix(name)?.strip_prefix('='))
    }

    fn flag(&self, name: &str) -> bool {
        self.0.iter().any(|a| a.strip_prefix("--") == Some(name))
    }

    fn plain(&self) -> Vec<&str> {
        self.0.iter().map(String::as_str).filter(|a| !a.starts_with("--")).collect()
    }
}

fn main() {
    let asked = Asked(std::env::args().skip(1).collect());
    let plain = asked.plain();
    let (view, out) = (plain[0], plain[1]);
    let files: Vec<(&str, String)> = plain[2..].iter().map(|f| (*f, std::fs::read_to_string(f).unwrap())).collect();
    let texts: Vec<(&str, &str)> = files.iter().map(|(name, text)| (*name, text.as_str())).collect();
    let (drawing, mut faults) = atlas::read(if texts.is_empty() { atlas::TEXTS } else { &texts });
    let trade = basics::trade();
    let figure = Figure {
        measures: Measures {
            build: asked.value("build").unwrap_or("square").into(),
            height: 508.0,
            girth: asked.value("girth").map_or(1.0, |g| g.parse().unwrap()),
        },
        ears: asked.value("ears").unwrap_or("drop").into(),
        tail: asked.value("tail").unwrap_or("sabre").into(),
        sex: Some(if asked.value("sex") == Some("bitch") { Sex::Bitch } else { Sex::Dog }),
    };
    let body = Body::place(&drawing, &trade, &figure, &[(view, asked.flag("turned"))], &mut faults);
    let placed = body.views.first().expect("no such view");
    faults.extend(placed.crossings());
    for fault in &faults {
        println!("{fault}");
    }
    if asked.flag("borders") {
        borders(&drawing, &trade, &figure);
    }
    let width = asked.value("width").map_or(1400, |w| w.parse().unwrap());
    std::fs::write(out, picture::png(&svg(placed, &asked), width).unwrap()).unwrap();
    println!("{} faults", faults.len());
}

fn borders(drawing: &Drawing, trade: &Trade, figure: &Figure) {
    let runs = atlas::runs(drawing, trade, figure);
    for b in atlas::borders(drawing, trade, figure) {
        let name = |z| trade.zone(z).map_or("?", |z| z.name.as_str());
        println!("{:22} {:22} {:?} {:?}", name(b.a), name(b.b), b.length, runs.get(&(b.a, b.b)));
    }
    for (region, share) in atlas::region_shares(drawing, trade, figure) {
        println!("{region:12} {:.1} %", share * 100.0);
    }
}

fn svg(placed: &Placed<'_>, asked: &Asked) -> String {
    let (w, h) = (placed.view.size.0 + 40.0, placed.view.size.1 + 80.0);
    let mut svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='-20 -60 {w} {h}' font-family='Atkinson Hyperlegible Next' text-anchor='middle'>"
    );
    let mut text = String::new();
    let mut say = |x: f64, y: f64, size: u32, colour: &str, words: &str| {
        write!(text, "<text x='{x}' y='{y}' font-size='{size}' fill='{colour}'>{words}</text>").unwrap();
    };
    write!(svg, "<rect x='-20' y='-60' width='{w}' height='{h}' fill='#fff'/>").unwrap();
    for part in &placed.parts {
        for face in &part.map.faces {
            let label = face.label.and_then(|l| part.layer.labels.get(l));
            let name = label.map_or("?", |l| l.name.as_str());
            let hue = HUES[name.bytes().map(usize::from).sum::<usize>() % HUES.len()];
            let fill = if label.is_none_or(|l| l.blank) { "#999" } else { hue };
            write!(svg, "<path d='{}' fill='{fill}'/>", face.path.to_svg()).unwrap();
            if let Some(label) = label.filter(|_| asked.flag("names")) {
                let at = placed.at(label.at);
                say(at.x, at.y + 3.0, 9, "#000", name);
            }
        }
        for half in part.map.halves.iter().step_by(2) {
            let c = half.curve;
            let look = match half.kind {
                Kind::Outline => "stroke='#222' stroke-width='2.2'",
                Kind::Seam => "stroke='#b33' stroke-width='1.2'",
                _ => "stroke='#36c' stroke-width='1.6' stroke-dasharray='5 3'",
            };
            let d = format!("M{} {}C{} {} {} {} {} {}", c.p0.x, c.p0.y, c.p1.x, c.p1.y, c.p2.x, c.p2.y, c.p3.x, c.p3.y);
            write!(svg, "<path d='{d}' fill='none' {look}/>").unwrap();
        }
        for mark in &part.map.marks {
            write!(svg, "<path d='{}' fill='none' stroke='#555'/>", mark.to_svg()).unwrap();
        }
        for (at, r) in &part.layer.eyes {
            let at = placed.at(*at);
            write!(svg, "<circle cx='{}' cy='{}' r='{r}'/>", at.x, at.y).unwrap();
        }
        for (name, _) in part.layer.strokes.iter().flat_map(|s| &s.through).filter(|_| asked.flag("points")) {
            if let Some(p) = placed.view.points.get(name) {
                let p = placed.at(*p);
                write!(svg, "<circle cx='{}' cy='{}' r='2' fill='#06c'/>", p.x, p.y).unwrap();
                say(p.x, p.y - 3.0, 7, "#06c", name);
            }
        }
    }
    for (mark, _, line, places) in placed.turns() {
        let fill = match line {
            Line::Spot(_) => "none",
            Line::Whorl(_) => "#909",
            Line::Meeting(_) => "#090",
        };
        for p in &places {
            write!(svg, "<circle cx='{}' cy='{}' r='4' stroke='#909' fill='{fill}'/>", p.x, p.y).unwrap();
        }
        if let Some(p) = places.first().filter(|_| asked.flag("names")) {
            say(p.x, p.y - 6.0, 7, "#909", mark);
        }
    }
    for at in placed.view.flow.iter().map(|(at, _)| placed.at(*at)).filter(|_| asked.flag("flow")) {
        let to = at + placed.flow(at).unwrap_or_default() * 22.0;
        let d = format!("M{} {}L{} {}", at.x, at.y, to.x, to.y);
        write!(svg, "<path d='{d}' stroke='#060' stroke-width='2'/>").unwrap();
        write!(svg, "<circle cx='{}' cy='{}' r='3' fill='#060'/>", to.x, to.y).unwrap();
    }
    svg + &text + "</svg>"
}
