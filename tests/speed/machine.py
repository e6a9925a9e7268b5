"""How slow the machine is at this moment, against the one the figures of the tests were set on.

The yardstick is the start of Python with argparse, PyYAML and pydantic: on a machine where it takes 0.10 s of
processor time the figures hold as they stand; where it takes more they are given as much more. So a limit is on the
work done, and a slower or a busy machine fails no test by itself.
"""

from __future__ import annotations

import os
import subprocess
import sys

YARDSTICK = [sys.executable, "-c", "import argparse, yaml; from pydantic import BaseModel"]
REFERENCE = 0.10


def processor_seconds(command: list[str], status: tuple[int, ...] = (0,)) -> float:
    """Processor time of a command, user and system [s]."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, code, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(code)
    assert process.returncode in status
    return usage.ru_utime + usage.ru_stime


def slowness(runs: int = 3) -> float:
    """Processor time of the yardstick now, over its reference, at least 1."""
    return max(1.0, min(processor_seconds(YARDSTICK) for _ in range(runs)) / REFERENCE)
