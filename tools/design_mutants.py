"""Changes shipped designs and packs at random, as files and not as texts, and asks every command to bear them.

`python tools/design_mutants.py` judges 10,000 mutants twice, in two processes with other seeds of Python's hashes, and
500 of them by the console script with a command each. What must hold: exit status 0, 1 or 2; no error but those in our
words; no NaN in any output; the same bytes both times; none over five seconds of processor time. A mutant is made from
`--seed` and its number alone, so `--show NUMBER` prints one again. What falls is printed with its number; the exit
status is then 1. All of it takes about two hours of one core; `--first` and `--count` cut it into pieces.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tools")]

from compile_packs import packs_as_data  # noqa: E402

from derate.cli.main import main  # noqa: E402
from derate.packs import compiled  # noqa: E402
from derate.text.nodes import Mapping, Node, Scalar, compose  # noqa: E402

DAY = "2026-11-25"
MOST_SECONDS = 5.0  # processor time of one command on one mutant
DESIGNS = [
    *sorted((ROOT / "designs").glob("*/*.derate.yaml")),
    *sorted((ROOT / "tests" / "data").glob("*designs/*.derate.yaml")),
]
PACKS = sorted((ROOT / "rules").glob("*.yaml"))
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("lint", "{}", "--today", DAY),
    ("lint", "{}", "--today", DAY, "--colour", "always"),
    ("lint", "{}", "--today", DAY, "--format", "json"),
    ("lint", "{}", "--today", DAY, "--verbose", "--shipped-gate"),
    ("stress", "{}", "--all"),
    ("stress", "{}", "--format", "json"),
    ("stress", "{}", "--why", "20"),
    ("insulation", "{}"),
    ("insulation", "{}", "--format", "json"),
    ("faults", "{}"),
    ("faults", "{}", "--format", "json"),
    ("capture", "{}"),
    ("report", "{}", "--today", DAY),
    ("report", "{}", "--today", DAY, "--format", "markdown"),
    ("report", "{}", "--today", DAY, "--format", "sarif"),
    ("report", "{}", "--today", DAY, "--format", "junit"),
    ("report", "{}", "--today", DAY, "--format", "csv"),
    ("compare", "{}", "base.derate.yaml", "--today", DAY),
    ("compare", "base.derate.yaml", "{}", "--today", DAY, "--format", "markdown"),
)
SLOW: tuple[tuple[str, ...], ...] = (("missing", "{}"), ("headroom", "{}"))  # many ways through: 20 times a lint
ON_PACKS: tuple[tuple[str, ...], ...] = (
    ("lint", "base.derate.yaml", "--today", DAY, "--pack", "{}"),
    ("lint", "base.derate.yaml", "--today", DAY, "--format", "json", "--pack", "{}", "--pack", "mains-fusing"),
    ("report", "base.derate.yaml", "--today", DAY, "--pack", "{}"),
    ("rules", "--pack", "{}"),
    ("rules", "--try", "{}"),
    ("explain", "fuse-breaking-capacity", "--pack", "{}"),
)

# ---- a file as lists and texts: a block is a list of pairs, so that a key may stand twice


class Block(list):  # type: ignore[type-arg]
    """Keys and values in their order."""


Plain = str | list["Plain"] | Block


def plain(node: Node) -> Plain:
    """A node as texts, lists and blocks."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Mapping):
        return Block((key.text, plain(value)) for key, value in node.entries)
    return [plain(one) for one in node.items]


_BARE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ./%_²()-]*(?<! )\Z")


def written(value: Plain) -> str:
    """The value as flow YAML: quoted wherever it could be read as something else."""
    if isinstance(value, str):
        return value if _BARE.match(value) else json.dumps(value, ensure_ascii=False)
    if isinstance(value, Block):
        return "{" + ", ".join(f"{_key(key)}: {written(one)}" for key, one in value) + "}"
    return "[" + ", ".join(map(written, value)) + "]"


def _key(key: str) -> str:
    return key if _BARE.match(key) and len(key) < 900 else json.dumps(key, ensure_ascii=False)


def file_text(value: Plain) -> str:
    """The whole file, a key of the top a line."""
    if not isinstance(value, Block):
        return written(value) + "\n"
    return "".join(f"{_key(key)}: {written(one)}\n" for key, one in value)


# ---- what is done to one


NUMBERS = (
    "0", "-1", "-0", "1e308", "9e999", "1e-320", "1e-9", "1e9", "nan", "inf", "999999999999999999999", "0.000000001",
    "1..0", "0..0", "-5..5", "1e3", "٣", "1,5", "0x10", "1_000", "½", "3" * 400,
)  # fmt: skip
TEXTS = (
    "", " ", "~", "unknown", "none", "not done", "unmarked", "yes", "no", "null", "true", "-", "?", "*", "&a", "!!x",
    "x" * 5000, "x y " * 2000, "\0", "\u202e abc", "\ud7ff", "\u200b", "é" * 300, "🔥", "a\nb", "a\tb", "\x1b[31m",
    "=1+1", "@everyone", "#1", "<script>alert(1)</script>", "{{ x }}", "%s%n", "$(id)", "../../../etc/passwd",
    "/etc/passwd", "C:\\x", "|", "||", "()", "((((", "R1 + ", "across", "across across", "1 V at 1 A at 1 A",
    "1 V (measured", "(measured)", "1 V (measured; " + "n" * 900 + ")", "over", "under", "up to", "about", "..",
    "5 mm 5%", "0 %", "1000000 %", "-200 %", "1 V 300%", "10..1 V", "1 V..2 A", "5 ohm at 5 ohm", "at", "1 h at 105",
    "1e400 V",
    "-300 degC", "0 K", "1e300 V", "1e-300 A", "1e200 ohm", "1e-200 F", "primary", "secondary", "line", "T1.primary",
    "T1", "main", "supply", "2026-13-45", "0000-00-00", "9999-12-31",
)  # fmt: skip
_FIGURE = re.compile(r"-?\d+(?:\.\d+)?")
_UNIT = re.compile(r"(?<=\d) ?(?:[munkM]?(?:V|A|ohm|F|H|W|s|h|m)\b|degC|K\b|%|Hz|kHz)")
FACTORS = (0.0, 1e-6, 1e-3, 0.01, 0.1, 0.5, 0.9, 0.999, 1.001, 1.1, 2.0, 10.0, 100.0, 1e3, 1e4, 1e6)
ENDS = (" 20%", " (assumed)", " (measured; photo 7)", " at 1 A", "..9e9 V", " + R1", " || C1")
UNITS = (" V", " A", " ohm", " F", " uF", " H", " W", " s", " h", " mm", " degC", " K", " %", " Hz", " Vpk", " J", "")


class _Spot(NamedTuple):
    """A place in a file: the block or list, and the index in it."""

    holder: list  # type: ignore[type-arg]
    index: int

    @property
    def value(self) -> Plain:
        """What stands there."""
        one = self.holder[self.index]
        return one[1] if isinstance(self.holder, Block) else one  # type: ignore[no-any-return]

    def put(self, value: Plain) -> None:
        """Another value in its place."""
        self.holder[self.index] = (self.holder[self.index][0], value) if isinstance(self.holder, Block) else value


def _spots(value: Plain) -> Iterator[_Spot]:
    if isinstance(value, str):
        return
    for index in range(len(value)):
        spot = _Spot(value, index)
        yield spot
        yield from _spots(spot.value)


def _copy(value: Plain) -> Plain:
    if isinstance(value, str):
        return value
    if isinstance(value, Block):
        return Block((key, _copy(one)) for key, one in value)
    return [_copy(one) for one in value]


def _changed_text(chance: random.Random, text: str) -> str:
    """A text with one figure, unit or word of it changed."""
    way = chance.randrange(6)
    if way == 0 and _FIGURE.search(text):
        found = chance.choice(list(_FIGURE.finditer(text)))
        return text[: found.start()] + chance.choice(NUMBERS) + text[found.end() :]
    if way == 1 and _FIGURE.search(text):
        found = chance.choice(list(_FIGURE.finditer(text)))
        number = float(found.group()) * chance.choice((0.0, -1.0, 1e-6, 1e-3, 0.1, 0.5, 2.0, 10.0, 1e3, 1e6, 1e12))
        return text[: found.start()] + repr(number) + text[found.end() :]
    if way == 2:
        return _UNIT.sub(lambda _: chance.choice(UNITS), text, count=1)
    if way == 3 and text:
        at = chance.randrange(len(text))
        other = chr(chance.choice((chance.randrange(32, 127), chance.randrange(160, 0xD800))))
        return text[:at] + other + text[at + 1 :]
    if way == 4:
        return text + chance.choice(ENDS)
    return chance.choice(TEXTS)


def _delete(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    del spot.holder[spot.index]


def _double(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    spot.holder.insert(chance.randrange(len(spot.holder) + 1), _copied(spot))


def _copied(spot: _Spot) -> Plain | tuple[str, Plain]:
    value = _copy(spot.value)
    return (spot.holder[spot.index][0], value) if isinstance(spot.holder, Block) else value


def _alike(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """The same under another name: a second part, barrier, winding."""
    if isinstance(spot.holder, Block):
        name = spot.holder[spot.index][0]
        spot.holder.append((f"{name}{chance.randrange(2, 99)}", _copy(spot.value)))


def _rename(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    if isinstance(spot.holder, Block):
        others = [key for key, _ in spot.holder] + ["rated", "found", "note", "kind", "x", *TEXTS[:40]]
        spot.holder[spot.index] = (chance.choice(others), spot.value)


def _swap(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    other = _Spot(spot.holder, chance.randrange(len(spot.holder)))
    one, two = spot.value, other.value
    spot.put(two)
    other.put(one)


def _text(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    value = spot.value
    spot.put(_changed_text(chance, value) if isinstance(value, str) else chance.choice(TEXTS))


def _planted(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    spot.put(_copy(chance.choice(corpus)))


def _typed(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    value = _copy(spot.value)
    spot.put(chance.choice(([value], Block([("x", value)]), [], Block(), [value, value], Block([("1 A", value)]))))


def _deep(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    value = _copy(spot.value)
    for _ in range(chance.choice((3, 20, 36, 60))):
        value = [value] if chance.random() < 0.5 else Block([("a", value)])
    spot.put(value)


def _long(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    many = chance.choice((5, 40, 130, 420, 2100))
    one = _copied(spot)
    if isinstance(spot.holder, Block) and isinstance(one, tuple):
        spot.holder.extend((f"{one[0]}{number}", one[1]) for number in range(many))
    else:
        spot.holder.extend([one] * many)


def _shuffled(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    chance.shuffle(spot.holder)


def _figure(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """Another figure, written as a person would: a thousandth, a hair more, ten thousand times as much."""
    value = spot.value
    found = list(_FIGURE.finditer(value)) if isinstance(value, str) else []
    if found and isinstance(value, str):
        one = chance.choice(found)
        factor = chance.choice(FACTORS)
        number = f"{abs(float(one.group())) * factor:.9f}".rstrip("0").rstrip(".") or "0"
        spot.put(value[: one.start()] + number + value[one.end() :])


def _figures_by_line(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """Every figure below a place."""
    for one in [spot, *_spots(spot.value)]:
        _figure(chance, one, corpus)


def _doubt(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """Known less well, or not at all."""
    if isinstance(spot.value, str):
        bare = spot.value.partition(" (")[0]
        forms = ("unknown", f"over {bare}", f"under {bare}", f"about {bare}", f"{bare} (assumed)", f"{bare} 30%")
        spot.put(chance.choice(forms))


def _leaf(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """One fact less."""
    if isinstance(spot.value, str) and isinstance(spot.holder, Block) and len(spot.holder) > 1:
        del spot.holder[spot.index]


def _of_this_key(chance: random.Random, spot: _Spot, corpus: Sequence[Plain]) -> None:
    """What stands behind the same key elsewhere, or in another file."""
    if isinstance(spot.holder, Block):
        key = spot.holder[spot.index][0]
        others = [one for pack in (False, True) for one in _by_key(pack).get(key, ())]
        spot.put(_copy(chance.choice(others or [spot.value])))


_GENTLE: tuple[tuple[Callable[[random.Random, _Spot, Sequence[Plain]], None], int], ...] = (
    (_figure, 30), (_figures_by_line, 10), (_doubt, 12), (_leaf, 25), (_of_this_key, 20), (_alike, 2), (_shuffled, 3),
)  # fmt: skip
_WAYS: tuple[tuple[Callable[[random.Random, _Spot, Sequence[Plain]], None], int], ...] = (
    (_delete, 20), (_double, 5), (_alike, 10), (_rename, 6), (_swap, 8), (_text, 45), (_planted, 12), (_typed, 4),
    (_deep, 2), (_long, 3), (_shuffled, 3),
)  # fmt: skip


class Mutant(NamedTuple):
    """One file: its text, whether it is a pack, and the command that is asked to bear it."""

    number: int
    text: str
    pack: bool
    command: tuple[str, ...]

    @property
    def name(self) -> str:
        """The file it is written to."""
        return "rules/mutant.yaml" if self.pack else "mutant.derate.yaml"

    @property
    def argv(self) -> list[str]:
        """The command line."""
        return [self.name if word == "{}" else word for word in self.command]


@cache
def _seeds(packs: bool) -> tuple[tuple[Plain, ...], tuple[Plain, ...]]:
    """The files, and every value that stands in one of them."""
    files = []
    for path in PACKS if packs else DESIGNS:
        text = path.read_text(encoding="utf-8")
        value = plain(compose(text, path.name, blocks=packs))
        if isinstance(value, Block):  # what lies beside the design is not copied
            value = Block((key, one) for key, one in value if key != "revision_of")
        files.append(value)
    return tuple(files), tuple(spot.value for one in files for spot in _spots(one))


@cache
def _by_key(packs: bool) -> dict[str, list[Plain]]:
    """Every value by the key it stands behind."""
    found: dict[str, list[Plain]] = {}
    for one in _seeds(packs)[0]:
        for spot in _spots(one):
            if isinstance(spot.holder, Block):
                found.setdefault(spot.holder[spot.index][0], []).append(spot.value)
    return found


def mutant(seed: int, number: int, slow: bool = False) -> Mutant:
    """The mutant of a number, the same on every machine and in every run. slow: the long studies among its commands."""
    chance = random.Random(f"{seed}:{number}")
    pack = chance.random() < 0.25
    files, corpus = _seeds(pack)
    value = _copy(chance.choice(files))
    ways = _GENTLE if chance.random() < 0.7 else _WAYS  # most files that are changed blindly are refused at once
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5, 8))):
        spots = list(_spots(value))
        if spots:
            way = chance.choices([one for one, _ in ways], [weight for _, weight in ways])[0]
            way(chance, chance.choice(spots), corpus)
    commands = ON_PACKS if pack else (*COMMANDS, *(SLOW if slow else ()))
    return Mutant(number, file_text(value), pack, commands[number % len(commands)])


# ---- one trial


_OURS = re.compile(
    r"(?:.+:\d+:\d+|command line): error: .+|.*: settings: .*; rule packs: .*|derate missing: .*"
    r"|.+: The gate here is softer than the shipped one:|.+: softer: .+|.+: derate \S+; level: .*; rule packs: .*"
)
_NO_WORDS = ("Traceback", "should not happen", "could not be worked through", "not enough memory")
_NAN = re.compile(r"(?<![\w.-])nan(?![\w-])", re.IGNORECASE)


class Trial(NamedTuple):
    """What one command came to. wrong: what must not be, '' when all is well."""

    number: int
    status: int
    digest: str
    seconds: float
    wrong: str = ""


def wrong_with(one: Mutant, status: int, out: str, err: str) -> str:
    """What must not be in what a command came to, in a few words; '' when all is well."""
    if status not in (0, 1, 2):
        return f"exit status {status}"
    for words in _NO_WORDS:
        if words in err or words in out:
            at = (err + out).index(words)
            return f"{words}: {(err + out)[max(0, at - 200) : at + 300]}"
    if status == 2 and not err.strip():
        return "exit status 2 without a word"
    foreign = next((line for line in err.splitlines() if line and not _OURS.fullmatch(line)), None)
    if foreign is not None:
        return f"standard error says: {foreign[:200]}"
    found = _NAN.search(out)
    if found is not None and not _NAN.search(one.text):
        return f"NaN: {out[max(0, found.start() - 80) : found.end() + 40]!r}"
    if "json" in one.command or "sarif" in one.command:
        try:
            if out:
                json.loads(out, parse_constant=_no_constant)
        except ValueError as error:
            return f"no JSON: {error}"
    return ""


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no number of JSON")


def trial(one: Mutant) -> Trial:
    """One command on one mutant, in the folder one stands in, inside this process."""
    Path(one.name).write_text(one.text, encoding="utf-8", errors="surrogatepass")
    out, err = io.StringIO(), io.StringIO()
    began = time.process_time()
    with redirect_stdout(out), redirect_stderr(err):
        status = main(one.argv)
    seconds = time.process_time() - began
    texts = (out.getvalue(), err.getvalue())
    digest = hashlib.sha256("\0".join((str(status), *texts)).encode("utf-8", "surrogatepass")).hexdigest()
    return Trial(one.number, status, digest[:16], seconds, wrong_with(one, status, *texts))


def prepared(folder: Path) -> None:
    """A repository to try mutants in, with a design they are compared to; the packs as data, as a wheel has them."""
    (folder / ".git").mkdir()
    (folder / "rules").mkdir()
    (folder / "base.derate.yaml").write_text(DESIGNS[-1].read_text(encoding="utf-8"), encoding="utf-8")
    data = folder / compiled.FILE
    data.write_bytes(packs_as_data())
    compiled.stored_at = lambda: data
    compiled.forget()


# ---- many


def _worker(seed: int, first: int, count: int) -> None:
    """Trials of a run of numbers, a line each, in a folder of their own."""
    with tempfile.TemporaryDirectory() as folder:
        prepared(Path(folder))
        os.chdir(folder)
        for number in range(first, first + count):
            print(json.dumps(trial(mutant(seed, number))), flush=True)
        os.chdir(ROOT)


def _through(seed: int, first: int, count: int, hash_seed: int) -> list[Trial]:
    command = [sys.executable, __file__, "--worker", "--seed", str(seed), "--first", str(first), "--count", str(count)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": str(hash_seed)}
    done = subprocess.run(command, capture_output=True, text=True, env=environment)
    found = [Trial(*json.loads(line)) for line in done.stdout.splitlines() if line.startswith("[")]
    if done.returncode != 0 or len(found) < count:
        print(f"the process ended with {done.returncode} at mutant {first + len(found)}: {done.stderr[-600:]}")
    return found


def _script(seed: int, numbers: Sequence[int]) -> Iterator[Trial]:
    """The console script, a process each, over all commands."""
    script = Path(sys.executable).parent / "derate"
    start = [str(script)] if script.exists() else [sys.executable, "-c", "from derate.cli.main import entry; entry()"]
    with tempfile.TemporaryDirectory() as folder:
        prepared(Path(folder))
        for number in numbers:
            one = mutant(seed, number, slow=True)
            (Path(folder) / one.name).write_text(one.text, encoding="utf-8", errors="surrogatepass")
            environment = {**os.environ, "PYTHONPATH": str(ROOT)}
            with open(Path(folder) / "out", "wb") as told, open(Path(folder) / "err", "wb") as wrong_told:
                process = subprocess.Popen(
                    [*start, *one.argv], cwd=folder, env=environment, stdout=told, stderr=wrong_told
                )
                _, status, usage = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            out, err = ((Path(folder) / name).read_text(encoding="utf-8", errors="replace") for name in ("out", "err"))
            wrong = wrong_with(one, process.returncode, out, err)
            yield Trial(number, process.returncode, "", usage.ru_utime + usage.ru_stime, wrong)


def _tell(seed: int, one: Trial, most: float, slow: bool) -> bool:
    """Print what is wrong with a trial; whether anything is."""
    wrong = one.wrong or (f"{one.seconds:.1f} s of processor time" if one.seconds > most else "")
    if wrong:
        print(f"mutant {one.number} ({' '.join(mutant(seed, one.number, slow).argv)}): {wrong}", flush=True)
    return bool(wrong)


def _run(arguments: argparse.Namespace) -> int:
    statuses: Counter[int] = Counter()
    fallen, slowest, whole = 0, 0.0, 0.0
    piece = 500
    for first in range(arguments.first, arguments.first + arguments.count, piece):
        count = min(piece, arguments.first + arguments.count - first)
        one, other = (_through(arguments.seed, first, count, hash_seed) for hash_seed in (1, 2))
        fallen += 2 * count - len(one) - len(other)
        for this, that in zip(one, other, strict=False):
            statuses[this.status] += 1
            slowest = max(slowest, min(this.seconds, that.seconds))
            whole += this.seconds + that.seconds
            bad = _tell(arguments.seed, this, MOST_SECONDS, False)
            if this.digest != that.digest:
                bad = True
                print(f"mutant {this.number} ({' '.join(mutant(arguments.seed, this.number).argv)}): other bytes")
            fallen += bad
        print(f"{first + count - arguments.first} mutants: {fallen} fell, slowest {slowest:.2f} s", flush=True)
    told = ", ".join(f"{count} ended with {status}" for status, count in sorted(statuses.items()))
    print(f"{sum(statuses.values())} mutants twice: {told}; slowest {slowest:.2f} s of {whole:.0f} s; {fallen} fell")
    statuses.clear()
    slowest = 0.0
    for one_script in _script(arguments.seed, range(arguments.first, arguments.first + arguments.commands)):
        statuses[one_script.status] += 1
        slowest = max(slowest, one_script.seconds)
        most = 2 * MOST_SECONDS if mutant(arguments.seed, one_script.number, True).command in SLOW else MOST_SECONDS
        fallen += _tell(arguments.seed, one_script, most, True)
    told = ", ".join(f"{count} ended with {status}" for status, count in sorted(statuses.items()))
    print(f"{sum(statuses.values())} by the console script: {told}; slowest {slowest:.2f} s; {fallen} fell in all")
    return 1 if fallen else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000, help="how many mutants")
    parser.add_argument("--commands", type=int, default=500, help="how many of them by the console script")
    parser.add_argument("--first", type=int, default=0, help="the number of the first")
    parser.add_argument("--seed", type=int, default=14, help="what they are made from")
    parser.add_argument("--show", type=int, metavar="NUMBER", help="print one mutant and its command")
    parser.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args()


if __name__ == "__main__":
    given = _arguments()
    if given.show is not None:
        shown = mutant(given.seed, given.show)
        print(shown.text, end="")
        print(f"derate {' '.join(shown.argv)}", file=sys.stderr)
    elif given.worker:
        _worker(given.seed, given.first, given.count)
    else:
        sys.exit(_run(given))
