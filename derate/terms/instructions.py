"""What an instruction does to the sample and to the person who follows it, and what has to stand beside it.

Every text that sends somebody to the bench (how a person gets a fact, how a finding is settled, what cures it) carries
words of one closed list. What stands beside a text, and what is withheld where the sample must not be powered, hangs
on these words and never on those of the text.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal, get_args

from derate.terms.tuples import NamedTuple

Does = Literal[
    "papers",  # reads or asks; touches no sample
    "closed",  # the case shut, the plug out
    "opened",  # the case open, unplugged and discharged
    "destructive",  # the sample, or a part of it, is used up
    "third party",  # somebody else has to say or to do it
    "earth test",  # current through the earth joint
    "pins",  # the pins of a plug that was just drawn
    "running",  # plugged in, the case shut, at what the plate allows
    "overload",  # plugged in, beyond the plate or up to where it gives way
    "sensor",  # a thermocouple inside or on it while it runs
    "probed",  # a point inside is measured while it runs
    "high voltage",  # electric strength, insulation resistance
    "touch current",  # current to earth from what can be touched
    "fault",  # a fault is provoked
    "mains wiring",  # the installation, not the supply
    "design",  # changes the design
    "not said",  # a house pack that does not say
]
DOES: Final[tuple[Does, ...]] = get_args(Does)
# Puts mains or a high voltage on the sample: withheld from one that must not be powered.
POWERED: Final[frozenset[Does]] = frozenset(
    ("pins", "running", "overload", "sensor", "probed", "high voltage", "touch current", "fault")
)


class Caution(NamedTuple):
    """What stands beside a text in a few words, and once on a page as sentences.

    mark: ahead of a text that a narrow screen may cut off at its end
    """

    beside: str
    page: str = ""
    mark: str = ""


CAUTIONS: Final[dict[Does, Caution]] = {
    "papers": Caution(""),
    "closed": Caution("unplugged", "Closed: the plug is out and the case stays shut.", mark="unplugged"),
    "opened": Caution(
        "unplugged and discharged, checked with a meter",
        "Opened: unplug it, discharge the bulk capacitor through a resistor, and check with a meter that it is empty, "
        "each time before anything inside is touched. An opened sample never goes back into use.",
        mark="unplugged, discharged",
    ),
    "destructive": Caution(
        "on a spare, which never goes back into use",
        "Destructive: on a spare that is unplugged and discharged. An unwound or broken sample is kept or scrapped, "
        "never used again.",
        mark="on a spare",
    ),
    "third party": Caution("by the maker, the supplier or a laboratory", "", mark="ask others"),
    "earth test": Caution(
        "by trained people, unplugged, from a low-voltage source",
        "Earth tests: by trained people, with the supply unplugged, from a tester of no more than 12 V open circuit.",
        mark="trained people",
    ),
    "pins": Caution(
        "by trained people, with a probe made for mains; the pins are live until they are shown to be empty",
        "Pins of a drawn plug: by trained people, with a probe and clips made for mains, put on before it is plugged "
        "in. The pins are live until they are shown to be empty.",
        mark="trained people, live pins",
    ),
    "running": Caution(
        "behind an isolating transformer, case shut, in sight; take the output for live",
        "Running: behind an isolating transformer, the case shut, on a surface that does not burn, in sight the whole "
        "time. The first switch-on is through a filament lamp in series that limits the current: where the lamp stays "
        "bright, it goes no further. Take the output for live until it is shown not to be. Mains current and mains "
        "power are read by an instrument made for mains, with its own plug and socket, never by a meter put into the "
        "line.",
        mark="isolated, in sight",
    ),
    "overload": Caution(
        "behind an isolating transformer, guarded, in sight, never alone",
        "Overload: behind an isolating transformer, guarded against fire and flying parts, in sight the whole time, "
        "never alone, with a switch within reach that is not on the supply. It may burn or burst at half of its plate.",
        mark="isolated, guarded, not alone",
    ),
    "sensor": Caution(
        "sensor fixed while unplugged and discharged, its reader isolated from earth and never touched while it runs",
        "Sensors: a thermocouple is fixed and insulated while the supply is unplugged and discharged, and led out of "
        "the shut case; its reader is isolated and stands clear. A junction on live metal makes the reader live.",
        mark="sensor fixed first",
    ),
    "probed": Caution(
        "by trained people, isolated or differential probe, fixed while unplugged and discharged, behind an isolating "
        "transformer, never alone",
        "Live points: by trained people only, never alone, with an isolated or differential probe rated for the "
        "voltage, fixed while the supply is unplugged and discharged. The earthed clip of an ordinary scope probe "
        "cancels the isolating transformer, and a residual-current breaker sees nothing that happens behind it.",
        mark="trained people, isolated probe",
    ),
    "high voltage": Caution(
        "by trained people in a guarded set-up, unplugged",
        "Electric strength and insulation resistance: by trained people in a guarded set-up, with the supply "
        "unplugged; what was charged by the test is discharged before it is touched.",
        mark="trained people, guarded",
    ),
    "touch current": Caution(
        "by trained people in a guarded set-up",
        "Touch current: by trained people in a guarded set-up, with the meter and the source made for this test.",
        mark="trained people, guarded",
    ),
    "fault": Caution(
        "by trained people behind a shield, on a spare that never goes back into use",
        "Fault tests: by trained people in a guarded set-up behind a shield, on a spare that never goes back into use.",
        mark="trained people, on a spare",
    ),
    "mains wiring": Caution(
        "only by people who are allowed to work on the mains",
        "Mains impedance: only by people who are allowed to work on the installation, with a tester made for it.",
        mark="only who may",
    ),
    "design": Caution(
        "",
        "Cures are for the design, and no repair of this sample: an opened or unwound sample never goes back into use.",
    ),
    "not said": Caution(
        "the pack does not say what this does, so it counts as live work: by trained people, guarded, with an isolated "
        "probe, behind an isolating transformer, never alone",
        "Not said: a house pack that does not say what its instruction does gets the strictest words. State "
        "settle_does and remedy_does in its rules.",
        mark="as live work",
    ),
}
NOT_HERE: Final = "not on this sample"
UNSAID: Final[tuple[Does, ...]] = ("not said",)
SAID: Final[tuple[Does, ...]] = DOES[:-1]  # what a pack may write


class Instruction(str):
    """A text that tells a person to do something, with what doing it does. Only this module's functions make one."""

    does: tuple[Does, ...] = ()


NO_INSTRUCTION: Final = Instruction("")


def told(text: str, *does: Does) -> Instruction:
    """An instruction that does several things. Raises ValueError where it says nothing of what it does."""
    if not does or any(one not in DOES for one in does):
        raise ValueError(f"'{text}' has to say what it does: {', '.join(DOES)}")
    made = Instruction(text)
    made.does = does
    return made


def papers(text: str) -> Instruction:
    """Read, written down or asked; no sample is touched."""
    return told(text, "papers")


def closed(text: str) -> Instruction:
    """Looked at or measured from outside, the plug out."""
    return told(text, "closed")


def opened(text: str) -> Instruction:
    """Looked at or measured inside, unplugged and discharged."""
    return told(text, "opened")


def destructive(text: str) -> Instruction:
    """Uses up the sample or a part of it."""
    return told(text, "destructive")


def running(text: str) -> Instruction:
    """Measured at the output or the plug while it runs within its plate, the case shut."""
    return told(text, "running")


def probed(text: str) -> Instruction:
    """Measured at a point inside while it runs."""
    return told(text, "probed")


def sensor(text: str) -> Instruction:
    """A temperature inside or on it while it runs."""
    return told(text, "running", "sensor")


def does_of(how: str) -> tuple[Does, ...]:
    """What a text does; one that somebody else's topology gives as plain text does not say."""
    return how.does if isinstance(how, Instruction) else UNSAID


def beside(text: str, does: Iterable[Does]) -> str:
    """The text with what has to stand beside it, in brackets behind it."""
    words = "; ".join(dict.fromkeys(said for one in DOES if one in does and (said := CAUTIONS[one].beside)))
    return f"{text} ({words})" if text and words else text


def marked(text: str, does: Iterable[Does], withheld: str = "") -> str:
    """The text with its caution in a word or two ahead of it, for a line that may be cut off; or why it is withheld."""
    every = tuple(does)
    if withheld and holds_back(every):
        return f"{NOT_HERE}: {withheld}"
    words = "; ".join(dict.fromkeys(said for one in DOES if one in every and (said := CAUTIONS[one].mark)))
    return f"({words}) {text}" if text and words else text


def given(text: str, does: Iterable[Does], withheld: str = "") -> str:
    """The text as every output shows it: with its caution, or that this sample is not to be powered.

    withheld: why no sample of this kind is powered, '' where nothing speaks against it. What changes the design speaks
    of another sample and stays.
    """
    every = tuple(does)
    if withheld and holds_back(every):
        return f"{NOT_HERE}: {withheld}"
    shown = beside(text, every)
    if withheld and "not said" in every:  # nobody can tell whether it needs power
        return f"{shown}; where it needs power {NOT_HERE}: {withheld}"
    return shown


def holds_back(does: Iterable[Does]) -> bool:
    """Whether an instruction is withheld from a sample that must not be powered."""
    every = frozenset(does)
    return bool(every & POWERED) and "design" not in every


def page_cautions(does: Iterable[Does]) -> tuple[str, ...]:
    """The sentences that stand once on a page that holds such instructions, in the order of the list."""
    every = frozenset(does)
    return tuple(CAUTIONS[one].page for one in DOES if one in every and CAUTIONS[one].page)
