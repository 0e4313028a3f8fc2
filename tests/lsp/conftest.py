"""Editors for the tests: pytest-lsp's client with the capabilities of three real ones."""

import asyncio
import os
import pathlib

import pytest
import pytest_asyncio
import pytest_lsp
from lsprotocol import types as lsp

SERVER = os.environ["COATWRIGHT_LSP"]

# Neovim asks for messages and counts bytes; VS Code is sent them and counts UTF-16 units; Emacs is sent them, counts
# bytes, and shows no other places beside a message.
PROFILES = ["neovim@v0.11", "visual-studio-code", "emacs"]

PATIENCE = 20.0


class Editor:
    """A client that keeps its documents as an editor does and hears every message."""

    def __init__(self, client, result, folder):
        self.client, self.folder = client, folder
        self.utf8 = result.capabilities.position_encoding == "utf-8"
        self.pulls = result.capabilities.diagnostic_provider is not None
        self.texts, self.versions, self.heard = {}, {}, []
        self.news = asyncio.Event()

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
        async with asyncio.timeout(PATIENCE) if hasattr(asyncio, "timeout") else _Patience():
            while True:
                found = [p for p in self.heard if wanted(p)]
                if found:
                    return found[-1]
                self.news.clear()
                await self.news.wait()


class _Patience:
    async def __aenter__(self):
        return self

    async def __aexit__(self, *_):
        return False


@pytest.fixture
def folder(tmp_path):
    return pathlib.Path(os.path.realpath(tmp_path))


@pytest_asyncio.fixture(params=PROFILES)
async def editor(request, folder):
    client = await pytest_lsp.ClientServerConfig(server_command=[SERVER, "--stdio"]).start()
    made = None

    @client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def _(params):
        made.heard.append(params)
        made.news.set()

    @client.feature(lsp.CLIENT_REGISTER_CAPABILITY)
    def _(params):
        made.registered = params.registrations

    capabilities = pytest_lsp.client_capabilities(request.param)
    params = lsp.InitializeParams(capabilities=capabilities, root_uri=folder.as_uri())
    # Before the answer, nothing may be heard: `made` isn't there yet.
    result = await client.initialize_session(params)
    made = Editor(client, result, folder)
    made.result, made.profile, made.registered = result, request.param, []
    yield made
    await client.shutdown_session()
    assert client._server.returncode == 0
    await client.stop()
