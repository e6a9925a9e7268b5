"""The power of one resistor beside another has its greatest value inside the range of its resistance."""

from __future__ import annotations

import random

from derate.circuit.converter_faults import series_share
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import Context
from derate.stress.faults.converter import _SHARE, _at_its_greatest
from derate.terms.values import Value


def test_no_resistance_of_the_range_takes_more() -> None:
    source, inside = random.Random(7), 0
    for _ in range(100):
        low = source.uniform(0.1e6, 1e6)
        own, rest = Value.between(low, low * source.uniform(1.0, 6.0)), Value.between(1e6, source.uniform(1.0e6, 1.5e6))
        ledger, case = Ledger(), Case("fault", fault="R1 shorted")
        context = Context(None, ledger, None, {})  # type: ignore[arg-type]
        subject, rms = Subject("part", ("R1",)), Value.exact(264.0)
        entry: Entry = ledger.write(subject, "part.resistance", own)
        wanted = [(subject, "fault_power", "power")]
        watts = ledger.work_out(_SHARE, {"whole": rms, "own": entry, "others": rest}, wanted, case=case)[0]
        found = _at_its_greatest(context, watts, rms, entry, rest, case).value
        assert isinstance(found, Value)
        steps = [own.near + (own.far - own.near) * k / 200.0 for k in range(201)]
        most = max(series_share(264.0, one, other).power for one in steps for other in (rest.near, rest.far))
        assert most <= found.far * (1.0 + 1e-9)
        inside += found.far > (watts.value.far if isinstance(watts.value, Value) else 0.0)
    assert inside > 10
