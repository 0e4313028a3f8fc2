//! What tools and ways of working are taken up for.

use super::trade::{Manner, Tool, ToolKind, Verb};

/// The kinds of tool that a verb means if none is named, the first choice first.
#[must_use]
pub const fn kinds(verb: Verb) -> &'static [ToolKind] {
    match verb {
        Verb::SetIn => &[ToolKind::Comb, ToolKind::Blade],
        Verb::Clip | Verb::Skim => &[ToolKind::Blade, ToolKind::Comb],
        Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Taper => &[ToolKind::Shears],
        Verb::Thin => &[ToolKind::Thinners],
        Verb::HandStrip => &[ToolKind::Knife, ToolKind::Hand],
        Verb::Card => &[ToolKind::Carder],
        Verb::Rake => &[ToolKind::Rake],
        Verb::Leave => &[],
    }
}

impl ToolKind {
    /// Whether a moving blade comes near the skin on a clipper.
    #[must_use]
    pub const fn on_clipper(self) -> bool {
        matches!(self, Self::Blade | Self::Comb | Self::Clipper)
    }
}

impl Tool {
    /// Whether it does the work of a verb. One that doesn't say what it does, does what its kind is taken up for.
    #[must_use]
    pub fn does_work(&self, verb: Verb) -> bool {
        let name = if verb == Verb::SetIn { "set-in" } else { verb.as_str() };
        let says = self.does.iter().any(|does| does == name);
        says || self.does.is_empty() && kinds(verb).contains(&self.kind)
    }

    /// Whether it takes a border in: by a motion of its own, or by tapering.
    #[must_use]
    pub fn blends(&self) -> bool {
        self.blends.is_some() || self.does_work(Verb::Taper)
    }
}

impl Manner {
    /// Whether it is a motion that takes a border in.
    #[must_use]
    pub const fn blends(&self) -> bool {
        self.closes.is_some()
    }
}
