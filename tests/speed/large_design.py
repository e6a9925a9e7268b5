"""A design of two hundred parts: the 45 W design of the tests with further parts in positions of their own."""

from __future__ import annotations

from pathlib import Path

from derate.design.load import read_design

BASE = Path(__file__).parents[1] / "data" / "designs" / "scale-console-45W.derate.yaml"
PARTS = 200
PACKS = ("commercial-practice", "mains-fusing")
_KINDS = (
    "film resistor 10 kohm 5% 0.25 W 250 V",
    "ceramic capacitor 100 nF 10% 50 V",
    "signal diode 75 V 0.15 A",
    "electrolytic capacitor 10 uF 20% 25 V 105 degC",
    "wirewound resistor 1 ohm 5% 2 W",
)


def large_design() -> str:
    """The text, with as many parts on the load side as are missing to two hundred."""
    text = BASE.read_text(encoding="utf-8")
    have = len(read_design(text, str(BASE)).structure.kinds)
    names = [f"X{number}" for number in range(PARTS - have)]
    parts = "".join(f"  {name}: {_KINDS[number % len(_KINDS)]}\n" for number, name in enumerate(names))
    other = f"  other: {{{', '.join(f'{name}: load side' for name in names)}}}\n"
    head, _, rest = text.partition("\nparts:\n")
    assert "\n  other:" not in rest
    before, _, circuit = rest.partition("\ncircuit:")
    line, _, after = circuit.partition("\n")
    return f"{head}\nparts:\n{parts}{before}\ncircuit:{line}\n{other}{after}"
