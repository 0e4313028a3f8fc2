"""Writes the corpus as other hands would have typed it: `variants.py TOKENS FOLDER`.

Other line ends, tabs, capitals, lines broken before a preposition or behind a comma, comments in between. The words stay
the same, so the real parser should mostly read them, too; what it doesn't is left out by the tests. The blocks of the pages
in docs/ are written as they stand.
"""

import json
import random
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# What is taken over as it stands: comments, texts, prose and sources.
KEPT = {"comment", "string", "prose", "note"}


def pieces(text, kept):
    """The text cut into what is kept and what may change."""
    at = 0
    for start, end in sorted(kept):
        if start >= at:
            yield text[at:start].decode(), False
            yield text[start:end].decode(), True
            at = end
    yield text[at:].decode(), False


def vary(text, kept, chance):
    prose = b"about\n" in text
    comments = 0

    def broken(match):
        nonlocal comments
        if chance.random() > 0.3:
            return match[0]
        comments += 1
        between = chance.choice(["\n        ", "  -- why; {so}\n\t\t\t", "\n\n        ", "  — a dash\n        -- and more\n        "])
        return (match[1] or "") + between + match[2]

    out = []
    for piece, same in pieces(text, kept):
        if not same:
            piece = re.sub(r"(?i)()\s(to|with|over|by|at|into|except|from)(?=\s)(?! *\n)", broken, piece) if chance.random() < 0.5 else piece
            piece = re.sub(r"(,)[ ](\w)", broken, piece) if chance.random() < 0.3 else piece
            if chance.random() < 0.3:
                piece = re.sub(r"[^\W\d_]+", lambda w: w[0].upper() if chance.random() < 0.3 else w[0], piece)
        out.append(piece)
    varied = "".join(out)
    if not prose and chance.random() < 0.4:
        varied = varied.replace("  ", "\t")
    if chance.random() < 0.3:
        varied = varied.replace("\n", "\r\n")
    if chance.random() < 0.2:
        varied = "\ufeff" + varied
    return varied


def main(tokens, folder):
    chance = random.Random(7)
    folder.mkdir(parents=True, exist_ok=True)
    files = {}
    for line in map(json.loads, tokens.read_text(encoding="utf-8").splitlines()):
        if "file" in line:
            kept = files.setdefault(line["file"], [])
        elif line["kind"] in KEPT:
            kept.append((line["start"], line["end"]))
    for file, kept in files.items():
        text = (ROOT / file).read_bytes()
        for n in range(3):
            name = f"{Path(file).parent.name}-{Path(file).stem}-{n}.trim"
            (folder / name).write_bytes(vary(text, kept, chance).encode())
    for page in sorted((ROOT / "docs").rglob("*.md")):
        for n, block in enumerate(re.findall(r"^```trim[^\n]*\n(.*?)^```", page.read_text(encoding="utf-8"), re.M | re.S)):
            (folder / f"docs-{page.stem}-{n}.trim").write_text(block, encoding="utf-8")


main(Path(sys.argv[1]), Path(sys.argv[2]))
