"""How quickly text is laid out: `coatwright fmt` beside `tombi format` and `ruff format`, each on one core and in one run.

    cargo build --release --workspace
    .venv/bin/python -m pip install -r tests/benches/requirements.txt
    .venv/bin/python tests/benches/layout.py [BYTES]      a million bytes, if nothing is said

COATWRIGHT names another compiler than `target/release/coatwright`. Linux only: one core is given by `sched_setaffinity`.

Each formatter reads a text of its own language and of that size from standard input, out of layout line by line, and writes it to
standard output; they take turns. The time of a text of one block is taken off, so that starting the program isn't counted. What
`coatwright fmt` writes it has read again and compared, comment by comment, before it is written. The exit code is 1 if a
formatter refuses, or leaves the text as it was.
"""

import os
import re
import shutil
import statistics
import subprocess
import sys
import time

from editor import ROOT, hint, peer, python, recipes, toml

ROUNDS = 7
ASKED = 4.0


def found(name):
    path = peer(name)
    if path is None:
        sys.exit(f"tests/benches: {name} isn't there; get it with: {hint()}")
    return path


def unlaid(text):
    """The same text with blanks that no layout has."""
    lines = []
    for number, line in enumerate(text.split("\n")):
        body = line.lstrip(" ")
        indent = len(line) - len(body)
        # Python's indentation means something; blanks inside a line mean nothing anywhere, but for those in quotes.
        pieces = re.split(r'("[^"]*")', body)
        pieces[::2] = [re.sub(r"(?<=[\w,=:]) +(?=[\w\[{#=])", "   ", piece) for piece in pieces[::2]] if number % 2 else pieces[::2]
        lines.append(" " * indent + "".join(pieces))
    return "\n".join(lines)


def sound(size):
    """The recipes of the editor's bench, without the slips of somebody who is writing."""
    return recipes(size).replace("  leaf     lashes", "  leave    lashes")


def took(command, text):
    start = time.perf_counter()
    done = subprocess.run(command, input=text, capture_output=True, preexec_fn=lambda: os.sched_setaffinity(0, {0}))
    took = time.perf_counter() - start
    if done.returncode != 0:
        sys.exit(f"tests/benches: {command[0]} refuses: {done.stderr.decode()[:500]}")
    return took, done.stdout


def main():
    size = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    ours = os.environ.get("COATWRIGHT") or str(ROOT / "target" / "release" / "coatwright")
    if shutil.which(ours) is None:
        sys.exit("tests/benches: coatwright isn't there; get it with: cargo build --release --workspace")
    formatters = {
        "coatwright": ([ours, "fmt", "-"], sound),
        "tombi": ([found("tombi"), "format", "--offline", "--quiet", "-"], toml),
        "ruff": ([found("ruff"), "format", "--no-cache", "--isolated", "--stdin-filename", "bench.py", "-"], python),
    }
    texts = {}
    for name, (_, make) in formatters.items():
        texts[name] = [unlaid(make(bytes)).encode() for bytes in (1, size)]
    times = {name: ([], []) for name in formatters}
    for _ in range(ROUNDS):
        for name, (command, _) in formatters.items():
            for text, all_times in zip(texts[name], times[name]):
                one, out = took(command, text)
                if out == text:
                    sys.exit(f"tests/benches: {name} left the text as it was")
                all_times.append(one)
    speeds = {}
    print(f"{'':12}{'MB/s':>8}  median of {ROUNDS}, one core, {size / 1e6:g} MB")
    for name, (little, much) in times.items():
        bytes = len(texts[name][1]) - len(texts[name][0])
        speeds[name] = bytes / 1e6 / (statistics.median(much) - statistics.median(little))
        print(f"{name:12}{speeds[name]:8.2f}")
    met = "met" if speeds["coatwright"] >= ASKED else "missed"
    print(f"asked {ASKED:g} MB/s: {met}; {speeds['coatwright'] / speeds['tombi']:.1f} times tombi, {speeds['coatwright'] / speeds['ruff']:.1f} times ruff")


if __name__ == "__main__":
    main()
