"""Words that a pack may use for facts, so that a mistyped one is refused at load.

The folders that own them cannot be imported from here; tests/packs/test_pack_words.py holds the lists to theirs.
"""

from __future__ import annotations

# Facts that are lists: every word of them holds at once, so they are asked what they include.
LISTS = ("plate.marks", "circuit.bridging", "circuit.earth")
# Somebody looked, and this is what there was.
LOOKED = ("none", "unmarked", "not done")
# Facts of the whole supply, found under the subject `supply` when a subject has no such row of its own.
SUPPLY_WIDE = ("supply.", "site.", "plate.", "control.", "circuit.", "earth.")
# Facts whose range all occurs, one end today and the other tomorrow: over at one end is over, no matter of doubt.
DOMAINS = ("plate.mains", "plate.frequency", "site.ambient", "site.altitude")
FAMILIES = ("60664-1", "62368-1", "60335-1")
HOLDS_OVER = ("tolerance", "nominal")


def is_rule_name(name: str) -> bool:
    """Whether a name is plain words joined by hyphens: no letter-and-number codes, no capitals."""
    words = name.split("-")
    return all(word.isalnum() and word == word.lower() for word in words) and any(word.isalpha() for word in words)


def is_table_name(name: str) -> bool:
    """Whether a table or an assumption can be named in a formula: small letters, digits and underscores."""
    return name.isidentifier() and name == name.lower()
