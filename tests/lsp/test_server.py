"""The language server as three editors see it."""

import asyncio

import pytest
from conftest import ASKS
from lsprotocol import types as lsp

GOOD = """recipe t {
  title "T"
  clip whole coat with #7F with the coat
}
"""

HOUSE = """house salt {
  title "Salt"
}

group wave-line {
  about "What stands in the sea."
  zones legs, breastbone
}
"""


def with_verb(verb, newline="\n"):
    lines = ["-- 🐩 Bramble’s", "recipe t { title “🐩 é”; VERB wave with #7F with the coat }", ""]
    return newline.join(lines).replace("VERB", verb).replace("wave", "body")


def only(messages):
    assert len(messages) == 1, messages
    return messages[0]


def test_what_was_agreed(editor):
    capabilities = editor.result.capabilities
    sync = capabilities.text_document_sync
    assert (sync.open_close, sync.change) == (True, lsp.TextDocumentSyncKind.Incremental)
    expected = {
        ASKS: ("utf-8", True),
        "neovim@v0.11": ("utf-8", False),
        "visual-studio-code": ("utf-16", False),
        "emacs": ("utf-8", False),
    }
    agreed = (capabilities.position_encoding, capabilities.diagnostic_provider is not None)
    assert agreed == expected[editor.profile]
    assert editor.result.server_info.name == "coatwright-lsp"


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
async def test_a_misspelt_verb_is_one_message(editor, newline):
    uri = editor.open("t.trim", with_verb("clpi", newline))
    message = only(await editor.messages(uri))
    assert message.range == editor.range(uri, "clpi")
    assert message.range.start.character == (32 if editor.utf8 else 25)
    assert (message.severity, message.code, message.source) == (
        lsp.DiagnosticSeverity.Error,
        "W006",
        "coatwright",
    )
    assert "`clip`" in message.message
    editor.edit(uri, "clpi", "clip")
    assert [m for m in await editor.messages(uri) if m.code == "W006"] == []


async def test_edits_are_applied_in_order(editor):
    uri = editor.open("t.trim", GOOD)
    await editor.messages(uri)
    # Each edit builds on the one before; applied in another order, or with one lost, the text is another.
    for number in range(200):
        editor.edit(uri, f"T{number - 1 if number else ''}\"", f"T{number}\"")
    editor.edit(uri, "clip", "🐩 clpi")
    editor.edit(uri, "🐩 ", "")
    message = only(await editor.messages(uri))
    assert message.range == editor.range(uri, "clpi")
    assert 'title "T199"' in editor.texts[uri]
    if not editor.pulls:
        # What is said last is about the last text, and most texts were overtaken unseen.
        await asyncio.sleep(0.3)
        assert editor.heard[-1].version == 203 == editor.versions[uri]
        assert [p.version for p in editor.heard] == sorted({p.version for p in editor.heard})
        assert len(editor.heard) <= 20, len(editor.heard)


async def test_several_changes_in_one_message(editor):
    uri = editor.open("t.trim", GOOD)

    def change(line, start, end, text):
        at = lsp.Range(lsp.Position(line, start), lsp.Position(line, end))
        return lsp.TextDocumentContentChangePartial(range=at, text=text)

    changes = [
        lsp.TextDocumentContentChangeWholeDocument("recipe t {\n}\n"),
        change(0, 10, 10, "\n  clpi body"),
        change(1, 2, 4, "cl"),
        change(1, 11, 11, ", neck"),
        change(7, 0, 0, "-- the end"),
    ]
    editor.versions[uri] = 9
    editor.texts[uri] = "recipe t {\n  clpi body, neck\n}\n-- the end"
    editor.client.text_document_did_change(
        lsp.DidChangeTextDocumentParams(lsp.VersionedTextDocumentIdentifier(9, uri), changes)
    )
    messages = await editor.messages(uri)
    assert [m.range for m in messages if m.code == "W006"] == [editor.range(uri, "clpi")]


async def test_closing_clears(editor):
    uri = editor.open("t.trim", with_verb("clpi"))
    only(await editor.messages(uri))
    editor.close(uri)
    if editor.pulls:
        with pytest.raises(Exception, match="isn't open"):
            await editor.messages(uri)
    else:
        cleared = await editor.wait(lambda p: p.uri == uri and p.version is None)
        assert list(cleared.diagnostics) == []
    # Opened again it is as new, and nothing of the closing comes after.
    editor.open("t.trim", with_verb("clpi"))
    only(await editor.messages(uri))
    if not editor.pulls:
        await asyncio.sleep(0.2)
        assert len(editor.heard[-1].diagnostics) == 1


async def test_pushed_or_asked_for_and_never_both(editor):
    uri = editor.open("t.trim", with_verb("clpi"))
    await editor.messages(uri)
    await asyncio.sleep(0.2)
    assert bool(editor.heard) != editor.pulls


async def test_a_recipe_in_its_house(editor, folder):
    (folder / "house.trim").write_text(HOUSE)
    (folder / "recipes").mkdir()
    text = GOOD.replace("}", "  clip wave-line with #5F with the coat\n  clip elbwos with #5F with the coat\n}")
    uri = editor.open("recipes/t.trim", text)
    message = only(await editor.messages(uri))
    assert (message.code, message.range) == ("M001", editor.range(uri, "elbwos"))
    assert message.message.splitlines()[0] == "no part of the dog is called `elbwos`"


async def test_the_open_house_counts_and_not_the_one_on_disk(editor, folder):
    (folder / "house.trim").write_text(HOUSE)
    text = GOOD.replace("}", "  clip wave-line with #5F with the coat\n}")
    recipe = editor.open("t.trim", text)
    assert await editor.messages(recipe) == []
    house = editor.open("house.trim", HOUSE)
    await editor.messages(house)
    editor.edit(house, "group wave-line", "group tide-line")
    if not editor.pulls:
        # The recipe wasn't touched: it is told all the same.
        said = await editor.wait(lambda p: p.uri == recipe and p.diagnostics)
        assert said.version == 1
    message = only(await editor.messages(recipe))
    assert (message.code, message.range) == ("M001", editor.range(recipe, "wave-line"))
    # Closed without saving, the house on disk counts again.
    before = len(editor.heard)
    editor.close(house)
    if editor.pulls:
        assert await editor.messages(recipe) == []
    else:
        await editor.wait(lambda p: p.uri == recipe and not p.diagnostics and p in editor.heard[before:])


async def test_a_file_changed_on_disk_is_seen(editor, folder):
    text = GOOD.replace("}", "  clip wave-line with #5F with the coat\n}")
    recipe = editor.open("t.trim", text)
    assert only(await editor.messages(recipe)).code == "M001"
    heard = len(editor.heard)
    (folder / "house.trim").write_text(HOUSE)
    event = lsp.FileEvent(editor.uri("house.trim"), lsp.FileChangeType.Created)
    editor.client.workspace_did_change_watched_files(lsp.DidChangeWatchedFilesParams([event]))
    if editor.pulls:
        assert await editor.messages(recipe) == []
    else:
        await editor.wait(lambda p: p.uri == recipe and p in editor.heard[heard:] and not p.diagnostics)
        assert len(editor.heard) == heard + 1
        # Neovim doesn't watch for servers where that is dear.
        watched = [] if "neovim" in editor.profile else ["workspace/didChangeWatchedFiles"]
        assert [r.method for r in editor.registered] == watched


async def test_other_places_are_shown_or_told(editor):
    text = GOOD + GOOD
    uri = editor.open("t.trim", text)
    message = next(m for m in await editor.messages(uri) if m.code == "M011")
    assert message.range.start.line == 4
    if editor.profile == "emacs":
        assert not message.related_information
        assert "the other one (t.trim, line 1)" in message.message
    else:
        other = only(message.related_information)
        assert (other.location.uri, other.location.range.start.line) == (uri, 0)


async def test_a_text_that_was_never_saved(editor):
    uri = "untitled:Untitled-1"
    editor.texts[uri], editor.versions[uri] = with_verb("clpi"), 1
    item = lsp.TextDocumentItem(uri, "trim", 1, editor.texts[uri])
    editor.client.text_document_did_open(lsp.DidOpenTextDocumentParams(item))
    assert only(await editor.messages(uri)).range == editor.range(uri, "clpi")


async def test_an_empty_text_and_one_of_garbage(editor):
    for number, text in enumerate(["", "\r\n", "}}}{{{ \0 \ufeff 🐩", "(" * 5000, "recipe t {" * 200]):
        uri = editor.open(f"{number}.trim", text)
        await editor.messages(uri)
        editor.close(uri)


async def test_the_same_answer_is_given_once(editor):
    if not editor.pulls:
        pytest.skip("this editor is sent its messages")
    uri = editor.open("t.trim", with_verb("clpi"))

    async def ask(previous):
        params = lsp.DocumentDiagnosticParams(lsp.TextDocumentIdentifier(uri), previous_result_id=previous)
        return await editor.client.text_document_diagnostic_async(params)

    first = await ask(None)
    assert (first.kind, (await ask(first.result_id)).kind) == ("full", "unchanged")
    editor.edit(uri, "clpi", "clpii")
    assert (await ask(first.result_id)).kind == "full"


async def test_a_half_written_blade_does_not_flash(editor):
    uri = editor.open("t.trim", GOOD)
    assert await editor.messages(uri) == []
    editor.edit(uri, "#7F", "#")
    await editor.messages(uri)
    editor.edit(uri, "# with", "#1 with")
    editor.edit(uri, "#1 with", "#1 with")
    # A range that ends behind the blade, as a key does.
    editor.edit(uri, "#1", "#1")
    assert [m.code for m in await editor.messages(uri) if m.code == "M002"] == []
    # Whoever stops there is told.
    await asyncio.sleep(1.6)
    assert [m.range for m in await editor.messages(uri) if m.code == "M002"] == [editor.range(uri, "#1")]
    editor.edit(uri, "#1", "#10")
    assert await editor.messages(uri) == []
    # What can't become a blade is told at once.
    editor.edit(uri, "#10", "#99")
    assert [m.code for m in await editor.messages(uri)] == ["M002"]


async def test_many_recipes_on_a_base_are_proved_when_nobody_waits(editor):
    # More than are proved at once for an edit elsewhere: the editor is told first of what it shows, and then of the rest.
    base = "recipe low {\n  leave    whole-coat\n  clip     torso with #10 with the coat\n}\n"
    for number in range(60):
        own = f"recipe r{number} {{\n  extends  low\n  serves   coat curl, weight {3 + number} kg to {4 + number} kg\n}}\n"
        (editor.folder / f"r{number:02}.trim").write_text(own)
    uri = editor.open("low.trim", base)

    async def said(code, present):
        # What a base does to the dogs that others serve is told at the base.
        for _ in range(100):
            found = [m for m in await editor.messages(uri) if m.code == code]
            if bool(found) == present:
                return found
            await asyncio.sleep(0.1)
        raise AssertionError(f"{code} is {'missing' if present else 'still there'}")

    await said("C001", False)
    # Too close for every dog of all sixty.
    editor.edit(uri, "clip     torso with #10 with the coat", "clip     belly with #40 in reverse")
    assert [m.range for m in await said("C001", True)] == [editor.range(uri, "#40")]
    editor.edit(uri, "with #40 in reverse", "with #10 with the coat")
    await said("C001", False)


class Told:
    """What an editor is told of files that it hasn't open, while somebody edits the house."""

    def __init__(self, editor, house):
        self.editor, self.house, self.known = editor, house, {}

    async def codes(self, uri):
        if not self.editor.pulls:
            heard = [p for p in self.editor.heard if p.uri == uri]
            return [m.code for m in heard[-1].diagnostics] if heard else []
        # Whoever is told to ask again asks about what is open, too: then the server looks at what has changed on disk.
        if self.house:
            await self.editor.messages(self.house)
        previous = [lsp.PreviousResultId(u, value) for u, (value, _) in self.known.items()]
        report = await self.editor.client.workspace_diagnostic_async(lsp.WorkspaceDiagnosticParams(previous))
        for item in report.items:
            if item.kind == "full" and item.result_id is None:
                self.known.pop(item.uri)
            elif item.kind == "full":
                self.known[item.uri] = (item.result_id, [m.code for m in item.items])
        return self.known.get(uri, (None, []))[1]

    async def now(self, old, new):
        self.editor.edit(self.house, old, new)
        # An editor that asks for messages asks after each edit.
        await self.editor.messages(self.house)

    async def comes(self, uri, expected):
        for _ in range(100):
            if await self.codes(uri) == expected:
                return
            await asyncio.sleep(0.1)
        raise AssertionError((uri, await self.codes(uri), expected))


async def test_files_that_are_not_open_are_told_of_when_their_house_changes(editor, folder):
    recipe = GOOD.replace("}", "  clip wave-line with #5F with the coat\n}")
    (folder / "house.trim").write_text(HOUSE)
    for name in ["one", "two"]:
        (folder / f"{name}.trim").write_text(recipe.replace("recipe t", f"recipe {name}"))
    house = editor.open("house.trim", HOUSE)
    assert await editor.messages(house) == []
    one, two = editor.uri("one.trim"), editor.uri("two.trim")
    told = Told(editor, house)
    now, comes = told.now, told.comes
    await now("group wave-line", "group tide-line")
    await comes(one, ["M001"])
    await comes(two, ["M001"])
    # Opened, it is told of as any other; what was said of the file on disk is taken back.
    text = (folder / "one.trim").read_text()
    editor.open("one.trim", text)
    assert [m.code for m in await editor.messages(one)] == ["M001"]
    await now("group tide-line", "group wave-line")
    await comes(two, [])
    assert await editor.messages(one) == []
    # Nothing is said of a house that nobody has open.
    await now("group wave-line", "group tide-line")
    await comes(two, ["M001"])
    editor.close(one)
    editor.close(house)
    told.house = None
    await comes(two, [])


async def test_what_a_closed_file_says_of_another_goes_with_its_cause(editor, folder):
    # The base serves nobody, so that a fault of it is said for its child alone; neither is open.
    (folder / "house.trim").write_text(HOUSE)
    (folder / "low.trim").write_text("recipe low {\n  leave    whole-coat\n  clip     torso with #10 with the coat\n}\n")
    child = folder / "one.trim"
    extends = "recipe one {\n  extends  low\n  serves   coat curl, weight 3 kg to 9 kg\n}\n"
    child.write_text(extends)
    house = editor.open("house.trim", HOUSE)
    told, low = Told(editor, house), editor.uri("low.trim")
    await told.comes(low, [])
    await told.now("house salt {", "house salt {\n  keep torso no closer than 6 mm")
    await told.comes(low, ["C001"])
    # Another child says the same; once.
    other = folder / "two.trim"
    other.write_text(extends.replace("recipe one", "recipe two"))
    created = lsp.FileEvent(editor.uri("two.trim"), lsp.FileChangeType.Created)
    editor.client.workspace_did_change_watched_files(lsp.DidChangeWatchedFilesParams([created]))
    await told.comes(low, ["C001"])
    # It stays while one of them is there, and goes with the last.
    for path in [child, other]:
        await told.comes(low, ["C001"])
        path.unlink()
        gone = lsp.FileEvent(path.as_uri(), lsp.FileChangeType.Deleted)
        editor.client.workspace_did_change_watched_files(lsp.DidChangeWatchedFilesParams([gone]))
    await told.comes(low, [])


async def test_a_house_around_binds_inside(editor, folder):
    # The inner folder's files are read with the outermost house, whichever of them is open.
    (folder / "creek").mkdir()
    (folder / "house.trim").write_text(HOUSE)
    (folder / "creek" / "house.trim").write_text("house creek {\n}\n")
    (folder / "creek" / "b.trim").write_text("recipe b {\n  serves   coat curl\n  leave    whole-coat\n  clip     torso with #10 with the coat\n}\n")
    house = editor.open("house.trim", HOUSE)
    told, inside = Told(editor, house), editor.uri("creek/b.trim")
    await told.now("house salt {", "house salt {\n  keep torso no closer than 6 mm")
    await told.comes(inside, ["C001"])
    await told.now("6 mm", "1 mm")
    await told.comes(inside, [])
    # Opened itself, it knows what the house around adds.
    text = "recipe c {\n  serves   coat curl\n  leave    whole-coat\n  leave    wave-line\n}\n"
    assert await editor.messages(editor.open("creek/c.trim", text)) == []
    # A name of the house around is changed inside, too.
    line = editor.texts[house].split("\n").index("group wave-line {")
    params = lsp.RenameParams(lsp.TextDocumentIdentifier(house), lsp.Position(line, 8), "tide-line")
    edit = await editor.client.text_document_rename_async(params)
    changes = edit.changes or {change.text_document.uri: change.edits for change in edit.document_changes}
    assert {uri.rsplit("/", 1)[-1] for uri in changes} == {"house.trim", "c.trim"}


async def test_a_base_of_a_house_beside(editor, folder):
    # It is looked for in the folder that is named: shown, renamed and checked with what builds on it.
    for name in ["harbour", "dune"]:
        (folder / name).mkdir()
    (folder / "house.trim").write_text("house chain {\n}\n")
    (folder / "dune" / "house.trim").write_text("house dune {\n}\n")
    base = "house harbour {\n}\n\nrecipe low {\n  leave    whole-coat\n  clip     back with #5F with the coat\n}\n"
    (folder / "harbour" / "house.trim").write_text(base)
    house = editor.open("harbour/house.trim", base)
    # One of the same name stands nearer.
    text = 'recipe easy {\n  extends  low from "../harbour"\n  serves   coat curl\n  clip     back with #7F with the coat\n}\n\nrecipe low {\n}\n'
    easy = editor.open("dune/easy.trim", text)
    editor.edit(house, "house harbour {\n", "house harbour {\n  keep     back no closer than 20 mm\n")
    for _ in range(100):
        if [m.code for m in await editor.messages(easy)] == ["C001"]:
            break
        await asyncio.sleep(0.1)
    else:
        raise AssertionError("the house beside isn't heard")
    where = lsp.TextDocumentPositionParams(lsp.TextDocumentIdentifier(easy), lsp.Position(1, 12))
    found = await editor.client.text_document_definition_async(lsp.DefinitionParams(where.text_document, where.position))
    found = found[0] if isinstance(found, list) else found
    uri = getattr(found, "target_uri", None) or found.uri
    assert uri == house
    edit = await editor.client.text_document_rename_async(lsp.RenameParams(where.text_document, where.position, "lower"))
    changes = edit.changes or {change.text_document.uri: change.edits for change in edit.document_changes}
    assert {uri.rsplit("/", 1)[-1]: len(edits) for uri, edits in changes.items()} == {"house.trim": 1, "easy.trim": 1}
    items = await editor.client.text_document_prepare_type_hierarchy_async(
        lsp.TypeHierarchyPrepareParams(where.text_document, where.position)
    )
    assert [item.uri for item in items] == [house]
    below = await editor.client.type_hierarchy_subtypes_async(lsp.TypeHierarchySubtypesParams(items[0]))
    assert [item.name for item in below] == ["easy"]
