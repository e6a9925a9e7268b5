"""What the trials of files share: a small design, and how a command runs in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

from heavy_files import HEAD, LINE, PARTS

DERATE = [sys.executable, "-c", "import sys; from derate.cli.main import main; sys.exit(main(sys.argv[1:]))"]
Run = Callable[..., "subprocess.CompletedProcess[bytes]"]
SMALL = HEAD + PARTS + LINE
