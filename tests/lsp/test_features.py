"""What three editors are shown beside messages, on the demo salon."""

import asyncio
import pathlib
from urllib.parse import urlparse
from urllib.request import url2pathname

import pytest
from lsprotocol import types as lsp


def text(uri):
    return lsp.TextDocumentIdentifier(uri)


def flat(symbols):
    for symbol in symbols:
        yield symbol
        yield from flat(getattr(symbol, "children", None) or [])


async def actions(editor, uri, range, *only):
    context = lsp.CodeActionContext(diagnostics=[], only=list(only) or None)
    params = lsp.CodeActionParams(text(uri), range, context)
    return await editor.client.text_document_code_action_async(params)


async def test_the_blade_that_a_rule_forbids(editor):
    answer = "skim belly rear with #10 with the coat, one pass }"
    uri = editor.salon("harbour-short.trim", answer, answer.replace("with the coat", "in reverse"))
    (message,) = [m for m in await editor.messages(uri) if m.code == "C003"]
    assert editor.texts[uri].splitlines()[message.range.start.line].startswith("  guard    sensitive-belly")
    start, end = message.range.start, message.range.end
    assert editor.texts[uri].splitlines()[start.line][start.character : end.character] == "#10"
    if editor.profile == "emacs":
        assert "house.trim, line " in message.message
    else:
        (rule,) = message.related_information
        assert rule.location.uri == editor.uri("house.trim") and "rule for every dog" in rule.message
    if message.code_description:
        page = pathlib.Path(url2pathname(urlparse(message.code_description.href).path))
        assert page.read_text().startswith("# C003")
    assert bool(message.code_description) == (editor.profile == "visual-studio-code")
    found = await actions(editor, uri, message.range)
    assert found and all(a.kind == "quickfix" and len(a.diagnostics) == 1 for a in found)
    assert editor.edits_of(found[0].edit).keys() == {uri}


async def test_a_line_of_the_basics_is_a_place(editor):
    uri = editor.salon("harbour-short.trim", "guard    face-shy {", "guard    foot-shy {")
    said = [m for m in await editor.messages(uri) if m.code == "C005"]
    assert said
    if editor.profile != "emacs":
        (place,) = [r.location for r in said[0].related_information]
        path = pathlib.Path(url2pathname(urlparse(place.uri).path))
        assert path.name == "findings.trim"
        assert path.read_text().splitlines()[place.range.start.line].startswith("finding face-shy")


async def test_a_misspelt_word_is_mended(editor):
    uri = editor.salon("harbour-short.trim", "skim     stop with", "skin     stop with")
    (action,) = await actions(editor, uri, editor.range(uri, "skin  "))
    assert (action.title, action.is_preferred) == ("write `skim`", True)
    assert "skim     stop with" in editor.applied(uri, editor.edits_of(action.edit)[uri])
    # Nothing is offered where nothing is wrong, and all at once only when asked for.
    assert await actions(editor, uri, editor.range(uri, "title")) == ()
    (every,) = await actions(editor, uri, editor.range(uri, "title"), "source.fixAll")
    assert every.kind == "source.fixAll"
    assert editor.applied(uri, editor.edits_of(every.edit)[uri]) == editor.texts[uri].replace("skin  ", "skim  ")


async def test_the_layout_is_made_by_few_edits(editor):
    uri = editor.salon("harbour-short.trim", "skim     stop with #10", "skim  stop   with #10")
    params = lsp.DocumentFormattingParams(text(uri), lsp.FormattingOptions(tab_size=2, insert_spaces=True))
    edits = await editor.client.text_document_formatting_async(params)
    assert len(edits) == 2 and all(not e.new_text.strip() for e in edits)
    assert "skim     stop with #10" in editor.applied(uri, edits)
    here = lsp.DocumentRangeFormattingParams(text(uri), editor.range(uri, "title"), params.options)
    assert await editor.client.text_document_range_formatting_async(here) == ()


async def test_symbols_are_a_tree_or_a_list(editor):
    uri = editor.salon("harbour-short.trim")
    found = await editor.client.text_document_document_symbol_async(lsp.DocumentSymbolParams(text(uri)))
    names = [s.name for s in flat(found)]
    assert names[0] == "harbour-short" and "body-length" in names
    assert "skim stop" in names and "guard sensitive-belly" in names and "skim belly rear" in names
    if not isinstance(found[0], lsp.SymbolInformation):
        assert [s.name for s in found] == ["harbour-short"]
        assert found[0].selection_range == editor.range(uri, "harbour-short")


async def hover(editor, uri, *place):
    found = await editor.client.text_document_hover_async(lsp.HoverParams(**editor.at(uri, *place)))
    return found and found.contents.value


async def test_a_hover_tells_what_happens_and_why(editor):
    uri = editor.salon("harbour-short.trim")
    zone = await hover(editor, uri, "belly rear", 3)
    assert "skim with #10 with the coat" in zone and "curl" in zone
    assert "(saltmarsh-base.trim, line " in zone or "(harbour-short.trim, line " in zone
    blade = await hover(editor, uri, "#7F with the coat", 1)
    assert "in reverse" in blade and "with the coat" in blade and "teeth" in blade and "from the skin" in blade
    finding = await hover(editor, uri, "face-shy", 1)
    assert "answered by " in finding and "harbour-short (line " in finding
    group = await hover(editor, uri, "torso", 1)
    assert "parts: " in group
    assert "param body-length is 9 mm" in await hover(editor, uri, "to body-length", 5)
    assert await hover(editor, uri, '"Harbour short"', 3) is None


async def complete(editor, uri, place, trigger=None):
    context = lsp.CompletionContext(
        lsp.CompletionTriggerKind.TriggerCharacter if trigger else lsp.CompletionTriggerKind.Invoked, trigger
    )
    params = lsp.CompletionParams(**place, context=context)
    return {i.label: i for i in await editor.client.text_document_completion_async(params)}


async def test_completion_goes_by_the_place(editor):
    uri = editor.salon("harbour-short.trim", "skim     stop with #10 with the coat", "skim     stop with ")
    after = editor.at(uri, "skim     stop with ", len("skim     stop with "))
    tools = await complete(editor, uri, after, " ")
    assert "in reverse; " in tools["#10"].detail and tools["#10"].detail.endswith("with the coat")
    assert "#50" not in tools, "the kit doesn't hold it"
    assert await complete(editor, uri, editor.at(uri, "skim     stop with ", 9), " ") == {}
    zones = await complete(editor, uri, editor.at(uri, "skim     stop with ", 9))
    assert "belly rear" in zones and "#10" not in zones
    # What is written so far of a name gives way to it.
    editor.edit(uri, "skim     stop with ", "skim     hind l")
    found = await complete(editor, uri, editor.at(uri, "skim     hind l", len("skim     hind l")))
    assert editor.applied(uri, [found["hind legs"].text_edit]) == editor.texts[uri].replace("hind l\n", "hind legs\n")
    editor.edit(uri, "skim     hind l", "  ")
    verbs = await complete(editor, uri, {**editor.at(uri, "  shape    brows", 2)})
    assert {"clip", "set in", "guard"} <= verbs.keys()


async def test_a_name_leads_to_its_declaration_and_back(editor):
    uri = editor.salon("harbour-short.trim")
    place = editor.at(uri, "saltmarsh-base", 3)
    found = await editor.client.text_document_definition_async(lsp.DefinitionParams(**place))
    (found,) = found if isinstance(found, (list, tuple)) else [found]
    target, range = (
        (found.target_uri, found.target_range)
        if isinstance(found, lsp.LocationLink)
        else (found.uri, found.range)
    )
    assert target == editor.uri("saltmarsh-base.trim")
    line = (editor.folder / "saltmarsh-base.trim").read_text().splitlines()[range.start.line]
    assert line[range.start.character : range.end.character] == "saltmarsh-base"
    params = lsp.ReferenceParams(**place, context=lsp.ReferenceContext(include_declaration=True))
    names = [m.uri.rsplit("/", 1)[1] for m in await editor.client.text_document_references_async(params)]
    assert {"saltmarsh-base.trim", "harbour-short.trim", "dune-column.trim"} <= set(names)
    marks = await editor.client.text_document_document_highlight_async(
        lsp.DocumentHighlightParams(**editor.at(uri, "to body-length", 5))
    )
    assert len(marks) == 3 and [m.kind for m in marks].count(lsp.DocumentHighlightKind.Write) == 1


async def test_a_name_is_changed_in_every_file(editor):
    uri = editor.salon("harbour-short.trim")
    place = editor.at(uri, "recipe harbour-short", 10)
    if editor.result.capabilities.rename_provider is not True:
        prepared = await editor.client.text_document_prepare_rename_async(lsp.PrepareRenameParams(**place))
        assert prepared.placeholder == "harbour-short"
    change = await editor.client.text_document_rename_async(lsp.RenameParams(**place, new_name="harbour trim"))
    edits = editor.edits_of(change)
    assert {u.rsplit("/", 1)[1] for u in edits} >= {"harbour-short.trim", "dogs.trim", "cases.trim"}
    assert "recipe harbour-trim {" in editor.applied(uri, edits[uri])
    for at, name in [(editor.at(uri, "belly rear", 2), "tummy"), (place, "short-tide"), (place, "a, b")]:
        with pytest.raises(Exception, match="basics|taken|name"):
            await editor.client.text_document_rename_async(lsp.RenameParams(**at, new_name=name))


async def test_what_an_edit_overtakes_is_asked_again(editor):
    uri = editor.salon("harbour-short.trim")
    params = lsp.HoverParams(**editor.at(uri, "#7F with the coat", 1))
    asked = editor.client.text_document_hover_async(params)
    task = asyncio.ensure_future(asked)
    await asyncio.sleep(0)
    editor.edit(uri, "Harbour short", "Harbour shorter")
    try:
        answer = await task
        assert "#7F" in answer.contents.value or "in reverse" in answer.contents.value
    except Exception as why:
        assert "changed since" in str(why)


def unpacked(editor, uri, data):
    """The words that tokens stand for."""
    legend = editor.result.capabilities.semantic_tokens_provider.legend
    out, line, column = [], 0, 0
    lines = editor.texts[uri].split("\n")
    for at in range(0, len(data), 5):
        down, right, length, kind, modifiers = data[at : at + 5]
        line, column = line + down, right if down else column + right
        start = editor.byte(editor.texts[uri], lsp.Position(line, column))
        end = editor.byte(editor.texts[uri], lsp.Position(line, column + length))
        words = editor.texts[uri][start:end]
        assert words and words in lines[line]
        names = [m for bit, m in enumerate(legend.token_modifiers) if modifiers & 1 << bit]
        out.append((words, legend.token_types[kind], names))
    return out


async def test_tokens_whole_in_part_and_changed(editor):
    uri = editor.salon("harbour-short.trim", "-- The first trim", "-- 🐩 Thé first trim")
    client = editor.client
    whole = await client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(text(uri)))
    words = unpacked(editor, uri, whole.data)
    assert ("clip", "keyword", []) in words
    assert ("cheeks", "property", ["defaultLibrary"]) in words
    assert ("body-length", "parameter", ["declaration"]) in words
    assert ("sensitive-belly", "event", ["defaultLibrary"]) in words
    assert words[0][0].startswith("-- 🐩 Thé") and words[0][1] == "comment"
    part = await client.text_document_semantic_tokens_range_async(
        lsp.SemanticTokensRangeParams(text(uri), editor.range(uri, "cheeks, foreface with #10 in reverse"))
    )
    part = unpacked(editor, uri, part.data)
    assert 3 <= len(part) < 8 and ("foreface", "property", ["defaultLibrary"]) in part
    editor.edit(uri, "skim     stop with", "skim     cheeks, stop with")
    change = await client.text_document_semantic_tokens_full_delta_async(
        lsp.SemanticTokensDeltaParams(text(uri), whole.result_id)
    )
    data = list(whole.data)
    for edit in change.edits:
        data[edit.start : edit.start + edit.delete_count] = edit.data or []
    fresh = await client.text_document_semantic_tokens_full_async(lsp.SemanticTokensParams(text(uri)))
    assert data == list(fresh.data) and len(change.edits[0].data) < 30
    # An answer that nobody remembers is given whole.
    again = await client.text_document_semantic_tokens_full_delta_async(
        lsp.SemanticTokensDeltaParams(text(uri), "never")
    )
    assert list(again.data) == data


async def test_folding_and_growing_selections(editor):
    uri = editor.salon("harbour-short.trim")
    folds = await editor.client.text_document_folding_range_async(lsp.FoldingRangeParams(text(uri)))
    first = editor.range(uri, "recipe harbour-short").start.line
    guard = editor.range(uri, "guard    face-shy").start.line
    found = {(f.start_line, f.end_line) for f in folds}
    assert (guard, guard + 5) in found and any(start == first for start, _ in found)
    at = editor.range(uri, "topknot to 18 mm").start
    (growing,) = await editor.client.text_document_selection_range_async(
        lsp.SelectionRangeParams(text(uri), [at])
    )
    sizes = []
    while growing:
        start, end = editor.byte(editor.texts[uri], growing.range.start), editor.byte(editor.texts[uri], growing.range.end)
        sizes.append(editor.texts[uri][start:end])
        growing = growing.parent
    assert sizes[0] == "topknot" and sizes[-1] == editor.texts[uri]
    assert any(s.startswith("shape topknot to 18 mm by shears") for s in sizes)
    assert all(inner in outer for inner, outer in zip(sizes, sizes[1:]))


async def command(editor, name, argument):
    params = lsp.ExecuteCommandParams(name, arguments=[argument])
    return await editor.client.workspace_execute_command_async(params)


async def test_hints_lenses_and_the_dog_on_the_table(editor):
    uri = editor.salon("harbour-short.trim")
    whole = lsp.Range(lsp.Position(0, 0), lsp.Position(editor.texts[uri].count("\n"), 0))

    async def hints():
        found = await editor.client.text_document_inlay_hint_async(lsp.InlayHintParams(text(uri), whole))
        return {(h.position.line, h.label) for h in found}

    blade = editor.range(uri, "cheeks, foreface with #10").start.line
    before = await hints()
    assert (blade, "1.5 to 1.8 mm") in before
    lenses = await editor.client.text_document_code_lens_async(lsp.CodeLensParams(text(uri)))
    titles = [l.command.title for l in lenses]
    assert titles[0] == "Safe for 3 coats, 3 kg to 35 kg" and "Sheet for bramble" in titles
    # The card of this dog is in another file.
    document = {"uri": uri}
    page = await command(editor, "coatwright.dogOnTheTable", {"textDocument": document, "dog": "bramble"})
    html = page["html"] if isinstance(page, dict) else page.html
    assert html.lower().startswith("<!doctype html>") and "Bramble" in html
    after = await hints()
    assert any("on bramble" in label for _, label in after - before), after
    assert "**bramble**" in await hover(editor, uri, "breastbone", 1) or editor.profile == "emacs"
    assert await command(editor, "coatwright.dogOnTheTable", None) is None
    assert await hints() == before


async def test_a_sheet_or_why_there_is_none(editor):
    uri = editor.salon("dogs.trim")
    place = editor.range(uri, "dog bramble").start
    argument = {"textDocument": {"uri": uri}, "position": {"line": place.line + 2, "character": 0}}
    page = await command(editor, "coatwright.sheet", argument)
    title = page["title"] if isinstance(page, dict) else page.title
    assert title == "Bramble: Harbour short"
    outside = {"textDocument": {"uri": uri}, "position": {"line": 0, "character": 0}}
    assert await command(editor, "coatwright.sheet", outside) is None
    editor.edit(uri, "wants    harbour-short", "wants    harbour-shirt")
    with pytest.raises(Exception, match="no recipe here is called"):
        await command(editor, "coatwright.sheet", argument)
    assert "# C001" in await command(editor, "coatwright.explain", "C001")
    # From a lens it is opened as well, in a browser or by saying where it is.
    editor.edit(uri, "wants    harbour-shirt", "wants    harbour-short")
    shown = await command(editor, "coatwright.sheet", {"textDocument": {"uri": uri}, "dog": "bramble", "show": True})
    assert shown
    with pytest.raises(Exception, match="no command"):
        await command(editor, "coatwright.bark", None)


async def test_names_links_and_kin(editor):
    uri = editor.salon("harbour-short.trim")
    client = editor.client
    found = await client.workspace_symbol_async(lsp.WorkspaceSymbolParams("bramb"))
    assert {(s.name, s.location.uri.rsplit("/", 1)[1]) for s in found} >= {("bramble", "dogs.trim")}
    links = await client.text_document_document_link_async(lsp.DocumentLinkParams(text(uri)))
    (link,) = [l for l in links if l.range == editor.range(uri, "saltmarsh-base")]
    assert "saltmarsh-base.trim#L" in link.target
    place = editor.at(uri, "saltmarsh-base", 2)
    (base,) = await client.text_document_prepare_type_hierarchy_async(lsp.TypeHierarchyPrepareParams(**place))
    assert base.name == "saltmarsh-base"
    below = await client.type_hierarchy_subtypes_async(lsp.TypeHierarchySubtypesParams(base))
    assert {"harbour-short", "dune-column"} <= {m.name for m in below}
    (own,) = [m for m in below if m.name == "harbour-short"]
    (above,) = await client.type_hierarchy_supertypes_async(lsp.TypeHierarchySupertypesParams(own))
    assert above.name == "saltmarsh-base"
    assert editor.result.capabilities.type_hierarchy_provider is True


async def test_a_line_says_how_it_goes_on(editor):
    uri = editor.salon("harbour-short.trim")
    params = lsp.SignatureHelpParams(**editor.at(uri, "skim     stop with #10", len("skim     stop with ")))
    help = await editor.client.text_document_signature_help_async(params)
    (form,) = help.signatures
    assert form.label.startswith("skim ZONES to LENGTH with TOOL")
    assert form.parameters[help.active_parameter].label == "with TOOL"


async def test_a_finding_on_an_open_card_marks_the_recipe(editor):
    uri = editor.salon("harbour-short.trim")
    assert await editor.messages(uri) == []
    card = editor.salon("dogs.trim")
    await editor.messages(card)
    editor.edit(card, "finding  wart on left lip", "finding  hot-spot on left cheek")
    await editor.messages(card)

    def marks(messages):
        return [m for m in messages if m.code is None and m.message.startswith("on bramble") and "cheek" in m.message]

    if editor.pulls:
        (mark,) = marks(await editor.messages(uri))
    else:
        said = await editor.wait(lambda p: p.uri == uri and marks(p.diagnostics))
        (mark,) = marks(said.diagnostics)
    assert mark.severity == lsp.DiagnosticSeverity.Information
    assert mark.range == editor.range(uri, "clip     cheeks, foreface")
    if editor.profile != "emacs":
        (line,) = mark.related_information
        assert line.location.uri == card and line.location.range == editor.range(card, "hot-spot")
