"""`typing.NamedTuple`, whose classes are made in half the time.

The standard library's compiles the annotation of each field when the class is made, to see whether it may be a type: a
fortieth of a cold lint for two hundred classes. Ours are texts that a type checker has read, and are kept as they are.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import NamedTuple as NamedTuple
else:
    from collections import namedtuple

    _OF_ALL = {"__new__", "__init__", "__slots__", "__getnewargs__"}
    _OF_ALL |= {"_fields", "_field_defaults", "_make", "_replace", "_asdict", "_source"}
    _NOT_TAKEN = {"__module__", "__name__", "__annotations__"}

    class _Made(type):
        """Makes a named tuple of a class body, as the standard library's metaclass does."""

        def __new__(cls, name, bases, body):
            types = body.get("__annotations__", {})
            defaults = [body[field] for field in types if field in body]
            if any(field in body for field in list(types)[: len(types) - len(defaults)]):
                raise TypeError(f"{name}: fields without a default stand first")
            if len(bases) > 1:
                raise TypeError(f"{name}: a named tuple extends nothing else")
            made = namedtuple(name, types, defaults=defaults, module=body["__module__"])
            made.__annotations__ = made.__new__.__annotations__ = types
            for key, value in body.items():
                if key in _OF_ALL:
                    raise AttributeError(f"{name}: {key} is the same for all")
                if key not in _NOT_TAKEN and key not in types:
                    setattr(made, key, value)
            return made

    NamedTuple = type.__new__(_Made, "NamedTuple", (), {})
