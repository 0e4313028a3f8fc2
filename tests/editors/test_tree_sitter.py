"""The tree-sitter grammar against the real parser: every recipe and sample of the project, token by token.

`run.sh` gives the tokens of the real parser in COATWRIGHT_TOKENS, the lines that `trim_tokens` prints.
"""

import ctypes
import json
import os
import subprocess
from collections import defaultdict
from pathlib import Path

import pytest
from tree_sitter import Language, Parser, Query, QueryCursor

ROOT = Path(__file__).resolve().parents[2]
GRAMMAR = ROOT / "lsp" / "editors" / "tree-sitter-trim"

# What both sides tell alike, and the nodes that stand for it.
NODES = {
    "block_keyword": "block",
    "block_name": "name",
    "comment": "comment",
    "string": "string",
    "prose": "prose",
    "source": "note",
    "blade": "blade",
    "number": "number",
    "date": "date",
    "verb": "verb",
    "part": "part",
}


def language(library):
    ctypes.pythonapi.PyCapsule_New.restype = ctypes.py_object
    ctypes.pythonapi.PyCapsule_New.argtypes = (ctypes.c_void_p, ctypes.c_char_p, ctypes.c_void_p)
    make = ctypes.cdll.LoadLibrary(str(library)).tree_sitter_trim
    make.restype = ctypes.c_void_p
    return Language(ctypes.pythonapi.PyCapsule_New(make(), b"tree_sitter.Language", None))


@pytest.fixture(scope="session")
def trim(tmp_path_factory):
    library = tmp_path_factory.mktemp("parser") / "trim.so"
    source = GRAMMAR / "src"
    subprocess.run(
        ["cc", "-shared", "-fPIC", "-O1", "-std=c11", "-Wall", "-Wextra", "-Werror", "-I", source, "-o", library]
        # The generated part isn't ours to tidy.
        + ["-Wno-unused-parameter", "-Wno-unused-but-set-variable", source / "parser.c", source / "scanner.c"],
        check=True,
    )
    return language(library)


def real():
    """The files, what the real parser finds in each, and whether it finds no mistake."""
    files = {}
    with open(os.environ["COATWRIGHT_TOKENS"], encoding="utf-8") as lines:
        for line in map(json.loads, lines):
            if "file" in line:
                tokens = set()
                files[line["file"]] = (line["mistakes"], tokens)
            else:
                tokens.add((line["start"], line["end"], line["kind"]))
    return files


FILES = real()
# The slips are held to the real parser although it finds mistakes; not so a variant with one.
READ = [file for file, (mistakes, _) in FILES.items() if mistakes == 0 or file.startswith("tests/")]


def walk(node):
    yield node
    for child in node.children:
        yield from walk(child)


def tokens(tree):
    found = set()
    for node in walk(tree.root_node):
        kind = NODES.get(node.type)
        if kind == "name":
            # A block may be named by a blade or a text, which are tokens of their own.
            if node.named_child_count and node.named_children[0].type == "blade":
                continue
            if node.named_child_count and node.named_children[0].type == "string":
                continue
        if kind:
            found.add((node.start_byte, node.end_byte, kind))
    return found


def test_it_is_loaded_by_all_editors(trim):
    assert trim.abi_version == 14


def test_the_corpus_is_there():
    assert len(FILES) > 30
    assert all(mistakes == 0 for file, (mistakes, _) in FILES.items() if file.startswith(("grammar/", "recipes/")))


@pytest.mark.parametrize("file", READ)
def test_same_tokens(trim, file):
    text = (ROOT / file).read_bytes()
    tree = Parser(trim).parse(text)
    slips = [(n.type, n.start_point, text[n.start_byte : n.end_byte]) for n in walk(tree.root_node) if n.is_error or n.is_missing]
    assert not slips
    mine, theirs = tokens(tree), FILES[file][1]
    show = lambda some: [(kind, text[a:b].decode(), text[:a].count(b"\n") + 1) for a, b, kind in sorted(some)]
    assert (show(theirs - mine), show(mine - theirs)) == ([], [])


QUERIES = sorted((GRAMMAR / "queries").glob("*.scm")) + sorted((GRAMMAR.parent / "helix" / "queries" / "trim").glob("*.scm"))
COLOURS = [path for path in QUERIES if path.stem == "highlights"]


@pytest.mark.parametrize("query", QUERIES, ids=lambda path: f"{path.parts[-4]}-{path.stem}")
def test_queries_fit_the_grammar(trim, query):
    Query(trim, query.read_text(encoding="utf-8"))


@pytest.mark.parametrize("query", COLOURS, ids=lambda path: path.parts[-4])
def test_colours(trim, query):
    """Each token of the real parser has its colour, and what is said in words has no other inside."""
    query = Query(trim, query.read_text(encoding="utf-8"))
    wanted = {
        "block": ["keyword"],
        "name": ["type"],
        "comment": ["comment"],
        "note": ["comment"],
        "string": ["string"],
        "prose": ["string"],
        "blade": ["constant"],
        "number": ["number", "constant.numeric"],
        "date": ["number", "constant.numeric"],
        "verb": ["function"],
        "part": ["function"],
    }
    seen = 0
    for file in READ:
        theirs = FILES[file][1]
        text = (ROOT / file).read_bytes()
        colours = defaultdict(set)
        for colour, nodes in QueryCursor(query).captures(Parser(trim).parse(text).root_node).items():
            for node in nodes:
                colours[node.start_byte, node.end_byte].add(colour)
        said = [(a, b) for a, b, kind in theirs if kind in ("comment", "string", "prose", "note")]
        for a, b, kind in theirs:
            # The words of a name are coloured one by one, so that the blanks between aren't.
            if kind == "name" and (a, b) not in colours:
                continue
            assert colours[a, b] & set(wanted[kind]) or (kind == "name" and colours[a, b] == {"string"}), (file, text[a:b])
            seen += 1
        for a, b in said:
            inside = [text[c:d] for c, d in colours if a <= c and d <= b and (c, d) != (a, b)]
            assert not inside, file
    assert seen > 3000


def shape(trim, text):
    tree = Parser(trim).parse(text.encode())
    return [
        [child.type if child.type != "body" else [line.type for line in child.named_children] for child in block.named_children]
        for block in tree.root_node.named_children
    ]


def test_a_slip_stays_on_its_line(trim):
    assert shape(trim, "recipe a {\n  clpi belly, with\n  clip back,\n  leave ears\n}\n") == [
        ["block_keyword", "block_name", ["field", "work", "work"]]
    ]


def test_an_unclosed_brace_ends_before_the_next_head(trim):
    text = "recipe a {\n  when weight under 6 kg { leave ears\n\n-- Next.\ndog b {\n  weight 6 kg\n}\n"
    assert [parts[:2] for parts in shape(trim, text)] == [["block_keyword", "block_name"]] * 2


def test_a_dash_between_numbers_begins_no_comment(trim):
    text = "recipe a {\n  serves weight 3 kg – 5 kg — small\n  serves weight 3–5 kg\n  clip legs to 4 mm — 3 days\n  leave ears — why\n}\n"
    found = [text.encode()[n.start_byte : n.end_byte].decode() for n in walk(Parser(trim).parse(text.encode()).root_node) if n.type == "comment"]
    assert found == ["— small", "— why"]


def test_what_a_line_goes_on_with_depends_on_its_block(trim):
    assert shape(trim, 'tool a {\n  kind comb\n  over #10\n}\ndog b {\n  last 2026-05-30\n  by "x"\n}\n') == [
        ["block_keyword", "block_name", ["field", "field"]],
        ["block_keyword", "block_name", ["field", "field"]],
    ]
    assert shape(trim, "recipe a {\n  clip legs\n\n  -- why\n  to 9 mm\n    by 19 mm comb over #30\n}\n") == [
        ["block_keyword", "block_name", ["work"]]
    ]


def test_it_reads_as_it_is_typed(trim):
    """Read again after each key, the tree is that of the whole text."""
    text = (ROOT / "grammar" / "samples" / "recipe.trim").read_bytes()
    parser = Parser(trim)
    tree = parser.parse(b"")
    lines = text.splitlines(keepends=True)
    typed = b""
    for number, line in enumerate(lines):
        old = len(typed)
        typed += line
        tree.edit(
            start_byte=old,
            old_end_byte=old,
            new_end_byte=len(typed),
            start_point=(number, 0),
            old_end_point=(number, 0),
            new_end_point=(number + 1, 0),
        )
        tree = parser.parse(typed, tree)
    assert str(tree.root_node) == str(parser.parse(text).root_node)
