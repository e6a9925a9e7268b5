"""Names in code: case groups and loads, each word once; quantities by type, and the one door for built ones."""

from __future__ import annotations

from typing import Final, Literal, NewType, cast, get_args

from derate.terms.quantity_names import QuantityName

# Groups of cases and loads: which condition of the whole supply a row holds for, each word once.
#
# Nothing else in the code writes these words: a misspelt constant does not exist, a misspelt word has not the type. A
# pack may ask for the groups of `PACK_GROUPS`; the others hold what is worked out on the way.


CaseGroup = Literal[
    "running",
    "brown-out",
    "cold start",
    "end of life",
    "overload",
    "boundary",
    "switch-on",
    "hot restart",
    "re-plug",
    "dip",
    "surge",
    "unplug",
    "fault",
    # The conditions somebody read a figure at, and steps on the way to a row: no rule asks for these.
    "reading",
    "bulk 1",
    "bulk 2",
    "converter",
    "dip start",
    "fault path",
    "life",
    "resistance at 25 degC",
    "resistance hot",
    "resistance in a fault",
    "rest of the path",
    "surge ahead",
    "surge behind the varistor",
    "surge path",
    "surge table",
    "winding",
]
GROUPS: tuple[CaseGroup, ...] = get_args(CaseGroup)

RUNNING: Final[CaseGroup] = "running"
BROWN_OUT: Final[CaseGroup] = "brown-out"
COLD_START: Final[CaseGroup] = "cold start"
END_OF_LIFE: Final[CaseGroup] = "end of life"
OVERLOAD: Final[CaseGroup] = "overload"
BOUNDARY: Final[CaseGroup] = "boundary"
SWITCH_ON: Final[CaseGroup] = "switch-on"
HOT_RESTART: Final[CaseGroup] = "hot restart"
RE_PLUG: Final[CaseGroup] = "re-plug"
DIP: Final[CaseGroup] = "dip"
SURGE: Final[CaseGroup] = "surge"
UNPLUG: Final[CaseGroup] = "unplug"
FAULT: Final[CaseGroup] = "fault"
READING: Final[CaseGroup] = "reading"

# What a rule of a pack may ask for.
PACK_GROUPS: tuple[CaseGroup, ...] = (
    RUNNING,
    BROWN_OUT,
    COLD_START,
    END_OF_LIFE,
    OVERLOAD,
    BOUNDARY,
    SWITCH_ON,
    HOT_RESTART,
    RE_PLUG,
    DIP,
    SURGE,
    UNPLUG,
    FAULT,
)


def group_of(word: str) -> CaseGroup:
    """A word that was read, as a group a pack may ask for. Raises KeyError on any other."""
    for group in PACK_GROUPS:
        if word == group:
            return group
    raise KeyError(f"{word}: no such group of cases")


def re_plug_of(part: str) -> CaseGroup:
    """The step of one part on the way to its re-plug: what lies ahead of it differs from part to part."""
    return cast(CaseGroup, f"{RE_PLUG} of {part}")


Load = NewType("Load", str)

FULL_LOAD: Final = Load("full")
LEAST_LOAD: Final = Load("least")
NO_LOAD: Final = Load("none")
ALL_FULL: Final = Load("all full")  # every output of several at its full current
LOWEST_MAINS: Final = Load("lowest mains")  # where each mains end is run on the way: the load as it is there
HIGHEST_MAINS: Final = Load("highest mains")
ANY_LOAD: Final = Load("")  # the load plays no part


def full_load_of(output: str) -> Load:
    """One of several outputs at its full current, the others as they are worst."""
    return Load(f"{output} {FULL_LOAD}")


# Quantities by name in code: the type of every name, and the one door for names that are put together.
#
# `context.fact(part(name), "curent_peak")` is refused by mypy; a name built from pieces goes through `named`, which
# raises where the vocabulary has no such name.


QUANTITIES: frozenset[QuantityName] = frozenset(get_args(QuantityName))


def named(name: str) -> QuantityName:
    """A name that was put together or read, as a quantity. Raises KeyError on a name that exists nowhere."""
    if name not in QUANTITIES:
        raise KeyError(f"{name}: no such quantity")
    return name


def of_family(name: QuantityName, family: str) -> QuantityName:
    """The quantity of one family where several are loaded: each has requirement rows of its own."""
    return cast(QuantityName, f"{name} in {family}")


def each(*names: QuantityName) -> tuple[QuantityName, ...]:
    """Several quantities to be gone through in turn, each checked by its type."""
    return names


def paired(*rows: tuple[QuantityName, str]) -> tuple[tuple[QuantityName, str], ...]:
    """Several quantities, each with the output of a model (or another word) that it goes with."""
    return rows


# What heat and cold add by a coefficient that a file states. Drawn as one: about 25 degC, and about a coefficient that
# may go either way, neither that nor how hot the part gets would move anything by itself.
HEAT: tuple[QuantityName, ...] = ("temperature_share", "temperature_shift")
