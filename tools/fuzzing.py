"""Runs a check on many texts: with atheris where it is installed, else with a seeded mutator of its own."""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Callable, Sequence


def arguments(what: str) -> argparse.Namespace:
    """The command line of a fuzzing script."""
    parser = argparse.ArgumentParser(description=what)
    parser.add_argument("--seconds", type=int, default=60, help="stop after so many seconds")
    parser.add_argument("--executions", type=int, default=10**9, help="stop after so many texts")
    parser.add_argument("--seed", type=int, default=1, help="of the mutator")
    parser.add_argument("--own-mutator", action="store_true", help="do not use atheris")
    return parser.parse_args()


def mutated(chance: random.Random, seeds: Sequence[str], pieces: Sequence[str]) -> str:
    """A seed with pieces put in, taken out, doubled, moved and joined to another."""
    text = chance.choice(seeds)
    for _ in range(chance.randrange(1, 6)):
        at = chance.randrange(len(text) + 1)
        until = min(len(text), at + chance.randrange(1, 6))
        way = chance.randrange(6)
        if way == 0:
            text = text[:at] + chance.choice(pieces) + text[at:]
        elif way == 1:
            text = text[:at] + text[until:]
        elif way == 2:
            text = text[:until] + text[at:until] * chance.randrange(1, 40) + text[until:]
        elif way == 3:
            text = text[:at] + chance.choice(seeds)[chance.randrange(8) :]
        elif way == 4:
            text = text[:at] + chr(chance.choice((chance.randrange(128), chance.randrange(0xD800)))) + text[until:]
        else:
            text = text[at:] + text[:at]
    return text


def own_loop(
    check: Callable[[str], object],
    seeds: Sequence[str],
    pieces: Sequence[str],
    executions: int,
    seconds: float,
    seed: int,
) -> int:
    """Check seeds and mutated seeds; the number of texts checked. A failing text is printed before its error."""
    chance = random.Random(seed)
    until = time.monotonic() + seconds
    done = 0
    while done < executions and time.monotonic() < until:
        text = seeds[done] if done < len(seeds) else mutated(chance, seeds, pieces)
        try:
            check(text)
        except BaseException:
            print(f"failing text: {text!r}", file=sys.stderr)
            raise
        done += 1
    return done


def run(what: str, check: Callable[[str], object], seeds: Sequence[str], pieces: Sequence[str]) -> None:
    """Fuzz until the time or the number of executions is used up."""
    given = arguments(what)
    try:
        if given.own_mutator:
            raise ImportError
        import atheris
    except ImportError:
        begin = time.monotonic()
        done = own_loop(check, seeds, pieces, given.executions, given.seconds, given.seed)
        print(f"{done} executions in {time.monotonic() - begin:.0f} s, nothing found")
        return

    def one(data: bytes) -> None:
        check(data.decode("utf-8", "surrogateescape" if data[:1] == b"\xff" else "ignore"))

    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(seeds):
            (Path(folder) / f"seed{number}").write_text(text, encoding="utf-8")
        words = Path(folder).with_suffix(".dict")
        escaped = ("".join(f"\\x{byte:02x}" for byte in piece.encode()) for piece in pieces)
        words.write_text("".join(f'"{piece}"\n' for piece in escaped), encoding="utf-8")
        limits = [f"-max_total_time={given.seconds}", f"-runs={given.executions}", f"-seed={given.seed}"]
        atheris.Setup([sys.argv[0], *limits, f"-dict={words}", "-max_len=600", folder], one)
        atheris.instrument_all()
        try:
            atheris.Fuzz()
        finally:
            words.unlink(missing_ok=True)
