//! Inches and pounds: rewrites the measures in a sheet's words.
//!
//! Lengths go to the sixteenth of an inch below one inch and to the quarter above, as combs and rulers are marked;
//! weights to the pound. 1 in = 25.4 mm and 1 lb = 0.45359237 kg by definition (international yard and pound, 1959).

/// The words with every `9 mm`, `3 to 6 mm`, `2 cm` and `12.4 kg` in inches and pounds.
pub fn said(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut rest = words;
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, tail) = rest.split_at(at);
        out.push_str(before);
        // Digits within a word (`comb-19`, `#10`, `C001`) are no measure.
        let free = !before.ends_with(|c: char| c.is_alphanumeric() || matches!(c, '#' | '-' | '.' | '_'));
        match free.then(|| measure(tail)).flatten() {
            Some((text, used)) => {
                out.push_str(&text);
                rest = tail.get(used..).unwrap_or("");
            }
            None => {
                let digits = tail.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(tail.len());
                let (number, after) = tail.split_at(digits);
                out.push_str(number);
                rest = after;
            }
        }
    }
    out.push_str(rest);
    out
}

/// A measure at the start of `text`: its words, and how many bytes it took.
fn measure(text: &str) -> Option<(String, usize)> {
    let (first, mut used) = number(text)?;
    let mut values = vec![first];
    let tail = text.get(used..)?;
    if let Some(second) = tail.strip_prefix(" to ") {
        let (value, more) = number(second)?;
        values.push(value);
        used += 4 + more;
    }
    let tail = text.get(used..)?.strip_prefix(' ')?;
    let unit: String = tail.chars().take_while(char::is_ascii_alphabetic).collect();
    let say = |value: f64| match unit.as_str() {
        "mm" => Some(inches(value)),
        "cm" => Some(inches(value * 10.0)),
        "kg" => Some(format!("{:.0}", value / 0.453_592_37)),
        _ => None,
    };
    let said: Option<Vec<String>> = values.into_iter().map(say).collect();
    let mut said = said?;
    said.dedup();
    let name = if unit == "kg" { "lb" } else { "in" };
    Some((format!("{} {name}", said.join(" to ")), used + 1 + unit.len()))
}

fn number(text: &str) -> Option<(f64, usize)> {
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let number = text.get(..end)?.trim_end_matches('.');
    Some((number.parse().ok()?, number.len()))
}

fn inches(mm: f64) -> String {
    let (parts, of) = if mm < 25.4 { (mm / 25.4 * 16.0, 16_u32) } else { (mm / 25.4 * 4.0, 4) };
    // Below a sixteenth, nothing on a ruler says it.
    if parts < 0.75 {
        return format!("{:.2}", mm / 25.4);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let mut part = parts.round() as u32;
    let mut of = of;
    while part.is_multiple_of(2) && of > 1 {
        part /= 2;
        of /= 2;
    }
    let (whole, rest) = (part / of, part % of);
    match (whole, rest) {
        (whole, 0) => whole.to_string(),
        (0, rest) => format!("{rest}/{of}"),
        (whole, rest) => format!("{whole} {rest}/{of}"),
    }
}

#[cfg(test)]
mod tests {
    use super::said;

    /// Source: 1 in = 25.4 mm; the nominal inch lengths of blades as two trade guides print them (#7F 1/8 in, #4F 3/8 in).
    #[test]
    fn measures_as_rulers_are_marked() {
        assert_eq!(said("leaves 3.2 mm"), "leaves 1/8 in");
        assert_eq!(said("9.5 mm beside 19 mm"), "3/8 in beside 3/4 in");
        assert_eq!(said("9 to 13 mm"), "3/8 to 1/2 in");
        assert_eq!(said("12.4 kg"), "27 lb");
        assert_eq!(said("48 mm now"), "2 in now");
        assert_eq!(said("#10, 1.5 mm"), "#10, 1/16 in");
    }

    #[test]
    fn what_is_no_measure_stays() {
        assert_eq!(
            said("#10 over comb-19, 2026-11-25, 40 min, 7 years"),
            "#10 over comb-19, 2026-11-25, 40 min, 7 years"
        );
    }
}
