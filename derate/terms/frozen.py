"""Frozen records whose class is made quickly: what `dataclasses` makes, without what making it costs at every start.

`@frozen` stands for `@dataclass(frozen=True, slots=True)`, with the same constructor, comparison, hash and text, and
is one to everybody who asks (`dataclasses.fields`, `replace`, a dataclass that extends it). The standard library's
loads `inspect` and compiles half a dozen functions a class: a twentieth of a cold lint for thirty of them.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any, ClassVar, TypeVar, dataclass_transform

_T = TypeVar("_T")
_C = TypeVar("_C", bound=type)


class _Anew:
    """The default of a field that is made anew for each record."""

    __slots__ = ("make",)

    def __init__(self, make: Callable[[], object]) -> None:
        self.make = make


def field(*, default_factory: Callable[[], _T]) -> _T:
    """A field whose default is made anew for each record."""
    return _Anew(default_factory)  # type: ignore[return-value]


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(kind: _C) -> _C:
    """A class whose records cannot be changed, from the annotations of its body and of what it extends.

    Fields without a default stand first. What it extends is frozen too. `__post_init__`, where there is one, looks at
    what was given.
    """
    own = tuple(kind.__dict__.get("__annotations__", {}))
    below: dict[str, object] = {}  # field to its default, `_NONE` without one
    for base in reversed(kind.__mro__[1:]):
        below |= base.__dict__.get("_defaults", {})
    body = {name: value for name, value in kind.__dict__.items() if name not in (*own, "__dict__", "__weakref__")}
    defaults = below | {name: kind.__dict__.get(name, _NONE) for name in own}
    names = tuple(defaults)
    values = attrgetter(*names)
    made: Any = type(kind)(
        kind.__name__,
        kind.__bases__,
        {
            **body,
            "__slots__": tuple(name for name in own if name not in below),
            "__qualname__": kind.__qualname__,
            "__match_args__": names,
            "__dataclass_fields__": _Asked("__dataclass_fields__"),
            "__dataclass_params__": _Asked("__dataclass_params__"),
            "_fields": names,
            "_defaults": defaults,
            "_values": values,
            **{name: method for name, method in _METHODS.items() if name not in body},
        },
    )
    known: dict[str, object] = {}
    head, lines = [], []
    for name, default in defaults.items():
        known[f"set_{name}"] = getattr(made, name).__set__  # its slot
        if default is _NONE:
            head.append(name)
            lines.append(f" set_{name}(self, {name})")
        elif isinstance(default, _Anew):
            known[f"make_{name}"], known["NONE"] = default.make, _NONE
            head.append(f"{name}=NONE")
            lines.append(f" set_{name}(self, make_{name}() if {name} is NONE else {name})")
        elif default.__hash__ is None:
            raise ValueError(f"{kind.__qualname__}.{name}: all records would share what can change; give a factory")
        else:
            known[f"default_{name}"] = default
            head.append(f"{name}=default_{name}")
            lines.append(f" set_{name}(self, {name})")
    if hasattr(made, "__post_init__"):
        lines.append(" self.__post_init__()")
    exec("\n".join((f"def __init__(self, {', '.join(head)}):", *lines)), known)
    made.__init__ = known["__init__"]
    return made  # type: ignore[no-any-return]


def replace(record: _T, **changes: object) -> _T:
    """A copy of a record with other values in some fields."""
    given: dict[str, Any] = {name: getattr(record, name) for name in names_of(type(record))}
    return type(record)(**given | changes)


def names_of(kind: Any) -> tuple[str, ...]:
    """The fields of a frozen record's class, or of a dataclass that extends one, in their order."""
    own: tuple[str, ...] | None = kind.__dict__.get("_fields")
    if own is not None:
        return own
    import dataclasses

    return tuple(one.name for one in dataclasses.fields(kind))


_NONE = object()  # no default


class _Asked:
    """What `dataclasses` keeps of a class, made when somebody asks: the standard library's twin of the class has it."""

    __slots__ = ("name",)
    twins: ClassVar[dict[type, Any]] = {}  # one of each class, whatever of it is asked for

    def __init__(self, name: str) -> None:
        self.name = name

    def __get__(self, record: object, kind: Any) -> Any:
        if kind not in self.twins:
            self.twins[kind] = self._twin(kind)
        return getattr(self.twins[kind], self.name)

    @staticmethod
    def _twin(kind: Any) -> Any:
        import dataclasses

        fields: list[Any] = []
        for name, default in kind._defaults.items():
            if default is _NONE:
                fields.append(name)
            elif isinstance(default, _Anew):
                fields.append((name, Any, dataclasses.field(default_factory=default.make)))
            else:
                fields.append((name, Any, dataclasses.field(default=default)))
        return dataclasses.make_dataclass(kind.__name__, fields, frozen=True)


def _no_setting(self: object, name: str, value: object = None) -> None:
    raise AttributeError(f"cannot assign to field {name!r}")


def _same(self: Any, other: Any) -> Any:
    return self._values(self) == self._values(other) if other.__class__ is self.__class__ else NotImplemented


def _hash(self: Any) -> int:
    return hash(self._values(self))


def _text(self: Any) -> str:
    fields = ", ".join(f"{name}={getattr(self, name)!r}" for name in self._fields)
    return f"{type(self).__qualname__}({fields})"


def _copied(self: Any) -> tuple[type, tuple[object, ...]]:
    return type(self), tuple(getattr(self, name) for name in names_of(type(self)))


_METHODS: dict[str, Any] = {
    "__setattr__": _no_setting,
    "__delattr__": _no_setting,
    "__eq__": _same,
    "__hash__": _hash,
    "__repr__": _text,
    "__reduce__": _copied,
}
