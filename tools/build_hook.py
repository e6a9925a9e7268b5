"""Puts the designs without their expected outputs into the wheel, and the shipped packs as plain data too.

An editable install reads designs and packs where they lie.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

import yaml
from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CompiledPacks(BuildHookInterface):  # type: ignore[misc,type-arg]
    """Compiles the packs with the very code that the wheel will hold."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Write the data beside the build and name it for the wheel."""
        if version == "editable":
            return
        sys.path[:0] = [self.root, str(Path(self.root) / "tools")]
        from compile_packs import packs_as_data, shipped_files

        designs = Path(self.root) / "designs"
        for file in shipped_files(designs):
            build_data["force_include"][str(file)] = f"derate/designs/{file.relative_to(designs).as_posix()}"
        if not hasattr(yaml, "CSafeLoader"):
            self.app.display_warning("this PyYAML has no libyaml: the packs are not compiled, their files are read")
            return
        from derate.packs.compiled import FILE

        self.folder = tempfile.TemporaryDirectory()
        data = Path(self.folder.name) / FILE
        data.write_bytes(packs_as_data())
        build_data["force_include"][str(data)] = f"derate/rules/{FILE}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Take the data away again."""
        if hasattr(self, "folder"):
            self.folder.cleanup()
