"""Text from files cannot steer a screen, and lines keep to their width."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from derate.report.words import cells, clipped, plain, wrapped


@given(st.text())
def test_nothing_hidden_or_obeyed_is_left(text: str) -> None:
    shown = plain(text)
    for character in shown:
        assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp"), repr(character)


@given(st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=126)))
def test_ordinary_text_is_left_as_it_is(text: str) -> None:
    assert plain(text) == text
    assert plain("µ Ω ² – 電源 é") == "µ Ω ² – 電源 é"


def test_what_is_written_out() -> None:
    assert plain("C1\u202e2C") == "C1\\u202e2C"
    assert plain("a\x1b[31mred") == "a\\u001b[31mred"
    assert plain("one\ntwo\r\n\tthree") == "one two three"
    assert plain("tag\U000e0041") == "tag\\U000e0041"
    assert plain("bell\x07 nul\x00") == "bell\\u0007 nul\\u0000"


@given(st.text(alphabet="ab 電é", min_size=0, max_size=200), st.integers(20, 60))
def test_wrapped_lines_keep_to_their_width_and_lose_nothing(text: str, width: int) -> None:
    lines = wrapped(text, width, "> ", "  ")
    assert all(cells(line) <= width for line in lines)
    assert lines[0].startswith("> ")
    assert "".join(line[2:] for line in lines).replace(" ", "") == text.replace(" ", "")


def test_a_clipped_text_shows_that_it_was_cut() -> None:
    assert clipped("short", 10) == "short"
    assert clipped("a longer text", 8) == "a longe…"
    assert cells(clipped("電電電電電", 6)) <= 6
