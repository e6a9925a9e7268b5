"""Where a pack is found: by path, by name among the shipped ones, or beside the design up to the repository root."""

from __future__ import annotations

from pathlib import Path

import derate
from derate.packs.rule import is_rule_name
from derate.terms.place import Place, Problem, ReadingError, nearest


def shipped(folder: str) -> Path:
    """The shipped folder (`rules`, `designs`): inside the package when installed, beside it in a checkout."""
    package = Path(derate.__file__).parent
    inside = package / folder
    return inside if inside.is_dir() else package.parent / folder


def _same(one: Path, other: Path) -> bool:
    """Whether two files are one, or a copy to the byte: a checkout of this project lies beside its own designs."""
    return one.resolve() == other.resolve() or one.read_bytes() == other.read_bytes()


def find_pack(name: str, near: Path | None, place: Place, beside: Path | None = None) -> Path:
    """The file of a pack.

    name: a path (with a slash or ending in .yaml) or a bare name
    near: the design or folder that asks; a path is taken from there and may not leave its repository. None: the
        command line asks, any path will do
    beside: the folder of the pack that builds on it, looked in first
    place: where it was asked for
    Raises ReadingError when there is none, or two.
    """
    folder = None if near is None else (near if near.is_dir() else near.parent).resolve()
    if "/" in name or "\\" in name or name.endswith((".yaml", ".yml")):
        base = beside or folder
        return _by_path(name, base, None if base is None else repository(base.resolve()), place)
    ours = shipped("rules") / f"{name}.yaml"
    theirs = [path for one in _folders(beside, folder) if (path := one / f"{name}.yaml").is_file()]
    if ours.is_file() and theirs and not _same(ours, theirs[0]):
        raise _refused(
            place,
            f"pack {name} stands both among the shipped ones and in {theirs[0]}",
            "give your own pack its own name",
        )
    if ours.is_file():
        return ours
    if theirs:
        return theirs[0]
    known = [path.stem for path in sorted(shipped("rules").glob("*.yaml"))]
    close = nearest(name, known)
    instead = f"write {close}" if close else f"there are {', '.join(known)}" if known else ""
    raise _refused(place, f"there is no pack '{name}'", instead)


def is_shipped(name: str, content: bytes) -> bool:
    """Whether a content is that of the pack shipped under a name, byte for byte; where it lies says nothing."""
    ours = shipped("rules") / f"{name}.yaml"
    return is_rule_name(name) and ours.is_file() and ours.read_bytes() == content


def repository(folder: Path) -> Path | None:
    """The root of the repository a folder lies in, or None."""
    for one in (folder, *folder.parents):
        if (one / ".git").exists():
            return one
    return None


def _folders(beside: Path | None, folder: Path | None) -> tuple[Path, ...]:
    """Beside the pack, beside the design, then upwards as far as the repository goes; `rules` in each."""
    found = [] if beside is None else [beside]
    if folder is not None:
        root = repository(folder)
        upwards = [folder]
        while root is not None and upwards[-1] != root:
            upwards.append(upwards[-1].parent)
        found += upwards
    return tuple(path for one in found for path in (one, one / "rules"))


def _by_path(name: str, base: Path | None, root: Path | None, place: Place) -> Path:
    path = Path(name) if base is None else base / name
    if root is not None and not path.resolve().is_relative_to(root):
        raise _refused(place, f"'{name}' leads out of the repository", "keep the packs of a design inside it")
    if not path.is_file():
        raise _refused(place, f"there is no file '{name}'", "")
    return path


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])
