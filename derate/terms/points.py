"""Circuits and points of a supply, by the words a file uses for them."""

from __future__ import annotations

# Circuits that insulation lies between.
CIRCUITS = ("line", "neutral", "primary", "secondary", "earth", "touchable")
# Points of the primary that every supply with a bulk capacitor has. Outputs add `OUTPUT plus` and `OUTPUT minus`,
# series parts of the mains path `after PART`, transformers `T1 core` and `T1.WINDING`.
RAILS = ("bulk plus", "bulk minus", "switch node")
# Said of a core or a shield that is tied to nothing.
FLOATING = ("floating", "none")
