"""Frozen records: the same as a frozen dataclass of the standard library, to whoever uses or asks one."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import subprocess
import sys

import pytest

from derate.terms.frozen import field, frozen, names_of, replace


@frozen
class Ours:
    """One of ours."""

    first: int
    second: str = "b"
    third: dict[str, int] = field(default_factory=dict)

    @property
    def both(self) -> str:
        return f"{self.first}{self.second}"


@dataclasses.dataclass(frozen=True, slots=True)
class Theirs:
    """The same of the standard library."""

    first: int
    second: str = "b"
    third: dict[str, int] = dataclasses.field(default_factory=dict)


@frozen
class Further(Ours):
    """What extends one: its own fields follow."""

    first: int = 7  # with a default now, in its old place
    fourth: tuple[int, ...] = ()


@dataclasses.dataclass(frozen=True, slots=True)
class Beyond(Further):
    """A dataclass that extends one."""

    fifth: int = 5


@frozen
class Checked:
    """One that looks at what it is given."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError("falls")


def test_it_is_made_compared_and_shown_as_a_dataclass_is() -> None:
    for given in ((1,), (1, "c"), (1, "c", {"x": 1})):
        ours, theirs = Ours(*given), Theirs(*given)
        assert repr(ours) == repr(theirs).replace("Theirs", "Ours")
        assert ours == Ours(*given) and ours != theirs and ours != Ours(2, *given[1:])
    assert Ours(second="c", first=1) == Ours(1, "c") and Ours(1, "c").both == "1c"
    assert Ours(1).third is not Ours(1).third  # made anew
    for wrong in ({}, {"first": 1, "other": 2}):
        with pytest.raises(TypeError):
            Ours(**wrong)
        with pytest.raises(TypeError):
            Theirs(**wrong)
    assert hash(Checked(1.0, 2.0)) == hash(Checked(1.0, 2.0)) and len({Checked(1.0, 2.0), Checked(1.0, 2.0)}) == 1
    match Ours(1, "c"):
        case Ours(first, second):
            assert (first, second) == (1, "c")


def test_it_cannot_be_changed_and_holds_nothing_else() -> None:
    ours = Ours(1)
    for change in (lambda: setattr(ours, "first", 2), lambda: setattr(ours, "new", 2), lambda: delattr(ours, "first")):
        with pytest.raises(AttributeError):
            change()
    assert ours == Ours(1) and not hasattr(ours, "__dict__")
    assert replace(ours, first=2) == Ours(2) and ours.first == 1
    with pytest.raises(TypeError):
        replace(ours, new=2)


def test_what_is_given_is_looked_at() -> None:
    assert Checked(1.0, 1.0).low == 1.0
    with pytest.raises(ValueError, match="falls"):
        Checked(2.0, 1.0)
    with pytest.raises(ValueError, match="falls"):
        replace(Checked(1.0, 2.0), high=0.5)


@pytest.mark.parametrize("made", [frozen, dataclasses.dataclass(frozen=True, slots=True)])
def test_what_cannot_be_made_is_refused_as_there(made: object) -> None:
    for body, wrong in (("a: list = []", ValueError), ("a: dict = {}", ValueError), ("a: int = 1\n b: int", Exception)):
        with pytest.raises(wrong):
            exec(f"@made\nclass A:\n {body}", {"made": made, "__name__": __name__})


def test_what_extends_one_has_the_fields_of_both() -> None:
    assert names_of(Ours) == ("first", "second", "third")
    assert names_of(Further) == ("first", "second", "third", "fourth")
    assert names_of(Beyond) == (*names_of(Further), "fifth")
    assert Further().first == 7 and Further(1) != Ours(1) and isinstance(Further(), Ours)
    assert replace(Further(), fourth=(1,)) == Further(fourth=(1,)) and not hasattr(Further(), "__dict__")
    assert replace(Beyond(1), fifth=6) == Beyond(1, fifth=6) != Beyond(1)
    assert repr(Beyond(1)) == "Beyond(first=1, second='b', third={}, fourth=(), fifth=5)"


@pytest.mark.parametrize("one", [Ours(1, "c", {"x": 1}), Further(fourth=(1,)), Beyond(1, fifth=6), Checked(1.0, 2.0)])
def test_it_is_copied_and_sent_whole(one: Ours) -> None:
    assert copy.copy(one) == one and copy.deepcopy(one) == one and pickle.loads(pickle.dumps(one)) == one


def test_the_standard_library_takes_it_for_its_own() -> None:
    assert dataclasses.is_dataclass(Ours) and dataclasses.is_dataclass(Ours(1))
    assert [(one.name, one.default) for one in dataclasses.fields(Ours)][:2] == [
        (one.name, one.default) for one in dataclasses.fields(Theirs)
    ][:2]
    assert [one.name for one in dataclasses.fields(Further)] == list(names_of(Further))
    assert dataclasses.replace(Ours(1), second="c") == Ours(1, "c")  # type: ignore[type-var]
    assert dataclasses.asdict(Ours(1)) == dataclasses.asdict(Theirs(1))  # type: ignore[call-overload]


def test_making_one_loads_nothing() -> None:
    code = "import sys, derate.terms.values, derate.ledger.ledger; print({'dataclasses', 'inspect'} & {*sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"
