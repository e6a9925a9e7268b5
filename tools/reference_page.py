"""Write docs/reference.md from the table of records: every key of every file, and every part kind.

python tools/reference_page.py            write the page
python tools/reference_page.py --check    exit 1 when the page is not what the table says
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from derate.design.blocks import DesignFile, Mounting, Rated
from derate.design.circuit import Circuit, circuits
from derate.design.kinds import KIND_WORDS, KINDS, figures_of, possible
from derate.design.library_file import LibraryFile
from derate.design.plain_forms import Block, Each, ListOf, OrNone
from derate.design.record import Field, Form, Record
from derate.design.settings import SettingsFile
from derate.report.schemas import OF_ASSUMPTION, OF_PACK, OF_RULE, OF_SOURCE, OF_TABLE, pack_schema
from derate.terms.instructions import beside, does_of
from derate.terms.vocabulary import VOCABULARY

PAGE = Path(__file__).parents[1] / "docs" / "reference.md"
HEAD = """# Every key

Written from the table that the reader itself uses (`tools/reference_page.py`); `docs/format.md` explains the file and
shows it whole. A value is one line with its unit and, in a bracket at its end, how it is known. SI units are named
here; any usual one of the same kind may be typed. `NAME` stands for a name of your own.
"""


def page() -> str:
    """The text of the page."""
    parts = [HEAD, *_sections(), _kinds(), _library(), _settings(), *_pack()]
    return "\n".join(parts)


def _sections() -> Iterator[str]:
    done: set[type[Record]] = set()
    yield from _section("The design file", "", DesignFile, done)


def _section(title: str, path: str, record: type[Record], done: set[type[Record]]) -> Iterator[str]:
    if record in done:
        return
    done.add(record)
    own = {key: (field, "") for key, field in record.fields.items()}
    if issubclass(record, Circuit):
        record = Circuit
        own = {key: (field, "") for key, field in Circuit.fields.items()}
        for topology, other in circuits().items():
            for key, field in other.fields.items():
                if key not in Circuit.fields:
                    first, named = own.get(key, (field, ""))
                    own[key] = (first, f"{named}, {topology}".lstrip(", "))
    head = f"## {title}" + (f" (`{path}`)" if path else "")
    about = (record.__doc__ or "").strip().split("\n")[0]
    columns = ["| key | what it is | unit or words | how a person gets it | example |", "|---|---|---|---|---|"]
    yield "\n".join([head, "", about, "", *columns, *(_row(key, *one) for key, one in own.items()), ""])
    for key, (field, _) in own.items():
        inner, under = _inner(field.form)
        if inner is not None:
            at = f"{path}.{key}{under}".lstrip(".")
            yield from _section("Circuit" if issubclass(inner, Circuit) else _title(inner), at, inner, done)


def _inner(form: Form) -> tuple[type[Record] | None, str]:
    under = ""
    while isinstance(form, Each | OrNone | ListOf):
        under += ".NAME" if isinstance(form, Each) else ""
        form = form.form
    return (form.record, under) if isinstance(form, Block) else (None, "")


def _title(record: type[Record]) -> str:
    name = record.__name__.removesuffix("Block").removesuffix("File")
    words = "".join(f" {one.lower()}" if one.isupper() else one for one in name).strip()
    return words[0].upper() + words[1:]


def _row(key: str, field: Field, topology: str) -> str:
    needed = " (has to be there)" if field.needed else f" ({topology})" if topology else ""
    example = f"`{field.example}`" if field.example else ""
    cells = [f"`{key}`{needed}", field.says, field.form.written(), beside(field.how, does_of(field.how)), example]
    return "| " + " | ".join(_cell(one) for one in cells) + " |"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _kinds() -> str:
    rows = []
    for word in KIND_WORDS:
        kinds = possible(word)
        meant = "itself" if kinds == (word,) else f"one of: {', '.join(kinds)}"
        families = ", ".join(dict.fromkeys(KINDS[kind] for kind in kinds))
        meanings = figures_of(kinds).items()
        figures = ", ".join(f"{dimension.symbol}: {VOCABULARY[fact].says}" for dimension, fact in meanings)
        rows.append(f"| {word} | {families} | {meant} | {figures or 'none: write it as a block'} |")
    head = [
        "## Part kinds",
        "",
        "A part is its kind and its figures, as a block or on one line (`film resistor 0.82 ohm 1% 1 W`)",
        "where a figure is told apart by its unit.",
        "",
        "| kind | family | means | figures on one line |",
        "|---|---|---|---|",
    ]
    return "\n".join([*head, *rows, ""])


def _library() -> str:
    """The keys of a library of parts; an entry has those of a part besides."""
    told: set[type[Record]] = {Rated, Mounting}  # which stand above
    return "\n".join(_section("A library of parts", "*.parts.yaml", LibraryFile, told))


def _settings() -> str:
    return "\n".join(_section("The settings of a repository", ".derate.yaml", SettingsFile, set()))


def _pack() -> Iterator[str]:
    """The keys of a rule pack, from what its published schema is made of."""
    schema = pack_schema()
    table, rule = schema["properties"]["tables"]["additionalProperties"], schema["properties"]["rules"]["items"]
    assumption = schema["properties"]["assumptions"]["additionalProperties"]
    for title, about, told, shapes in (
        ("A rule pack", "`docs/write-your-own-pack.md` shows how one is written.", OF_PACK, schema["properties"]),
        ("A rule of a pack", "Exactly one of the shapes from `keep` to `record`.", OF_RULE, rule["properties"]),
        ("A table of a pack", "An axis is a list, or a block of its own.", OF_TABLE, table["properties"]),
        ("An assumption of a pack", "", OF_ASSUMPTION, assumption["properties"]),
        ("A source of a pack", "One line, or a block.", OF_SOURCE, {}),
    ):
        rows = []
        for key, (says, example) in told.items():
            words = ", ".join(map(str, _words(shapes.get(key, {}))))
            rows.append(f"| `{key}` | {_cell(says)} | {_cell(words)} | `{_cell(example)}` |")
        head = [f"## {title}", "", *([about, ""] if about else []), "| key | what it is | words | example |"]
        yield "\n".join([*head, "|---|---|---|---|", *rows, ""])


def _words(shape: dict[str, Any]) -> list[Any]:
    found = [word for word in shape.get("enum", []) if word != ""]
    for inner in (*shape.get("anyOf", []), *([shape["items"]] if "items" in shape else [])):
        found += [word for word in _words(inner) if word not in found]
    return found


def main() -> int:
    """Write or check."""
    text = page()
    if "--check" in sys.argv[1:]:
        return 0 if PAGE.read_text(encoding="utf-8") == text else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
