"""Write the shipped packs as plain data: python tools/compile_packs.py FILE. Done when a wheel is built.

With --time no file is kept; the packs are loaded again and again from their own files and from the data, and the median
processor time of each is printed.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parent.parent
DEFAULT = ("commercial-practice", "mains-fusing", "insulation-it-equipment")


def packs_as_data() -> bytes:
    """The content of the file of compiled packs, all shipped ones in it. Raises ReadingError."""
    from derate.packs.compiled import compiled_file
    from derate.packs.find import shipped
    from derate.packs.load import read_apart

    return compiled_file(read_apart(sorted(str(path) for path in shipped("rules").glob("*.yaml"))))


def load_times(repeats: int = 30) -> dict[str, float]:
    """Median processor time of loading packs [s]: all shipped and the default ones, from files and from data."""
    from derate.packs import compiled
    from derate.packs.find import shipped
    from derate.packs.load import load_packs

    every = tuple(path.stem for path in sorted(shipped("rules").glob("*.yaml")))
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / compiled.FILE
        data.write_bytes(packs_as_data())
        own = compiled.stored_at
        for kind, place in (("from their files", lambda: data.with_name("none")), ("from data", lambda: data)):
            compiled.stored_at = place
            for names, called in ((every, "all packs"), (DEFAULT, "the default packs")):
                found[f"{called}, {kind}"] = _median(lambda names=names: _afresh(load_packs, names), repeats)
        compiled.stored_at = own
    return found


def _afresh(load: Callable[[tuple[str, ...]], object], names: tuple[str, ...]) -> None:
    from derate.packs.compiled import forget

    forget()
    load(names)


def _median(run: Callable[[], object], repeats: int) -> float:
    taken = []
    for _ in range(repeats):
        began = time.process_time()
        run()
        taken.append(time.process_time() - began)
    return median(taken)


def main(arguments: list[str]) -> int:
    """Write the file, or time the loading."""
    if arguments == ["--time"]:
        for what, seconds in load_times().items():
            print(f"{what:40s}{1e3 * seconds:7.1f} ms")
    elif len(arguments) == 1 and not arguments[0].startswith("-"):
        Path(arguments[0]).write_bytes(packs_as_data())
    else:
        print("usage: python tools/compile_packs.py FILE | --time", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    raise SystemExit(main(sys.argv[1:]))
