"""Write the shipped packs as plain data: python tools/compile_packs.py FILE. Done when a wheel is built."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def packs_as_data() -> bytes:
    """The content of the file of compiled packs, all shipped ones in it. Raises ReadingError."""
    from derate.packs.compiled import compiled_file
    from derate.packs.load import read_apart, shipped

    return compiled_file(read_apart(sorted(str(path) for path in shipped("rules").glob("*.yaml"))))


def shipped_files(designs: Path) -> list[Path]:
    """The files of the demonstration designs that a wheel holds: all but what they are expected to print."""
    files = (one for one in designs.rglob("*") if one.is_file())
    return sorted(one for one in files if "expected" not in one.relative_to(designs).parts)


def main(arguments: list[str]) -> int:
    """Write the file."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        print("usage: python tools/compile_packs.py FILE", file=sys.stderr)
        return 2
    Path(arguments[0]).write_bytes(packs_as_data())
    return 0


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    raise SystemExit(main(sys.argv[1:]))
