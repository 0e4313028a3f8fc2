//! The sheet as Markdown, for a wiki, a review or a printer that knows it.

use super::{Options, arrow, consent, danger_sign, in_units};
use crate::sheet::{Line, Sheet};
use std::fmt::Write;

/// The sheet as Markdown.
#[must_use]
pub fn markdown(sheet: &Sheet, options: &Options) -> String {
    let mut out = String::new();
    let sheet = in_units(sheet, options.units);
    one(&sheet, &mut out);
    owner(&sheet, &mut out);
    two(&sheet, &mut out);
    out
}

/// Signs that Markdown would take for its own.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '*' | '_' | '`' | '<' | '>' | '[' | ']' | '|' | '\\') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

fn list(out: &mut String, heading: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "**{heading}**\n");
    for line in lines {
        let _ = writeln!(out, "- {}", plain(line));
    }
    out.push('\n');
}

fn one(sheet: &Sheet, out: &mut String) {
    let _ = writeln!(out, "# {} · {}\n", plain(&sheet.dog.name), plain(&sheet.title));
    let house = sheet.house.as_ref().map(|h| format!("{h} · ")).unwrap_or_default();
    let _ = writeln!(out, "{}{}\n", plain(&house), sheet.date);
    if let Some(words) = &sheet.replanned {
        let _ = writeln!(out, "**The rest:** {}\n", plain(words));
    }
    let _ = writeln!(out, "{}\n", plain(&sheet.dog.facts));
    for more in [&sheet.dog.looks, &sheet.dog.handling, &sheet.dog.medical, &sheet.dog.phones, &sheet.dog.last]
        .into_iter()
        .flatten()
    {
        let _ = writeln!(out, "{}\n", plain(more));
    }
    for (number, danger) in sheet.dangers.iter().enumerate() {
        let _ = writeln!(out, "> **{}** {}", danger_sign(sheet, number), plain(danger));
    }
    if let Some(also) = &sheet.also {
        let _ = writeln!(out, "> **!** Also: {}", plain(also));
    }
    for vet in &sheet.vet_first {
        let _ = writeln!(out, "> **Vet:** {}", plain(vet));
    }
    out.push('\n');
    list(out, "Overridden", &sheet.overridden);
    let agreed: Vec<String> = sheet.consents.iter().map(|c| format!("{} {}", c.what, consent(c.agreed))).collect();
    let _ = writeln!(out, "**Consent:** {}\n", plain(&agreed.join(" · ")));
    if !sheet.not_asked.is_empty() {
        let _ = writeln!(out, "**Not asked:** {}\n", plain(&sheet.not_asked.join(", ")));
    }
    let _ = writeln!(out, "**Lay out:** {}\n", plain(&sheet.lay_out.join(" · ")));
    let stands = sheet.stands.as_ref().map(|s| format!(" · {s}")).unwrap_or_default();
    let _ = writeln!(out, "**Takes:** {}{}\n", sheet.takes, plain(&stands));
    list(out, "Waits for another visit", &sheet.waits);
    for step in &sheet.steps {
        if let Some(rest) = &step.rest {
            let _ = writeln!(out, "   - **{}**", plain(rest));
        }
        if let Some(station) = &step.station {
            let begins = step.begins.as_ref().map(|b| format!(", after {b}")).unwrap_or_default();
            let _ = writeln!(out, "\n### {}{begins}\n", plain(station));
        }
        let minutes = step.minutes.as_ref().map(|m| format!(" ({m})")).unwrap_or_default();
        let _ = writeln!(out, "{}. ☐ **{}**{minutes}", step.number, plain(&step.title));
        if let Some(caution) = &step.caution {
            let _ = writeln!(out, "   - ⚠ {}", plain(caution));
        }
        if let Some(breaks) = &step.breaks {
            let _ = writeln!(out, "   - ⚠ {}", plain(breaks));
        }
        for line in &step.lines {
            if let Some(rest) = &line.rest {
                let _ = writeln!(out, "   - **{}**", plain(rest));
            }
            let _ = writeln!(out, "   - {}", work(line));
        }
    }
    out.push('\n');
    if !sheet.leave.is_empty() {
        let _ = writeln!(out, "**Leave:** {}\n", plain(&sheet.leave.join("; ")));
    }
    if !sheet.left_out.is_empty() {
        let _ = writeln!(out, "**Not today:** {}\n", plain(&sheet.left_out.join("; ")));
    }
    list(out, "Will show", &sheet.will_show);
    let _ = writeln!(out, "## What was really done\n\n| | |\n| --- | --- |");
    for field in &sheet.write_back {
        let _ = writeln!(out, "| {} | |", plain(field));
    }
    out.push('\n');
}

fn work(line: &Line) -> String {
    let mut words = String::new();
    if let Some(tool) = &line.tool {
        let (tool, mark) = (plain(tool), if line.takes_up { "**" } else { "" });
        let _ = write!(words, "{mark}{tool}{mark} ");
    }
    if let Some(way) = &line.direction {
        let _ = write!(words, "{} {way} ", arrow(way));
    }
    let _ = write!(words, "{}", plain(&line.work));
    if let Some(leaves) = &line.leaves {
        let _ = write!(words, ", leaves {leaves}");
    }
    if let Some(how) = &line.how {
        let _ = write!(words, "; {}", plain(how));
    }
    if let Some(caution) = &line.caution {
        let _ = write!(words, " ⚠ {}", plain(caution));
    }
    if let Some(because) = &line.because {
        let _ = write!(words, " ({})", plain(because));
    }
    if let Some(differs) = &line.differs {
        let _ = write!(words, " *({})*", plain(differs));
    }
    words
}

fn owner(sheet: &Sheet, out: &mut String) {
    let _ = writeln!(out, "---\n\n## For the people of {}\n", plain(&sheet.dog.name));
    list(out, "What we did", &sheet.owner.done);
    list(out, "What we found", &sheet.owner.found);
    list(out, "What we could not do, and why", &sheet.owner.not_done);
    list(out, "At home", &sheet.owner.at_home);
    list(out, "Please watch", &sheet.owner.watch);
    if let Some(next) = &sheet.owner.next {
        list(out, "Next time", std::slice::from_ref(next));
    }
}

fn two(sheet: &Sheet, out: &mut String) {
    let details = &sheet.details;
    let _ = writeln!(out, "---\n\n## Page two: for the file\n");
    list(out, "More to mind", &details.cautions);
    list(out, "Reasons given", &details.because);
    list(out, "To look at", &details.notes);
    let reasons: Vec<String> =
        details.reasons.iter().map(|r| format!("{}: {}. {}", r.zones, r.work, r.why.join("; "))).collect();
    list(out, "Why each part is done so", &reasons);
    list(out, "Made from", &details.made_from);
    list(out, "What this sheet is", &details.terms);
}
