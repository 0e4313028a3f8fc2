"""What three editors are shown beside messages, on the demo salon."""

import pathlib
from urllib.parse import urlparse
from urllib.request import url2pathname

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
