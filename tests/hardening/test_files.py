"""What is opened and what is written over: ordinary files alone, none outside the repository, none that was read."""

from __future__ import annotations

import os
import signal
import stat
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from hardening_bench import SMALL, Run
from PIL import Image, ImageFile

from derate.cli.main import main
from derate.ledger.entry import Entry, Subject
from derate.report.document import MOST_PHOTOS, MOST_PIXELS, photos
from derate.study.capture import GREATEST_FILE
from derate.terms.values import ReadingError
from derate.text.files import write_whole

LAMP = "lamp.derate.yaml"
SIGNED = ("--reason", "r", "--by", "lead", "--last-day", "2027-06-30", "--today", "2026-11-25")
SECRET = "secret-figure: 4711"


def refusal(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """What a refused command said: exit status 2, nothing else raised, nothing of outside in it."""
    assert main(list(argv)) == 2
    taken = capsys.readouterr()
    assert "error: " in taken.err and "should not happen" not in taken.err
    assert "4711" not in taken.err + taken.out
    return taken.err


# ---- what is opened


@pytest.mark.parametrize(
    ("pipe", "argv"),
    [
        (LAMP, ("lint", LAMP)),
        (LAMP, ("lint", ".")),
        (LAMP, ("lint", "--changed", LAMP)),
        (LAMP, ("stress", LAMP)),
        (LAMP, ("report", LAMP)),
        (".derate.yaml", ("lint", LAMP)),
        ("rules/house.yaml", ("lint", LAMP, "--pack", "rules/house.yaml")),
        ("rules/house.yaml", ("lint", LAMP, "--pack", "house")),
        ("rules/house.yaml", ("rules", "--try", "rules/house.yaml")),
        ("known.json", ("lint", LAMP, "--known", "known.json")),
        ("other.yaml", ("compare", LAMP, "other.yaml")),
    ],
)
def test_a_pipe_is_not_opened(pipe: str, argv: tuple[str, ...], repository: Path, run: Run) -> None:
    """Whoever opens one waits for ever."""
    path = repository / pipe
    path.unlink(missing_ok=True)
    path.parent.mkdir(exist_ok=True)
    os.mkfifo(path)
    done = run(*argv)
    assert done.returncode == 2 and b"error: " in done.stderr


def test_a_pipe_among_designs_hides_none_of_them(repository: Path, run: Run) -> None:
    os.mkfifo(repository / "other.derate.yaml")
    done = run("lint", ".")
    assert done.returncode == 2 and b"other.derate.yaml:1:1: error: this is not an ordinary file" in done.stderr
    assert b"lamp.derate.yaml: overall " in done.stdout


def test_what_takes_the_place_of_a_file_while_it_is_opened(repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at as a file, opened as a pipe."""
    about, opened = os.stat(LAMP), os.open
    os.mkfifo("pipe")
    monkeypatch.setattr("os.stat", lambda path, **more: about)
    monkeypatch.setattr("os.open", lambda path, flags, *more: opened("pipe", flags, *more))
    from derate.text.nodes import read_bytes

    with pytest.raises(ReadingError, match="not an ordinary file"):
        read_bytes(LAMP)


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/stdin", "/dev/tty"])
def test_no_device_is_opened(name: str, run: Run) -> None:
    assert run("lint", name).returncode == 2


# ---- the border


@pytest.fixture
def outside(repository: Path) -> Path:
    """A file beside the repository, with something in it that nobody may read out."""
    path = repository.parent / "outside.yaml"
    path.write_text(f"{SECRET}\n", encoding="utf-8")
    return path


def test_a_design_that_is_a_link_out_is_not_read(
    repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / "link.derate.yaml").symlink_to(outside)
    for command, path in (("lint", "link.derate.yaml"), ("lint", "."), ("report", "link.derate.yaml")):
        told = refusal(capsys, command, path)
        assert "link.derate.yaml:1:1: error: this link leads out of the repository" in told
    (repository / "inner.derate.yaml").symlink_to(LAMP)
    assert main(["lint", "inner.derate.yaml"]) == 1


def test_settings_that_are_a_link_out_are_not_read(
    repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / ".derate.yaml").symlink_to(outside)
    assert "leads out of the repository" in refusal(capsys, "lint", LAMP)
    (repository / "deep").mkdir()
    (repository / "deep" / LAMP).write_text(SMALL)
    (repository / ".derate.yaml").unlink()
    (repository / "deep/.derate.yaml").symlink_to(outside)
    assert "leads out of the repository" in refusal(capsys, "lint", f"deep/{LAMP}")


def test_settings_that_lead_nowhere_are_no_absent_settings(
    repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A harder level that cannot be read would otherwise be the shipped one."""
    (repository / ".derate.yaml").symlink_to("gone.yaml")
    assert "leads nowhere" in refusal(capsys, "lint", LAMP)
    (repository / ".derate.yaml").unlink()
    (repository / ".derate.yaml").mkdir()
    assert "this is a folder" in refusal(capsys, "lint", LAMP)


@pytest.mark.parametrize("name", ["rules/house.yaml", "house", "../outside.yaml", "rules/folder/outside.yaml"])
@pytest.mark.parametrize("who", ["design", "settings"])
@pytest.mark.parametrize("git", [True, False])
def test_no_pack_outside_is_read(
    name: str, who: str, git: bool, repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By a path, by a link, through a folder that is one; without a repository the design's folder is it."""
    if not git:
        (repository / ".git").rmdir()
    (repository / "rules").mkdir()
    (repository / "rules/house.yaml").symlink_to(outside)
    (repository / "rules/folder").symlink_to(outside.parent)
    if who == "design":
        (repository / LAMP).write_text(SMALL + f"packs: [{name}]\n")
    else:
        (repository / ".derate.yaml").write_text(f"packs: [{name}]\n")
    assert "leads out of the repository" in refusal(capsys, "lint", LAMP)


def test_no_pack_builds_on_one_outside(repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (repository / "rules").mkdir()
    head = "pack: house\ntitle: t\ncovers: c\nrules: []\n"
    (repository / LAMP).write_text(SMALL + "packs: [house]\n")
    (repository / "rules/base.yaml").symlink_to(outside)
    for name in ("base", "../../outside.yaml"):
        (repository / "rules/house.yaml").write_text(f"{head}builds_on: [{name}]\n")
        assert "leads out of the repository" in refusal(capsys, "lint", LAMP)


def test_a_record_that_is_a_link_out_is_not_read(
    repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / "known.json").symlink_to(outside)
    assert "leads out of the repository" in refusal(capsys, "lint", LAMP, "--known", "known.json")


@pytest.mark.parametrize("git", [True, False])
def test_no_capture_outside_is_read(
    git: bool, repository: Path, outside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if not git:
        (repository / ".git").rmdir()
    (repository / "shot.csv").symlink_to(outside)
    for name in ("shot.csv", "../outside.yaml"):
        reading = f"{{at: {{mains: 230 V, load: full}}, capture: {{file: {name}, current: {{C1: CH1}}}}}}"
        (repository / LAMP).write_text(SMALL + f"readings: [{reading}]\n")
        assert "lies outside this repository" in refusal(capsys, "capture", LAMP)


# ---- sizes told before anything is decoded


def flat_picture(path: Path, side: int) -> None:
    """A picture of one shade: a few kilobytes for any number of pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    packer = zlib.compressobj(9)
    rows = b"".join([*(packer.compress(bytes(1 + side // 8)) for _ in range(side)), packer.flush()])
    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b""))


def test_a_photo_of_too_many_pixels_is_told_and_not_decoded(
    repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    side = 8 * int(MOST_PIXELS**0.5 / 8)
    flat_picture(repository / "7.png", side + 80)
    flat_picture(repository / "8.png", 800)
    assert (repository / "7.png").stat().st_size < 20_000
    decoded: list[object] = []
    own = ImageFile.ImageFile.load
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda self: (decoded.append(self.size), own(self))[1])
    entries = [Entry(1, Subject("barrier", ("gap",)), "found.clearance", None, None, note="photos 7 and 8")]
    seven, eight = photos(entries, ".", LAMP)
    assert not seven.data and f"more than {MOST_PIXELS // 1_000_000} million" in seven.why
    assert eight.data and (800, 800) in decoded and all(size[0] <= 800 for size in decoded)


def test_a_report_shows_so_many_photos(repository: Path) -> None:
    Image.new("RGB", (8, 8)).save("1.png")
    for number in range(2, MOST_PHOTOS + 3):
        os.link("1.png", f"{number}.png")
    note = "photos 1" + "".join(f", {number}" for number in range(2, MOST_PHOTOS + 3))
    found = photos([Entry(1, Subject("barrier", ("gap",)), "found.clearance", None, None, note=note)], ".", LAMP)
    assert [bool(one.data) for one in found] == [True] * MOST_PHOTOS + [False] * 2
    assert "this is one more" in found[-1].why


@pytest.mark.parametrize("kind", ["pipe", "large"])
def test_a_photo_that_is_none(kind: str, repository: Path) -> None:
    if kind == "pipe":
        os.mkfifo("7.png")
    else:
        with open("7.png", "wb") as file:
            file.truncate(40_000_001)
    (photo,) = photos([Entry(1, Subject("barrier", ("g",)), "found.clearance", None, None, note="photo 7")], ".", LAMP)
    assert not photo.data and ("ordinary" if kind == "pipe" else "larger than 40 MB") in photo.why


@pytest.mark.parametrize("kind", ["pipe", "large"])
def test_a_capture_that_is_none(kind: str, repository: Path, run: Run) -> None:
    if kind == "pipe":
        os.mkfifo("shot.csv")
    else:
        with open("shot.csv", "wb") as file:
            file.truncate(GREATEST_FILE + 1)
    reading = "{at: {mains: 230 V, load: full}, capture: {file: shot.csv, current: {C1: CH1}}}"
    (repository / LAMP).write_text(SMALL + f"readings: [{reading}]\n")
    done = run("capture", LAMP)
    said = b"not an ordinary file" if kind == "pipe" else b"larger than 50 MB"
    assert done.returncode == 2 and said in done.stderr


# ---- what is written over

WRITING = {
    "report": ("report", LAMP, "--format", "markdown", "--today", "2026-11-25", "--to"),
    "compare": ("compare", LAMP, LAMP, "--today", "2026-11-25", "--to"),
    "record": ("lint", LAMP, *SIGNED, "--record"),
}


@pytest.mark.parametrize("command", WRITING)
def test_nothing_but_an_ordinary_file_is_replaced(
    command: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo("pipe")
    Path("other.txt").write_text("kept")
    Path("link").symlink_to("other.txt")
    Path("gone").symlink_to("nowhere")
    before = sorted(os.listdir())
    for name in ("pipe", "link", "gone", "/dev/null"):
        told = refusal(capsys, *WRITING[command], name)
        assert "is not replaced" in told, told
    assert sorted(os.listdir()) == before and Path("other.txt").read_text() == "kept"
    assert stat.S_ISFIFO(os.lstat("pipe").st_mode) and os.readlink("gone") == "nowhere"
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


@pytest.mark.parametrize("command", WRITING)
@pytest.mark.parametrize(
    "name", [LAMP, f"./{LAMP}", "twin.derate.yaml", ".derate.yaml", "rules/house.yaml", "base.yaml"]
)
def test_no_file_that_was_read_is_written_over(
    command: str, name: str, repository: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (repository / "rules").mkdir()
    head = "pack: house\ntitle: t\ncovers: c\n"
    Path("rules/house.yaml").write_text(f"{head}builds_on: [commercial-practice]\nrules: []\n")
    Path(".derate.yaml").write_text("packs: [house]\n")
    Path("base.yaml").write_text(SMALL)
    Path(LAMP).write_text("derate: 1\nrevision_of: base.yaml\nsupply: {name: Lamp, basis: own design}\nparts: {}\n")
    os.link(LAMP, "twin.derate.yaml")
    texts = {path: path.read_bytes() for path in repository.rglob("*.yaml")}
    assert "is not written over" in refusal(capsys, *WRITING[command], name)
    assert {path: path.read_bytes() for path in repository.rglob("*.yaml")} == texts


def test_nor_the_record_that_was_read(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*WRITING["record"], "known.json"]) == 1
    capsys.readouterr()
    before = Path("known.json").read_bytes()
    for argv in (WRITING["record"], WRITING["report"]):
        assert "is not written over" in refusal(capsys, *argv, "known.json", "--known", "known.json")
    assert Path("known.json").read_bytes() == before
    assert main([*WRITING["record"], "known.json"]) == 1, "one that was not read may be renewed"


@pytest.mark.parametrize("command", WRITING)
def test_the_mode_is_kept(command: str, repository: Path) -> None:
    Path("out.txt").write_text("old")
    os.chmod("out.txt", 0o640)
    assert main([*WRITING[command], "out.txt"]) in (0, 1)
    assert stat.S_IMODE(os.stat("out.txt").st_mode) == 0o640 and Path("out.txt").read_text() != "old"
    mask = os.umask(0o027)
    try:
        assert main([*WRITING[command], "new.txt"]) in (0, 1)
    finally:
        os.umask(mask)
    assert stat.S_IMODE(os.stat("new.txt").st_mode) == 0o640


_STOPPED = """
import os, signal, sys
sys.path[:] = {path!r}
for one in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
    signal.signal(one, signal.default_int_handler if one == signal.SIGINT else signal.SIG_DFL)
import derate.text.files as files
real = os.{step}
def stopped(*given, **named):
    os.kill(os.getpid(), {number})
    return real(*given, **named)
files.os.{step} = stopped
files.write_whole("out.txt", "new")
"""


@pytest.mark.parametrize("step", ["fsync", "chmod", "replace"])
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_in_the_middle_of_writing_leaves_no_file_behind(name: str, step: str, repository: Path) -> None:
    number = int(getattr(signal, name))
    Path("out.txt").write_text("old")
    code = _STOPPED.format(path=sys.path, number=number, step=step)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=60)
    assert done.returncode in (-number, 1), done.stderr  # ended by it all the same
    assert done.returncode == -number or b"KeyboardInterrupt" in done.stderr
    assert Path("out.txt").read_text() == "new", "it waited until the file was whole"
    assert sorted(os.listdir()) == [".git", LAMP, "out.txt"]


def test_what_cannot_be_written_leaves_the_old_file(repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    Path("out.txt").write_text("old")
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(ReadingError, match="No space left on device"):
        write_whole("out.txt", "new")
    assert Path("out.txt").read_text() == "old" and sorted(os.listdir()) == [".git", LAMP, "out.txt"]
    assert signal.pthread_sigmask(signal.SIG_BLOCK, []) == set(), "signals arrive again"
