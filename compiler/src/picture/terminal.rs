//! The picture in a terminal: two pixels a cell with half blocks, in 24-bit colour; without colour a sign a cell.

use super::coat::Strip;
use super::scale;
use super::scene::{Fill, Scene};
use crate::atlas::{bounds, inside};
use crate::sheet::render::Units;
use kurbo::{Point, Rect};
use std::fmt::Write;

type Rgb = (u8, u8, u8);

/// Coat that is left, on a terminal.
const LEFT: &str = "#dddddd";

/// Signs of the seven steps, short to long; a point for coat that is left, a number sign for bare skin.
const SIGNS: [char; 7] = ['1', '2', '3', '4', '5', '6', '7'];

/// A shape with its box, so that most cells needn't ask it.
struct Shape {
    ring: Vec<Point>,
    bounds: Rect,
    colour: Rgb,
    sign: char,
}

/// The view, so many columns wide.
#[must_use]
pub fn terminal(scene: &Scene<'_>, columns: usize, colour: bool) -> String {
    let mut shapes: Vec<Shape> = Vec::new();
    let mut add = |ring: Vec<Point>, (colour, sign): (&str, char)| {
        if let (Some(bounds), Some(colour)) = (bounds(&ring), rgb(colour)) {
            shapes.push(Shape { ring, bounds, colour, sign });
        }
    };
    for layer in &scene.layers {
        let colour = |face: usize| match layer.paints.get(face).map(|p| p.fill) {
            Some(Fill::Left) | None => (LEFT, '.'),
            Some(Fill::Bare) => (Fill::Bare.class().colour, '#'),
            Some(Fill::Class(n)) => (Fill::Class(n).class().colour, SIGNS.get(n).copied().unwrap_or('7')),
        };
        for strip in &layer.strips {
            add(Strip::ring(strip), colour(strip.face));
        }
        for (number, face) in layer.part.map.faces.iter().enumerate() {
            add(face.polygon.clone(), colour(number));
        }
    }
    let at = |p: Point| shapes.iter().rev().find(|s| s.bounds.contains(p) && inside(&s.ring, p));
    #[allow(clippy::cast_precision_loss)]
    let step = scene.bounds.width() / columns.max(1) as f64;
    let mut out = String::new();
    let mut y = scene.bounds.y0 + step / 2.0;
    while y < scene.bounds.y1 {
        let mut line = String::new();
        let mut x = scene.bounds.x0 + step / 2.0;
        while x < scene.bounds.x1 {
            let (above, below) = (at(Point::new(x, y)), at(Point::new(x, y + step)));
            if !colour {
                line.push(above.or(below).map_or(' ', |s| s.sign));
                x += step;
                continue;
            }
            let _ = match (above.map(|s| s.colour), below.map(|s| s.colour)) {
                (None, None) => write!(line, "\x1b[0m "),
                (Some((r, g, b)), None) => write!(line, "\x1b[0;38;2;{r};{g};{b}m▀"),
                (None, Some((r, g, b))) => write!(line, "\x1b[0;38;2;{r};{g};{b}m▄"),
                (Some((r, g, b)), Some((s, t, u))) => write!(line, "\x1b[38;2;{r};{g};{b};48;2;{s};{t};{u}m▀"),
            };
            x += step;
        }
        out.push_str(line.trim_end());
        out.push_str(if colour { "\x1b[0m\n" } else { "\n" });
        y += 2.0 * step;
    }
    out + &key(scene, colour)
}

/// What the colours or signs of this picture mean.
fn key(scene: &Scene<'_>, colour: bool) -> String {
    let mut used: Vec<Fill> = Vec::new();
    for paint in scene.layers.iter().flat_map(|l| &l.paints) {
        if !used.contains(&paint.fill) && paint.fill != Fill::Bare {
            used.push(paint.fill);
        }
    }
    used.sort_by_key(|fill| if let Fill::Class(n) = fill { *n } else { usize::MAX });
    let words = used.iter().map(|fill| {
        let (name, sign) = match fill {
            Fill::Class(n) => (scale::range(*n, Units::Metric), SIGNS.get(*n).copied().unwrap_or('7')),
            _ => (scale::LEFT_WORDS.to_owned(), '.'),
        };
        let hex = if matches!(fill, Fill::Left) { LEFT } else { fill.class().colour };
        match rgb(hex).filter(|_| colour) {
            Some((r, g, b)) => format!("\x1b[38;2;{r};{g};{b}m██\x1b[0m {name}"),
            None => format!("{sign} = {name}"),
        }
    });
    words.collect::<Vec<_>>().join("   ") + "\n"
}

fn rgb(hex: &str) -> Option<Rgb> {
    let part = |at: usize| u8::from_str_radix(hex.get(at..at + 2)?, 16).ok();
    Some((part(1)?, part(3)?, part(5)?))
}
