"""What commands share: their parser with our errors, what they take, where their text goes."""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TextIO

from derate.design.settings import NAME, find_settings
from derate.packs.load import Packs, find_pack, load_packs, repository, shipped
from derate.packs.pack import Rule
from derate.report.lines import problem_lines
from derate.report.words import cells, plain, wrapped
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.words import LEVELS, LIBRARY_ENDING
from derate.text.files import stay_inside
from derate.text.nodes import GREATEST_SIZE, check_characters, read_text

if TYPE_CHECKING:
    from derate.judge.acknowledge import KnownRecord
    from derate.packs.trial import Trials
    from derate.study.work import Workshop


# What a command takes: its parser with our errors, the designs and revisions named, the packs looked through.


# The parser every command uses: its errors are ours, with the nearest option where one was mistyped.


COMMAND_LINE = Place("command line")


class _Help(argparse.RawDescriptionHelpFormatter):
    """Made for each option that is added: told its width, it does not load `shutil` to ask the terminal."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=width() - 2)


class Parser(argparse.ArgumentParser):
    """argparse with whole option names only and errors as `ReadingError`."""

    def __init__(self, command: str, description: str) -> None:
        super().__init__(prog=f"derate {command}", description=description, allow_abbrev=False, formatter_class=_Help)

    def error(self, message: str) -> NoReturn:
        """Raise what argparse found wrong."""
        instead = f"{self.prog} --help lists what it takes"
        unknown = message.partition("unrecognized arguments: ")[2].partition(" ")[0]
        if unknown:
            message = f"'{unknown}' is not known here"
            close = nearest(unknown.partition("=")[0], [name for name in self._option_string_actions if len(name) > 2])
            if unknown.endswith(".html") and "--to" in self._option_string_actions:
                close = f"--to {plain(unknown)}"
            instead = f"write {close}" if close else instead
        raise refused(plain(message), instead)


def refused(what: str, instead: str = "") -> ReadingError:
    """An error of the command line."""
    return ReadingError([Problem(COMMAND_LINE, what, instead)])


def day(text: str) -> date:
    """A day as it is written in a design: 2027-06-30."""
    try:
        if len(text) == 10:
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise argparse.ArgumentTypeError(f"'{text[:40]}' is no day; write it as 2027-06-30")


def add_format(parser: Parser, more: Sequence[str] = ()) -> None:
    """`--format text|json`, and what else the command writes."""
    others = f"; {', '.join(more)}: one document of all designs" if more else ""
    parser.add_argument(
        "--format", choices=("text", "json", *more), default="text", help=f"text (default) or JSON in SI units{others}"
    )


def add_colour(parser: Parser) -> None:
    """`--colour`, the same for every command that prints for people."""
    parser.add_argument(
        "--colour",
        choices=("auto", "always", "never"),
        default="auto",
        help="colours; always also chooses the layout for people when the output is no terminal. It wins over NO_COLOR "
        "and FORCE_COLOR",
    )


def add_packs(parser: Parser) -> None:
    """`--pack`, any number of times."""
    parser.add_argument(
        "--pack",
        action="append",
        default=[],
        metavar="NAME",
        dest="packs",
        help="a rule pack by name or by path, instead of those the design and the settings name; may be repeated",
    )


def add_gate(parser: Parser) -> None:
    """What a command that judges takes: `--pack`, `--stop-at`, `--known` and `--shipped-gate`."""
    add_packs(parser)
    parser.add_argument(
        "--stop-at",
        choices=LEVELS,
        default=None,
        help="what makes the exit status 1, over what files say: a fail of a critical or major rule; default: that, "
        "or one not assessed; not-assessed: any fail or anything not assessed; or a marginal finding too",
    )
    parser.add_argument("--known", metavar="FILE", help="hold back findings recorded there; new or worse ones stop")
    parser.add_argument(
        "--shipped-gate",
        action="store_true",
        help="judge by the shipped packs and the shipped level alone: no settings, no packs of the design, no waivers, "
        "no open points, nothing known",
    )


def read_known(path: str) -> KnownRecord:
    """The record of known findings that `--known` names. Raises ReadingError with everything that is wrong in it."""
    from derate.judge.acknowledge import NobodySigned, read_record

    stay_inside(path)
    text = read_text(path)
    try:
        return read_record(text, path)
    except NobodySigned:
        raise
    except ReadingError as error:
        from derate.report.schemas import problems_of  # the library that finds out what is wrong is no quick one

        raise ReadingError(problems_of(text, path, "known") or error.problems) from None


def workshop_for(arguments: argparse.Namespace) -> tuple[Workshop, KnownRecord | None]:
    """What designs are worked through with, and the known findings to hold back. Raises ReadingError."""
    from derate.study.work import Workshop

    if arguments.shipped_gate:
        beside = [
            name
            for name, given in (
                ("--pack", arguments.packs),
                ("--stop-at", arguments.stop_at),
                ("--known", arguments.known),
            )
            if given
        ]
        if beside:
            raise refused(f"--shipped-gate and {' and '.join(beside)} do not go together", "leave one of them out")
    known = None
    if arguments.known:
        known = read_known(arguments.known)
    return Workshop(arguments.packs, arguments.shipped_gate), known


# A file as it was in a revision of its repository, which an option of its own names.


_REVISION = re.compile(r"[\w.^~@{}/+][\w.^~@{}/+-]{0,199}")


def checked_revision(path: str, revision: str, option: str) -> str:
    """The revision when it can be the name of one; '' for a file on disk. Raises ReadingError."""
    if revision:
        if not _REVISION.fullmatch(revision):
            raise refused(f"'{plain(revision)[:60]}' is no name for a revision", "write a branch, a tag or a commit")
        return revision
    file, at, old = path.rpartition("@")
    if at and file and not os.path.exists(path):  # a file whose own name holds an @ is a file
        raise refused(
            f"'{plain(path)[:80]}' is no file, and a revision is not written behind its name",
            f"write {plain(file)[:80]} {option} {plain(old)[:60] or 'REV'}",
        )
    return ""


def read_revision(revision: str) -> Callable[[str], str]:
    """A reader of files as they were in a revision; it raises ReadingError like that of files on disk."""

    def read(path: str) -> str:
        folder, name = os.path.split(path)
        data = _git(folder or ".", "cat-file", "blob", f"{revision}:./{name}", path=path, revision=revision)
        if len(data) > GREATEST_SIZE:
            raise _refused(path, f"this file is larger than {GREATEST_SIZE // 1_000_000} MB in {revision}")
        try:
            text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        except UnicodeDecodeError:
            raise _refused(path, f"this is not UTF-8 text in {revision}") from None
        problems = list(check_characters(text, path))
        if problems:
            raise ReadingError(problems)
        return text

    return read


def _git(folder: str, *arguments: str, path: str, revision: str) -> bytes:
    import subprocess  # not on the path of lint, which never asks git

    try:
        done = subprocess.run(
            ["git", "-C", folder, *arguments],
            capture_output=True,
            timeout=30,
            check=False,
            env={**os.environ, "LC_ALL": "C", "GIT_TERMINAL_PROMPT": "0"},
        )
    except FileNotFoundError:
        raise refused("reading a revision needs git, which is not there", "install it, or name two files") from None
    except subprocess.TimeoutExpired:
        raise _refused(path, f"git did not answer while reading {revision}") from None
    if done.returncode != 0:
        why = done.stderr.decode("utf-8", "replace").strip().split("\n")[-1].removeprefix("fatal: ")
        raise _refused(path, f"it could not be read from revision {revision}: {plain(why)[:160]}")
    return done.stdout


def _refused(path: str, what: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, "git log lists the revisions of a file")])


# Which files a command takes: those named, and the designs of folders, in one order whatever was typed.


TAKEN = (
    "A file is read as a design whatever it is called. Of a folder every *.derate.yaml below it is taken, and every "
    "other *.yaml whose first block has the key `derate`; other files and hidden folders are left alone."
)
ENDINGS = (".derate.yaml", ".derate.yml")
_FIRST_DOCUMENT = re.compile(r"^---(?:[ \t].*)?$", re.MULTILINE)
_DESIGN, _PACK = (
    re.compile(rf"""^(?:\{{[ \t]*)?(["']?){key}\1[ \t]*:(?=[ \t\r\n]|\Z)""", re.MULTILINE) for key in ("derate", "pack")
)
_YAML = (".yaml", ".yml")


def designs(paths: Iterable[str]) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """The design files among paths, sorted, each once; and what is wrong with the paths."""
    problems: list[Problem] = []
    found: dict[str, str] = {}
    for path in paths:
        if os.path.isdir(path):
            inside = _inside(path, problems)
            if not inside and not problems:
                problems.append(
                    Problem(
                        Place(path),
                        "there is no design in this folder",
                        "a design ends in .derate.yaml, or is a .yaml file whose first key is derate",
                    )
                )
        else:
            inside = [path]
        for one in inside:
            found.setdefault(os.path.realpath(one), _as_named(one))
    return tuple(sorted(found.values())), tuple(problems)


def _as_named(path: str) -> str:
    """The path without a leading `./`, so that a record of known findings fits however the folder was typed."""
    while path.startswith("./") and len(path) > 2:
        path = path[2:].lstrip("/")
    return path


def _inside(folder: str, problems: list[Problem]) -> list[str]:
    """The designs below a folder."""

    def trouble(error: OSError) -> None:
        path = str(error.filename or folder)
        problems.append(Problem(Place(path), f"this folder could not be read ({error.strerror})", ""))

    files = []
    for here, folders, names in os.walk(folder, onerror=trouble):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        files += [os.path.join(here, name) for name in sorted(names) if not name.startswith(".")]
    return [path for path in files if path.endswith(ENDINGS) or (path.endswith(_YAML) and is_design(path))]


def changed(paths: Iterable[str]) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """The designs that a change of these files touches: themselves, all below settings, all of the repository of
    a pack or of a library of parts.

    What is neither a design nor settings nor a pack touches none. As `designs` gives them.
    """
    touched: dict[str, None] = {}
    problems: list[Problem] = []
    for path in paths:
        folder = os.path.dirname(path) or "."
        if os.path.basename(path) == NAME:
            touched.update(dict.fromkeys(_inside(folder, problems)))
        elif path.endswith(ENDINGS) or is_design(path):
            touched[path] = None
        elif path.endswith(LIBRARY_ENDING) or _is_pack(path):
            root = repository(Path(folder).resolve())
            home = folder if root is None else os.path.relpath(root)
            touched.update(dict.fromkeys(_inside(home, problems)))
    found, wrong = designs(touched)
    return found, (*problems, *wrong)


def is_design(path: str) -> bool:
    """Whether the first document of a file has the key `derate` at its top; a broken file may still be a design."""
    return _has_key(_DESIGN, path)


def _is_pack(path: str) -> bool:
    """Whether a file is a pack: by its key, or by lying where packs are looked for, however broken it is."""
    return Path(path).resolve().parent.name == "rules" or _has_key(_PACK, path)


def _has_key(key: re.Pattern[str], path: str) -> bool:
    try:
        text = read_text(path)
    except ReadingError:
        return False
    marks = [found.start() for found in _FIRST_DOCUMENT.finditer(text)]
    opened = [at for at in marks if text[:at].strip() and not _only_comments(text[:at])]
    return key.search(text, 0, opened[0] if opened else len(text)) is not None


def _only_comments(text: str) -> bool:
    return all(not line.strip() or line.lstrip().startswith(("#", "%", "---")) for line in text.split("\n"))


# The packs that `explain` and `rules` look through: those asked for, those of the settings, then the shipped ones.


def one_pack(name: str) -> Packs:
    """A pack by name (also beside the folder one stands in) or by path, with what it builds on."""
    near = None if "/" in name or "\\" in name or name.endswith((".yaml", ".yml")) else Path.cwd()
    return load_packs([str(find_pack(name, near, COMMAND_LINE))])


def shelf(asked: Sequence[str]) -> tuple[tuple[Packs, ...], tuple[Problem, ...]]:
    """Packs to look through, each with what it builds on, and what is wrong with those that could not be read."""
    if asked:
        return tuple(one_pack(name) for name in asked), ()
    settings = find_settings(str(Path.cwd() / "design"))
    named = [(settings.path, settings.packs), *((one.path, one.packs) for one in settings.below)]
    paths = [str(find_pack(one.text, Path(path), one.start)) for path, packs in named for one in packs]
    paths += sorted(str(path) for path in shipped("rules").glob("*.yaml"))
    found, problems = [], []
    for path in dict.fromkeys(paths):
        try:
            found.append(load_packs([path]))
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
    if not found and problems:
        raise ReadingError(problems)
    if not found:
        raise refused("there is no rule pack to look through", "name one with --pack")
    return tuple(found), tuple(problems)


def rules_of(shelf_packs: Sequence[Packs]) -> tuple[Rule, ...]:
    """Every rule, each pack's once; the first on the shelf speaks for a rule that later ones hold too."""
    found: dict[tuple[str, str], Rule] = {}
    for packs in shelf_packs:
        for rule in packs.rules:
            found.setdefault((rule.pack, rule.name), rule)
    return tuple(found.values())


def trials_of(packs: Packs, pack: str) -> Trials:
    """The trials that stand in the file of one pack."""
    from derate.packs.trial import read_trials  # lint reads no trials

    head = next(head for head in packs.heads if head.name == pack)
    return read_trials(read_text(head.path), head.path, packs)


# Where text goes: standard output, standard error; and for whom it is made.


def say(text: str) -> None:
    """Write text to standard output, with one line feed at its end."""
    sys.stdout.write(text if text.endswith("\n") or not text else text + "\n")


def say_lines(lines: Iterable[str]) -> None:
    """Write lines to standard output, each in its style where colours are written."""
    if coloured():
        from derate.report.colour import painted

        lines = map(painted, lines)
    say("".join(f"{line}\n" for line in lines))


def tell_problems(problems: Sequence[Problem]) -> None:
    """Write what could not be read to standard error; at a terminal wrapped, with the line it stands on."""
    person = _is_terminal(sys.stderr)
    lines = problem_lines(problems, person, _source)
    for line in lines:
        quoted = line.startswith(" ")  # with a caret under it, in a window of its own
        for part in fitted([line], min(width(), 110) if person and not quoted else None):
            print(part, file=sys.stderr)


def fitted(lines: Iterable[str], columns: int | None) -> Iterator[str]:
    """Lines wrapped at words, what follows of each two columns further in; as they are where columns is None."""
    from derate.report.colour import styled

    for line in lines:
        if columns is None or cells(line) <= columns:
            yield line
            continue
        indent = " " * (len(line) - len(line.lstrip(" ")))
        yield from styled(getattr(line, "style", ""), wrapped(line.strip(), columns, indent, f"{indent}  "))


def _source(path: str) -> str | None:
    from derate.text.nodes import read_text

    try:
        return read_text(path)
    except ReadingError:
        return None


def _is_terminal(stream: TextIO) -> bool:
    try:
        return stream.isatty()
    except ValueError:  # closed
        return False


class _Chosen:
    """What `--colour` of this run says; every command is one run."""

    colour = "auto"


def choose(arguments: argparse.Namespace) -> None:
    """Take what the command line says of colours; `auto` where the command has no such option."""
    _Chosen.colour = getattr(arguments, "colour", "auto")


def at_terminal() -> bool:
    """Whether standard output is a terminal: somebody sees what is said."""
    return _is_terminal(sys.stdout)


def for_people() -> bool:
    """Whether standard output gets the layout for people: a terminal, or colour that was asked for."""
    return _is_terminal(sys.stdout) or coloured()


def coloured() -> bool:
    """Whether to write colours: the option wins, then NO_COLOR, then FORCE_COLOR, then whether it is a terminal."""
    if _Chosen.colour != "auto":
        return _Chosen.colour == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return _is_terminal(sys.stdout) and os.environ.get("TERM") != "dumb"


def width() -> int:
    """Columns of the terminal, 80 when nobody says."""
    return _size("COLUMNS", 0, 80)


def height() -> int:
    """Rows of the terminal, 24 when nobody says."""
    return _size("LINES", 1, 24)


def _size(variable: str, place: int, unsaid: int) -> int:
    """What the environment says, else the terminal: as `shutil` has it, which takes longer to load than all of this."""
    stated = os.environ.get(variable, "")
    if stated.strip().isdecimal() and int(stated) > 0:
        return int(stated)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno())[place] or unsaid  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):
        return unsaid


def draws() -> bool:
    """Whether standard output can show line-drawing characters."""
    try:
        "━╌·┃▸–².".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
