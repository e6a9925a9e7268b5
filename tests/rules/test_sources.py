"""A source is a document with its year and place, or it says that there is none; no maker and no web host is named.

Walked are every rule, table and assumption that is shipped, every `Model` that names a source, and every line of code
that begins with "Source". The test looks at words, since a source is for a reader; no verdict hangs on them.
"""

from __future__ import annotations

import ast
import hashlib
import itertools
import re
import tokenize
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from instruction_texts import PACKS, ROOT

from derate.packs.load import load_packs
from derate.terms.words import CONFIDENCES

OWN = (
    "common practice, no source",
    "own derivation",
    "own allowance",
    "definition of",
    "rules of evidence of this project",
)
YEAR = re.compile(r"\b(?:18|19|20)\d\d\b|undated|\b[A-Z]+\d+[A-Z]\b|\brev\.? ?\w|-\d\d\b|\bedition \d|\b\d{8} 001\b")
PLACE = re.compile(
    r"\b(?:tables?|eq|chart|section|annex|part|notes?|step|slide|abstract|sheets?|rows?|page|clause)\b"
    r"|\bp\d|\b(?:[A-Z]\.)?\d+(?:\.\d+)+|\b[A-Z]\.\d"
)
NOTICE = re.compile(r"\b(?:recall|alert|notice|safety report|surveillance|test of)\b")
VAGUE = re.compile(
    r"\bmakers?\b|\bmanufacturers?\b|\bliterature\b|\btypical(?:ly)?\b|\btrade\b|\btext-?books?\b|\bforum\b|\bblog\b"
    r"|\bweb\b|\ba (?:design )?note\b|\bnotes page\b|\bexperts?\b|\bvarious\b|\bwell known\b|\ba hand ?book\b",
    re.IGNORECASE,
)
HOST = re.compile(
    r"https?:|\bwww\.|\b[a-z][a-z0-9-]*(?:\.[a-z0-9-]+)*\.(?:com|org|net|edu|gov|info|io|eu|uk|de|fr|se|dk|nl|cn|jp|ru)\b",
    re.IGNORECASE,
)


def wrong(source: str, confidence: str) -> str:
    """What a source lacks, in words; '' when it is one."""
    found = VAGUE.search(source) or HOST.search(source)
    if found:
        return f"says '{found.group()}', which nobody can look up"
    own = source.startswith(OWN)
    if own and confidence in ("published", "one source"):
        return f"names no document and is called {confidence}"
    if own or confidence == "remembered":  # what was not opened has no page
        return ""
    if not YEAR.search(source):
        return "has no year or edition"
    if not PLACE.search(source) and not NOTICE.search(source):
        return "has no equation, table, clause or page"
    return ""


def of_packs() -> Iterator[tuple[str, str, str]]:
    """Where, source and best confidence of every rule, table and assumption."""
    for name in PACKS:
        packs = load_packs((name,))
        for rule in packs.rules:
            yield f"{name}: {rule.name}", rule.source, rule.confidence
        for table in packs.tables.values():
            best = min((cell.confidence for cell in table.cells.values()), key=CONFIDENCES.index)
            yield f"{name}: {table.name}", table.source, best
        for assumption in packs.assumptions.values():
            yield f"{name}: {assumption.name}", assumption.source, assumption.confidence


def test_every_source_of_a_pack_can_be_looked_up_or_says_that_there_is_none() -> None:
    walked = {where: (source, sure) for where, source, sure in of_packs()}
    assert len(walked) > 400
    found = {where: f"{wrong(*one)}: {one[0]}" for where, one in walked.items() if wrong(*one)}
    assert not found, found


@pytest.mark.parametrize(
    ("source", "confidence", "says"),
    [
        ("a converter maker's note, three times the output current", "one source", "maker"),
        ("the literature", "one source", "literature"),
        ("typical values", "common practice", "typical"),
        ("checklist of the trade", "common practice", "trade"),
        ("text-book", "published", "text-book"),
        ("somewhere.com/page (2019) p3", "one source", "somewhere.com"),
        ("http:something (2019) p3", "one source", "http"),
        ("common practice, no source", "published", "names no document"),
        ("own derivation", "one source", "names no document"),
        ("AN-4137 eq 20", "one source", "no year"),
        ("EEE-INST-002 (May 2003)", "one source", "no equation"),
        ("", "common practice", "no year"),
    ],
)
def test_vague_sources_are_seen(source: str, confidence: str, says: str) -> None:
    assert says in wrong(source, confidence)


@pytest.mark.parametrize(
    ("source", "confidence"),
    [
        ("AN-4137 (2004) eq 20", "one source"),
        ("EEE-INST-002 (May 2003) S1 table 4", "published"),
        ("IEC 62368-1:2018 5.5.2.2", "published"),
        ("IEC 60384-14, impulse tests of the classes", "remembered"),
        ("common practice, no source", "common practice"),
        ("Swedish recall of LED lamps (2013)", "one source"),
    ],
)
def test_sources_that_can_be_looked_up_pass(source: str, confidence: str) -> None:
    assert wrong(source, confidence) == ""


# ---- the code


OUTPUTS = {"expected", "node_modules"}


@cache
def files() -> tuple[Path, ...]:
    """Every file that ships or is read by a person, but not what the tool printed."""
    found = [
        path
        for top in ("derate", "rules", "docs", "tools", "designs", "tests")
        for path in sorted((ROOT / top).rglob("*"))
    ]
    found += [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md"]
    found = [
        path
        for path in found
        if path.suffix in (".py", ".yaml", ".json", ".md", ".html", ".css") and not OUTPUTS & {*path.parts}
    ]
    assert len(found) > 200
    return tuple(found)


@cache
def sources_of_code() -> tuple[tuple[str, str], ...]:
    """All of them; read once."""
    return tuple(_sources_of_code())


def _sources_of_code() -> Iterator[tuple[str, str]]:
    """Where and text of each source in the code: `Model.of(name, formula, source…)`, `source="…"`, "Source: …"."""
    for path in sorted((ROOT / "derate").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        where = path.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call):
                named = [one.value for one in node.keywords if one.arg == "source"]
                if isinstance(node.func, ast.Attribute) and node.func.attr == "of" and len(node.args) > 2:
                    named.append(node.args[2])
                for one in named:
                    if isinstance(one, ast.Constant) and isinstance(one.value, str):
                        yield f"{where}:{one.lineno}", one.value
        lines = text.split("\n")
        for number, line in enumerate(lines):
            found = re.search(r"\bSources?: (.*)", line)
            if found:
                rest = itertools.takewhile(lambda one: one.strip(" #") and '"""' not in one, lines[number + 1 :])
                yield f"{where}:{number + 1}", " ".join((found.group(1), *(one.strip(" #") for one in rest)))


# What a source of code may say of its own document: the data sheet of the part that is judged is what somebody read.
OF_THE_PART = re.compile(r"\bits maker\b")


def test_every_source_in_the_code_can_be_looked_up() -> None:
    sources = sources_of_code()
    assert len(sources) > 150
    found = {where: text for where, text in sources if VAGUE.search(OF_THE_PART.sub("", text)) or HOST.search(text)}
    assert not found, found


def test_a_document_in_the_code_has_its_year_or_edition() -> None:
    """An application note that stands as the source of a row, which a reader sees without the rest of the module."""
    notes = re.compile(r"\b(?:AN-?\d+|EEE-INST|SLU\w+|ECSS\S+)\b")
    sources = [(where, text) for where, text in sources_of_code() if notes.search(text)]
    assert len(sources) > 8
    missing = {where: text for where, text in sources if not YEAR.search(notes.sub("", text)) and "step 20" not in text}
    assert not missing, missing


# ---- makers and hosts

# A maker is named nowhere in what ships. The names stand here as digests, so that this list names nobody either.
_DIGESTS = """
03a8f0dd8edb 066239ab40a6 07f189c205cb 0bb312d38850 0c44be9f7948 138659419e11 1abf56717ac0 1d4c753e58ed
1eced32907b0 2050c3791bcc 209cf6b30b40 2274aa4224c6 2880163bb63c 2e380a9b0274 2f77309c2f30 30292ee0e6ec
30e363d3e8c5 342046fb057b 35095b52af74 373ac021a2c0 3af02c62ffe1 3c64fe4c5a03 3f4551353320 3f71c5990be6
42911ee65a86 46c759e87193 4a2e5d1a702c 4b205b1aadb8 4bb9d37aff53 4cc20b0a9f3d 5186015e19b5 54140dd51cba
574aa55ab844 5882c4effae8 5c2fdb726b83 5fb8d0568ca9 64acaf7e4427 699949a69f87 69d659d57213 6e4857554b56
75885c6d0628 7625d82f1909 7d021c3d6026 7d0db8d78731 7da21ff434e5 86548c626c4d 8e2158e6597c 91f1863811aa
93378447ced0 968e2d5b0868 98e929c33151 9cef50437a5f a64bae40908c a7ba82826028 a7f0f4e06bc5 b057fbfc2fad
b4f82616237d b6469853d522 bc236a8abd26 c0258bd4cc16 c2ecb55dc1d4 c6e8baca12b9 c94441e9f70e cb4fc6644660
cc6e872950c9 cef02a81c0e8 cf64e5cd5863 d08f6b3e84a2 d27259ee86ca d68b3dfdc734 d7de65a00874 d8db1708af80
daf79813ecfb dd4cb9cf52f0 dfd24b9e276b e320ed6db43c e35e5f84c0cb e554f8d4f566 e7f280ddd6a4 ea76e02f8a08
eb18bae81c6b f3d1fe0d1399 f6f3437f1cb9 f746397a4ad8 f839bd2a2788 fb189723cdac feed58daa315
"""
MAKERS = frozenset(_DIGESTS.split())
# Identifiers that a format asks for, word for word, and the address that stands for any in an example.
IDENTIFIERS = (
    "https://json-schema.org/draft/2020-12/schema",
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
    "http://www.w3.org/2000/svg",
    "https://example.org/derate",
)


FSTRING = getattr(tokenize, "FSTRING_MIDDLE", tokenize.STRING)


def digest(word: str) -> str:
    """A word of a text as it stands in the list."""
    return hashlib.sha256(word.lower().encode()).hexdigest()[:12]


def test_no_maker_is_named_in_what_ships() -> None:
    words: dict[str, str] = {}
    for path in files():
        for word in set(re.findall(r"[A-Za-z][A-Za-z-]{2,}", path.read_text(encoding="utf-8"))):
            words.setdefault(word.lower(), path.name)
    named = {word: where for word, where in words.items() if digest(word) in MAKERS}
    assert not named, named


def test_the_list_of_makers_sees_one() -> None:
    assert len(MAKERS) > 40
    assert digest("nobody-has-this-name") not in MAKERS


def test_no_web_host_stands_in_the_code() -> None:
    found = {}
    for path in files():
        if "tests" not in path.relative_to(ROOT).parts and (path.suffix == ".py" or path.parent.name == "rules"):
            text = path.read_text(encoding="utf-8")
            if not HOST.search(text):
                continue
            if path.suffix == ".py":  # what is written, not what is called
                words = (tokenize.COMMENT, tokenize.STRING, FSTRING)
                with path.open("rb") as file:
                    text = "\n".join(one.string for one in tokenize.tokenize(file.readline) if one.type in words)
            for one in IDENTIFIERS:
                text = text.replace(one, "")
            hosts = [one.group() for one in HOST.finditer(text)]
            if hosts:
                found[path.name] = hosts
    assert not found, found
