//! What a text does on one dog, and what is wrong with it.

use super::dog::{Cond, Dog, OPEN, Span};
use super::text::{Brute, Kind, Work};
use super::{Fault, Faults, Sure, error, say};
use coatwright::names::sites::{Site, Sites};
use coatwright::names::trade::{
    Ban, Bound, CoatId, Direction, FindingId, Gap, KeepOn, Reply, Skin, ToolId, ToolKind, Verb, Where,
};
use std::collections::{BTreeMap, BTreeSet};

/// A stroke: what runs over the coat and what stays.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stroke {
    tool: Option<ToolId>,
    way: Option<Direction>,
    passes: u32,
    leaves: Option<Span>,
    closeness: Option<i64>,
    gap: Option<Gap>,
}

const LEAVE: Stroke = Stroke { tool: None, way: None, passes: 0, leaves: None, closeness: None, gap: None };

/// What came out at a site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Done {
    work: usize,
    leaves: Option<Span>,
    /// The kind of tool and way that gave it its length, and whether it went over it again.
    by: Option<(ToolKind, Option<Direction>, bool)>,
    /// The coat there.
    coat: u16,
    /// Whether it stays as written; none if it doesn't.
    written: Option<Sure>,
}

/// What a stroke breaks, the gravest first.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Broken {
    Gap,
    Close,
    Short,
    Way,
    Tool,
    Passes,
}

/// A keep that binds at a site; `every` if it binds every dog of its condition.
struct Binds<'b> {
    bound: &'b Bound,
    every: bool,
    reply: Option<Reply>,
    cause: Option<ToolId>,
}

impl Brute<'_> {
    /// Whether the recipe serves the dog: every part of it.
    pub fn serves(&self, dog: &Dog) -> bool {
        self.trade.all_sites().iter().all(|s| self.serves.holds(dog, s))
    }

    /// Everything that is wrong on one dog. `applied` collects the statements that set something.
    pub fn faults(&self, dog: &Dog, applied: &mut BTreeSet<usize>) -> Faults {
        let mut out = Faults::new();
        let done: BTreeMap<Site, Vec<Done>> =
            self.sites(dog).iter().map(|s| (s, self.site(dog, s, &mut out, applied))).collect();
        for (a, b) in self.borders() {
            for x in done.get(&a).into_iter().flatten() {
                for y in done.get(&b).into_iter().flatten() {
                    self.step(dog, (a, *x), (b, *y), &mut out);
                }
            }
        }
        self.order(dog, &mut out);
        out
    }

    pub fn sites(&self, dog: &Dog) -> Sites {
        let here = self.trade.zones.iter().filter(|z| z.sex.is_none_or(|s| s == dog.sex));
        here.fold(Sites::NONE, |set, z| set | z.sites())
    }

    /// The sites that some line beside the broadest reaches: the others are all alike.
    pub fn in_play(&self) -> Sites {
        let all = self.trade.all_sites().len();
        let works = self.works.iter().map(|w| w.sites).filter(|s| s.len() * 2 < all);
        works.chain(self.keeps.iter().map(|k| k.what.0)).fold(Sites::NONE, |set, s| set | s)
    }

    /// The findings that the text speaks of.
    pub fn mentioned(&self) -> BTreeSet<FindingId> {
        let mut conds = self.conds();
        conds.retain(|c| !c.findings.is_empty());
        let named = conds.iter().flat_map(|c| c.findings.iter().copied());
        let works = self.works.iter().filter_map(|w| w.finding);
        let keeps = self.keeps.iter().filter_map(|k| k.finding);
        let pairs = self.seen_to.iter().chain(&self.orders).filter_map(|p| p.finding);
        named.chain(works).chain(keeps).chain(pairs).filter(|f| !self.serves.without.contains(f)).collect()
    }

    /// Every condition, and what `else` excludes.
    pub fn conds(&self) -> Vec<&Cond> {
        let mut out = Vec::new();
        self.serves.all(&mut out);
        self.works.iter().for_each(|w| w.cond.all(&mut out));
        self.keeps.iter().for_each(|k| k.cond.all(&mut out));
        self.seen_to.iter().chain(&self.orders).for_each(|p| p.cond.all(&mut out));
        out
    }

    /// The ends that conditions have on weight (0), height (1) or age (2).
    pub fn ends(&self, at: usize) -> BTreeSet<i64> {
        let ends = self.conds().into_iter().flat_map(|c| [c.measures[at].0, c.measures[at].1]);
        ends.filter(|e| *e != OPEN.0 && *e != OPEN.1).collect()
    }

    pub fn speaks_of_build(&self) -> bool {
        self.conds().iter().any(|c| c.builds.is_some())
    }

    pub fn speaks_of_mats(&self) -> bool {
        self.conds().iter().any(|c| c.mats.is_some())
    }

    /// Whether dogs with a finding aren't served.
    pub fn is_without(&self, finding: FindingId) -> bool {
        self.serves.without.contains(&finding)
    }

    /// The lines of the recipe's own work.
    pub fn own_lines(&self) -> BTreeSet<usize> {
        self.works.iter().filter(|w| w.level == 1 && !w.sites.is_empty()).map(|w| w.line).collect()
    }

    /// Neighbours: sites of zones that border, on one side of the dog, the earlier zone first.
    pub fn borders(&self) -> Vec<(Site, Site)> {
        let mut out = BTreeSet::new();
        for (n, a) in self.trade.zones.iter().enumerate() {
            for b in a.borders.iter().filter(|b| usize::from(b.0) > n).map(|b| &self.trade.zones[usize::from(b.0)]) {
                for side in [grammar::tree::Side::Left, grammar::tree::Side::Right] {
                    if !a.hidden && !b.hidden {
                        out.insert((a.site_on(side), b.site_on(side)));
                    }
                }
            }
        }
        out.into_iter().collect()
    }

    /// Whether a finding of the dog is at a site: a whole one or one with a fixed place everywhere, another where the card says,
    /// and across from it too unless it keeps to its side.
    fn here(&self, dog: &Dog, finding: FindingId, site: Site) -> bool {
        let declared = self.trade.finding(finding).unwrap();
        dog.findings.iter().filter(|(f, _)| *f == finding).any(|(_, sites)| match declared.on {
            Where::Whole | Where::Fixed(_) => true,
            Where::Card if declared.one_side => sites.has(site),
            Where::Card => self.trade.both_sides(*sites).has(site),
        })
    }

    fn applies(&self, work: &Work, dog: &Dog, site: Site) -> bool {
        work.sites.has(site) && work.cond.holds(dog, site) && work.finding.is_none_or(|f| self.here(dog, f, site))
    }

    fn keeps<'b>(&'b self, dog: &Dog, site: Site) -> Vec<Binds<'b>> {
        let reply = |f: FindingId| self.trade.finding(f).map(|f| f.reply);
        let mut out = Vec::new();
        for line in &self.trade.keeps {
            if matches!(line.on, KeepOn::Sites(s) if s.has(site)) && line.sex.is_none_or(|s| s == dog.sex) {
                out.push(Binds { bound: &line.bound, every: true, reply: None, cause: None });
            }
        }
        for keep in &self.keeps {
            let meant = keep.finding.is_none_or(|f| self.here(dog, f, site));
            if keep.what.0.has(site) && keep.cond.holds(dog, site) && meant {
                out.push(Binds {
                    bound: &keep.what.1,
                    every: keep.finding.is_none(),
                    reply: keep.finding.and_then(reply),
                    cause: None,
                });
            }
        }
        for (id, sites) in &dog.findings {
            let finding = self.trade.finding(*id).unwrap();
            for line in &finding.keeps {
                let sites = match line.on {
                    // A spot is gone round.
                    KeepOn::Place if finding.spot => continue,
                    KeepOn::Place => *sites,
                    KeepOn::Sites(sites) => sites,
                    KeepOn::Dog => continue,
                };
                // Floors hold on both sides, so that the dog isn't lopsided; bans keep to theirs.
                let floor = matches!(
                    line.bound,
                    Bound::NoCloser(..) | Bound::NoCloserOverCause(_) | Bound::NoShorter(_) | Bound::AtMost(_)
                );
                let sites = if floor && !finding.one_side { self.trade.both_sides(sites) } else { sites };
                if sites.has(site) {
                    let cause = dog.causes.iter().find(|(f, _)| f == id).map(|(_, tool)| *tool);
                    out.push(Binds { bound: &line.bound, every: false, reply: Some(finding.reply), cause });
                }
            }
        }
        out
    }

    /// The stroke of a statement on the coat at a site; none if it leaves no length that anybody could work to.
    fn stroke(&self, work: &Work, rough: Option<&Stroke>, dog: &Dog, site: Site) -> Option<Stroke> {
        let Some(id) = work.tool.filter(|_| work.verb != Verb::Leave) else { return Some(LEAVE) };
        let tool = self.trade.tool(id)?;
        let coat = self.trade.coat(CoatId(dog.coat_at(site)))?;
        let passes = work.passes.unwrap_or(if work.again { 2 } else { 1 });
        let mut stroke = Stroke { tool: Some(id), way: work.way, passes, gap: tool.gap, ..LEAVE };
        let own = tool.closeness.map(|c| c.0);
        if tool.kind.on_clipper() {
            let way = work.way.unwrap_or(Direction::With);
            let one = coatwright::measure::Factor(1_000_000);
            let (low, mut high) = match (tool.kind, way) {
                (_, Direction::Reverse) => (one, one),
                (ToolKind::Comb, _) => (coat.comb_with_coat.low, coat.comb_with_coat.high),
                (_, Direction::With) => (coat.with_coat.low, coat.with_coat.high),
                (_, Direction::Across) => (coat.across_coat.low, coat.across_coat.high),
            };
            // A curl keeps more until it is combed up and gone over again.
            if passes < 2 && !work.again && tool.kind != ToolKind::Comb && way != Direction::Reverse {
                high = high.max(coat.first_pass.high);
            }
            let leaves = tool.leaves?;
            let times = |l: i64, f: i64| {
                i64::try_from((i128::from(l) * i128::from(f) + 500_000).div_euclid(1_000_000)).unwrap()
            };
            stroke.leaves = Some((times(leaves.low.0, low.0), times(leaves.high.0, high.0)));
            stroke.closeness = own;
            stroke.way = Some(way);
        } else {
            // By hand it stays as long as the author says, or as it was set in.
            stroke.leaves = work.to.map(|to| (to, to)).or_else(|| rough.and_then(|r| r.leaves));
            stroke.closeness = match tool.kind {
                ToolKind::Shears => stroke.leaves.map(|l| l.0).or(own),
                ToolKind::Thinners => stroke.leaves.map(|l| l.0).max(own),
                _ => own,
            };
            if tool.kind == ToolKind::Shears && stroke.leaves.is_none() {
                return None;
            }
        }
        Some(stroke)
    }

    fn broken(&self, stroke: &Stroke, bound: &Bound, cause: Option<ToolId>) -> Option<Broken> {
        let id = stroke.tool?;
        let kind = self.trade.tool(id)?.kind;
        let named = |bans: &[Ban]| {
            bans.iter().any(|ban| match ban {
                Ban::Tool(t) => *t == id,
                Ban::Kind(k) => *k == kind,
                Ban::AnyClipper => kind.on_clipper(),
                Ban::Step(_) => false,
            })
        };
        let cuts = !matches!(kind, ToolKind::Rake | ToolKind::Brush | ToolKind::Carder);
        match bound {
            Bound::NoCloser(floor, _) => stroke.closeness.is_some_and(|c| c < floor.0).then_some(Broken::Close),
            // Where nobody says which tool it was, none is known to be far enough from it.
            Bound::NoCloserOverCause(classes) => {
                let floor = cause.and_then(|tool| self.trade.classes_over(tool, *classes)).map_or(i64::MAX, |l| l.0);
                stroke.closeness.is_none_or(|c| c < floor).then_some(Broken::Close)
            }
            Bound::NoShorter(least) => (cuts && stroke.leaves.is_none_or(|l| l.0 < least.0)).then_some(Broken::Short),
            Bound::Gap(cap) => {
                stroke.gap.or(kind.on_clipper().then_some(Gap::Skip)).is_some_and(|g| g > *cap).then_some(Broken::Gap)
            }
            Bound::Never(bans) => named(bans).then_some(Broken::Tool),
            Bound::Only(bans) => (!named(bans)).then_some(Broken::Tool),
            Bound::NeverDirection(way) => (stroke.way == Some(*way)).then_some(Broken::Way),
            Bound::OnlyDirection(way) => stroke.way.is_some_and(|w| w != *way).then_some(Broken::Way),
            Bound::Passes(most) => (stroke.passes > *most).then_some(Broken::Passes),
            _ => None,
        }
    }

    /// Whether one statement wins over another wherever both apply (S3).
    fn beats(&self, a: &Work, b: &Work) -> bool {
        // Answers to different findings are compared by how gentle they are, never by their zones (S4).
        if a.kind == Kind::Guard && b.kind == Kind::Guard && a.finding != b.finding {
            return false;
        }
        let over = |a: &Work, b: &Work| a.throughout && !b.throughout && a.level > b.level && a.kind >= b.kind;
        if over(a, b) || over(b, a) {
            return over(a, b);
        }
        // To leave a place for a finding is as gentle as can be.
        let leaves = |a: &Work, b: &Work| a.kind == Kind::Guard && a.verb == Verb::Leave && b.kind != Kind::Guard;
        if leaves(a, b) || leaves(b, a) {
            return leaves(a, b);
        }
        let same = a.sites == b.sites;
        if a.sites.within(b.sites) && a.kind >= b.kind && !(same && a.kind == b.kind) {
            return true;
        }
        if !same || a.kind != b.kind {
            return false;
        }
        match (a.cond.implies(&b.cond), b.cond.implies(&a.cond)) {
            (true, false) => true,
            (false, true) => false,
            _ => a.level > b.level,
        }
    }

    /// The winner of one pass; or several that clash, of which any may be taken until that is mended. Of two that neither wins and
    /// that ask for different work, the later line is told.
    fn winner(&self, rough: bool, guards: bool, dog: &Dog, site: Site, out: &mut Faults) -> Vec<usize> {
        let active: Vec<usize> = (0..self.works.len())
            .filter(|&i| {
                let w = &self.works[i];
                let asks = w.kind == Kind::Guard || !w.cond.findings.is_empty();
                (w.verb == Verb::SetIn) == rough && (guards || !asks) && self.applies(w, dog, site)
            })
            .collect();
        let wins = |i: &usize| !active.iter().any(|j| self.beats(&self.works[*j], &self.works[*i]));
        let unbeaten: Vec<usize> = active.iter().copied().filter(wins).collect();
        let mut top = unbeaten.clone();
        if top.is_empty() {
            // Lines meant throughout and finer lines can chase each other round.
            top.clone_from(&active);
        } else {
            // Of answers the gentlest stands for all.
            let gentle = |i: &usize| {
                let work = &self.works[*i];
                let stroke = self.stroke(work, None, dog, site);
                let left = stroke.is_some_and(|s| s.tool.is_none());
                let stroke = stroke.unwrap_or(LEAVE);
                (left, stroke.closeness.unwrap_or(0), stroke.leaves.map_or(0, |l| l.0), std::cmp::Reverse(work.line))
            };
            // Of equally gentle ones the first: a guard for two findings stands for both.
            let answers = top.iter().copied().filter(|i| self.works[*i].kind == Kind::Guard);
            let best = answers.reduce(|best, other| if gentle(&other) > gentle(&best) { other } else { best });
            top.retain(|i| self.works[*i].kind != Kind::Guard || Some(*i) == best);
            // Where a plain line asks for the same work, the answer is named.
            top.sort_by_key(|i| self.works[*i].kind != Kind::Guard);
        }
        let ask = |i: usize| {
            let w = &self.works[i];
            (w.verb, w.to, w.tool, w.way, w.passes, w.again)
        };
        let pairs = |of: &[usize]| -> BTreeSet<usize> {
            let pairs = of.iter().flat_map(|a| of.iter().map(move |b| (*a, *b)));
            let clash = pairs.filter(|(a, b)| ask(*a) != ask(*b));
            clash.map(|(a, b)| self.works[a].line.max(self.works[b].line)).collect()
        };
        // Of three that clash any two may be told, and of answers beside a finer line any answer.
        let many = top.iter().any(|i| self.works[*i].kind != Kind::Guard);
        let clashes = if many && !unbeaten.is_empty() { pairs(&unbeaten) } else { pairs(&top) };
        let sure = if clashes.len() == 1 && !pairs(&top).is_empty() { Sure::Yes } else { Sure::Maybe };
        clashes.iter().for_each(|line| say(out, error("M015", *line), sure));
        if let (true, Some(won)) = (clashes.is_empty(), top.first().map(|i| &self.works[*i])) {
            // A base's finer line that still counts under a broader one of the recipe.
            let broader = active.iter().map(|i| &self.works[*i]).find(|o| {
                // Of answers to two findings the gentler one counts, and nobody need hear that it is the base's.
                let alike = o.kind == won.kind && o.finding == won.finding;
                o.level > won.level && alike && won.sites.within(o.sites) && won.sites != o.sites
            });
            if let Some(broader) = broader {
                say(out, Fault { code: "M015", warning: true, line: broader.line }, Sure::Yes);
            }
            top.truncate(1);
        } else if !unbeaten.is_empty() {
            top = unbeaten;
        }
        top
    }

    /// One site of one dog: what comes out there; several only where statements clash.
    pub fn site(&self, dog: &Dog, site: Site, out: &mut Faults, applied: &mut BTreeSet<usize>) -> Vec<Done> {
        let (fine, rough) = (self.winner(false, true, dog, site, out), self.winner(true, true, dog, site, out));
        let keeps = self.keeps(dog, site);
        if fine.is_empty() && rough.is_empty() {
            let hidden = self.trade.zone_of(site).is_none_or(|(zone, _)| zone.hidden);
            if !hidden && !keeps.iter().any(|k| matches!(k.bound, Bound::Untouched | Bound::Refer)) {
                say(out, error("M016", self.name), Sure::Yes);
            }
            return Vec::new();
        }
        if fine.len() <= 1 && rough.len() <= 1 {
            let done = self.worked(dog, site, fine.first().copied(), rough.first().copied(), &keeps, out, applied);
            return done.into_iter().collect();
        }
        // Statements clash here, and what else is said depends on which of them is taken.
        let each = |list: &[usize]| if list.is_empty() { vec![None] } else { list.iter().copied().map(Some).collect() };
        let (mut said, mut all) = (Faults::new(), Vec::new());
        for f in each(&fine) {
            for r in each(&rough) {
                all.extend(self.worked(dog, site, f, r, &keeps, &mut said, applied));
            }
        }
        said.into_keys().for_each(|fault| say(out, fault, Sure::Maybe));
        all.iter_mut().for_each(|done| done.written = done.written.map(|_| Sure::Maybe));
        all
    }

    /// Which of both passes counts: the main one, and the rough one under it.
    fn passes(&self, fine: Option<usize>, rough: Option<usize>) -> Option<(usize, Option<usize>)> {
        let refines = |i: usize| {
            let verb = self.works[i].verb;
            let kinds = matches!(verb, Verb::Finish | Verb::Scissor | Verb::Shape | Verb::Thin | Verb::Taper);
            kinds && self.works[i].kind != Kind::Guard
        };
        let nearer = |r: usize, f: usize| {
            let (r, f) = (&self.works[r], &self.works[f]);
            r.kind >= f.kind && (r.level > f.level || r.sites.within(f.sites) && r.sites != f.sites)
        };
        Some(match (fine, rough) {
            (Some(f), Some(r)) if refines(f) => (f, Some(r)),
            (Some(f), Some(r)) if nearer(r, f) => (r, None),
            (Some(f), _) => (f, None),
            (None, r) => (r?, None),
        })
    }

    /// What the winners of both passes make of a site.
    #[allow(clippy::too_many_arguments)]
    fn worked(
        &self,
        dog: &Dog,
        site: Site,
        fine: Option<usize>,
        rough: Option<usize>,
        keeps: &[Binds<'_>],
        out: &mut Faults,
        applied: &mut BTreeSet<usize>,
    ) -> Option<Done> {
        let untouched = keeps.iter().any(|k| matches!(k.bound, Bound::Untouched | Bound::Refer));
        let (main, rough) = self.passes(fine, rough)?;
        let set_in = rough.and_then(|r| self.stroke(&self.works[r], None, dog, site));
        let work = &self.works[main];
        let stroke = self.stroke(work, set_in.as_ref(), dog, site)?;
        applied.insert(work.line);
        applied.extend(rough.filter(|_| set_in.is_some()).map(|r| self.works[r].line));
        self.unanswered(work, dog, site, out);
        let mut written = Some(Sure::Yes);
        if untouched && stroke.tool.is_some() {
            written = None;
        } else {
            self.shears(work, &stroke, out);
            written = written.filter(|_| self.kept(main, rough, &stroke, set_in.as_ref(), keeps, out));
            self.gentler(work, &stroke, set_in.as_ref(), dog, site, out);
        }
        // What is cut off beneath a mat is as the mat has it.
        if stroke.tool.is_some() && dog.mats.iter().any(|(grade, sites)| *grade >= 3 && sites.has(site)) {
            written = written.filter(|_| dog.clip_off).map(|_| Sure::Maybe);
        }
        if work.kind == Kind::Guard && stroke.tool.is_some() {
            written = written.map(|w| w.min(self.taken_back(work.finding, dog, site)));
        }
        let cut = set_in.as_ref().filter(|r| r.leaves == stroke.leaves).unwrap_or(&stroke);
        let by = cut.tool.and_then(|t| self.trade.tool(t)).map(|t| (t.kind, cut.way, cut.passes > 1));
        let coat = dog.coat_at(site);
        Some(Done { work: main, leaves: stroke.leaves.filter(|_| stroke.tool.is_some()), by, coat, written })
    }

    /// S4: an answer works no place that would be left without its finding.
    fn taken_back(&self, answered: Option<FindingId>, dog: &Dog, site: Site) -> Sure {
        let mut without = dog.clone();
        without.findings.retain(|(f, _)| Some(*f) != answered);
        let before = self.site(&without, site, &mut Faults::new(), &mut BTreeSet::new());
        // Whether it is left for want of a gentler tool isn't worked out here.
        if before.iter().all(|b| b.written == Some(Sure::Yes)) { Sure::Yes } else { Sure::Maybe }
    }

    /// C001 for straight shears nearer the skin than a hand can safely cut.
    fn shears(&self, work: &Work, stroke: &Stroke, out: &mut Faults) {
        let tool = stroke.tool.and_then(|t| self.trade.tool(t)).filter(|t| t.kind == ToolKind::Shears);
        if let Some((safe, closeness)) = tool.and_then(|t| t.closeness).zip(stroke.closeness)
            && closeness < safe.0
        {
            say(out, error("C001", work.line), Sure::Yes);
        }
    }

    /// C001 to C003: the gravest that a keep for every dog makes of it. False if a keep of a finding changes it.
    fn kept(
        &self,
        main: usize,
        rough: Option<usize>,
        fine: &Stroke,
        set_in: Option<&Stroke>,
        keeps: &[Binds<'_>],
        out: &mut Faults,
    ) -> bool {
        let mut gravest: Option<(Broken, usize)> = None;
        let mut as_written = true;
        for keep in keeps {
            let fine = self.broken(fine, keep.bound, keep.cause).map(|b| (b, main));
            let Some(found) = fine.or_else(|| Some((self.broken(set_in?, keep.bound, keep.cause)?, rough?))) else {
                continue;
            };
            if keep.every {
                gravest = gravest.filter(|g| g.0 <= found.0).or(Some(found));
            } else {
                as_written = false;
            }
        }
        if let Some((broken, by)) = gravest {
            let code = match broken {
                Broken::Gap => "C002",
                Broken::Close | Broken::Short => "C001",
                Broken::Way | Broken::Tool | Broken::Passes => "C003",
            };
            say(out, error(code, self.works[by].line), Sure::Yes);
        }
        as_written
    }

    /// C004: what a finding switches on, in a guard or a condition, and that is closer than what it replaces, or whose teeth are wider
    /// than that and than the skin bears. Both are judged with what is set in before.
    fn gentler(&self, work: &Work, answer: &Stroke, own: Option<&Stroke>, dog: &Dog, site: Site, out: &mut Faults) {
        if work.kind != Kind::Guard && work.cond.findings.is_empty() {
            return;
        }
        let pass = |rough| self.winner(rough, false, dog, site, &mut Faults::new());
        let (fine, rough) = (pass(false), pass(true));
        if fine.len() > 1 || rough.len() > 1 {
            return;
        }
        let Some((before, rough)) = self.passes(fine.first().copied(), rough.first().copied()) else { return };
        let set_in = rough.and_then(|r| self.stroke(&self.works[r], None, dog, site));
        let Some(mut replaced) = self.stroke(&self.works[before], set_in.as_ref(), dog, site) else { return };
        let mut answer = *answer;
        for (fine, rough) in [(&mut answer, own), (&mut replaced, set_in.as_ref())] {
            fine.closeness = [fine.closeness, rough.and_then(|r| r.closeness)].into_iter().flatten().min();
            fine.gap = fine.gap.max(rough.and_then(|r| r.gap));
        }
        if answer.tool.is_none() {
            return;
        }
        let closer = if replaced.tool.is_none() { true } else { answer.closeness < replaced.closeness };
        let bears = match self.trade.zone_of(site).map_or(Skin::Fold, |(zone, _)| zone.skin) {
            Skin::Flat => Gap::Skip,
            Skin::Thin => Gap::Medium,
            Skin::Fold | Skin::Edge => Gap::Fine,
        };
        let wider = replaced.gap.is_some() && answer.gap > replaced.gap && answer.gap > Some(bears);
        if closer || wider {
            say(out, error("C004", work.line), Sure::Yes);
        }
    }

    /// C005: a finding that asks for an answer and has none here.
    fn unanswered(&self, main: &Work, dog: &Dog, site: Site, out: &mut Faults) {
        for (id, sites) in &dog.findings {
            let asks = self.trade.finding(*id).is_some_and(|f| f.reply == Reply::Answer);
            // Put where it can't be known, it asks nothing.
            let usual = !matches!(self.trade.finding(*id).unwrap().on, Where::Fixed(on) if !on.has(site));
            if !asks || !usual || !sites.has(site) || main.verb == Verb::Leave || main.finding == Some(*id) {
                continue;
            }
            let works = self.works.iter().filter(|w| w.finding == Some(*id) && w.sites.has(site)).map(|w| &w.cond);
            // Manners, times and the order of work don't say what is done.
            let says = |bound: &Bound| {
                !matches!(
                    bound,
                    Bound::AtMost(_)
                        | Bound::Open
                        | Bound::First
                        | Bound::Last
                        | Bound::Manner(_)
                        | Bound::AtStretch(_)
                        | Bound::InAll(_)
                )
            };
            let keeps = self.keeps.iter().filter(|k| k.finding == Some(*id) && k.what.0.has(site) && says(&k.what.1));
            let keeps = keeps.map(|k| &k.cond);
            let answers: Vec<&Cond> = works.chain(keeps).collect();
            // An answer for other dogs than this one is none.
            if !answers.iter().any(|c| c.holds(dog, site)) {
                say(out, error("C005", self.name), Sure::Yes);
            }
        }
    }

    /// J001: a step that the recipe makes, that shows, and that nobody sees to.
    pub fn step(&self, dog: &Dog, (a, x): (Site, Done), (b, y): (Site, Done), out: &mut Faults) {
        let (Some((low_x, high_x)), Some((low_y, high_y)), Some(sure_x), Some(sure_y)) =
            (x.leaves, y.leaves, x.written, y.written)
        else {
            return;
        };
        let coats = [x.coat, y.coat].map(|c| self.trade.coat(CoatId(c)).unwrap());
        if coats.iter().any(|c| c.shows.0 == 0) {
            return;
        }
        let hides = coats.map(|coat| {
            let share = i128::from(high_x.max(high_y)) * i128::from(coat.shows_share.0);
            coat.shows.0.max(i64::try_from((share + 500_000).div_euclid(1_000_000)).unwrap())
        });
        let hides = hides[0].max(hides[1]);
        let one_coat = x.coat == y.coat;
        // What the coat of one dog does to a stroke it does to every stroke of its kind; else each length may be anything between.
        let (least, most) = if one_coat && x.by.is_some() && x.by == y.by {
            let ends = [low_x - low_y, high_x - high_y];
            let least = if ends[0].signum() == ends[1].signum() { ends[0].abs().min(ends[1].abs()) } else { 0 };
            (least, ends[0].abs().max(ends[1].abs()))
        } else {
            ((low_x - high_y).max(low_y - high_x), (high_x - low_y).max(high_y - low_x))
        };
        // "Will" on every dog of the coat, or "may" on some; where two coats meet, only what is certain counts.
        if least <= hides && !(one_coat && most > hides) {
            return;
        }
        let seen_to = self.seen_to.iter().any(|p| {
            let (one, two) = p.what;
            (one.has(a) && two.has(b) || one.has(b) && two.has(a))
                && p.cond.holds(dog, a)
                && p.finding.is_none_or(|f| dog.has(f))
        });
        if !seen_to {
            // The nearer text, then the later line, made the step.
            let by = |d: Done| (self.works[d.work].level, self.works[d.work].line);
            let fault = Fault { code: "J001", warning: true, line: by(x).max(by(y)).1 };
            say(out, fault, sure_x.min(sure_y));
        }
    }

    /// O001 to O003.
    pub fn order(&self, dog: &Dog, out: &mut Faults) {
        let meant = |finding: Option<FindingId>, cond: &Cond, sites: Sites| {
            finding.is_none_or(|f| dog.has(f)) && sites.iter().next().is_some_and(|s| cond.holds(dog, s))
        };
        let ends = |which: &Bound| -> Vec<(Sites, usize)> {
            let said = self.keeps.iter().filter(|k| k.what.1 == *which && meant(k.finding, &k.cond, k.what.0));
            said.map(|k| (k.what.0, k.line)).collect()
        };
        let (first, last) = (ends(&Bound::First), ends(&Bound::Last));
        for (sites, line) in &first {
            if last.iter().any(|(others, _)| others.meets(*sites)) {
                say(out, error("O002", *line), Sure::Yes);
            }
        }
        let all = |ends: &[(Sites, usize)]| ends.iter().fold(Sites::NONE, |set, (s, _)| set | *s);
        let (first, last) = (all(&first), all(&last));
        let edges: Vec<_> = self.orders.iter().filter(|o| meant(o.finding, &o.cond, o.what.0)).collect();
        for edge in &edges {
            let (before, after) = edge.what;
            let late = before.meets(last) && !(after - last).is_empty();
            let early = after.meets(first) && !(before - first).is_empty();
            if late || early {
                say(out, error("O003", edge.line), Sure::Yes);
            }
        }
        // On a circle is what can be reached again from what follows it.
        for edge in &edges {
            let mut reached = edge.what.1;
            for _ in 0..edges.len() {
                reached = edges.iter().filter(|e| e.what.0.meets(reached)).fold(reached, |set, e| set | e.what.1);
            }
            if reached.meets(edge.what.0) {
                say(out, error("O001", edge.line), Sure::Maybe);
            }
        }
    }
}
