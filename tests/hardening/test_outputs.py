"""What stands in a file is shown and never obeyed; what a figure was worked out by is said by every command."""

from __future__ import annotations

import csv
import io
import os
from importlib.util import find_spec
from pathlib import Path

import pytest
from hardening_bench import SMALL, Run
from markdown_it import MarkdownIt

from derate.cli.main import main
from derate.report.markdown import text

LAMP = "lamp.derate.yaml"
LINKIFY = find_spec("linkify_it") is not None
HOSTILE = (
    "http://evil.example/x", "https://evil.example", "www.evil.example", "evil.com", "ftp://evil.example", "a@evil.com",
    "mailto:a@evil.com", "see #1", "o/r#12", "GH-3", "@everyone", "[x](http://evil.example)", "<http://evil.example>",
    "![x](//evil.example/p.png)", "<script>alert(1)</script>", "<img src=x onerror=y>", "a | b", "`x`", "**x**", "_x_",
    "# x", "- x", "1. x", "> x", "~~x~~", "&lt;b&gt;", "$x^2$", "[ref]: http://evil.example", "\\", "x\n\n# y",
)  # fmt: skip


@pytest.mark.parametrize("said", HOSTILE)
def test_markdown_shows_the_text_and_links_nothing(said: str) -> None:
    """Where the library that finds links in bare text is there, it finds none; that no whole address is left holds
    without it."""
    renderer = MarkdownIt("commonmark", {"linkify": LINKIFY, "html": True}).enable(["table", "strikethrough"])
    if LINKIFY:
        renderer.enable("linkify")
    for line in (text(said), f"- {text(said)}", f"x {text(said)} y"):
        page = renderer.render(line).replace("<!-- -->", "")
        for mark in ("<a ", "<img", "<script", "<h1", "<code", "<strong", "<em", "<s>", "<blockquote", "<ol"):
            assert mark not in page, (line, page)
    written = text(said)
    for whole in ("://", "@e", "#1", "GH-", "www.", "evil.com", "evil.example"):
        assert whole not in written, written


def test_the_library_that_finds_links_is_there_where_it_has_to_be() -> None:
    assert LINKIFY or os.environ.get("CI") != "true"


@pytest.mark.skipif(not LINKIFY, reason="linkify-it-py is not installed")
def test_that_renderer_finds_the_links_of_text_as_it_was_typed() -> None:
    """So that the test above can fail: addresses, bare hosts and mail are links where nothing is done to them."""
    renderer = MarkdownIt("commonmark", {"linkify": True}).enable("linkify")
    found = [said for said in HOSTILE if "<a " in renderer.render(f"x {said} y")]
    assert {"http://evil.example/x", "evil.com", "a@evil.com", "ftp://evil.example"} <= {*found}


def test_a_table_cell_stays_one(repository: Path) -> None:
    renderer = MarkdownIt("commonmark").enable("table")
    page = renderer.render(f"| a | b |\n| --- | --- |\n| {text('x | y')} | z |\n")
    assert page.count("<td>") == 2


def hostile_design(said: str) -> str:
    """The small supply with a hostile name and reason."""
    quoted = "'" + said.replace("'", "''").replace("\n", " ") + "'"
    return SMALL.replace("name: Heavy", f"name: {quoted}").replace(
        "parts_list: main parts", f"parts_list: main parts\n  sample: {quoted}"
    )


@pytest.mark.parametrize("said", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "<script>alert(1)</script>", "a | b", "#1"])
def test_every_form_takes_a_hostile_name(said: str, repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path(LAMP).write_text(hostile_design(said))
    for form in ("html", "markdown", "sarif", "junit", "csv"):
        assert main(["report", LAMP, "--format", form, "--today", "2026-11-25"]) == 0
        out = capsys.readouterr().out
        if form in ("html", "markdown"):
            assert "<script>alert" not in out
        if form == "csv":
            cells = [cell for row in csv.reader(io.StringIO(out)) for cell in row]
            assert [cell for cell in cells if cell[:1] in tuple("=@\t\r")] == []
            assert [cell for cell in cells if cell[:1] in ("+", "-") and not _is_number(cell)] == []


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("command", ["lint", "stress", "faults", "insulation", "missing", "headroom", "compare"])
@pytest.mark.parametrize("colour", [False, True])
def test_no_command_writes_what_a_terminal_obeys(
    command: str, colour: bool, repository: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Escape sequences, marks that turn writing, line ends: in a name, a part list, an error."""
    if colour:
        monkeypatch.setenv("FORCE_COLOR", "1")
    bad = "x\\e[2Jy\\u202ez\\rw\\x9b31m"
    Path(LAMP).write_text(SMALL.replace("name: Heavy", f'name: "{bad}"'))
    names = [LAMP, LAMP] if command == "compare" else [LAMP]
    main([command, *names])
    taken = capsys.readouterr()
    for out in (taken.out, taken.err):
        assert "\x1b[2J" not in out and "\u202e" not in out and "\r" not in out and "\x9b" not in out
    Path(LAMP).write_text(SMALL.replace("fuse 1 A", f'"{bad}"'))
    assert main([command, *names]) == 2
    told = capsys.readouterr().err
    assert "\x1b" not in told.replace("\x1b[0m", "") or colour
    assert "\x1b[2J" not in told and "\u202e" not in told and "\x9b" not in told


# ---- what it was worked out by


@pytest.mark.parametrize(
    "argv",
    [
        ("stress", LAMP),
        ("stress", LAMP, "--all"),
        ("faults", LAMP),
        ("insulation", LAMP),
        ("missing", LAMP),
        ("headroom", LAMP),
        ("compare", LAMP, LAMP),
        ("compare", LAMP, LAMP, "--format", "markdown"),
        ("compare", LAMP, LAMP, "--format", "html"),
    ],
)
def test_every_command_says_at_its_top_by_what_it_is_softer(
    argv: tuple[str, ...], repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An assumption of the house stands behind figures too, not behind verdicts alone."""
    assert main([*argv]) in (0, 1)
    assert "softer than the shipped" not in capsys.readouterr().out
    Path("rules").mkdir()
    Path("rules/own.yaml").write_text(
        "pack: own\ntitle: t\ncovers: c\nassumptions:\n  mains_resistance: {value: 4..5 ohm, bounding: none, says: s, "
        "source: our street, confidence: common practice}\nrules: []\n"
    )
    Path(".derate.yaml").write_text("packs: [commercial-practice, mains-fusing, insulation-it-equipment, own]\n")
    assert main([*argv]) in (0, 1)
    out = capsys.readouterr().out.replace("<!-- -->", "").replace("\\", "")
    first = out.find("mains_resistance: 4 to 5 ohm")
    assert first >= 0 and "own (house pack, rules/own.yaml, " in out
    if argv[0] != "compare":
        assert out.split("\n")[0] == f"{LAMP}: The gate here is softer than the shipped one:"


@pytest.mark.parametrize("command", ["stress", "faults", "insulation"])
def test_beside_data_it_is_said_on_standard_error(
    command: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import json

    main([command, LAMP, "--format", "json", "--pack", "mains-fusing", "--pack", "insulation-household"])
    taken = capsys.readouterr()
    json.loads(taken.out)
    assert "softer: pack left out (command line): commercial-practice" in taken.err


# ---- names, chains, a reader that leaves


@pytest.mark.parametrize(
    "name", ["p" * 300, "p" * 100_000, "rules/" + "p" * 300 + ".yaml", "a/" * 3000 + "x.yaml", '"a\\0b"']
)
def test_a_name_of_a_pack_that_no_file_can_have(
    name: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And the other designs of the run are judged."""
    Path("bad.derate.yaml").write_text(SMALL + f"packs: [{name}]\n")
    assert main(["lint", "."]) == 2
    taken = capsys.readouterr()
    assert "bad.derate.yaml:" in taken.err and f"{LAMP}: overall" in taken.out and "should not happen" not in taken.err
    assert len(taken.err) < 2000


@pytest.mark.parametrize("key", ["revision_of", "photos", "capture"])
@pytest.mark.parametrize("name", ["x" * 300, '"a\\0b"', "a/" * 3000 + "x"])
def test_a_name_of_a_file_that_none_can_have(
    key: str, name: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    texts = {
        "revision_of": f"revision_of: {name}\n",
        "photos": "",
        "capture": f"readings: [{{at: {{mains: 230 V}}, capture: {{file: {name}, current: {{C1: CH1}}}}}}]\n",
    }
    design = SMALL.replace("topology:", f"photos: {name}\n  topology:") if key == "photos" else SMALL
    Path("bad.derate.yaml").write_text(design + texts[key])
    for argv in (["lint", "."], ["capture", "bad.derate.yaml"], ["report", "bad.derate.yaml"]):
        status = main(argv)
        taken = capsys.readouterr()
        assert "should not happen" not in taken.err and "worked through" not in taken.err, taken.err
        assert status in (0, 1, 2)
        if argv[0] == "lint":
            assert f"{LAMP}: overall" in taken.out


def test_a_chain_of_fifteen_hundred_packs(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("rules").mkdir()
    for number in range(1500):
        below = f"builds_on: [chain-{number + 1}]\n" if number < 1499 else ""
        Path(f"rules/chain-{number}.yaml").write_text(f"pack: chain-{number}\ntitle: t\ncovers: c\n{below}rules: []\n")
    Path("bad.derate.yaml").write_text(SMALL + "packs: [chain-0]\n")
    assert main(["lint", "."]) == 2
    taken = capsys.readouterr()
    assert "more than 20 packs build on one another" in taken.err and f"{LAMP}: overall" in taken.out
    Path("bad.derate.yaml").write_text(SMALL + "packs: [commercial-practice, mains-fusing, chain-1481]\n")
    assert main(["lint", "bad.derate.yaml"]) == 1


def test_bytes_of_a_path_that_are_no_text(repository: Path, run: Run) -> None:
    name = b"l\xe4mp\xff.derate.yaml"
    with open(os.fsencode(repository) + b"/" + name, "wb") as file:
        file.write(SMALL.encode())
    done = run("lint", ".")
    assert done.returncode == 1 and b"lamp.derate.yaml: overall" in done.stdout and b"udcff" in done.stdout
    for argv in (("lint", "--format", "json"), ("report",), ("report", "--format", "sarif"), ("stress",), ("faults",)):
        assert run(argv[0], name, *argv[1:]).returncode in (0, 1)
    with open(os.fsencode(repository) + b"/" + name, "wb") as file:
        file.write(b"derate: 1\nname: \xff\n")
    done = run("lint", ".")
    assert done.returncode == 2 and b"this is not UTF-8 text" in done.stderr
    assert b"lamp.derate.yaml: overall" in done.stdout


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"\xef\xbb\xbf" + SMALL.encode(), 1),
        (SMALL.replace("\n", "\r\n").encode(), 1),
        (SMALL.replace("\n", "\r").encode(), 2),
        (SMALL.encode() + b"\x00", 2),
        (SMALL.encode("utf-16"), 2),
        (SMALL.encode() + b"# \xc3\x28\n", 2),
        (b"\xef\xbb\xbf" + SMALL.encode() + b"\xef\xbb\xbf", 2),
    ],
)
def test_odd_bytes_in_a_file_hide_no_other(
    data: bytes, status: int, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("odd.derate.yaml").write_bytes(data)
    assert main(["lint", "."]) == status
    taken = capsys.readouterr()
    assert f"{LAMP}: overall" in taken.out and ("odd.derate.yaml:" in taken.err) is (status == 2)


@pytest.mark.parametrize("argv", [("lint", LAMP), ("stress", LAMP, "--all"), ("report", LAMP), ("schema", "design")])
def test_a_reader_that_leaves_gets_one_sentence(argv: tuple[str, ...], repository: Path) -> None:
    """As `| head -1` does, at once: the end of the pipe is closed before anything is written."""
    import subprocess

    from hardening_bench import DERATE

    reads, writes = os.pipe()
    os.close(reads)
    done = subprocess.run([*DERATE, *argv], cwd=repository, stdout=writes, stderr=subprocess.PIPE, timeout=100)
    os.close(writes)
    assert done.returncode == 2
    assert done.stderr == b"derate stopped: what read its output has closed it\n"
