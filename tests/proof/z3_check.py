"""A second opinion on `check`, by a solver: the same questions about the same choices, asked of a dog that isn't named.

The data comes from `cargo run -p coatwright-tests --example choices_json`: for each recipe its choices, each with its condition,
sites and what it does on each coat, the keeps with their bounds, and what `check` said. From it alone this program works out which
choice wins where (the rules S3 and S4 of the language review, written here a second time) and asks Z3 for a dog: a coat, a weight
on the grid of 100 g, a height, an age, a build, a sex, mats, and each finding at each site or not. So `check` looks through all
dogs one way and the solver another, and they have to agree, recipe by recipe:

* M015  two choices apply at a site, neither beats the other, and they ask for different work;
* M016  no choice applies at a site that somebody would see;
* C001 to C003  a choice wins, and what it does breaks a keep that binds every dog;
* C005  a finding that asks for an answer has none where somebody works;
* M025  a choice never wins.

Where several statements clash, which of them the program goes on with isn't settled: a message about any of them is right.
"""

import itertools
import json
import sys
import time

import z3

CODES = {"M015", "M016", "M025", "C001", "C002", "C003", "C005"}
# Messages about the text itself: `check` looks at no dog then.
BESIDE = {"C004", "C006", "C007", "J001", "J002", "K001", "K002", "M018", "M022", "O001", "O002", "O003", "U001", "U002", "U003"}
PLAIN, WHEN, GUARD = 0, 1, 2
MEASURES = ("weight", "height", "age")
# Grams, nanometres, seconds of one step of a card.
GRID = {"weight": 100, "height": 10_000_000, "age": 86_400}
# What no card has: a dog of no weight, or as old as no dog gets.
MOST = {"weight": 1_200, "height": 120, "age": 11_000}
# The gravest breach first: of what one stroke breaks only that is told.
GRAVITY = ("gap", "close", "short", "way", "tool", "passes")
CODE_OF = {"gap": "C002", "close": "C001", "short": "C001", "way": "C003", "tool": "C003", "passes": "C003"}


# ---------------------------------------------------------------------------------------------- Conditions as texts


def within(a, b):
    """Whether every value of one range lies in the other. An end is a value, and whether it is out itself."""

    def low(end):
        return (float("-inf"), False) if end is None else tuple(end)

    def high(end):
        return (float("inf"), 1) if end is None else (end[0], 0 if end[1] else 1)

    return low(a["low"]) >= low(b["low"]) and high(a["high"]) <= high(b["high"])


def ranges_apart(a, b):
    def before(x, y):
        if x["high"] is None or y["low"] is None:
            return False
        (high, high_out), (low, low_out) = x["high"], y["low"]
        return high < low or (high == low and (high_out or low_out))

    return before(a, b) or before(b, a)


def subset(a, b):
    return b is None or (a is not None and set(a) <= set(b))


def lists_apart(a, b):
    return a is not None and b is not None and not set(a) & set(b)


def implies(a, b):
    """Whether the two texts alone show that every dog of one condition is one of the other."""
    return (
        subset(a["coats"], b["coats"])
        and subset(a["builds"], b["builds"])
        and (b["sex"] is None or a["sex"] == b["sex"])
        and all(within(a[m], b[m]) for m in MEASURES)
        and (b["mats"] is None or (a["mats"] is not None and a["mats"] <= b["mats"]))
        and set(b["findings"]) <= set(a["findings"])
        and all(any(implies(n, m) for m in a["not"]) or excludes(a, n) for n in b["not"])
    )


def excludes(a, b):
    """Whether the two texts alone show that no dog is of both."""
    return (
        lists_apart(a["coats"], b["coats"])
        or lists_apart(a["builds"], b["builds"])
        or (a["sex"] is not None and b["sex"] is not None and a["sex"] != b["sex"])
        or any(ranges_apart(a[m], b[m]) for m in MEASURES)
        or any(implies(b, n) for n in a["not"])
        or any(implies(a, n) for n in b["not"])
    )


# ---------------------------------------------------------------------------------------------- Which choice wins


def beats(a, b):
    """Whether one choice wins over another wherever both apply."""
    # Answers to different findings are compared by how gentle they are.
    if a["kind"] == b["kind"] == GUARD and a["finding"] != b["finding"]:
        return False

    def throughout(x, y):
        return x["throughout"] and not y["throughout"] and x["level"] > y["level"] and x["kind"] >= y["kind"]

    def leaves(x, y):
        return x["kind"] == GUARD and x["verb"] == "leave" and y["kind"] != GUARD

    for rule in (throughout, leaves):
        if rule(a, b):
            return True
        if rule(b, a):
            return False
    mine, others = a["set"], b["set"]
    if mine <= others and a["kind"] >= b["kind"] and (mine != others or a["kind"] > b["kind"]):
        return True
    if mine != others or a["kind"] != b["kind"]:
        return False
    one, two = implies(a["cond"], b["cond"]), implies(b["cond"], a["cond"])
    return one if one != two else a["level"] > b["level"]


def gentleness(choice, coat):
    """The larger, the gentler: left, then further from the skin, then longer, then the earlier line."""
    stroke = choice["strokes"][coat]
    place = (-choice["file"], -choice["start"])
    if stroke is None:
        return (False, 0, 0, place)
    return (stroke["tool"] is None, stroke["closeness"] or 0, stroke["least"] or 0, place)


def broken(stroke, bound):
    """What a stroke breaks of a keep; none if it doesn't."""
    if stroke is None or stroke["tool"] is None:
        return None

    def named(bans, under):
        return any(
            ban.get("tool", -1) in ((stroke["tool"], stroke["over"]) if under else (stroke["tool"],))
            or ban.get("kind") == stroke["kind"]
            or ban.get("clipper", False) and stroke["clipper"]
            for ban in bans
        )

    match bound["is"]:
        case "no-closer":
            return "close" if stroke["closeness"] is not None and stroke["closeness"] < bound["than"] else None
        case "no-shorter":
            cuts = stroke["kind"] not in ("Rake", "Brush", "Carder")
            return "short" if cuts and (stroke["least"] is None or stroke["least"] < bound["than"]) else None
        case "gap":
            gap = stroke["gap"] if stroke["gap"] is not None else (3 if stroke["clipper"] else None)
            return "gap" if gap is not None and gap > bound["cap"] else None
        case "never":
            return "tool" if named(bound["any"], True) else None
        case "only":
            return None if named(bound["any"], False) else "tool"
        case "never-way":
            return "way" if stroke["way"] == bound["way"] else None
        case "only-way":
            return "way" if stroke["way"] not in (None, bound["way"]) else None
        case "passes":
            return "passes" if stroke["passes"] > bound["most"] else None
    return None


# ---------------------------------------------------------------------------------------------- A dog that isn't named


class Dog:
    """The unknowns of a dog, with all that follows from its being served."""

    def __init__(self, recipe):
        self.recipe = recipe
        self.coats = recipe["coats"]
        self.coat = z3.Int("coat")  # at the site that is asked about: elsewhere it plays no part in these rules
        self.measure = {m: z3.Int(m) for m in MEASURES}
        self.bitch = z3.Bool("bitch")
        self.mats = z3.Int("mats")
        conds = [recipe["serves"], *(c["cond"] for c in recipe["choices"]), *(k["cond"] for k in recipe["keeps"])]
        builds = {b for c in conds for d in nested(c) for b in d["builds"] or ()}
        self.builds = sorted(builds | {"square", "another"})
        self.build = z3.Int("build")
        self.has = {f["finding"]: z3.Bool(f"has {f['name']}") for f in recipe["findings"]}
        self.findings = {f["finding"]: f for f in recipe["findings"]}
        # A measure is on the card wherever some line asks for it.
        self.told = {m: any(d[m] != {"low": None, "high": None} for c in conds for d in nested(c)) for m in MEASURES}

    def served(self):
        out = [z3.Or([self.coat == n for n in range(len(self.coats))]), 0 <= self.mats, self.mats <= 4]
        out += [z3.And(1 <= self.measure[m], self.measure[m] <= MOST[m]) for m in MEASURES]
        known = [b for b in range(len(self.builds)) if self.builds[b] != "another"]
        serves = self.recipe["serves"]["builds"]
        allowed = known if serves else range(len(self.builds))
        out.append(z3.Or([self.build == b for b in allowed]))
        out.append(self.holds(self.recipe["serves"]))
        if self.told["age"]:
            for finding in self.findings.values():
                age = self.measure["age"] * GRID["age"]
                due = []
                if finding["younger"] is not None:
                    due.append(age < finding["younger"])
                if finding["older"] is not None:
                    due.append(age > finding["older"])
                if due:
                    out.append(z3.Implies(z3.And(due), self.has[finding["finding"]]))
        return out

    def holds(self, cond):
        parts = []
        if cond["coats"] is not None:
            parts.append(z3.Or([self.coat == n for n, coat in enumerate(self.coats) if coat in cond["coats"]]))
        if cond["builds"] is not None:
            parts.append(z3.Or([self.build == self.builds.index(b) for b in cond["builds"]]))
        if cond["sex"] is not None:
            parts.append(self.bitch if cond["sex"] == "bitch" else z3.Not(self.bitch))
        for name, value in self.measure.items():
            value = value * GRID[name]
            if cond[name]["low"] is not None:
                low, out = cond[name]["low"]
                parts.append(value > low if out else value >= low)
            if cond[name]["high"] is not None:
                high, out = cond[name]["high"]
                parts.append(value < high if out else value <= high)
        if cond["mats"] is not None:
            parts.append(self.mats <= cond["mats"])
        parts += [self.has[f] for f in cond["findings"]]
        parts += [z3.Not(self.has[f]) for f in cond["without"]]
        parts += [z3.Not(self.holds(n)) for n in cond["not"]]
        return z3.And(parts)


def nested(cond):
    yield cond
    for other in cond["not"]:
        yield from nested(other)


class Site:
    """One site of the dog, with what applies there."""

    def __init__(self, dog, site, choices, keeps):
        self.dog, self.site, self.choices, self.keeps = dog, site, choices, keeps
        # Each finding that has no place of its own is here or not, and across or not.
        self.facts = {}
        for number, finding in dog.findings.items():
            if finding["on"] == "card":
                self.facts[number] = (z3.Bool(f"{finding['name']} here"), z3.Bool(f"{finding['name']} across"))
        self.active = [z3.And(dog.holds(c["cond"]), self.meant(c["finding"])) for c in choices]
        over = [[beats(a, b) for b in choices] for a in choices]
        self.unbeaten = []
        for n, choice in enumerate(choices):
            rivals = [m for m in range(len(choices)) if over[m][n] and choices[m]["rough"] == choice["rough"]]
            self.unbeaten.append(z3.And(self.active[n], *(z3.Not(self.active[m]) for m in rivals)))

    def given(self):
        """What ties the findings of the site to those of the dog."""
        out = []
        for number, (here, across) in self.facts.items():
            out.append(z3.Implies(z3.Or(here, across), self.dog.has[number]))
            if self.site["across"] is None:
                out.append(z3.Not(across))
        if self.site["sex"] is not None:
            out.append(self.dog.bitch if self.site["sex"] == "bitch" else z3.Not(self.dog.bitch))
        return out

    def meant(self, number):
        """Whether a guard for a finding is meant here: floors and answers hold on both sides, unless the finding keeps to one."""
        if number is None:
            return z3.BoolVal(True)
        if number not in self.facts:
            return self.dog.has[number]
        here, across = self.facts[number]
        return here if self.dog.findings[number]["one_side"] else z3.Or(here, across)

    def fact(self, number):
        """Whether the card puts a finding right here."""
        if number in self.facts:
            return self.facts[number][0]
        return self.dog.has[number] if self.site["site"] in self.dog.findings[number]["sites"] else z3.BoolVal(False)

    def binds(self, keep):
        sex = keep["sex"]
        fits = z3.BoolVal(True) if sex is None else (self.dog.bitch if sex == "bitch" else z3.Not(self.dog.bitch))
        return z3.And(fits, self.dog.holds(keep["cond"]), self.meant(keep["finding"]))

    def untouched(self):
        out = [self.binds(k) for k in self.keeps if k["bound"]["is"] == "untouched"]
        for number, finding in self.dog.findings.items():
            for where in finding["untouched"]:
                if where is None:
                    out.append(self.fact(number))
                elif self.site["site"] in where:
                    out.append(self.dog.has[number])
        return z3.Or(out)

    def wins(self, n):
        """The choice counts here, and nothing clashes with it."""
        choice = self.choices[n]
        out = [self.unbeaten[n]]
        for m, other in enumerate(self.choices):
            if m == n or other["rough"] != choice["rough"]:
                continue
            if choice["kind"] == other["kind"] == GUARD:
                coats = range(len(self.dog.coats))
                gentler = [c for c in coats if gentleness(choice, c) > gentleness(other, c)]
                out.append(z3.Or(z3.Not(self.unbeaten[m]), *(self.dog.coat == c for c in gentler)))
            elif choice["ask"] == other["ask"]:
                # The same work twice: the first of them is named.
                if m < n:
                    out.append(z3.Not(self.unbeaten[m]))
            else:
                out.append(z3.Not(self.unbeaten[m]))
        return z3.And(out)

    def none(self, rough):
        return z3.And([z3.Not(a) for a, c in zip(self.active, self.choices) if c["rough"] == rough])

    def pairs(self, won):
        """What both passes come to: the main choice, the rough pass under it, and when."""
        fine = [n for n, c in enumerate(self.choices) if not c["rough"]]
        rough = [n for n, c in enumerate(self.choices) if c["rough"]]
        for f, r in itertools.product([*fine, None], [*rough, None]):
            if f is None and r is None:
                continue
            when = z3.And(
                won(f) if f is not None else self.none(False),
                won(r) if r is not None else self.none(True),
            )
            if f is None:
                yield r, None, when
            elif r is None:
                yield f, None, when
            else:
                a, b = self.choices[f], self.choices[r]
                nearer = b["kind"] >= a["kind"] and (b["level"] > a["level"] or b["set"] < a["set"])
                yield (f, r, when) if a["refines"] else ((r, None, when) if nearer else (f, None, when))


# ---------------------------------------------------------------------------------------------- The questions


def questions(place):
    """All questions about a site: code, line, whether a message must be there (or only may be), and the formula."""
    site, dog, choices = place.site, place.dog, place.choices
    touched = z3.Not(place.untouched())
    for n, m in itertools.combinations(range(len(choices)), 2):
        a, b = choices[n], choices[m]
        if a["rough"] == b["rough"] and a["ask"] != b["ask"] and not a["kind"] == b["kind"] == GUARD:
            both = z3.And(place.unbeaten[n], place.unbeaten[m])
            later = max((a, b), key=lambda c: (c["file"], c["start"]))
            rest = [
                z3.Not(place.unbeaten[x])
                for x in range(len(choices))
                if x not in (n, m) and choices[x]["rough"] == a["rough"]
            ]
            yield "M015", later["line"], True, z3.And(both, *rest)
            yield "M015", later["line"], False, both
    # An answer is named beside another where a finer line clashes with both.
    for n, m in itertools.combinations(range(len(choices)), 2):
        if choices[n]["kind"] == choices[m]["kind"] == GUARD and choices[n]["ask"] != choices[m]["ask"]:
            later = max((choices[n], choices[m]), key=lambda c: (c["file"], c["start"]))
            plain = z3.Or([u for u, c in zip(place.unbeaten, choices) if c["kind"] != GUARD])
            yield "M015", later["line"], False, z3.And(place.unbeaten[n], place.unbeaten[m], plain)
    if not site["hidden"]:
        yield "M016", dog.recipe["place"], True, z3.And(place.none(True), place.none(False), touched)
    for sure, won in ((True, place.wins), (False, lambda n: place.unbeaten[n])):
        for main, rough, when in place.pairs(won):
            yield from worked(place, main, rough, when, touched, sure)


def worked(place, main, rough, when, touched, sure):
    choice, dog = place.choices[main], place.dog
    yield "set", choice["line"], sure, when
    if rough is not None:
        yield "set", place.choices[rough]["line"], sure, when
    for number, finding in dog.findings.items():
        if not finding["answer"] or choice["verb"] == "leave" or choice["finding"] == number:
            continue
        # An answer for other dogs than this one is none, nor is a keep on the shape or the manner of work.
        answers = [a for a, c in zip(place.active, place.choices) if c["finding"] == number]
        answers += [place.binds(k) for k in place.keeps if k["finding"] == number and k["bound"]["is"] != "shape"]
        yield "C005", dog.recipe["place"], sure, z3.And(when, place.fact(number), z3.Not(z3.Or(answers)))
    under = place.choices[rough] if rough is not None else None
    for coat in range(len(dog.coats)):
        fine = choice["strokes"][coat]
        if under is not None:
            fine = choice["after"].get(str(under["number"]), choice["strokes"])[coat]
        if fine is None or fine["tool"] is None:
            continue
        set_in = under["strokes"][coat] if under is not None else None
        here = z3.And(when, touched, dog.coat == coat)
        if fine["kind"] == "Shears" and None not in (fine["safe"], fine["closeness"]) and fine["closeness"] < fine["safe"]:
            yield "C001", choice["tool_line"], sure, here
        breaks = []
        for keep in place.keeps:
            if keep["finding"] is None:
                by_fine, by_rough = broken(fine, keep["bound"]), broken(set_in, keep["bound"])
                if by_fine or by_rough:
                    line = choice["tool_line"] if by_fine else under["tool_line"]
                    breaks.append((GRAVITY.index(by_fine or by_rough), line, place.binds(keep)))
        for grave, line, binds in breaks:
            graver = [z3.Not(b) for g, _, b in breaks if g < grave]
            beside = [z3.Not(b) for g, l, b in breaks if g == grave and l != line]
            code = CODE_OF[GRAVITY[grave]]
            yield code, line, sure, z3.And(here, binds, *graver, *beside)
            yield code, line, False, z3.And(here, binds, *graver)


def opinion(recipe):
    """What must be told and what may be, and the lines that set something."""
    choices = [dict(c, number=n, set=frozenset(c["sites"])) for n, c in enumerate(recipe["choices"])]
    dog = Dog(recipe)
    base = z3.Solver()
    base.add(dog.served())
    must, may = set(), set()
    seen = set()
    for site in recipe["sites"]:
        here = [c for c in choices if site["site"] in c["set"]]
        keeps = [k for k in recipe["keeps"] if site["site"] in k["sites"]]
        fixed = tuple(
            (n, site["site"] in f["sites"], tuple(w is None or site["site"] in w for w in f["untouched"]))
            for n, f in dog.findings.items()
        )
        # Sites at which the same lines speak, of the same bounds, have the same answers.
        alike = (
            tuple(c["number"] for c in here),
            json.dumps([{k: v for k, v in keep.items() if k != "sites"} for keep in keeps]),
            fixed,
            site["across"] is None,
            site["sex"],
            site["hidden"],
        )
        if alike in seen:
            continue
        seen.add(alike)
        place = Site(dog, site, here, keeps)
        base.push()
        base.add(place.given())
        for code, line, sure, formula in questions(place):
            known = must if sure else may
            if (code, line) in known or (not sure and (code, line) in must):
                continue
            base.push()
            base.add(formula)
            if base.check() == z3.sat:
                known.add((code, line))
            base.pop()
        base.pop()
    return must, may | must


def refuses(message):
    """Whether a dog that it is about gets no sheet. A house's own finding without an answer only warns of its recipe (decision
    0050), and a dog that has it is refused all the same."""
    return message["error"] or message["code"] == "C005"


def compare(recipe):
    """The differences between `check` and the solver."""
    said = {(m["code"], m["line"]) for m in recipe["said"] if m["code"] in CODES and (refuses(m) or m["code"] == "M025")}
    if any(m["code"] not in CODES | BESIDE for m in recipe["said"]):
        return None
    must, may = opinion(recipe)
    wrong = [f"silent: {c} at {line}" for c, line in sorted(must - said) if c != "set"]
    wrong += [f"untrue: {c} at {line}" for c, line in sorted(said - may) if c != "M025"]
    wrong += [f"untrue: M025 at {line}" for c, line in sorted(said) if c == "M025" and ("set", line) in must]
    if not any(refuses(m) for m in recipe["said"]):
        own = {c["line"] for c in recipe["choices"] if c["level"] == 1_000_000 and c["sites"]}
        idle = {line for line in own if ("set", line) not in may}
        wrong += [f"silent: M025 at {line}" for line in sorted(idle) if ("M025", line) not in said]
    return wrong


def main():
    recipes = json.load(sys.stdin)
    began, failed, passed_over, told = time.monotonic(), 0, 0, {}
    for recipe in recipes:
        wrong = compare(recipe)
        if wrong is None:
            passed_over += 1
            continue
        for message in recipe["said"]:
            told[message["code"]] = told.get(message["code"], 0) + 1
        if wrong:
            failed += 1
            print(f"{recipe['name']}: check and the solver differ", *wrong, sep="\n  ")
            if recipe["text"]:
                print(recipe["text"])
    asked = len(recipes) - passed_over
    print(f"proof: {asked} recipes, {failed} differ, {passed_over} passed over, {time.monotonic() - began:.0f} s; told: {told}")
    # Enough was asked, and of every rule: otherwise agreeing proves nothing.
    if asked < 40 or not {"M015", "M016", "C001", "C002", "C003", "C005"} <= set(told):
        sys.exit("proof: too little was asked")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
