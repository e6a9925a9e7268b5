"""The fenced blocks of a page, and running them: files are written, commands are run, what they print is looked for."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from derate.cli.main import main

FENCE = re.compile(r"^```(\S*)[ ]?([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Block(NamedTuple):
    """One fenced block: its language, what stands behind it, its text, the line it begins in."""

    language: str
    about: str
    text: str
    line: int


def blocks_of(page: str) -> tuple[Block, ...]:
    """Every fenced block of a page in its order."""
    return tuple(
        Block(found[1], found[2].strip(), found[3], page.count("\n", 0, found.start()) + 1)
        for found in FENCE.finditer(page)
    )


def commands_of(block: Block) -> tuple[tuple[list[str], list[str]], ...]:
    """The commands of a console block, each with the pieces its output has to hold in their order."""
    found: list[tuple[list[str], list[str]]] = []
    for line in block.text.splitlines():
        if line.startswith("$ "):
            found.append((shlex.split(line[2:]), []))
        elif line.strip():
            found[-1][1].append(line.strip())
    return tuple(found)


def run_page(page: str, folder: Path, run: Callable[[list[str]], str]) -> int:
    """Write the files and run the commands of a page in a folder; the number of commands. Fails with the line."""
    count = 0
    for block in blocks_of(page):
        if block.about.startswith("file="):
            path = folder / block.about.removeprefix("file=")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.text, encoding="utf-8")
        elif block.language == "console":
            for command, wanted in commands_of(block):
                assert command[0] == "derate", f"line {block.line}: {command[0]} is not run here"
                out, at = run(command[1:]), 0
                flat = re.sub(r"\s+", " ", out)  # what is wrapped for a terminal is the same text
                for piece in wanted:
                    at = flat.find(piece, at)
                    assert at >= 0, f"line {block.line}: '{piece}' is not printed by {' '.join(command)}:\n{out}"
                count += 1
    return count


def at_a_prompt(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], status: int = 0
) -> Callable[[list[str]], str]:
    """What runs the commands of a page in a repository of its own, and gives what each prints.

    status: with which every one of them has to end; none prints a traceback
    """
    (folder / ".git").mkdir()
    monkeypatch.chdir(folder)

    def run(argv: list[str]) -> str:
        ended = main(argv)
        out, told = capsys.readouterr()
        assert ended == status and "Traceback" not in told, (argv, told)
        return out + told

    return run
