"""Named tuples made quickly: the same as the standard library's, to whoever uses or asks one."""

from __future__ import annotations

import copy
import pickle
import typing

import pytest

from derate.terms.tuples import NamedTuple


class Ours(NamedTuple):
    """One of ours."""

    first: int
    second: str = "b"
    third: tuple[int, ...] | None = None

    @property
    def both(self) -> str:
        return f"{self.first}{self.second}"

    @classmethod
    def of(cls, first: int) -> Ours:
        return cls(first)


class Theirs(typing.NamedTuple):
    """The same of the standard library."""

    first: int
    second: str = "b"
    third: tuple[int, ...] | None = None


class Bare(NamedTuple):
    pass


def test_it_is_made_and_shown_as_the_standard_library_does() -> None:
    assert Ours._fields == Theirs._fields and Ours._field_defaults == Theirs._field_defaults
    assert repr(Ours(1, third=(2,))) == repr(Theirs(1, third=(2,))).replace("Theirs", "Ours")
    assert tuple(Ours(1)) == tuple(Theirs(1)) and isinstance(Ours(1), tuple)
    assert Ours(1)._replace(second="c") == Ours(1, "c") and Ours(1)._asdict() == Theirs(1)._asdict()
    assert Ours(1, "c").both == "1c" and Ours.of(3).first == 3 and Bare() == ()
    assert Ours.__doc__ == "One of ours." and Ours.__qualname__ == "Ours" and Ours.__module__ == __name__
    assert typing.get_type_hints(Ours) == typing.get_type_hints(Theirs)
    for one in (Ours(1, "c"), Bare()):
        assert copy.deepcopy(one) == one and pickle.loads(pickle.dumps(one)) == one
    for wrong in ((), (1, "b", None, 4)):
        with pytest.raises(TypeError):
            Ours(*wrong)
        with pytest.raises(TypeError):
            Theirs(*wrong)


@pytest.mark.parametrize("base", [NamedTuple, typing.NamedTuple])
def test_what_cannot_be_made_is_refused_as_there(base: type) -> None:
    with pytest.raises(TypeError):
        exec("class A(base):\n a: int = 1\n b: int", {"base": base, "__name__": "m"})
    for name in ("_replace", "__new__", "__init__"):
        with pytest.raises(AttributeError):
            exec(f"class A(base):\n a: int\n def {name}(self): pass", {"base": base, "__name__": "m"})
    with pytest.raises(TypeError):
        exec("class A(base, dict):\n a: int", {"base": base, "__name__": "m"})
