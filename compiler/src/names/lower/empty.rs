//! Declarations before their lines are read: they hold the place, so that numbers are known at once.

use crate::measure::{Factor, Growth, Interval, Length};
use crate::names::sites::Sites;
use crate::names::trade::*;
use crate::source::Place;
use smol_str::SmolStr;

pub(super) fn empty_coat(name: SmolStr, place: Place) -> Coat {
    let one = Interval::point(Factor(1_000_000));
    Coat {
        name,
        about: String::new(),
        texture: SmolStr::default(),
        undercoat: SmolStr::default(),
        genes: Vec::new(),
        with_coat: one,
        across_coat: one,
        comb_with_coat: one,
        first_pass: one,
        shows: Length(0),
        shows_share: Factor(0),
        grows: Interval::point(Growth(0)),
        grows_to: None,
        stands_to: None,
        shortest: None,
        mats_after: None,
        regrowth_poor: false,
        strips: false,
        dries: None,
        dries_at: None,
        place,
    }
}

pub(super) fn empty_finding(name: SmolStr, place: Place) -> Finding {
    Finding {
        name,
        about: String::new(),
        sex: None,
        on: Where::Card,
        margin: None,
        spot: false,
        one_side: false,
        by_tool: false,
        keeps: Vec::new(),
        reply: Reply::Raise,
        vet: None,
        stops_visit: false,
        apart: None,
        steps: Vec::new(),
        widens: Sites::NONE,
        younger_than: None,
        from_mats: None,
        soils: false,
        older_than: None,
        needs: Vec::new(),
        cautions: Vec::new(),
        owner: Vec::new(),
        place,
    }
}

pub(super) fn empty_tool(name: SmolStr, place: Place) -> Tool {
    Tool {
        name,
        about: String::new(),
        kind: ToolKind::Shears,
        leaves: None,
        closeness: None,
        gap: None,
        does: Vec::new(),
        blends: None,
        over: Vec::new(),
        bare: Bare::Yes,
        rate: None,
        warms: None,
        cautions: Vec::new(),
        place,
    }
}
