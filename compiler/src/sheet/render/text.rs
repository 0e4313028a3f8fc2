//! The sheet as text, for a terminal or a plain printer.

use super::{Options, arrow, consent, danger_sign, in_units, short};
use crate::sheet::{Line, Sheet, Step};
use anstyle::{AnsiColor, Style};
use std::fmt::Write;
use unicode_width::UnicodeWidthStr;

/// The sheet as text of so many columns.
#[must_use]
pub fn text(sheet: &Sheet, options: &Options) -> String {
    let mut page = Page { out: String::new(), width: options.width.clamp(60, 120), colour: options.colour };
    let sheet = in_units(sheet, options.units);
    page.one(&sheet);
    page.owner(&sheet);
    page.two(&sheet);
    page.out
}

struct Page {
    out: String,
    width: usize,
    colour: bool,
}

impl Page {
    fn line(&mut self, text: &str) {
        self.out.push_str(text.trim_end());
        self.out.push('\n');
    }

    fn styled(&self, style: Style, text: &str) -> String {
        if self.colour { format!("{style}{text}{style:#}") } else { text.to_owned() }
    }

    fn bold(&self, text: &str) -> String {
        self.styled(Style::new().bold(), text)
    }

    fn red(&self, text: &str) -> String {
        self.styled(Style::new().bold().fg_color(Some(AnsiColor::Red.into())), text)
    }

    fn rule(&mut self, sign: char) {
        let line: String = std::iter::repeat_n(sign, self.width).collect();
        self.line(&line);
    }

    /// Text after a label, wrapped under itself.
    fn wrapped(&mut self, indent: usize, text: &str) {
        let pad = " ".repeat(indent);
        let options =
            textwrap::Options::new(self.width).initial_indent(&pad).subsequent_indent(&pad).break_words(false);
        for line in textwrap::wrap(text, options) {
            self.line(&line);
        }
    }

    fn labelled(&mut self, label: &str, text: &str) {
        const COLUMN: usize = 11;
        let rest = " ".repeat(COLUMN);
        let options =
            textwrap::Options::new(self.width).initial_indent(&rest).subsequent_indent(&rest).break_words(false);
        for (number, line) in textwrap::wrap(text, options).iter().enumerate() {
            if number == 0 {
                let head = format!("{label:<COLUMN$}");
                let text = line.trim_start();
                let bold = self.bold(&head);
                self.line(&format!("{bold}{text}"));
            } else {
                self.line(line);
            }
        }
    }

    fn two_ends(&mut self, left: &str, right: &str) {
        let gap = self.width.saturating_sub(left.width() + right.width()).max(2);
        let left = self.bold(left);
        self.line(&format!("{left}{}{right}", " ".repeat(gap)));
    }

    fn one(&mut self, sheet: &Sheet) {
        let house = sheet.house.clone().unwrap_or_default();
        self.two_ends(
            &format!("{}  ·  {}", sheet.dog.name.to_uppercase(), sheet.title),
            &format!("{house}  {}", sheet.date),
        );
        if let Some(words) = &sheet.replanned {
            self.labelled("The rest", words);
        }
        self.wrapped(0, &sheet.dog.facts);
        for more in [&sheet.dog.looks, &sheet.dog.handling, &sheet.dog.medical, &sheet.dog.phones, &sheet.dog.last]
            .into_iter()
            .flatten()
        {
            self.wrapped(0, more);
        }
        self.rule('=');
        for (number, danger) in sheet.dangers.iter().enumerate() {
            let first = format!(" {} ", danger_sign(sheet, number));
            let options =
                textwrap::Options::new(self.width).initial_indent(&first).subsequent_indent("   ").break_words(false);
            for line in textwrap::wrap(danger, options) {
                let red = self.red(&line);
                self.line(&red);
            }
        }
        if let Some(also) = &sheet.also {
            let options = textwrap::Options::new(self.width)
                .initial_indent(" ! Also: ")
                .subsequent_indent("   ")
                .break_words(false);
            for line in textwrap::wrap(also, options) {
                let red = self.red(&line);
                self.line(&red);
            }
        }
        for vet in &sheet.vet_first {
            let words = self.red(&format!(" VET  {vet}"));
            self.line(&words);
        }
        if !sheet.dangers.is_empty() || !sheet.vet_first.is_empty() {
            self.rule('=');
        }
        if let Some(words) = sheet.not_served() {
            self.labelled("Mind", words);
        }
        for line in &sheet.overridden {
            self.labelled("Overridden", line);
        }
        let agreed: Vec<String> = sheet.consents.iter().map(|c| format!("{} {}", c.what, consent(c.agreed))).collect();
        self.labelled("Consent", &agreed.join("  ·  "));
        if !sheet.not_asked.is_empty() {
            self.labelled("Not asked", &sheet.not_asked.join(", "));
        }
        self.labelled("Lay out", &sheet.lay_out.join("  ·  "));
        let stands = sheet.stands.as_ref().map(|s| format!("  ·  {s}")).unwrap_or_default();
        self.labelled("Takes", &format!("{}{stands}", sheet.takes));
        for (number, line) in sheet.waits.iter().enumerate() {
            self.labelled(if number == 0 { "Waits" } else { "" }, line);
        }
        self.rule('-');
        for step in &sheet.steps {
            self.step(step);
        }
        self.rule('-');
        self.signs(sheet);
        if !sheet.leave.is_empty() {
            self.labelled("Leave", &sheet.leave.join("; "));
        }
        if !sheet.left_out.is_empty() {
            self.labelled("Not today", &sheet.left_out.join("; "));
        }
        for line in &sheet.will_show {
            self.labelled("Will show", line);
        }
        self.out.push('\n');
        let heading = self.bold("What was really done");
        self.line(&heading);
        for field in &sheet.write_back {
            let rest: String = std::iter::repeat_n('_', self.width.saturating_sub(field.width() + 3)).collect();
            self.line(&format!(" {field} {rest}"));
            self.out.push('\n');
        }
    }

    /// What the signs beside the steps stand for, of those that are there.
    fn signs(&mut self, sheet: &Sheet) {
        let lines = || sheet.steps.iter().flat_map(|s| &s.lines);
        let rests =
            sheet.steps.iter().any(|s| s.rest.is_some() || s.breaks.is_some()) || lines().any(|l| l.rest.is_some());
        let signs = [
            (lines().any(|l| l.takes_up), "> take it up"),
            (true, "! mind"),
            (lines().any(|l| l.differs.is_some()), "* other than usual"),
            (rests, "~ rest"),
        ];
        let there: Vec<&str> = signs.iter().filter(|(is, _)| *is).map(|(_, words)| *words).collect();
        self.labelled("Signs", &there.join("  ·  "));
    }

    fn step(&mut self, step: &Step) {
        if let Some(rest) = &step.rest {
            self.rest(rest);
        }
        if let Some(station) = &step.station {
            let begins = step.begins.as_ref().map(|b| format!("  after {b}")).unwrap_or_default();
            let rest: String =
                std::iter::repeat_n('-', self.width.saturating_sub(station.width() + begins.width() + 4)).collect();
            let heading = self.bold(&format!("-- {station}{begins} {rest}"));
            self.line(&heading);
        }
        let head = format!("{:>2} [ ] {}", step.number, step.title);
        self.two_ends(&head, step.minutes.as_deref().unwrap_or(""));
        if let Some(caution) = &step.caution {
            self.caution(caution);
        }
        if let Some(breaks) = &step.breaks {
            self.caution(breaks);
        }
        for line in &step.lines {
            self.work(line);
        }
    }

    fn rest(&mut self, words: &str) {
        let options = textwrap::Options::new(self.width)
            .initial_indent("   ~   ")
            .subsequent_indent("       ")
            .break_words(false);
        for line in textwrap::wrap(words, options) {
            let bold = self.bold(&line);
            self.line(&bold);
        }
    }

    fn work(&mut self, line: &Line) {
        if let Some(rest) = &line.rest {
            self.rest(rest);
        }
        let mut words = String::from(if line.takes_up { "     > " } else { "       " });
        let tool = line.tool.as_deref().unwrap_or("");
        let way = line.direction.as_deref().map(|d| format!("{} {}", arrow(d), short(d))).unwrap_or_default();
        let _ = write!(words, "{tool:<19} {way:<10} ");
        let indent = " ".repeat(words.width().min(38));
        let mut what = line.work.clone();
        if let Some(leaves) = &line.leaves {
            let _ = write!(what, "  [{leaves}]");
        }
        if let Some(how) = &line.how {
            let _ = write!(what, "  {how}");
        }
        let options =
            textwrap::Options::new(self.width).initial_indent(&words).subsequent_indent(&indent).break_words(false);
        for wrapped in textwrap::wrap(&what, options) {
            self.line(&wrapped);
        }
        if let Some(caution) = &line.caution {
            self.caution(caution);
        }
        if let Some(because) = &line.because {
            let options = textwrap::Options::new(self.width)
                .initial_indent("       = ")
                .subsequent_indent("         ")
                .break_words(false);
            for line in textwrap::wrap(because, options) {
                self.line(&line);
            }
        }
        if let Some(differs) = &line.differs {
            let words = self.styled(Style::new().bold(), &format!("       * {differs}"));
            self.line(&words);
        }
    }

    fn caution(&mut self, caution: &str) {
        let options = textwrap::Options::new(self.width)
            .initial_indent("       ! ")
            .subsequent_indent("         ")
            .break_words(false);
        for line in textwrap::wrap(caution, options) {
            self.line(&line);
        }
    }

    fn list(&mut self, heading: &str, lines: &[String]) {
        if lines.is_empty() {
            return;
        }
        let heading = self.bold(heading);
        self.line(&heading);
        for text in lines {
            let options =
                textwrap::Options::new(self.width).initial_indent("  - ").subsequent_indent("    ").break_words(false);
            for line in textwrap::wrap(text, options) {
                self.line(&line);
            }
        }
    }

    fn owner(&mut self, sheet: &Sheet) {
        self.out.push('\n');
        self.rule('=');
        let heading = self.bold(&format!("For the people of {}", sheet.dog.name));
        self.line(&heading);
        self.out.push('\n');
        self.list("What we did", &sheet.owner.done);
        self.list("What we found", &sheet.owner.found);
        self.list("What we could not do, and why", &sheet.owner.not_done);
        self.list("At home", &sheet.owner.at_home);
        self.list("Please watch", &sheet.owner.watch);
        if let Some(next) = &sheet.owner.next {
            self.list("Next time", std::slice::from_ref(next));
        }
    }

    fn two(&mut self, sheet: &Sheet) {
        self.out.push('\n');
        self.rule('=');
        let heading = self.bold("Page two: for the file");
        self.line(&heading);
        self.out.push('\n');
        let details = &sheet.details;
        self.list("More to mind", &details.cautions);
        self.list("Reasons given", &details.because);
        self.list("To look at", &details.notes);
        let reasons: Vec<String> =
            details.reasons.iter().map(|r| format!("{}: {}. {}", r.zones, r.work, r.why.join("; "))).collect();
        self.list("Why each part is done so", &reasons);
        self.list("Made from", &details.made_from);
        self.list("What this sheet is", &details.terms);
    }
}
