"""`derate` with one word more: the toy. Run as a program of its own, so that no other test meets it."""

from __future__ import annotations

import os
import sys

from derate.terms.topologies import TOPOLOGIES, TopologyWord

TOPOLOGIES["toy"] = TopologyWord("toy", isolates="ISOLATED" in os.environ)

from derate.cli.main import entry  # noqa: E402 : the word has to be there before anything reads the vocabulary

if __name__ == "__main__":
    sys.exit(entry())
