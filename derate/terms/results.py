"""What a test or a look at a sample may come to, and what each word means: adverse, favourable, or nothing said.

Whoever judges asks for the meaning, never for the word. A word that is not on the list is refused where it is read.
"""

from __future__ import annotations

from typing import Literal

Meaning = Literal["adverse", "favourable", "nothing said"]

TESTS = (
    "overload",
    "electric strength",
    "insulation resistance",
    "touch current",
    "discharge",
    "earth continuity",
    "fault",
)
RESULTS: dict[str, Meaning] = {
    "held": "favourable",
    "passed": "favourable",
    "survived": "favourable",
    "broke down": "adverse",
    "failed": "adverse",
    "flashover": "adverse",
    "arced": "adverse",
    "opened": "adverse",
    "did not open": "adverse",
    "shut down": "favourable",
    "caught fire": "adverse",
    "flames": "adverse",
    "smoked": "adverse",
    "glowed": "adverse",
    "melted": "adverse",
    "burst": "adverse",
    "tripped": "adverse",
    "not done": "nothing said",
    "unknown": "nothing said",
}
# The same word of another kind of test: what protects may open on a fault, and has to.
_OF_A_FAULT: dict[str, Meaning] = {"opened": "favourable", "tripped": "favourable"}
_ONLY_OF_A_FAULT = ("did not open",)
_ONLY_OF_OVERLOAD_OR_FAULT = ("shut down", "opened")

# Ways to say of an inspection that somebody looked and found none, and that nobody looked.
FOUND_NOTHING = (
    "none",
    "nothing",
    "clean",
    "not seen",
    "no",
    "absent",
    "not found",
    "none found",
    "none seen",
    "nothing found",
    "nothing seen",
)
NOT_LOOKED = ("unknown", "not looked at", "not done", "not inspected")


def results_of(test: str) -> tuple[str, ...]:
    """The words a kind of test may come to."""
    if test == "fault":
        return tuple(RESULTS)
    left_out = _ONLY_OF_A_FAULT if test == "overload" else (*_ONLY_OF_A_FAULT, *_ONLY_OF_OVERLOAD_OR_FAULT)
    return tuple(word for word in RESULTS if word not in left_out)


def meaning_of(test: str, result: str) -> Meaning:
    """What a result means for a kind of test."""
    if test == "fault" and result in _OF_A_FAULT:
        return _OF_A_FAULT[result]
    return RESULTS[result]


def meaning_of_look(text: str) -> Meaning:
    """What an entry of an inspection that asks for faults means: anything found is adverse."""
    if text in FOUND_NOTHING:
        return "favourable"
    return "nothing said" if text in NOT_LOOKED else "adverse"
