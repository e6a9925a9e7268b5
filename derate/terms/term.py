"""One name of the vocabulary, and the little that its tables share."""

from __future__ import annotations

from typing import NamedTuple

from derate.terms.dimension import Dimension


class Term(NamedTuple):
    """One name of the vocabulary.

    dimension: None for words
    says: what it is, in a few words a colleague would use
    over: dimension of the condition when the fact may be a table, None otherwise
    words: the words to choose from, for a term without dimension; empty when free
    bad: +1 where more is worse, -1 where less is worse, 0 where neither holds by itself
    how: how a person gets it at the bench or from papers
    """

    name: str
    dimension: Dimension | None
    says: str
    over: Dimension | None = None
    words: tuple[str, ...] = ()
    bad: int = 0
    how: str = ""


YES_NO = ("yes", "no")
CLASSES = ("X1", "X2", "Y1", "Y2", "unmarked")


def terms(*rows: Term) -> dict[str, Term]:
    """The table of these terms, by name."""
    return {row.name: row for row in rows}
