"""The schemas laid down in a repository, and the settings by which an editor holds files to them."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from typing import Any

from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import repository_of, write_whole

FOLDER = ".derate-schema"
SETTINGS = os.path.join(".vscode", "settings.json")
# schema -> files that are held to it; a pack has a name of its own and says so in its first line
FILES = {"design": ["*.derate.yaml"], "settings": [".derate.yaml"], "pack": []}
_KEY = "yaml.schemas"


def install(folder: str, texts: Mapping[str, str]) -> tuple[str, ...]:
    """Write the schemas and the settings of the repository of a folder; every file that was written.

    texts: the schema of each kind. Settings that stand there are kept; raises ReadingError where they cannot be read.
    """
    root = repository_of(folder) or os.path.abspath(folder)
    path = os.path.join(root, SETTINGS)
    settings = _settings(path)
    known = settings.get(_KEY, {})
    if not isinstance(known, dict):
        raise _refused(path, f"'{_KEY}' is no block of schemas", "make it {} or take it out")
    known |= {f"./{FOLDER}/{kind}.json": files for kind, files in FILES.items() if files}
    settings[_KEY] = known
    written = []
    for name in (FOLDER, ".vscode"):
        os.makedirs(os.path.join(root, name), exist_ok=True)
    for kind in FILES:
        written.append(os.path.join(root, FOLDER, f"{kind}.json"))
        write_whole(written[-1], texts[kind])
    write_whole(path, json.dumps(settings, indent=2, ensure_ascii=False) + "\n")
    return (*written, path)


def first_line(path: str) -> str:
    """The line that leads an editor to the schema of a design, '' where none is laid down in its repository."""
    home = os.path.dirname(os.path.abspath(path))
    schema = os.path.join(repository_of(home) or home, FOLDER, "design.json")
    if not os.path.isfile(schema):
        return ""
    return f"# yaml-language-server: $schema={os.path.relpath(schema, home).replace(os.sep, '/')}\n"


def _settings(path: str) -> dict[str, Any]:
    try:
        with open(path, encoding="utf-8") as file:
            found = json.load(file)
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        told = "; ".join(f'"./{FOLDER}/{kind}.json": {json.dumps(files)}' for kind, files in _mapped())
        why = error.strerror if isinstance(error, OSError) and error.strerror else "it is no plain JSON"
        raise _refused(path, f"these settings cannot be added to: {why}", f'write under "{_KEY}": {told}') from None
    if not isinstance(found, dict):
        raise _refused(path, "these settings are no block", "make them {}")
    return found


def _mapped() -> Iterator[tuple[str, list[str]]]:
    yield from ((kind, files) for kind, files in FILES.items() if files)


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])
