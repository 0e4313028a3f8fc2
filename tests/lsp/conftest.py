"""Editors for the tests: pytest-lsp's client with the capabilities of three real ones."""

import asyncio
import contextlib
import os
import pathlib
import shutil

import pytest
import pytest_asyncio
import pytest_lsp
from lsprotocol import types as lsp
from pygls.protocol import default_converter
from pytest_lsp.client import DEFAULT_CLIENT_FEATURES

SERVER = os.environ["COATWRIGHT_LSP"]

# The demo salon.
SALTMARSH = pathlib.Path(__file__).resolve().parents[2] / "recipes" / "saltmarsh"

# The first asks for messages, can be told to ask again, and counts bytes: Neovim as it is since it takes that word, which the
# profile of 0.11 doesn't know yet. Neovim 0.11 asks too, but can't be told to: so it is sent them. VS Code is sent them and
# counts UTF-16 units; Emacs is sent them, counts bytes, and shows no other places beside a message.
ASKS = "neovim, told to ask again"
PROFILES = [ASKS, "neovim@v0.11", "visual-studio-code", "emacs"]


def capabilities(profile):
    """What an editor says that it can."""
    if profile != ASKS:
        return pytest_lsp.client_capabilities(profile)
    able = pytest_lsp.client_capabilities("neovim@v0.11")
    able.workspace.diagnostics = lsp.DiagnosticWorkspaceClientCapabilities(refresh_support=True)
    return able


PATIENCE = 30.0


class Editor:
    """A client that keeps its documents as an editor does and hears every message."""

    def __init__(self, folder, profile):
        self.folder, self.profile = folder, profile
        self.client = self.result = None
        self.texts, self.versions, self.heard, self.registered = {}, {}, [], []
        self.news = asyncio.Event()

    @property
    def utf8(self):
        return self.result.capabilities.position_encoding == "utf-8"

    @property
    def pulls(self):
        return self.result.capabilities.diagnostic_provider is not None

    def uri(self, name):
        return (self.folder / name).as_uri()

    def width(self, text):
        """How many columns a text takes."""
        return len(text.encode()) if self.utf8 else len(text.encode("utf-16-le")) // 2

    def open(self, name, text):
        uri = self.uri(name)
        self.texts[uri], self.versions[uri] = text, 1
        item = lsp.TextDocumentItem(uri, "trim", 1, text)
        self.client.text_document_did_open(lsp.DidOpenTextDocumentParams(item))
        return uri

    def salon(self, name, old=None, new=None):
        """Opens a text of the demo salon, perhaps with some words replaced."""
        # Once: the server may be reading them, and nobody would tell it of what it read half written.
        for path in SALTMARSH.glob("*.trim"):
            if not (self.folder / path.name).exists():
                shutil.copy(path, self.folder / path.name)
        text = (self.folder / name).read_text()
        assert old is None or text.count(old) == 1, old
        return self.open(name, text.replace(old, new) if old else text)

    def at(self, uri, words, inside=0, nth=0):
        """What a question about a place begins with: some characters into some words."""
        start = self.range(uri, words, nth).start
        place = lsp.Position(start.line, start.character + self.width(words[:inside]))
        return {"text_document": lsp.TextDocumentIdentifier(uri), "position": place}

    def applied(self, uri, edits):
        """The text with some edits."""
        text = self.texts[uri]
        starts = [self.byte(text, e.range.start) for e in edits]
        ends = [self.byte(text, e.range.end) for e in edits]
        assert all(end <= start for end, start in zip(sorted(ends), sorted(starts)[1:])), "edits overlap"
        for start, end, edit in sorted(zip(starts, ends, edits), key=lambda e: e[0], reverse=True):
            text = text[:start] + edit.new_text + text[end:]
        return text

    def byte(self, text, at):
        """The index in a text of a place."""
        start = 0
        for _ in range(at.line):
            start = text.index("\n", start) + 1
        end = start
        while self.width(text[start:end]) < at.character:
            end += 1
        return end

    def edits_of(self, change):
        """The edits of a change by address, however this editor takes them."""
        if change.document_changes is not None:
            for text in change.document_changes:
                assert text.text_document.version == self.versions.get(text.text_document.uri)
            return {c.text_document.uri: list(c.edits) for c in change.document_changes}
        return {uri: list(edits) for uri, edits in change.changes.items()}

    def edit(self, uri, old, new):
        """Replaces the first `old` in the text, sent as a range."""
        text = self.texts[uri]
        at = text.index(old)
        start, end = self.position(text, at), self.position(text, at + len(old))
        self.texts[uri] = text[:at] + new + text[at + len(old) :]
        self.versions[uri] += 1
        change = lsp.TextDocumentContentChangePartial(range=lsp.Range(start, end), text=new)
        self.client.text_document_did_change(
            lsp.DidChangeTextDocumentParams(
                lsp.VersionedTextDocumentIdentifier(self.versions[uri], uri), [change]
            )
        )

    def close(self, uri):
        self.client.text_document_did_close(
            lsp.DidCloseTextDocumentParams(lsp.TextDocumentIdentifier(uri))
        )

    def position(self, text, at):
        line = text.count("\n", 0, at)
        return lsp.Position(line, self.width(text[text.rfind("\n", 0, at) + 1 : at]))

    def range(self, uri, words, nth=0):
        """Where the words stand in the text, as this editor counts."""
        text, at = self.texts[uri], -1
        for _ in range(nth + 1):
            at = text.index(words, at + 1)
        return lsp.Range(self.position(text, at), self.position(text, at + len(words)))

    async def messages(self, uri):
        """The messages for the text as it is now."""
        if self.pulls:
            report = await self.client.text_document_diagnostic_async(
                lsp.DocumentDiagnosticParams(lsp.TextDocumentIdentifier(uri))
            )
            return list(report.items)
        said = await self.wait(lambda p: p.uri == uri and p.version == self.versions[uri])
        return list(said.diagnostics)

    async def wait(self, wanted):
        """The newest publication that is wanted, heard already or to come."""

        async def listen():
            while not (found := [p for p in self.heard if wanted(p)]):
                self.news.clear()
                await self.news.wait()
            return found[-1]

        return await asyncio.wait_for(listen(), PATIENCE)


@pytest.fixture
def folder(tmp_path):
    return pathlib.Path(os.path.realpath(tmp_path))


def heard_by(editor):
    """Hands what the server says unasked to the editor."""

    def published(ls, params):
        editor.heard.append(params)
        editor.news.set()

    def registered(ls, params):
        editor.registered.extend(params.registrations)

    def make():
        client = pytest_lsp.LanguageClient(converter_factory=default_converter)
        own = {
            lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS: published,
            lsp.CLIENT_REGISTER_CAPABILITY: registered,
        }
        for method, feature in {**DEFAULT_CLIENT_FEATURES, **own}.items():
            client.feature(method)(feature)
        return client

    return make


@contextlib.asynccontextmanager
async def session(folder, profile):
    """An editor with a server of its own, which must leave in peace."""
    made = Editor(folder, profile)
    config = pytest_lsp.ClientServerConfig([SERVER, "--stdio"], client_factory=heard_by(made))
    made.client = await config.start()
    params = lsp.InitializeParams(capabilities=capabilities(profile), root_uri=folder.as_uri())
    made.result = await made.client.initialize_session(params)
    yield made
    await made.client.shutdown_session()
    assert made.client._server.returncode == 0
    await made.client.stop()


@pytest_asyncio.fixture(params=PROFILES)
async def editor(request, folder):
    async with session(folder, request.param) as made:
        yield made
