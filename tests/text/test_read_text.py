"""Files that are read and files that are refused, each in a sentence."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from derate.terms.values import ReadingError
from derate.text.nodes import compose, read_text


def refused(path: Path | str) -> str:
    with pytest.raises(ReadingError) as caught:
        read_text(str(path))
    return str(caught.value).removeprefix(str(path))


def test_byte_order_mark_and_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: \xc2\xb5\r\n")
    text = read_text(str(file))
    assert text == "a: 1\r\nb: µ\r\n"
    second = compose(text, str(file)).key("b")
    assert second is not None and (second.place.line, second.place.column) == (2, 1)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"a: 1\nb: \xb5F\n", ":2:4: this is not UTF-8 text; save the file as UTF-8"),
        (b"\xff\xfea\x00", ":1:1: this file is UTF-16; save it as UTF-8"),
        (b"a: \x00", ":1:4: a NUL character stands here; take it out"),
        (b"a: \x1b[0m", ":1:4: the control character U+001B stands here; take it out"),
        (b"a: \x7f", ":1:4: the control character U+007F stands here; take it out"),
        (b"a: 1\xc2\x85", ":1:5: the line end U+0085 stands here; take it out"),
        (b"a: 1\xe2\x80\xa8", ":1:5: the line end U+2028 stands here; take it out"),
        (b"\xc2\xb5: 1\rb: 2", ":1:5: a carriage return without a line feed stands here; "
         "save the file with ordinary line ends"),
        (b"x" * 4_000_001, ":1:1: this file is larger than 4 MB"),
        (b"a: \xef\xbb\xbf", ":1:4: a byte order mark inside the text stands here; take it out"),
    ],
)  # fmt: skip
def test_contents_refused(tmp_path: Path, data: bytes, said: str) -> None:
    file = tmp_path / "d.yaml"
    file.write_bytes(data)
    assert refused(file) == said


def test_files_refused(tmp_path: Path) -> None:
    assert refused(tmp_path) == ":1:1: this is a folder; name a file"
    assert refused(tmp_path / "none.yaml") == ":1:1: there is no such file"
    assert refused(tmp_path / "d.yaml" / "x") == ":1:1: there is no such file"
    (tmp_path / "d.yaml").write_text("a: 1")
    assert "could not be read" in refused(tmp_path / "d.yaml" / "x")
    link = tmp_path / "link.yaml"
    link.symlink_to(tmp_path / "gone.yaml")
    assert refused(link) == ":1:1: this link leads nowhere"
    loop = tmp_path / "loop.yaml"
    loop.symlink_to(loop)
    assert "could not be read" in refused(loop)
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path / "pipe") == ":1:1: this is not an ordinary file; name a file"
    assert "NUL" in refused("a\0b")
    assert "could not be read" in refused("x" * 5000)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "d.yaml"
    file.write_text("a: 1")

    def forbidden(*_: object) -> None:
        raise PermissionError

    monkeypatch.setattr("os.open", forbidden)
    assert refused(file) == ":1:1: this file may not be read; its permissions forbid it"


def test_twenty_characters_are_told(tmp_path: Path) -> None:
    file = tmp_path / "d.yaml"
    file.write_text("\x01" * 500)
    assert refused(file).count("take it out") == 20
