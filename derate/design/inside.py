"""Whether a file that a design names lies inside the repository of the design."""

from __future__ import annotations

import os


def leaves_repository(path: str, target: str) -> bool:
    """Whether a file lies outside the repository of the design (its folder, when there is no repository)."""
    folder = os.path.dirname(os.path.realpath(path))
    root = folder
    while not os.path.exists(os.path.join(root, ".git")):
        parent = os.path.dirname(root)
        if parent == root:
            root = folder
            break
        root = parent
    real = os.path.realpath(target)
    return os.path.commonpath([root, real]) != root
