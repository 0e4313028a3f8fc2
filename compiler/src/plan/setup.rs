//! What it costs to go from one piece of work to the next: the tool in the hand, what is on the clipper, where one stands.
//!
//! The costs are steps of the basics (`blade-change`, `comb-change`, `tool-change`, `walk-round`, `turn-dog`, `clean-tool`), with
//! their sources there. Limits: what is on the clipper while another tool is in the hand isn't followed; when the clipper is taken
//! up again a blade is put on. Nor is a soiled tool that is laid down: cleaning costs where it goes straight on to a place that
//! wants it clean; the sheet says it wherever it is due.

use crate::measure::{Interval, Time};
use crate::names::sites::Sites;
use crate::names::trade::{Hygiene, Station, ToolId, ToolKind, Trade};

/// What is in the hand and where one stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SetUp {
    /// The tool; none for what is done without one that is followed, such as a bath.
    pub tool: Option<ToolId>,
    /// The blade beneath a comb.
    pub over: Option<ToolId>,
    /// Where one stands, a bit a station; none if it doesn't matter.
    stations: u8,
    /// Whether the tool is soiled there.
    soils: bool,
    /// Whether some place there wants it clean.
    clean: bool,
}

/// What is changed between two pieces of work.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Change {
    /// The steps of the basics that it takes, by name.
    pub steps: Vec<&'static str>,
    /// How long.
    pub time: Interval<Time>,
}

/// What a change takes of each step that it may be made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Minutes {
    blade: Interval<Time>,
    comb: Interval<Time>,
    tool: Interval<Time>,
    walk: Interval<Time>,
    turn: Interval<Time>,
    clean: Interval<Time>,
}

impl Minutes {
    /// As the basics have them.
    pub(super) fn of(trade: &Trade) -> Self {
        let of = |step: Takes| trade.minutes_of(step.name());
        Self {
            blade: of(Takes::Blade),
            comb: of(Takes::Comb),
            tool: of(Takes::Tool),
            walk: of(Takes::Walk),
            turn: of(Takes::Turn),
            clean: of(Takes::Clean),
        }
    }

    const fn each(&self, step: Takes) -> Interval<Time> {
        match step {
            Takes::Blade => self.blade,
            Takes::Comb => self.comb,
            Takes::Tool => self.tool,
            Takes::Walk => self.walk,
            Takes::Turn => self.turn,
            Takes::Clean => self.clean,
        }
    }
}

/// The step of the basics that cleans a soiled tool.
pub(crate) const CLEAN_TOOL: &str = "clean-tool";

/// A step of which a change may be made.
#[derive(Clone, Copy)]
enum Takes {
    Blade,
    Comb,
    Tool,
    Walk,
    Turn,
    Clean,
}

impl Takes {
    const fn name(self) -> &'static str {
        match self {
            Self::Blade => "blade-change",
            Self::Comb => "comb-change",
            Self::Tool => "tool-change",
            Self::Walk => "walk-round",
            Self::Turn => "turn-dog",
            Self::Clean => CLEAN_TOOL,
        }
    }
}

impl SetUp {
    /// A tool at these places.
    #[must_use]
    pub fn at(trade: &Trade, sites: Sites, tool: Option<ToolId>, over: Option<ToolId>) -> Self {
        let bit = |station: Station| 1u8 << (station as u8);
        let mut setup = Self { tool, over, ..Self::default() };
        for (zone, _) in sites.iter().filter_map(|s| trade.zone_of(s)) {
            setup.stations |= bit(zone.station);
            setup.soils |= zone.hygiene == Some(Hygiene::Soils);
            setup.clean |= zone.hygiene == Some(Hygiene::Clean);
        }
        setup
    }

    /// The same tool at the places of both.
    pub(super) const fn and(self, other: Self) -> Self {
        Self {
            stations: self.stations | other.stations,
            soils: self.soils || other.soils,
            clean: self.clean || other.clean,
            ..self
        }
    }

    /// What is changed to go on to another set-up.
    #[must_use]
    pub fn change(&self, to: &Self, trade: &Trade) -> Change {
        let mut change = Change::default();
        self.each_step(to, trade, |step| {
            change.time = change.time + trade.minutes_of(step.name());
            change.steps.push(step.name());
        });
        change
    }

    /// How long that takes, of many set-ups that are compared with one another.
    pub(super) fn time(&self, to: &Self, trade: &Trade, minutes: &Minutes) -> Interval<Time> {
        let mut time = Interval::default();
        self.each_step(to, trade, |step| time = time + minutes.each(step));
        time
    }

    fn each_step(&self, to: &Self, trade: &Trade, mut takes: impl FnMut(Takes)) {
        let kind = |s: &Self| s.tool.and_then(|t| trade.tool(t)).map(|t| t.kind);
        let clips = |s: &Self| matches!(kind(s), Some(ToolKind::Blade | ToolKind::Comb));
        if to.tool.is_some() && (self.tool, self.over) != (to.tool, to.over) {
            if clips(self) && clips(to) {
                let comb = |s: &Self| s.tool.filter(|_| kind(s) == Some(ToolKind::Comb));
                let blade = |s: &Self| if kind(s) == Some(ToolKind::Comb) { s.over } else { s.tool };
                // A comb of which nobody says what is beneath sits on what is there.
                if blade(self).zip(blade(to)).is_some_and(|(a, b)| a != b) {
                    takes(Takes::Blade);
                }
                if comb(self) != comb(to) {
                    takes(Takes::Comb);
                }
            } else {
                takes(Takes::Tool);
                if self.tool.is_some() && clips(to) {
                    takes(Takes::Blade);
                }
            }
        }
        let shared = |a: Option<ToolId>| a.is_some() && (a == to.tool || a == to.over);
        if self.soils && to.clean && (shared(self.tool) || shared(self.over)) {
            takes(Takes::Clean);
        }
        if self.stations != 0 && to.stations != 0 && self.stations & to.stations == 0 {
            let under = 1u8 << (Station::Under as u8);
            takes(if (self.stations | to.stations) & under == 0 { Takes::Walk } else { Takes::Turn });
        }
    }
}
