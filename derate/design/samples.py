"""Which of several samples of one supply a reading or a test is of."""

from __future__ import annotations

import re
from typing import NamedTuple

from derate.design.record import Form, Schema, said
from derate.terms.values import Place, Problem
from derate.terms.words import EVIDENCE
from derate.text.nodes import Node

RETESTS = ("after repair", "as it was")
# How a reading or a test is known that somebody took of a sample, or did to one. Of any other word nobody held an
# instrument to it: a mark and a data sheet are of the type, and what is merely stated is hearsay.
AT_THE_BENCH = ("measured", "counted", "seen")
UNSEEN = tuple(one for one in EVIDENCE if one not in AT_THE_BENCH)
# What an inspection says that nobody looked at: of a design of one's own a drawing or a data sheet is a look.
NOT_LOOKED_AT = ("ordered", "simulated", "calculated", "stated", "assumed")
NOT_WRITTEN = "not written down"


class Sample(NamedTuple):
    """One of several samples: its number, and how many there are."""

    number: int
    of: int
    place: Place | None = None

    @property
    def words(self) -> str:
        """As every finding calls it."""
        return f"sample {self.number} of {self.of}"


def called(sample: Sample | None, retest: str) -> str:
    """Which sample it is of, and that it was tried again, as it follows a name; '' for the only one."""
    words = f", {sample.words}" if sample is not None else ""
    return f"{words}, tried again {retest}" if retest else words


class SampleForm(Form):
    """`3 of 5`."""

    says = "which sample"

    def read(self, node: Node, problems: list[Problem]) -> Sample | None:
        """The sample; None for unknown."""
        text = said(node, self.says, problems)
        if text is None or text == "unknown":
            return None
        found = re.fullmatch(r"(\d{1,4}) of (\d{1,4})", text)
        if found is None:
            problems.append(Problem(node.place, f"'{text[:40]}' does not say which sample of how many", "write 3 of 5"))
            return None
        sample = Sample(int(found[1]), int(found[2]), node.place)
        if not 1 <= sample.number <= sample.of:
            told = f"there is no {sample.words}"
            problems.append(Problem(node.place, told, f"write a number from 1 to {max(sample.of, 1)} of them"))
            return None
        return sample

    def schema(self) -> Schema:
        """A number of a number."""
        return {"type": "string", "pattern": r"^\s*(\d{1,4} of \d{1,4}|unknown)\s*(\(.*\)\s*)?$"}

    def written(self) -> str:
        """As typed."""
        return "3 of 5"
