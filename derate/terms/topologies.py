"""The words a file may give as `supply.topology`, each with the folder that works it out.

A new topology is one folder and one line here. Loaded only where a design names it (`derate.topologies`).
"""

from __future__ import annotations

from derate.terms.tuples import NamedTuple


class TopologyWord(NamedTuple):
    """A topology by its word.

    package: the package that exports its `TOPOLOGY`; '' where nobody has written one: its stresses are not covered
    isolates: whether a barrier separates the outputs from the mains
    packs: rule packs that are loaded with any design of it, whatever else it names
    within_mains: whether nothing on its primary leaves the range of the mains or of the bulk behind them
    """

    package: str = ""
    isolates: bool = True
    packs: tuple[str, ...] = ()
    within_mains: bool = False


TOPOLOGIES: dict[str, TopologyWord] = {
    "flyback": TopologyWord("derate.topologies.flyback"),
    "self-oscillating flyback": TopologyWord("derate.topologies.self_oscillating", packs=("self-oscillating",)),
    "dropper": TopologyWord("derate.topologies.dropper", isolates=False, within_mains=True),
    "buck": TopologyWord("derate.topologies.buck", isolates=False, packs=("buck",), within_mains=True),
    "linear lamp driver": TopologyWord(
        "derate.topologies.linear_lamp", isolates=False, packs=("linear-lamp",), within_mains=True
    ),
    "power-factor stage": TopologyWord(isolates=False),
    "line transformer": TopologyWord(
        "derate.topologies.line_transformer", packs=("line-transformer",), within_mains=True
    ),
}
