//! Walks the pieces of one block with a stack of open bodies, and hands each logical line to `read` as it ends.
//!
//! This is where lines continue or end, where comments find their statements, and where braces are matched. The
//! stack is a `Vec`: no text, however deep, can exhaust the program's own.

use crate::again::Before;
use crate::error::{Fix, SyntaxError};
use crate::flow::{continues, next_word, prose};
use crate::lex::{Kind, Lexer, Piece, indent};
use crate::line::span;
use crate::read::{Ctx, Head, read_head, read_statement};
use crate::refuse::{refuse, rubble, too_big, too_many};
use crate::scan::{bare_head, brace_next, word_end};
use crate::tree::{Block, BlockKind, Body, Comment, Parsed, Stmt, Trivia, Word};
use crate::words;
use thin_vec::ThinVec;

/// Bodies may be nested this deep.
pub const MAX_DEPTH: usize = 100;
/// More mistakes than this in one block (or file) aren't listed.
pub const MAX_ERRORS: usize = 500;

/// A logical line in the making.
#[derive(Debug, Default)]
pub(crate) struct Pending {
    pub start: usize,
    pub end: usize,
    /// The end of its first word.
    pub first: usize,
    /// It holds comments, line ends, notes or quotes that need tidying.
    pub odd: bool,
    pub note: Option<(usize, usize)>,
    pub prose: Option<(usize, usize)>,
    pub trivia: Trivia,
    comma: bool,
    pieces: usize,
    /// The line is known to go on at this byte.
    goes_on_at: usize,
}

#[derive(Debug)]
struct Frame {
    ctx: Ctx,
    head: Option<Pending>,
    open: usize,
    stmts: ThinVec<Stmt>,
    before: ThinVec<Comment>,
    blank: bool,
    after_open: Option<Box<Comment>>,
    lines: bool,
    /// The last statement ended on the line the walker is on.
    same_line: bool,
}

impl Frame {
    fn new(ctx: Ctx, head: Option<Pending>, open: usize) -> Self {
        Self {
            ctx,
            head,
            open,
            stmts: ThinVec::new(),
            before: ThinVec::new(),
            blank: false,
            after_open: None,
            lines: false,
            same_line: true,
        }
    }
}

/// Parses one top-level block (comments before it included). Total: any text gives a tree and its mistakes.
#[must_use]
pub fn parse_block(text: &str) -> Parsed {
    parse(text, None)
}

/// The same, for a block that took the place of another: lines that are the same in both aren't read again.
#[must_use]
pub fn parse_block_again(text: &str, old_text: &str, old: &Parsed) -> Parsed {
    parse(text, Some(Before::new(text, old_text, old)))
}

fn parse<'a>(text: &'a str, before: Option<Before<'a>>) -> Parsed {
    if u32::try_from(text.len()).is_err() {
        return refuse("", too_big(0));
    }
    let mut w = Walker { before, ..Walker::new(text) };
    let mut parsed = w.walk();
    for e in &mut parsed.errors {
        e.span = visible(text, e.span);
        let (a, b) = e.fix.as_ref().map_or((0, 0), |f| (f.span.start as usize, f.span.end as usize));
        if a > b || text.get(a..b).is_none() {
            e.fix = None;
        }
    }
    parsed
}

/// What one top-level block declares, and its name, without reading its body. A block whose body can't be read at all has no
/// name in its tree.
#[must_use]
pub(crate) fn declares(text: &str) -> (BlockKind, Option<Word>) {
    let mut w = Walker::new(text);
    let found = w.head(&mut Lexer::new(text, 0), &mut ThinVec::new());
    let head = found.ok().and_then(|(head, _)| read_head(text, &head, &mut w.errors, true));
    head.map_or((BlockKind::Unknown, None), |head| (head.kind, head.name))
}

/// A span on character boundaries inside the text that holds at least one character, so that it can be underlined.
fn visible(text: &str, s: crate::tree::Span) -> crate::tree::Span {
    let (mut a, mut b) = ((s.start as usize).min(text.len()), (s.end as usize).min(text.len()));
    while !text.is_char_boundary(a) {
        a -= 1;
    }
    while !text.is_char_boundary(b) {
        b += 1;
    }
    if b <= a {
        b = a + text.get(a..).and_then(|r| r.chars().next()).map_or(0, char::len_utf8);
    }
    if b == a {
        a -= text.get(..a).and_then(|r| r.chars().next_back()).map_or(0, char::len_utf8);
    }
    span(a, b)
}

struct Walker<'a> {
    text: &'a str,
    bytes: &'a [u8],
    frames: Vec<Frame>,
    pending: Option<Pending>,
    errors: Vec<SyntaxError>,
    newlines: usize,
    /// A body that was closed by a brace which, by its indentation, belongs to one further out.
    suspect: Option<usize>,
    after: Option<Comment>,
    last: usize,
    too_deep: Option<usize>,
    parens: usize,
    closed: bool,
    /// What the block was before an edit.
    before: Option<Before<'a>>,
}

impl<'a> Walker<'a> {
    const fn new(text: &'a str) -> Self {
        Self {
            text,
            bytes: text.as_bytes(),
            frames: Vec::new(),
            pending: None,
            errors: Vec::new(),
            newlines: 0,
            suspect: None,
            after: None,
            last: 0,
            too_deep: None,
            parens: 0,
            closed: false,
            before: None,
        }
    }

    fn comment(&self, p: Piece) -> Comment {
        Comment { text: self.text.get(p.start..p.end).unwrap_or("").to_owned(), span: span(p.start, p.end) }
    }

    fn walk(&mut self) -> Parsed {
        let mut lexer = Lexer::new(self.text, 0);
        let mut lead = ThinVec::new();
        let (head, at) = match self.head(&mut lexer, &mut lead) {
            Ok(found) => found,
            Err(at) => return rubble(self.text, at, lead),
        };
        self.open_root(head, at);
        self.body(&mut lexer);
        if let Some(at) = self.too_deep {
            return self.refuse_depth(at);
        }
        self.end_of_text();
        self.root(lead)
    }

    /// Comments, then the head: its line, and where its body begins; for text that is no declaration, where that begins.
    fn head(&mut self, lexer: &mut Lexer, lead: &mut ThinVec<Comment>) -> Result<(Pending, usize), usize> {
        let mut head: Option<Pending> = None;
        let mut waits = false;
        while let Some(p) = lexer.next() {
            match p.kind {
                Kind::Newline => {
                    if let Some(h) = &head
                        && !waits
                        && !brace_next(self.text, p.end)
                    {
                        if !bare_head(self.text, h.start) {
                            return Err(h.start);
                        }
                        break;
                    }
                    waits = head.is_some();
                }
                Kind::Comment => {
                    let c = self.comment(p);
                    match &mut head {
                        Some(h) => h.trivia.after = Some(Box::new(c)),
                        None => lead.push(c),
                    }
                }
                Kind::Open => {
                    self.last = p.end;
                    return head.map(|h| (h, p.start)).ok_or(p.start);
                }
                Kind::Close => return Err(head.map_or(p.start, |h| h.start)),
                _ => {
                    if head.is_none() && p.kind != Kind::Run {
                        return Err(p.start);
                    }
                    waits = false;
                    grow(&mut head, p, self.text);
                    if p.kind == Kind::Quote(false) {
                        self.open_quote(p);
                    }
                }
            }
        }
        let Some(h) = head else { return Err(self.text.trim_end().len()) };
        if !bare_head(self.text, h.start) {
            return Err(h.start);
        }
        self.error(
            "W003",
            h.end.saturating_sub(1),
            h.end,
            format!("`{}` has no opening brace", self.text.get(h.start..h.end).unwrap_or("")),
            "end this line with ` {`, and close the declaration with `}`",
            Some(("add the brace", h.end, h.end, " {")),
        );
        let at = h.end;
        self.last = at;
        Ok((h, at))
    }

    fn open_root(&mut self, head: Pending, at: usize) {
        let word = self.text.get(head.start..head.first).unwrap_or("").to_lowercase();
        let kind = words::block(&word)
            .or_else(|| words::nearest(&word, words::BLOCKS.iter().map(|(w, _)| *w)).and_then(words::block))
            .unwrap_or(BlockKind::Unknown);
        self.frames.push(Frame::new(Ctx::Block(kind), Some(head), at));
    }

    fn body(&mut self, lexer: &mut Lexer) {
        while let Some(p) = lexer.next() {
            match p.kind {
                Kind::Newline => self.newline(p),
                Kind::Comment => self.take_comment(p),
                Kind::Semi => {
                    self.last = p.end;
                    self.newlines = 0;
                    if self.coat_goes_on(p.end) {
                        grow(&mut self.pending, p, self.text);
                    } else {
                        self.finish(None);
                    }
                }
                Kind::Open => {
                    self.last = p.end;
                    if self.frames.len() >= MAX_DEPTH {
                        self.too_deep = Some(p.start);
                        return;
                    }
                    self.open(p);
                }
                Kind::Close => {
                    self.last = p.end;
                    self.newlines = 0;
                    self.finish(None);
                    if self.frames.len() > 1 {
                        self.close(p.start, p.end);
                    } else {
                        self.closed = true;
                        self.tail(lexer);
                        return;
                    }
                }
                Kind::Prose => {
                    self.last = p.end;
                    self.newlines = 0;
                    if let Some(s) = &mut self.pending {
                        s.prose = Some((p.start, p.end));
                        s.end = p.end;
                    }
                    self.finish(None);
                }
                Kind::Run | Kind::Quote(_) | Kind::Note(_) => {
                    self.last = p.end;
                    self.add(p);
                    if self.too_deep.is_some() {
                        return;
                    }
                }
            }
        }
    }

    /// What stands behind the block's own closing brace: nothing but a comment, if it came from `scan`.
    fn tail(&mut self, lexer: &mut Lexer) {
        let close = self.last;
        while let Some(p) = lexer.next() {
            match p.kind {
                Kind::Newline => {}
                Kind::Comment if self.after.is_none() => self.after = Some(self.comment(p)),
                _ => {
                    self.error(
                        "W009",
                        p.start,
                        p.end,
                        "this stands outside of any declaration".to_owned(),
                        "put it inside the braces of a recipe, dog or other declaration",
                        None,
                    );
                    break;
                }
            }
        }
        self.last = close;
    }

    fn newline(&mut self, p: Piece) {
        self.newlines += 1;
        let ctx = self.frames.last().map_or(Ctx::Block(BlockKind::Unknown), |f| f.ctx);
        if let Some(s) = &mut self.pending {
            if p.end < s.goes_on_at {
                return;
            }
            if let Some(at) = continues(self.text, p.end, ctx, s.comma) {
                s.odd = true;
                s.goes_on_at = at;
                return;
            }
            self.finish(None);
        }
        let double = self.newlines > 1;
        if let Some(f) = self.frames.last_mut() {
            f.lines = true;
            f.same_line = false;
            if double && !(f.stmts.is_empty() && f.before.is_empty()) {
                f.blank = true;
            }
        }
    }

    fn take_comment(&mut self, p: Piece) {
        let c = self.comment(p);
        self.newlines = 0;
        if let Some(s) = &mut self.pending {
            s.odd = true;
            if let Some(old) = s.trivia.after.replace(Box::new(c)) {
                s.trivia.before.push(*old);
            }
            return;
        }
        let Some(f) = self.frames.last_mut() else { return };
        if f.same_line {
            match f.stmts.last_mut() {
                None if !f.lines && f.after_open.is_none() => {
                    f.after_open = Some(Box::new(c));
                    return;
                }
                Some(last) if last.trivia.after.is_none() => {
                    last.trivia.after = Some(Box::new(c));
                    return;
                }
                _ => {}
            }
        }
        f.before.push(c);
    }

    fn add(&mut self, p: Piece) {
        self.newlines = 0;
        if self.pending.is_none() {
            self.parens = 0;
            let mut trivia = Trivia::default();
            if let Some(f) = self.frames.last_mut() {
                trivia.before = std::mem::take(&mut f.before);
                trivia.blank_before = std::mem::take(&mut f.blank);
            }
            grow(&mut self.pending, p, self.text);
            if let Some(s) = &mut self.pending {
                s.trivia = trivia;
            }
        } else {
            if let Some((a, b)) = self.pending.as_ref().and_then(|s| s.note) {
                self.error(
                    "W029",
                    a,
                    b,
                    "a source note stands at the very end of a line".to_owned(),
                    "move the words in brackets behind everything else on this line",
                    None,
                );
                if let Some(s) = &mut self.pending {
                    s.note = None;
                    s.odd = true;
                    s.end = s.end.max(b);
                }
            }
            grow(&mut self.pending, p, self.text);
        }
        match p.kind {
            Kind::Quote(false) => {
                self.open_quote(p);
            }
            Kind::Note(closed) => {
                if let Some(s) = &mut self.pending {
                    s.note = Some((p.start, p.end));
                }
                if !closed {
                    self.error(
                        "W005",
                        p.start,
                        p.end,
                        "this note has no closing bracket".to_owned(),
                        "end it with `)`",
                        Some(("close the bracket", p.end, p.end, ")")),
                    );
                }
            }
            Kind::Run => {
                for b in self.bytes.get(p.start..p.end).unwrap_or(&[]) {
                    match b {
                        b'(' => self.parens += 1,
                        b')' => self.parens = self.parens.saturating_sub(1),
                        _ => {}
                    }
                    if self.parens > MAX_DEPTH {
                        self.too_deep = Some(p.start);
                    }
                }
            }
            _ => {}
        }
    }

    fn open_quote(&mut self, p: Piece) {
        let end = p.end;
        self.error(
            "W004",
            p.start,
            end,
            "this text has no closing quote".to_owned(),
            "put a `\"` where the text ends, on the same line",
            Some(("close the quote", end, end, "\"")),
        );
    }

    /// On a card, `;` parts the lengths inside a `coat` line, unless another line of the card follows it.
    fn coat_goes_on(&self, after: usize) -> bool {
        let (Some(s), Some(f)) = (&self.pending, self.frames.last()) else { return false };
        let first = self.text.get(s.start..s.first).unwrap_or("");
        if f.ctx != Ctx::Block(BlockKind::Dog) || !first.eq_ignore_ascii_case("coat") {
            return false;
        }
        let (word, _) = next_word(self.text, after);
        !word.is_empty() && !words::DOG_LINES.contains(&word.as_str())
    }

    fn open(&mut self, p: Piece) {
        self.newlines = 0;
        let parent = self.frames.last().map_or(Ctx::Block(BlockKind::Unknown), |f| f.ctx);
        if self.pending.is_none() {
            self.error(
                "W032",
                p.start,
                p.end,
                "a brace opens here without a line that it belongs to".to_owned(),
                "take the brace away, or write before it what it is about, such as `when weight under 6 kg {`",
                None,
            );
        }
        let mut head = self.pending.take();
        if let Some(h) = &mut head
            && let Some((a, b)) = h.note.take()
        {
            h.odd = true;
            self.error(
                "W029",
                a,
                b,
                "a source note stands at the very end of a line".to_owned(),
                "move it into the braces, behind the line that it belongs to",
                None,
            );
        }
        let ctx = match &head {
            Some(h) => {
                let first = self.text.get(h.start..h.first).unwrap_or("").to_lowercase();
                parent.inside(&first)
            }
            None => parent,
        };
        self.frames.push(Frame::new(ctx, head, p.start));
    }

    fn close(&mut self, at: usize, end: usize) {
        let Some(f) = self.frames.pop() else { return };
        // A brace at the start of a line that stands under an outer head betrays the body that was left open.
        let look = self.suspect.is_none() && f.lines;
        let line = if look { self.bytes.iter().take(at).rposition(|b| *b == b'\n').map_or(0, |i| i + 1) } else { 0 };
        let (col, first) = if look { indent(self.bytes, line) } else { (0, usize::MAX) };
        if first == at {
            let col_of = |f: &Frame| {
                let start = f.head.as_ref().map_or(f.open, |h| h.start);
                indent(self.bytes, self.bytes.iter().take(start).rposition(|b| *b == b'\n').map_or(0, |i| i + 1)).0
            };
            if col_of(&f) > col && self.frames.iter().any(|o| col_of(o) == col) {
                self.suspect = Some(f.open);
            }
        }
        self.close_frame(f, end);
    }

    fn close_frame(&mut self, mut f: Frame, end: usize) {
        // Trees are kept, thousands of them: none holds room that it doesn't need.
        f.stmts.shrink_to_fit();
        let body = Body {
            stmts: f.stmts,
            span: span(f.open, end),
            at_end: f.before,
            after_open: f.after_open,
            one_line: !f.lines,
        };
        match f.head {
            Some(mut head) => {
                let comment = head.trivia.after.take();
                let mut body = body;
                if let Some(c) = comment {
                    if body.after_open.is_none() {
                        body.after_open = Some(c);
                    } else {
                        head.trivia.before.push(*c);
                    }
                }
                self.pending = Some(head);
                self.finish(Some(body));
            }
            // A bare pair of braces: its lines belong to the body around it.
            None => {
                if let Some(outer) = self.frames.last_mut() {
                    outer.stmts.extend(body.stmts);
                    outer.before.extend(body.at_end);
                }
            }
        }
    }

    fn finish(&mut self, body: Option<Body>) {
        let Some(mut s) = self.pending.take() else { return };
        let Some(ctx) = self.frames.last().map(|f| f.ctx) else { return };
        if s.comma && body.is_none() && s.prose.is_none() {
            let end = self.text.get(..s.end).unwrap_or("").trim_end().len();
            let cut = self.text.get(..end).and_then(|t| t.strip_suffix(',')).map_or(end, str::len);
            if cut < end && cut > s.start {
                self.error(
                    "W016",
                    cut,
                    end,
                    "nothing comes after the comma".to_owned(),
                    "take the comma away, or finish the list",
                    Some(("take the comma away", cut, end, "")),
                );
                s.end = cut;
            }
        }
        let again = self.before.as_ref().filter(|_| body.is_none() && s.prose.is_none());
        let mut out = again.and_then(|before| before.statements(ctx, &mut s)).unwrap_or_default();
        if out.is_empty() {
            out.reserve(1);
            let prose = s.prose.map(|(a, b)| prose(self.text, a, b));
            read_statement(self.text, ctx, s, prose, body, &mut out, &mut self.errors);
        }
        if let Some(f) = self.frames.last_mut() {
            f.stmts.append(&mut out);
            f.same_line = true;
        }
    }

    /// The text has ended: whatever is still open was never closed.
    fn end_of_text(&mut self) {
        self.finish(None);
        if !self.closed {
            let missing = self.frames.len();
            let open = self.suspect.or_else(|| self.frames.first().map(|f| f.open)).unwrap_or(0);
            let end = self.last;
            let at = self.text.get(..end).and_then(|t| t.char_indices().next_back()).map_or(end, |(i, _)| i);
            let (message, text) = if missing > 1 {
                (format!("{missing} closing braces are missing here"), format!("\n{}", "}".repeat(missing)))
            } else {
                ("the closing brace is missing here".to_owned(), "\n}".to_owned())
            };
            self.errors.push(SyntaxError {
                code: "W001",
                message,
                help: Some("end the declaration with `}` on a line of its own".to_owned()),
                span: span(at, end),
                related: Some((span(open, (open + 1).min(self.text.len())), "this brace is never closed".to_owned())),
                fix: Some(Fix { title: "close it".to_owned(), span: span(end, end), text }),
            });
        }
        while self.frames.len() > 1 {
            let Some(f) = self.frames.pop() else { break };
            self.close_frame(f, self.last);
        }
    }

    fn root(&mut self, lead: ThinVec<Comment>) -> Parsed {
        let Some(mut f) = self.frames.pop() else { return rubble(self.text, 0, lead) };
        f.stmts.shrink_to_fit();
        let mut head = f.head.unwrap_or_default();
        let head_comment = head.trivia.after.take();
        let (start, word_end) = (head.start, head.first);
        let Head { kind, keyword, name } =
            read_head(self.text, &head, &mut self.errors, true).unwrap_or_else(|| Head {
                kind: BlockKind::Unknown,
                keyword: Word { text: "".into(), span: span(start, word_end) },
                name: None,
            });
        let mut at_end = f.before;
        let mut after_open = f.after_open;
        if let Some(c) = head_comment {
            match after_open {
                None => after_open = Some(c),
                Some(_) => at_end.insert(0, *c),
            }
        }
        let mut errors = std::mem::take(&mut self.errors);
        errors.sort_by_key(|e| e.span);
        if errors.len() > MAX_ERRORS {
            errors.truncate(MAX_ERRORS);
            if let Some(last) = errors.last_mut() {
                *last = too_many(last.span);
            }
        }
        Parsed {
            broken: !errors.is_empty(),
            block: Block {
                kind,
                keyword,
                name,
                body: f.stmts,
                span: span(start, self.last),
                trivia: Trivia { before: lead, blank_before: false, after: after_open, at_end },
            },
            errors,
            after: self.after.take(),
        }
    }

    fn refuse_depth(&self, at: usize) -> Parsed {
        let first = self.frames.first().and_then(|f| f.head.as_ref());
        let word = first.map_or("", |h| self.text.get(h.start..h.first).unwrap_or(""));
        refuse(
            word,
            SyntaxError {
                code: "W017",
                message: format!("this is nested more than {MAX_DEPTH} deep and can't be read"),
                help: Some("close the braces or brackets before this one, or say it in separate lines".to_owned()),
                span: span(at, at + 1),
                related: None,
                fix: None,
            },
        )
    }

    fn error(
        &mut self,
        code: &'static str,
        start: usize,
        end: usize,
        message: String,
        help: &str,
        fix: Option<(&str, usize, usize, &str)>,
    ) {
        let start = (0..=start.min(self.text.len())).rev().find(|i| self.text.is_char_boundary(*i)).unwrap_or(0);
        self.errors.push(SyntaxError {
            code,
            message,
            help: Some(help.to_owned()),
            span: span(start, end),
            related: None,
            fix: fix.map(|(title, a, b, text)| Fix {
                title: title.to_owned(),
                span: span(a, b),
                text: text.to_owned(),
            }),
        });
    }
}

/// Adds a piece to the line in the making.
fn grow(pending: &mut Option<Pending>, p: Piece, text: &str) {
    let s = pending.get_or_insert_with(|| Pending { start: p.start, first: p.end, ..Pending::default() });
    if s.pieces == 0 && p.kind == Kind::Run {
        // The first word ends at a comma or sign, too.
        let e = word_end(text, p.start);
        s.first = if e > p.start { e.min(p.end) } else { p.end };
    }
    s.pieces += 1;
    s.comma = false;
    match p.kind {
        Kind::Note(_) => {
            // Not part of the line that pest reads.
            return;
        }
        Kind::Quote(closed) => {
            let q = text.get(p.start..p.end).unwrap_or("");
            if !closed || !q.starts_with('"') || !q.ends_with('"') {
                s.odd = true;
            }
        }
        Kind::Run => s.comma = text.as_bytes().get(p.end - 1) == Some(&b','),
        _ => {}
    }
    s.end = p.end;
}
