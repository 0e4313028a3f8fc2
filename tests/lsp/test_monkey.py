"""A monkey at the keyboard: random edits, questions and openings, after which the server must know what the editor knows.

    MONKEY=400        how many steps for each editor (400 if it isn't set)
    MONKEY_SEED=1     what the steps are drawn from; a failure says it

After every few hundred steps the session is compared with a server that has only just been started on the same texts, and
with `coatwright check` and `coatwright fmt` over the same texts on disk. Then everything is taken back, edit by edit, and
compared again: a text that had drifted by a single blank would no longer be the one that it was at first.

What is drawn depends neither on what the server says nor on how quick it is: a seed edits and asks the same things again.
"""

import asyncio
import json
import os
import random
import re
import shutil
import subprocess
import time

import pytest
from conftest import PATIENCE, PROFILES, SALTMARSH, session
from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException
from pygls.protocol import default_converter
from pytest_lsp.checks import check_result_against_client_capabilities

COMPILER = os.environ["COATWRIGHT"]
STEPS = int(os.environ.get("MONKEY", "400"))
SEED = os.environ.get("MONKEY_SEED", "1")

# Steps between two comparisons.
ROUND = 400
# Documents that may be open at once, questions that may wait at once.
MOST_OPEN = 5
MOST_ASKED = 12

NEW = "new.trim"
UNTITLED = "untitled:Untitled-1"

# What trips a server most easily: signs of the language, ends of lines, characters of two, three and four bytes, one that
# joins the letter before it, ones without width, the mark that begins some files, and what other tools take for a line's end.
CHARACTERS = [
    *"aeinst019#.,;:(){}\"“”'-/ ",
    *("--", "  ", "\t", "\n", "\n", "\r\n", "\r", "mm", "#7F", "recipe ", "}\n"),
    *("é", "ß", "№", "½", "漢", "🐩", "👩🏽\u200d🦱", "e\u0301", "\u200b", "\ufeff", "\u2028", "\x85", "\x0b", "\x0c", "\0"),
]

# Answers that are none.
CANCELLED, MODIFIED, OVERTAKEN, REFUSED = -32800, -32801, -32802, -32803
# Questions that may be refused for what they ask.
REFUSABLE = {"textDocument/rename", "textDocument/prepareRename", "workspace/executeCommand"}

LINE_END = re.compile("\r\n|\r|\n")
OPTIONS = lsp.FormattingOptions(tab_size=2, insert_spaces=True)
CONVERTER = default_converter()


def plain(value):
    return CONVERTER.unstructure(value)


class Text:
    """A text and where its lines begin, as the protocol has it: `\\n`, `\\r\\n` and `\\r` end a line, and nothing else does."""

    def __init__(self, words, utf8):
        self.words, self.utf8 = words, utf8
        ends = list(LINE_END.finditer(words))
        self.starts = [0, *(m.end() for m in ends)]
        self.ends = [*(m.start() for m in ends), len(words)]

    def width(self, words):
        return len(words.encode()) if self.utf8 else len(words.encode("utf-16-le")) // 2

    def between(self, at):
        """The nearest place where an editor can stand: not between `\\r` and `\\n`."""
        return at - 1 if self.words[max(0, at - 1) : at + 1] == "\r\n" else at

    def place(self, at):
        at = self.between(at)
        line = next(n for n in range(len(self.starts) - 1, -1, -1) if self.starts[n] <= at)
        return lsp.Position(line, self.width(self.words[self.starts[line] : at]))

    def range(self, start, end, beyond=False):
        """A range; `beyond` says a line's end as some editors do: as a column far to the right."""
        last = self.place(end)
        if beyond and self.between(end) == self.ends[last.line]:
            last = lsp.Position(last.line, last.character + 99)
        return lsp.Range(self.place(start), last)

    def index(self, place):
        """Where a line and column are in the text; they must be there."""
        assert place.line < len(self.starts), f"{place} is behind the text"
        at, end = self.starts[place.line], self.ends[place.line]
        column = 0
        while column < place.character:
            assert at < end, f"{place} is behind its line {self.words[self.starts[place.line] : end]!r}"
            column += self.width(self.words[at])
            at += 1
        assert column == place.character, f"{place} is inside a character"
        return at

    def applied(self, edits):
        """The text with some edits, none of which may touch another."""
        out, done = [], 0
        for edit in sorted(edits, key=lambda e: (e.range.start.line, e.range.start.character)):
            start, end = self.index(edit.range.start), self.index(edit.range.end)
            assert done <= start <= end, "edits overlap"
            out += [self.words[done:start], edit.new_text]
            done = end
        return "".join(out) + self.words[done:]


class Page:
    """An open document as the editor has it."""

    def __init__(self, uri, text, version):
        self.uri, self.text, self.version = uri, text, version
        # What undoes each message: places and words, the newest last.
        self.undo = []
        # What was answered last, and its name: tokens, and messages that were asked for.
        self.tokens, self.report = ("never", []), (None, None)

    def change(self, edits, beyond=False):
        """Makes edits one after another; returns them as the protocol says them, and keeps what undoes them."""
        said, back = [], []
        for start, end, new in edits:
            start, end = self.text.between(start), self.text.between(end)
            back.append((start, start + len(new), self.text.words[start:end]))
            said.append(self.replace(start, end, new, beyond))
        self.undo.append(back[::-1])
        return said

    def take_back(self):
        """Undoes the newest message; returns that as the protocol says it."""
        return [self.replace(*edit) for edit in self.undo.pop()]

    def replace(self, start, end, new, beyond=False):
        text = self.text
        self.text = Text(text.words[:start] + new + text.words[end:], text.utf8)
        # What begins or ends between `\r` and `\n` can't be said as a range.
        if text.between(start) != start or text.between(end) != end:
            return lsp.TextDocumentContentChangeWholeDocument(self.text.words)
        return lsp.TextDocumentContentChangePartial(range=text.range(start, end, beyond), text=new)


class Asked:
    """A question, and what it was asked about."""

    def __init__(self, method, page, changes, answer):
        self.method, self.page, self.changes, self.answer = method, page, changes, answer
        self.version, self.text, self.tokens, self.report = page.version, page.text, page.tokens, page.report
        self.cancelled = False


class Desk:
    """One editor's side of a session: its documents, what it asked and what it was told. Whatever is heard is looked at."""

    def __init__(self, editor):
        self.editor, self.client, self.folder = editor, editor.client, editor.folder
        # Of every document that ever was open: its version, its texts by version, what is shown of it.
        self.pages, self.versions, self.past, self.shown = {}, {}, {}, {}
        self.asked, self.number, self.changes = {}, 0, 0

    def open(self, uri, words):
        # The numbers go on where they stopped, so that one tells which text it is about.
        page = self.pages[uri] = Page(uri, Text(words, self.editor.utf8), self.versions.get(uri, 0) + 1)
        self.changed(page)
        item = lsp.TextDocumentItem(uri, "trim", page.version, words)
        self.client.text_document_did_open(lsp.DidOpenTextDocumentParams(item))

    def tell(self, page, changes):
        page.version += 1
        self.changed(page)
        about = lsp.VersionedTextDocumentIdentifier(page.version, page.uri)
        self.client.text_document_did_change(lsp.DidChangeTextDocumentParams(about, changes))

    def changed(self, page):
        self.versions[page.uri] = page.version
        self.past.setdefault(page.uri, {})[page.version] = page.text
        self.changes += 1

    def close(self, page):
        del self.pages[page.uri]
        self.changes += 1
        self.client.text_document_did_close(lsp.DidCloseTextDocumentParams(lsp.TextDocumentIdentifier(page.uri)))

    def ask(self, method, page, params):
        """Sends a question, now: what is sent after it comes after it."""
        self.number += 1
        answer = self.client.protocol.send_request(method, params, msg_id=f"question-{self.number}")
        asked = self.asked[self.number] = Asked(method, page, self.changes, asyncio.wrap_future(answer))
        return asked

    async def answer(self, method, page, params):
        asked = self.ask(method, page, params)
        await asyncio.wait([asked.answer], timeout=PATIENCE)
        assert asked.answer.done(), f"no answer to {method}"
        self.listen()
        return plain(asked.answer.result())

    def cancel(self, number):
        """Takes a question back. It may have been answered already: then it is as if nothing had been said."""
        self.client.protocol.notify("$/cancelRequest", lsp.CancelParams(f"question-{number}"))
        if number in self.asked:
            self.asked[number].cancelled = True

    def listen(self):
        """What has come since."""
        for number in [n for n, asked in self.asked.items() if asked.answer.done()]:
            self.answered(self.asked.pop(number))
        heard = list(self.editor.heard)
        self.editor.heard.clear()
        assert not (heard and self.editor.pulls), "messages are sent although they are asked for"
        for said in heard:
            self.published(said)

    async def wait(self, fewer):
        """Waits until fewer questions wait."""
        while len(self.asked) >= fewer:
            waiting = [asked.answer for asked in self.asked.values()]
            done, _ = await asyncio.wait(waiting, timeout=PATIENCE, return_when=asyncio.FIRST_COMPLETED)
            assert done, f"no answer to {[asked.method for asked in self.asked.values()]}"
            self.listen()

    def published(self, said):
        last, _ = self.shown.get(said.uri, (0, []))
        # About no version: of a file that isn't open, since something changed on which it hangs. Those that are left are looked
        # at in the end.
        if said.version is not None:
            assert last <= said.version, f"version {said.version} is told after {last}"
            last = said.version
            past = self.past[said.uri]
            self.look_at(past[last], said.diagnostics)
            for version in [v for v in past if v < last]:
                del past[version]
        self.shown[said.uri] = (last, plain(said.diagnostics))

    def look_at(self, text, messages):
        for message in messages:
            assert text.index(message.range.start) <= text.index(message.range.end)
            # Only a message about the server itself is an error without a rule.
            assert message.code is not None or message.severity != lsp.DiagnosticSeverity.Error, message.message

    def answered(self, asked):
        if (why := asked.answer.exception()) is not None:
            return self.refused(asked, why)
        result, page, text = asked.answer.result(), asked.page, asked.text
        check_result_against_client_capabilities(self.client.capabilities, asked.method, result)
        if asked.method.startswith("textDocument/semanticTokens/full"):
            if (edits := getattr(result, "edits", None)) is None:
                data = list(result.data)
            else:
                data = list(asked.tokens[1])
                for edit in sorted(edits, key=lambda e: -e.start):
                    data[edit.start : edit.start + edit.delete_count] = edit.data or []
            page.tokens = (result.result_id, data)
            coloured(text, data)
        elif asked.method == "textDocument/semanticTokens/range":
            coloured(text, result.data)
        elif asked.method == "textDocument/diagnostic":
            if result.kind == "full":
                self.look_at(text, result.items)
                page.report = (result.result_id, plain(result.items))
            else:
                assert result.result_id == asked.report[0], "unchanged since an answer that nobody gave"
                page.report = asked.report
        elif asked.method in ("textDocument/formatting", "textDocument/rangeFormatting"):
            text.applied(result or [])
        else:
            for range in ranges(plain(result), page.uri, page.uri):
                start, end = (lsp.Position(**range[side]) for side in ("start", "end"))
                assert text.index(start) <= text.index(end), asked.method

    def refused(self, asked, why):
        words = f"{asked.method}: {why!r}"
        assert isinstance(why, JsonRpcException), words
        if why.code == CANCELLED:
            assert asked.cancelled, words
        elif why.code in (MODIFIED, OVERTAKEN):
            overtaken = self.pages.get(asked.page.uri) is not asked.page or asked.page.version != asked.version
            # What is asked about all documents is asked of each of them.
            assert overtaken or (asked.method == "workspace/symbol" and self.changes > asked.changes), words
        else:
            assert why.code == REFUSED and asked.method in REFUSABLE, words

    async def seen(self):
        """What can be seen of each open document: its messages, and answers that tell of its whole text."""
        out = {}
        for uri, page in sorted(self.pages.items()):
            document, text = lsp.TextDocumentIdentifier(uri), page.text
            end = len(text.words)
            eighths = [text.place(end * part // 8) for part in range(9)]
            ask = {
                "documentSymbol": lsp.DocumentSymbolParams(document),
                "foldingRange": lsp.FoldingRangeParams(document),
                "selectionRange": lsp.SelectionRangeParams(document, eighths),
                "inlayHint": lsp.InlayHintParams(document, text.range(0, end)),
                "codeLens": lsp.CodeLensParams(document),
                "documentLink": lsp.DocumentLinkParams(document),
            }
            see = {what: await self.answer(f"textDocument/{what}", page, params) for what, params in ask.items()}
            params = lsp.SemanticTokensDeltaParams(document, page.tokens[0])
            await self.answer("textDocument/semanticTokens/full/delta", page, params)
            see["tokens"] = page.tokens[1]
            answer = self.ask("textDocument/formatting", page, lsp.DocumentFormattingParams(document, OPTIONS)).answer
            await self.wait(1)
            see["layout"] = None if answer.result() is None else text.applied(answer.result())
            if self.editor.pulls:
                params = lsp.DocumentDiagnosticParams(document, previous_result_id=page.report[0])
                await self.answer("textDocument/diagnostic", page, params)
                see["messages"] = page.report[1]
            else:
                version, messages = self.shown.get(uri, (0, None))
                see["messages"] = messages if version == page.version else None
            out[uri] = see
        return out


def ranges(value, uri, own):
    """The ranges of one document in an answer, wherever in it they are. `uri` says which document this part is about."""
    if isinstance(value, list):
        for each in value:
            yield from ranges(each, uri, own)
    elif isinstance(value, dict):
        if value.keys() == {"start", "end"}:
            if uri == own:
                yield value
            return
        uri = value.get("targetUri", value.get("uri", value.get("textDocument", {}).get("uri", uri)))
        for key, each in value.items():
            if key == "changes":
                for where, edits in each.items():
                    yield from ranges(edits, where, own)
            else:
                yield from ranges(each, own if key == "originSelectionRange" else uri, own)


def coloured(text, data):
    """Tokens stand in the text, none is empty, and none begins before the last has ended."""
    assert len(data) % 5 == 0
    line = column = done = 0
    for at in range(0, len(data), 5):
        down, right, length = data[at : at + 3]
        line, column = line + down, right if down else column + right
        start, end = text.index(lsp.Position(line, column)), text.index(lsp.Position(line, column + length))
        assert done <= start < end, f"tokens overlap in line {line}"
        done = end


class Monkey(Desk):
    def __init__(self, editor, seed):
        super().__init__(editor)
        self.chance = random.Random(seed)
        self.demo = {path.name: path.read_text() for path in sorted(SALTMARSH.glob("*.trim"))}
        for name, words in self.demo.items():
            (self.folder / name).write_text(words)
        # A recipe that was never saved, and a text that has no file at all.
        self.demo[NEW] = self.demo["harbour-short.trim"].replace("recipe harbour-short", "recipe new-short")
        self.demo[UNTITLED] = self.demo["dogs.trim"]
        self.pieces = [line for words in self.demo.values() for line in words.split("\n") if line.strip()]

    def uri(self, name):
        return name if name == UNTITLED else (self.folder / name).as_uri()

    def name(self, page):
        return next(name for name in self.demo if self.uri(name) == page.uri)

    def page(self):
        return self.pages[self.chance.choice(sorted(self.pages))]

    async def step(self):
        draw = self.chance.random()
        if not self.pages or (draw < 0.03 and len(self.pages) < MOST_OPEN):
            name = self.chance.choice([n for n in sorted(self.demo) if self.uri(n) not in self.pages])
            self.open(self.uri(name), self.demo[name])
        elif draw < 0.045:
            await self.put_away(self.page())
        elif draw < 0.06:
            self.save(self.page())
        elif draw < 0.55:
            self.edit(self.page())
        elif draw < 0.95:
            self.ask(*self.some_question(self.page()))
            await self.wait(MOST_ASKED)
        elif self.number:
            self.cancel(max(1, self.number - self.chance.choice([0, 0, 1, 3])))
        # Sometimes in one go with what comes next, sometimes with time for the server to begin something, or to end it.
        pause = self.chance.choice([None, None, None, 0, 0, 0.001, 0.005, "until all is answered"])
        if pause == "until all is answered":
            await self.wait(1)
        elif pause is not None:
            await asyncio.sleep(pause)
        self.listen()

    async def put_away(self, page):
        if self.chance.random() < 0.5:
            # What is closed isn't compared later: so now, with the text that it had at first.
            self.take_back_all(page)
            params = lsp.DocumentFormattingParams(lsp.TextDocumentIdentifier(page.uri), OPTIONS)
            assert await self.answer("textDocument/formatting", page, params) == [], "taken back, it isn't as it was"
        self.close(page)
        # What was saved is thrown away, so that the salon doesn't fall to ruin.
        name = self.name(page)
        path = self.folder / name
        if name == NEW and path.exists():
            self.write(path, None)
        elif name not in (NEW, UNTITLED) and path.read_bytes() != self.demo[name].encode():
            self.write(path, self.demo[name])

    def save(self, page):
        if page.uri != UNTITLED:
            self.write(self.folder / self.name(page), page.text.words)
            self.client.text_document_did_save(lsp.DidSaveTextDocumentParams(lsp.TextDocumentIdentifier(page.uri)))

    def write(self, path, words):
        """Writes a file or takes it away, and tells of it if the server wished for that."""
        kinds = lsp.FileChangeType
        kind = kinds.Deleted if words is None else kinds.Changed if path.exists() else kinds.Created
        if words is None:
            path.unlink()
        else:
            path.write_bytes(words.encode())
        if self.editor.registered:
            event = lsp.FileEvent(path.as_uri(), kind)
            self.client.workspace_did_change_watched_files(lsp.DidChangeWatchedFilesParams([event]))

    def edit(self, page):
        if page.undo and self.chance.random() < 0.4:
            # Several steps back, each a message: an author who holds the key down.
            for _ in range(min(len(page.undo), self.chance.choice([1, 1, 2, 5, 20]))):
                self.tell(page, page.take_back())
            return
        draft, edits = Page(page.uri, page.text, 0), []
        for _ in range(self.chance.choice([1, 1, 1, 1, 2, 3])):
            some = self.some_edit(draft.text)
            draft.change(some)
            edits += some
        self.tell(page, page.change(edits, beyond=self.chance.random() < 0.2))

    def some_edit(self, text):
        """One of the ways to change a text: places and words, one after another."""
        words, chance = text.words, self.chance
        at = text.between(chance.randint(0, len(words)))
        line = chance.randrange(len(text.starts))
        start, end = text.starts[line], text.ends[line]
        kind = chance.choice("type type type erase erase piece cut half double drop block block ends".split())
        if kind == "type":
            return [(at, at, chance.choice(CHARACTERS))]
        if kind == "erase":
            return [(at, min(len(words), at + chance.choice([1, 1, 1, 2, 5])), "")]
        if kind == "piece":
            piece = chance.choice(self.pieces)
            first = chance.randrange(len(piece))
            piece = piece[first : first + chance.choice([4, 12, 80])]
            return [(at, min(len(words), at + chance.choice([0, 0, 3, 20])), piece)]
        if kind == "cut":
            return [(at, min(len(words), at + chance.randint(0, 60)), "")]
        if kind == "half":
            # The rest of a line is gone, or another line's rest stands there.
            return [(chance.randint(start, end), end, chance.choice(["", chance.choice(self.pieces)[-20:]]))]
        if kind == "double":
            return [(start, start, words[start:end] + chance.choice(["\n", "\r\n"]))]
        if kind == "drop":
            return [(start, text.starts[line + 1] if line + 1 < len(text.starts) else end, "")]
        if kind == "ends" and chance.random() < 0.2:
            other = words.replace("\r\n", "\n") if "\r\n" in words else re.sub("\r?\n", "\r\n", words)
            return [(0, len(words), other)]
        # A whole block, or a part of one, is cut and pasted elsewhere.
        blocks = list(re.finditer(r"^ *[a-z]+ [^{}\n]*\{[^}]*\}[^\n]*\n?", words, re.M))
        if not blocks:
            return [(at, at, chance.choice(self.pieces) + "\n")]
        block = chance.choice(blocks)
        first, last = text.between(block.start()), text.between(block.end())
        rest = Text(words[:first] + words[last:], text.utf8)
        to = chance.choice(rest.starts)
        return [(first, last, ""), (to, to, words[first:last])]

    def some_question(self, page):
        """A method, the document and the parameters: each question that an editor can ask, at a random place."""
        chance, text = self.chance, page.text
        a, b = sorted([chance.randint(0, len(text.words)), chance.randint(0, len(text.words))])
        document, at, some = lsp.TextDocumentIdentifier(page.uri), text.place(a), text.range(a, b)
        place = {"text_document": document, "position": at}
        actions = lsp.CodeActionContext(diagnostics=[], only=chance.choice([None, ["quickfix"], ["source.fixAll"]]))
        typed = lsp.CompletionContext(lsp.CompletionTriggerKind.TriggerCharacter, chance.choice([" ", "#"]))
        name = chance.choice(["other-name", "🐩", "", "short-tide", "two words", "a, b"])
        recipe = chance.choice(["saltmarsh-base", "harbour-short", "new-short", "nobody"])
        item = lsp.TypeHierarchyItem(recipe, lsp.SymbolKind.Class, page.uri, some, some)
        where = {"textDocument": {"uri": page.uri}, "position": plain(at)}
        dog = {"textDocument": {"uri": page.uri}, "dog": chance.choice(["bramble", "kelp", "flint", "pearl", "nobody"])}
        command = chance.choice(
            [
                ("coatwright.sheet", where),
                ("coatwright.sheet", dog),
                ("coatwright.dogOnTheTable", dog),
                ("coatwright.dogOnTheTable", None),
                ("coatwright.explain", "C001"),
            ]
        )
        references = lsp.ReferenceContext(include_declaration=chance.random() < 0.5)
        questions = [
            ("textDocument/hover", lsp.HoverParams(**place)),
            ("textDocument/completion", lsp.CompletionParams(**place, context=chance.choice([None, typed]))),
            ("textDocument/definition", lsp.DefinitionParams(**place)),
            ("textDocument/references", lsp.ReferenceParams(**place, context=references)),
            ("textDocument/documentHighlight", lsp.DocumentHighlightParams(**place)),
            ("textDocument/signatureHelp", lsp.SignatureHelpParams(**place)),
            ("textDocument/prepareTypeHierarchy", lsp.TypeHierarchyPrepareParams(**place)),
            ("typeHierarchy/supertypes", lsp.TypeHierarchySupertypesParams(item)),
            ("typeHierarchy/subtypes", lsp.TypeHierarchySubtypesParams(item)),
            ("textDocument/rename", lsp.RenameParams(**place, new_name=name)),
            ("textDocument/codeAction", lsp.CodeActionParams(document, some, actions)),
            ("textDocument/formatting", lsp.DocumentFormattingParams(document, OPTIONS)),
            ("textDocument/rangeFormatting", lsp.DocumentRangeFormattingParams(document, some, OPTIONS)),
            ("textDocument/documentSymbol", lsp.DocumentSymbolParams(document)),
            ("textDocument/foldingRange", lsp.FoldingRangeParams(document)),
            ("textDocument/selectionRange", lsp.SelectionRangeParams(document, [at, text.place(b)])),
            ("textDocument/semanticTokens/full", lsp.SemanticTokensParams(document)),
            ("textDocument/semanticTokens/full/delta", lsp.SemanticTokensDeltaParams(document, page.tokens[0])),
            ("textDocument/semanticTokens/range", lsp.SemanticTokensRangeParams(document, some)),
            ("textDocument/inlayHint", lsp.InlayHintParams(document, some)),
            ("textDocument/codeLens", lsp.CodeLensParams(document)),
            ("textDocument/documentLink", lsp.DocumentLinkParams(document)),
            ("workspace/symbol", lsp.WorkspaceSymbolParams(chance.choice(["", "b", "short", "🐩"]))),
            ("workspace/executeCommand", lsp.ExecuteCommandParams(command[0], arguments=[command[1]])),
        ]
        if self.editor.result.capabilities.rename_provider is not True:
            questions.append(("textDocument/prepareRename", lsp.PrepareRenameParams(**place)))
        if self.editor.pulls:
            pull = lsp.DocumentDiagnosticParams(document, previous_result_id=page.report[0])
            questions += [("textDocument/diagnostic", pull)] * 4
        method, params = chance.choice(questions)
        return method, page, params

    async def compare(self):
        """Whatever can be seen, beside a server that has only just begun and beside the compiler."""
        await self.wait(1)
        if self.pages:
            off = lsp.ExecuteCommandParams("coatwright.dogOnTheTable", arguments=[None])
            await self.answer("workspace/executeCommand", self.pages[min(self.pages)], off)
        checked = self.checked()
        layouts = {uri: layout(page.text.words) for uri, page in self.pages.items()}
        async with session(self.folder, self.editor.profile) as editor:
            fresh = Desk(editor)
            for uri, page in sorted(self.pages.items()):
                fresh.open(uri, page.text.words)
            # Until it is so, and still is a little later. Messages come after answers, and one about a word that may still
            # be being written comes when nobody has written for a while.
            end, times = time.monotonic() + PATIENCE, 0
            while times < 2:
                ours, theirs = await self.seen(), await fresh.seen()
                wrong = list(differences(ours, theirs, checked, layouts))
                times = 0 if wrong else times + 1
                assert not wrong or time.monotonic() < end, "\n".join(wrong)
                await asyncio.sleep(0.15)
            self.listen()
        # Files that aren't open are looked at when nobody waits for anything.
        while wrong := self.left():
            assert time.monotonic() < end, f"closed, and still with messages: {wrong}"
            await asyncio.sleep(0.15)
            self.listen()

    def left(self):
        """What is shown of files that aren't open, and of which `check` has nothing to say."""
        kept = {uri: messages for uri, (_, messages) in self.shown.items() if messages and uri not in self.pages}
        return {uri: messages for uri, messages in kept.items() if not self.checked_beside(uri)}

    def checked_beside(self, uri):
        """Whether `check` has something to say of a file that isn't open, beside the texts that are, as `checked` wrote them."""
        if uri == UNTITLED:
            return False
        path = self.folder.parent / "checked" / uri.removeprefix(self.folder.as_uri() + "/")
        done = subprocess.run([COMPILER, "check", "--format", "json", path], capture_output=True, timeout=PATIENCE)
        return bool(done.stdout.strip())

    def checked(self):
        """The rules and places that `check` tells of, by document: of the texts as they are, written to another folder."""
        folder, alone = self.folder.parent / "checked", self.folder.parent / "alone"
        for old in (folder, alone):
            shutil.rmtree(old, ignore_errors=True)
        shutil.copytree(self.folder, folder)
        alone.mkdir()
        files = {}
        for uri, page in self.pages.items():
            path = alone / "untitled.trim" if uri == UNTITLED else folder / self.name(page)
            path.write_bytes(page.text.words.encode())
            files[str(path)] = page
        # An editor that asks, asks about one document; of one that is told, all that is open in a house is looked at together.
        together = {}
        for path, page in files.items():
            together.setdefault(path if self.editor.pulls else page.uri == UNTITLED, []).append(path)
        found = {uri: [] for uri in self.pages}
        for paths in together.values():
            command = [COMPILER, "check", "--format", "json", *paths]
            done = subprocess.run(command, capture_output=True, timeout=PATIENCE)
            assert done.returncode in (0, 1), done.stderr
            # Not `splitlines`: words in a message may hold what that takes for a line's end.
            for line in done.stdout.decode().split("\n")[:-1]:
                message = json.loads(line)
                place, page = message["place"], files[message["place"]["file"]]
                before = [page.text.words.encode()[: place[side]["byte"]].decode() for side in ("start", "end")]
                range = page.text.range(*map(len, before))
                found[page.uri].append(told(message["code"], plain(range)))
        return {uri: sorted(messages) for uri, messages in found.items()}

    def take_back_all(self, page):
        while page.undo:
            self.tell(page, page.take_back())
        assert page.text.words == self.demo[self.name(page)]


def layout(words):
    """What `fmt` makes of a text; none if it refuses."""
    done = subprocess.run([COMPILER, "fmt", "-"], input=words.encode(), capture_output=True, timeout=PATIENCE)
    if done.returncode:
        return None
    return done.stdout.decode()


def told(code, range):
    start, end = range["start"], range["end"]
    return f"{code} at {start['line']}:{start['character']} to {end['line']}:{end['character']}"


def differences(ours, theirs, checked, layouts):
    """Where two servers differ, or the server and the compiler, in words."""

    def differ(what, left, right):
        if isinstance(left, str) and isinstance(right, str):
            left, right = left.splitlines(keepends=True), right.splitlines(keepends=True)
        left, right = (value if isinstance(value, list) else [value] for value in (left, right))
        at = next((n for n, (a, b) in enumerate(zip(left, right)) if a != b), min(len(left), len(right)))
        return f"{what}: from the {at + 1}. of {len(left)} on {left[at : at + 3]}, of {len(right)} on {right[at : at + 3]}"

    for uri, see in ours.items():
        name = uri.rsplit("/", 1)[-1]
        for what, value in see.items():
            if value != theirs[uri][what]:
                yield differ(f"{name}: {what}, beside a new server", value, theirs[uri][what])
        # A message without a rule tells what a card changes in a recipe: only an editor shows those.
        codes = sorted(told(m["code"], m["range"]) for m in see["messages"] or [] if "code" in m)
        if codes != checked[uri]:
            yield differ(f"{name}: messages, beside `check`", codes, checked[uri])
        if see["layout"] != layouts[uri]:
            yield differ(f"{name}: layout, beside `fmt`", see["layout"], layouts[uri])


@pytest.mark.parametrize("profile", PROFILES)
async def test_a_monkey_at_the_keyboard(folder, profile):
    salon = folder / "salon"
    salon.mkdir()
    step = 0
    try:
        async with session(salon, profile) as editor:
            monkey = Monkey(editor, f"{SEED} {profile}")
            for step in range(1, STEPS + 1):
                await monkey.step()
                if step % ROUND == 0 or step == STEPS:
                    await monkey.compare()
                    for page in monkey.pages.values():
                        monkey.take_back_all(page)
                    await monkey.compare()
    except BaseException:
        print(f"MONKEY_SEED={SEED}, {profile}, step {step} of {STEPS}; the texts are in {folder}")
        raise
