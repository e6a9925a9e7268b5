"""Keeps pydantic's plug-in search off the path of `derate lint`.

Defining the first model makes pydantic scan the installed packages for plug-ins, which loads importlib.metadata and
costs a tenth of a run. derate uses none. The search is answered here with "none installed"; should a later one look
elsewhere, this does nothing and only the time comes back. Import it before the first model is defined.
"""

from __future__ import annotations

import sys
from types import ModuleType

_SEARCH = "pydantic.plugin._loader"


def _no_plugins() -> tuple[()]:
    return ()


if _SEARCH not in sys.modules:
    _stand_in = ModuleType(_SEARCH, "No plug-ins.")
    _stand_in.get_plugins = _no_plugins  # type: ignore[attr-defined]
    sys.modules[_SEARCH] = _stand_in
