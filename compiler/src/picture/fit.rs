//! How large the letters of a page may be, so that it is one page, and where its columns part: the lines are counted with the
//! advances of the page's own font.

use super::page::{SIGNS, said, sections};
use super::scale;
use crate::sheet::render::Units;
use crate::sheet::{Sheet, Step};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// What a Letter page holds within its margins, and an A4 page as well, in mm.
pub(super) const PAGE: (f64, f64) = (190.0, 258.0);
/// The gap of two columns, in mm.
const GAP: f64 = 5.0;
/// A line, over the size of its letters.
const LINE: f64 = 1.22;
/// Millimetres in a point.
const POINT: f64 = 25.4 / 72.0;
/// A little more than is counted: a browser rounds every line.
const ROUNDING: f64 = 1.01;
/// No smaller than this, in points: a sheet that needs more goes over to further pages.
const SMALLEST: f64 = 6.4;
const LARGEST: f64 = 11.0;
/// The size of a sheet that goes over to further pages.
const BOOK: f64 = 9.5;
/// Page two: the letters of the owner's note, and those of the file beside them.
const OWNER: (f64, f64) = (9.2, 7.0);
/// The file's letters beside the owner's.
pub(super) const FILE: f64 = 0.74;

/// How page one is laid out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Layout {
    /// The size of letters, in points.
    pub points: f64,
    /// How many steps stand in the first column; none if there is one column over several pages.
    pub first: Option<usize>,
}

/// How page two is laid out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Second {
    /// The size of letters, in points.
    pub points: f64,
    /// How many of the owner's sections stand in the first column.
    pub first: usize,
    /// How high a line to write on is, in mm.
    pub ruled: f64,
}

/// Advances of a font, in its size.
struct Advances {
    latin: Vec<f64>,
    other: f64,
}

impl Advances {
    fn of(bytes: &[u8]) -> Self {
        let widths = FontRef::new(bytes).ok().map(|font| {
            let (map, metrics) = (font.charmap(), font.glyph_metrics(Size::new(1.0), LocationRef::default()));
            let advance = |c: u8| map.map(char::from(c)).and_then(|glyph| metrics.advance_width(glyph));
            (0_u8..=255).map(|c| advance(c).map_or(0.6, f64::from)).collect()
        });
        Self { latin: widths.unwrap_or_default(), other: 0.6 }
    }

    fn width(&self, text: &str) -> f64 {
        text.chars().map(|c| self.latin.get(c as usize).copied().unwrap_or(self.other)).sum()
    }

    /// Lines of a text in a column so many times as wide as its letters are high.
    fn lines(&self, text: &str, column: f64) -> f64 {
        let space = self.width(" ");
        let (mut lines, mut at) = (1.0, 0.0);
        for word in text.split(' ') {
            let width = self.width(word);
            if at > 0.0 && at + space + width > column {
                lines += 1.0;
                at = width;
            } else {
                at += if at > 0.0 { space + width } else { width };
            }
        }
        lines
    }
}

struct Fonts {
    regular: Advances,
    bold: Advances,
}

fn fonts() -> Fonts {
    let [regular, bold] = super::FONTS.map(Advances::of);
    Fonts { regular, bold }
}

/// Page one, whose pictures are so many mm high; with letters of so many points if they are told, on as many pages as it takes.
pub(super) fn first(sheet: &Sheet, pictures_high: f64, units: Units, told: Option<f64>) -> Layout {
    if let Some(points) = told {
        return Layout { points, first: None };
    }
    let fonts = fonts();
    let mut points = LARGEST;
    while points >= SMALLEST {
        let em = points * POINT;
        let steps: Vec<f64> = sheet.steps.iter().map(|s| step(s, &fonts, em)).collect();
        let (first, columns) = halves(&steps);
        let high =
            head(sheet, &fonts, em) + pictures(pictures_high, &fonts, units, em) + columns + foot(sheet, &fonts, em);
        if high * ROUNDING <= PAGE.1 {
            return Layout { points, first: Some(first) };
        }
        points -= 0.1;
    }
    Layout { points: BOOK, first: None }
}

/// Page two, with a pair of pictures whose height over its width is `shape`.
/// With letters of so many points if they are told.
pub(super) fn second(sheet: &Sheet, shape: f64, told: Option<f64>) -> Second {
    let fonts = fonts();
    let (sections, in_file) = (sections(sheet), file(sheet));
    let mut points = told.unwrap_or(OWNER.0);
    loop {
        let em = points * POINT;
        let column = (PAGE.0 - 6.0) / 2.0;
        let mut heights = vec![(column - 4.0) / 2.0 * shape + 1.1 * em];
        heights.extend(sections.iter().map(|(_, lines)| {
            let text: f64 = lines.iter().map(|l| fonts.regular.lines(&format!("• {l}"), column / em - 0.9)).sum();
            (1.0 + text) * LINE * em
        }));
        let (first, owner) = halves(&heights);
        let small = em * FILE;
        let lines: f64 = in_file
            .iter()
            .map(|(_, lines)| {
                let text =
                    lines.iter().map(|l| fonts.regular.lines(&format!("• {l}"), (PAGE.0 - GAP) / 2.0 / small - 0.9));
                if lines.is_empty() { 0.0 } else { text.sum::<f64>() + 1.3 }
            })
            .sum();
        // Columns of the file end where an item does.
        let file = (lines / 2.0 + 3.0) * 1.16 * small + 2.0;
        let headings = 2.0 * (1.2 * LINE + 0.84) * em + 6.0;
        #[allow(clippy::cast_precision_loss)]
        let ruled = sheet.write_back.len() as f64;
        let room = PAGE.1 / ROUNDING - owner - file - headings;
        let high = (room / ruled.max(1.0)).min(8.5);
        if high >= 6.5 || points <= OWNER.1 || told.is_some() {
            return Second { points, first, ruled: high.max(6.5) };
        }
        points -= 0.1;
    }
}

/// Where a row of blocks parts into two columns that are as even as can be, and how high the higher one is.
fn halves(heights: &[f64]) -> (usize, f64) {
    let all: f64 = heights.iter().sum();
    let mut before = 0.0;
    let mut best = (heights.len(), all);
    for (number, height) in heights.iter().enumerate() {
        before += height;
        let higher = before.max(all - before);
        if higher < best.1 {
            best = (number + 1, higher);
        }
    }
    best
}

fn head(sheet: &Sheet, fonts: &Fonts, em: f64) -> f64 {
    let Fonts { regular, bold } = fonts;
    let strip = &sheet.dog;
    let more = [&strip.looks, &strip.medical, &strip.phones, &strip.last];
    let facts = more.into_iter().flatten().fold(strip.facts.clone(), |all, more| all + " · " + more);
    let across = PAGE.0 / em;
    let mut dangers: Vec<&str> = sheet.dangers.iter().chain(&sheet.vet_first).map(String::as_str).collect();
    dangers.extend(sheet.also.as_deref());
    let boxed: f64 = dangers.iter().map(|d| bold.lines(d, across - 4.5)).sum();
    let stands = sheet.stands.as_deref().unwrap_or_default();
    let rows = [
        sheet.not_served().unwrap_or_default().to_owned(),
        strip.handling.clone().unwrap_or_default(),
        sheet.consents.iter().map(|c| format!("{} ask: ____ · ", c.what)).collect::<String>(),
        sheet.not_asked.join(", "),
        sheet.lay_out.join(" · "),
        format!("{} · {stands}", sheet.takes),
        sheet.replanned.clone().unwrap_or_default(),
        sheet.waits.join(". "),
    ];
    let rows: f64 = rows.iter().filter(|r| !r.is_empty()).map(|r| regular.lines(r, across - 6.5) + 0.06).sum();
    // Title with its rule, margins, the frame of the dangers.
    let fixed = 2.1 * em + 0.5 + 0.4 * em + if dangers.is_empty() { 0.0 } else { 1.1 * em + 1.8 };
    fixed + (bold.lines(&facts, across) + boxed + rows) * LINE * em
}

/// The pictures with their titles and margins, and the legend below.
fn pictures(high: f64, fonts: &Fonts, units: Units, em: f64) -> f64 {
    // In letters of 0.8, each item with its swatch and a gap.
    let across = PAGE.0 / em / 0.8;
    let ranges = (0..scale::SCALE.len()).map(|n| scale::range(n, units)).chain([scale::LEFT_WORDS.to_owned()]);
    let items = ranges.map(|r| fonts.regular.width(&r) + 3.3).chain(SIGNS.iter().map(|s| fonts.regular.width(s) + 1.2));
    let (mut lines, mut at) = (1.0, 0.0);
    for item in items {
        if at + item > across {
            (lines, at) = (lines + 1.0, 0.0);
        }
        at += item;
    }
    high + (0.85 * LINE + 0.6 + (0.8 * LINE + 0.2) * lines + 0.3) * em
}

fn step(step: &Step, fonts: &Fonts, em: f64) -> f64 {
    let Fonts { regular, bold } = fonts;
    let column = (PAGE.0 - GAP) / 2.0 / em;
    let text = column - 1.2;
    let words = [Some(&step.title), step.minutes.as_ref(), step.caution.as_ref(), step.breaks.as_ref()];
    let words = words.into_iter().flatten().fold(String::from("MM M"), |all, w| all + " " + w);
    let work = step.lines.iter().map(|line| {
        // A tool that is taken up stands in bold, which is a little wider.
        let tool = line.tool.as_deref().filter(|_| line.takes_up).map_or(0.0, |t| bold.width(t) - regular.width(t));
        regular.lines(&said(line), text - tool * 0.5) + line.because.as_deref().map_or(0.0, |b| regular.lines(b, text))
    });
    // What stands before it in lines of its own: a heading, and rests.
    let rests = step.rest.iter().chain(step.lines.iter().filter_map(|l| l.rest.as_ref()));
    let before = rests.map(|r| bold.lines(r, text)).sum::<f64>() + f64::from(u8::from(step.station.is_some())) * 1.2;
    ((regular.lines(&words, text) + before + work.sum::<f64>()) * LINE + 0.34) * em + 0.2
}

fn foot(sheet: &Sheet, fonts: &Fonts, em: f64) -> f64 {
    let column = PAGE.0 / em - 6.5;
    let mut rows = vec![sheet.leave.join("; "), sheet.left_out.join("; ")];
    rows.extend(sheet.will_show.iter().cloned());
    let lines: f64 = rows.iter().filter(|r| !r.is_empty()).map(|r| fonts.regular.lines(r, column)).sum();
    (lines * LINE + 0.4) * em
}

/// What stands in the file, by heading.
pub(super) fn file(sheet: &Sheet) -> [(&'static str, Vec<String>); 6] {
    let details = &sheet.details;
    let reasons = details.reasons.iter().map(|r| format!("{}: {}. {}", r.zones, r.work, r.why.join("; "))).collect();
    [
        ("More to mind", details.cautions.clone()),
        ("Reasons given", details.because.clone()),
        ("To look at", details.notes.clone()),
        ("Why each part is done so", reasons),
        ("Made from", details.made_from.clone()),
        ("What this sheet is", details.terms.clone()),
    ]
}

#[cfg(test)]
mod tests {
    use super::halves;

    #[test]
    fn columns_are_as_even_as_can_be() {
        assert_eq!(halves(&[1.0, 1.0, 1.0, 1.0]), (2, 2.0));
        assert_eq!(halves(&[5.0, 1.0, 1.0]), (1, 5.0));
        assert_eq!(halves(&[1.0, 1.0, 5.0]), (2, 5.0));
        assert_eq!(halves(&[]), (0, 0.0));
    }
}
