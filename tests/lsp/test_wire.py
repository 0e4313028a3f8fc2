"""The wire itself: what no well-made editor sends, and how the server ends."""

import json
import os
import queue
import subprocess
import threading
import time

import pytest

SERVER = os.environ["COATWRIGHT_LSP"]
URI = "untitled:t.trim"
TEXT = 'recipe t {\n  title "T"\n  clpi body with #7F with the coat\n}\n'


def frame(message):
    body = message if isinstance(message, bytes) else json.dumps(message).encode()
    return b"Content-Length: %d\r\n\r\n%b" % (len(body), body)


class Wire:
    def __init__(self, *arguments):
        self.server = subprocess.Popen([SERVER, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.said = queue.Queue()
        threading.Thread(target=self._hear, daemon=True).start()

    def _hear(self):
        out = self.server.stdout
        while line := out.readline():
            length = int(line.split(b":")[1])
            assert out.readline() == b"\r\n"
            self.said.put(json.loads(out.read(length)))
        self.said.put(None)

    def send(self, *frames):
        self.server.stdin.write(b"".join(f if isinstance(f, bytes) else frame(f) for f in frames))
        self.server.stdin.flush()

    def ask(self, id, method, **rest):
        self.send({"jsonrpc": "2.0", "id": id, "method": method, **rest})

    def tell(self, method, params=None):
        self.send({"jsonrpc": "2.0", "method": method, "params": params or {}})

    def hear(self, wanted, seconds=20):
        end = time.monotonic() + seconds
        while True:
            message = self.said.get(timeout=max(0.01, end - time.monotonic()))
            assert message is not None, "the server has ended"
            if wanted(message):
                return message

    def answer(self, id):
        return self.hear(lambda m: m.get("id") == id and "method" not in m)

    def published(self, version):
        said = self.hear(lambda m: m.get("method") == "textDocument/publishDiagnostics" and m["params"].get("version") == version)
        return said["params"]["diagnostics"]

    def begin(self):
        self.ask(1, "initialize", params={"capabilities": {}})
        assert "result" in self.answer(1)
        self.tell("initialized")
        return self

    def open(self, text=TEXT):
        self.tell("textDocument/didOpen", {"textDocument": {"uri": URI, "languageId": "trim", "version": 1, "text": text}})

    def change(self, version, text, range=None):
        change = {"text": text} if range is None else {"text": text, "range": range}
        self.tell("textDocument/didChange", {"textDocument": {"uri": URI, "version": version}, "contentChanges": [change]})

    def ends(self, seconds=3):
        return self.server.wait(timeout=seconds)


@pytest.fixture
def wire():
    made = Wire()
    yield made
    made.server.kill()
    made.server.wait()
    made.server.stdin.close()


def test_exit_is_obeyed_while_the_input_is_open(wire):
    wire.begin()
    wire.ask(2, "shutdown")
    assert wire.answer(2)["result"] is None
    wire.tell("exit")
    assert wire.ends() == 0


def test_exit_without_shutdown_is_a_failure(wire):
    wire.begin()
    wire.tell("exit")
    assert wire.ends() == 1


def test_exit_before_anything(wire):
    wire.tell("exit")
    assert wire.ends() == 1


@pytest.mark.parametrize("shutdown, code", [(True, 0), (False, 1)])
def test_the_end_of_the_input_is_an_end(wire, shutdown, code):
    wire.begin()
    if shutdown:
        wire.ask(2, "shutdown")
        wire.answer(2)
    wire.server.stdin.close()
    assert wire.ends() == code


@pytest.mark.parametrize("params", [None, {}, []])
def test_shutdown_with_parameters_that_say_nothing(wire, params):
    wire.begin()
    wire.ask(2, "shutdown", params=params)
    assert wire.answer(2)["result"] is None


def test_a_whole_session_sent_without_waiting(wire):
    wire.ask(1, "initialize", params={"capabilities": {"textDocument": {"diagnostic": {}}}})
    wire.tell("initialized")
    wire.open()
    wire.ask(2, "textDocument/diagnostic", params={"textDocument": {"uri": URI}})
    wire.ask(3, "shutdown")
    wire.tell("exit")
    assert "result" in wire.answer(1)
    assert len(wire.answer(2)["result"]["items"]) == 1
    assert wire.ends() == 0


@pytest.mark.parametrize(
    "sent, code",
    [
        (frame(b'{"jsonrpc": "2.0", "id": 5, "meth'), -32700),
        (frame(b"\xff\xfe"), -32700),
        (frame(b""), -32700),
        (frame(b"[" * 50_000), -32700),
        (frame(b"[]"), -32600),
        (frame(b"7"), -32600),
        (frame(b'{"jsonrpc": "2.0"}'), -32600),
        (frame(b'{"jsonrpc": "2.0", "id": {}, "method": "x"}'), -32600),
        (b"hello\r\n\r\n", -32700),
        (b"Content-Length: many\r\n\r\n{}", -32700),
        (b"Content-Length: -3\r\n\r\n{}", -32700),
        (b"Content-Length: 3\r\n\r\n{}}}}}", -32700),
        (b"\0\xff\n" * 100, -32700),
    ],
)
def test_a_malformed_message_is_answered_and_survived(wire, sent, code):
    wire.begin()
    wire.open()
    assert len(wire.published(1)) == 1
    wire.send(sent)
    assert wire.answer(None)["error"]["code"] == code
    wire.change(2, TEXT.replace("clpi", "clpp"))
    assert "`clpp`" in wire.published(2)[0]["message"]
    wire.ask(2, "shutdown")
    assert wire.answer(2)["result"] is None


def test_a_message_without_end_closes_the_session(wire):
    wire.begin()
    wire.send(b"Content-Length: 99999999999\r\n\r\n{")
    assert wire.answer(None)["error"]["code"] == -32700
    assert wire.ends() == 1


def test_half_a_character_is_not_a_lost_edit(wire):
    wire.begin()
    wire.open()
    wire.published(1)
    half = r'{"jsonrpc":"2.0","method":"textDocument/didChange","params":{"textDocument":{"uri":"%s","version":2},"contentChanges":[{"text":"recipe t { title \"\ud83d\"; clpi body }"}]}}'
    wire.send(frame((half % URI).encode()))
    (message,) = (m for m in wire.published(2) if m["code"] == "W006")
    assert message["range"]["start"] == {"line": 0, "character": 22}


def test_what_is_unknown_or_out_of_place(wire):
    wire.ask(9, "textDocument/diagnostic", params={"textDocument": {"uri": URI}})
    assert wire.answer(9)["error"]["code"] == -32002
    wire.open()
    wire.begin()
    # Opened before the session began: it doesn't count.
    wire.change(2, TEXT)
    wire.tell("textDocument/didChange", {"nonsense": 1})
    wire.tell("$/unheard-of")
    wire.tell("unheard/of")
    wire.send({"jsonrpc": "2.0", "id": 77, "result": None})
    wire.ask(3, "unheard/of", params={})
    assert wire.answer(3)["error"]["code"] == -32601
    wire.ask(4, "initialize", params={"capabilities": {}})
    assert wire.answer(4)["error"]["code"] == -32600
    wire.ask("five", "shutdown")
    assert wire.answer("five")["result"] is None
    wire.ask(6, "textDocument/diagnostic", params={"textDocument": {"uri": URI}})
    assert wire.answer(6)["error"]["code"] == -32600


def test_a_burst_of_edits_is_few_reports(wire):
    wire.begin()
    # More stands behind: at the end of a line it is waited for what else comes.
    wire.open(" b")
    wire.published(1)
    frames = []
    for number in range(200):
        at = {"line": 0, "character": number}
        change = {"text": "a", "range": {"start": at, "end": at}}
        frames.append({"jsonrpc": "2.0", "method": "textDocument/didChange", "params": {
            "textDocument": {"uri": URI, "version": number + 2}, "contentChanges": [change]}})
    wire.send(*frames)
    heard = 0

    def last(message):
        nonlocal heard
        heard += message.get("method") == "textDocument/publishDiagnostics"
        return message.get("params", {}).get("version") == 201

    (message,) = wire.hear(last)["params"]["diagnostics"]
    assert heard <= 20, heard
    assert message["range"]["start"] == {"line": 0, "character": 0}, message


def test_a_client_that_words_a_capability_oddly_is_served(wire):
    odd = {"textDocument": {"codeAction": {"codeActionLiteralSupport": {}}, "hover": {"contentFormat": "markdown"}}}
    wire.ask(1, "initialize", params={"capabilities": odd, "rootUri": 7})
    capabilities = wire.answer(1)["result"]["capabilities"]
    assert capabilities["typeHierarchyProvider"] is True and capabilities["codeActionProvider"]


def test_a_stale_or_closed_document_is_refused(wire):
    wire.begin()
    wire.open()
    hover = {"jsonrpc": "2.0", "method": "textDocument/hover", "params": {
        "textDocument": {"uri": URI}, "position": {"line": 2, "character": 8}}}
    edit = {"jsonrpc": "2.0", "method": "textDocument/didChange", "params": {
        "textDocument": {"uri": URI, "version": 2}, "contentChanges": [{"text": TEXT}]}}
    wire.send({**hover, "id": 2}, edit, {**hover, "id": 3})
    first, second = wire.answer(2), wire.answer(3)
    assert first.get("error", {}).get("code", -32801) == -32801
    assert "body" in second["result"]["contents"]["value"]
    wire.tell("textDocument/didClose", {"textDocument": {"uri": URI}})
    wire.send({**hover, "id": 4})
    assert wire.answer(4)["error"]["code"] == -32602


def test_a_cancelled_question_is_answered_so(wire):
    wire.ask(1, "initialize", params={"capabilities": {"textDocument": {"diagnostic": {}}}})
    wire.answer(1)
    wire.open("recipe t {\n" + "  clpi body\n" * 4000 + "}\n")
    ask = {"jsonrpc": "2.0", "method": "textDocument/diagnostic", "params": {"textDocument": {"uri": URI}}}
    cancel = {"jsonrpc": "2.0", "method": "$/cancelRequest", "params": {"id": 2}}
    wire.send({**ask, "id": 2}, cancel, {**ask, "id": 3})
    assert wire.answer(2)["error"]["code"] == -32800
    assert wire.answer(3)["result"]["items"]


def test_what_is_taken_back_before_it_is_asked_is_asked_all_the_same(wire):
    wire.begin().open()
    place = {"textDocument": {"uri": URI}, "position": {"line": 0, "character": 0}}
    cancel = {"jsonrpc": "2.0", "method": "$/cancelRequest", "params": {"id": 7}}
    wire.send(cancel, {"jsonrpc": "2.0", "id": 7, "method": "textDocument/hover", "params": place})
    assert "result" in wire.answer(7)


def test_an_overtaken_question_is_asked_again(wire):
    wire.ask(1, "initialize", params={"capabilities": {"textDocument": {"diagnostic": {}}}})
    wire.answer(1)
    wire.open()
    ask = {"jsonrpc": "2.0", "id": 2, "method": "textDocument/diagnostic", "params": {"textDocument": {"uri": URI}}}
    edit = {"jsonrpc": "2.0", "method": "textDocument/didChange", "params": {
        "textDocument": {"uri": URI, "version": 2}, "contentChanges": [{"text": TEXT}]}}
    wire.send(ask, edit)
    answer = wire.answer(2)
    # Either it was quick enough, or it says that it wasn't.
    if "error" in answer:
        assert (answer["error"]["code"], answer["error"]["data"]) == (-32802, {"retriggerRequest": True})
    else:
        assert len(answer["result"]["items"]) == 1


def test_a_reader_that_has_gone_is_an_end():
    server = subprocess.Popen([SERVER], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    server.stdout.close()
    try:
        while server.poll() is None:
            server.stdin.write(frame({"jsonrpc": "2.0", "id": 1, "method": "unheard/of"}))
            server.stdin.flush()
            time.sleep(0.02)
    except BrokenPipeError:
        pass
    assert server.wait(timeout=5) == 1


@pytest.mark.parametrize(
    "arguments, code, words",
    [
        (["--version"], 0, "coatwright-lsp 0."),
        (["--help"], 0, "The language server for trim recipes."),
        (["--port", "7"], 2, ""),
        (["x"], 2, ""),
    ],
)
def test_the_command_line(arguments, code, words):
    done = subprocess.run([SERVER, *arguments], capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=10)
    assert done.returncode == code
    assert done.stdout.startswith(words)
    assert bool(done.stderr) == (code != 0)
