"""Which way each figure of a whole flyback stage goes when an input rises, at load, at the boundary and at the limit.

Contents: `SIGNS_AT_LOAD`, `SIGNS_AT_BOUNDARY`, `SIGNS_AT_LIMIT`: figure, then input, then +1 (never falls), -1 (never
rises) or 0 (no single sign: run every corner).  An input that is not named has no effect.

Proved over random designs by tests/circuit/test_flyback_signs.py: bulk 80 to 390 V, 2 to 80 W, 0.3 to 2 mH, leakage
2 to 30 uH, reflected 50 to 140 V, 40 to 130 kHz, 10 to 200 pF at the drain.  Figures are those of
`flyback_stage.Stage`.
"""

from __future__ import annotations

Signs = dict[str, dict[str, int]]


def _table(rows: dict[str, str]) -> Signs:
    """Rows of words that end in +, - or 0; `drain` stands for drain_capacitance.

    >>> _table({"peak": "bulk- power+ inductance0"})
    {'peak': {'bulk': -1, 'power': 1, 'inductance': 0}}
    """
    meaning = {"+": 1, "-": -1, "0": 0}
    spelled = {"drain": "drain_capacitance"}
    return {
        name: {spelled.get(word[:-1], word[:-1]): meaning[word[-1]] for word in row.split()}
        for name, row in rows.items()
    }


SIGNS_AT_LOAD = _table(
    {
        "primary_peak": "bulk- delivered+ magnetising- leakage+ reflected0 frequency- resistance- drain0",
        "primary_rms": "bulk- delivered+ magnetising- leakage+ reflected0 frequency0 resistance- drain0",
        "clamp_voltage": "bulk- delivered+ magnetising- leakage+ reflected0 frequency0 resistance+ drain-",
        "clamp_loss": "bulk- delivered+ magnetising- leakage+ reflected0 frequency0 resistance- drain-",
        "switch_peak": "bulk0 delivered+ magnetising- leakage+ reflected0 frequency0 resistance0 capacitance- drain-",
        "secondary_rms": "bulk0 delivered+ magnetising- leakage0 reflected- frequency0 resistance0 drain0",
        "secondary_rms_ringing": "bulk0 delivered+ magnetising- leakage0 reflected- frequency0 resistance+ drain+",
        "secondary_peak": "bulk- delivered+ magnetising- leakage0 reflected- frequency- resistance0 drain0",
        "secondary_peak_ringing": "bulk- delivered+ magnetising- leakage0 reflected- frequency0 resistance+ drain+",
    }
)

SIGNS_AT_BOUNDARY = _table(
    {
        "primary_peak": "bulk- delivered+ magnetising0 leakage+ reflected0 resistance- drain0",
        "primary_rms": "bulk- delivered+ magnetising0 leakage+ reflected0 resistance- drain0",
        "clamp_voltage": "bulk- delivered+ magnetising- leakage+ reflected0 resistance+ drain-",
        "clamp_loss": "bulk- delivered+ magnetising- leakage+ reflected0 resistance- drain-",
        "switch_peak": "bulk+ delivered+ magnetising0 leakage+ reflected0 resistance0 capacitance- drain0",
        "secondary_rms": "bulk- delivered+ magnetising- leakage0 reflected- resistance0 drain0",
        "secondary_rms_ringing": "bulk- delivered+ magnetising- leakage+ reflected- resistance+ drain0",
        "secondary_peak": "bulk- delivered+ magnetising- leakage0 reflected- resistance0 drain0",
        "secondary_peak_ringing": "bulk- delivered+ magnetising- leakage+ reflected- resistance+ drain+",
        "frequency": "bulk+ delivered- magnetising- leakage- reflected+ resistance+ drain0",
    }
)

SIGNS_AT_LIMIT = _table(
    {
        "primary_rms": "bulk- magnetising+ leakage+ reflected+ frequency+ drain0 peak+",
        "clamp_voltage": "bulk+ magnetising0 leakage+ reflected+ frequency+ resistance+ drain0 peak+",
        "clamp_loss": "bulk+ magnetising0 leakage+ reflected+ frequency+ resistance- drain0 peak+",
        "switch_peak": "bulk+ magnetising0 leakage+ reflected+ frequency0 resistance0 capacitance- drain0 peak+",
        "secondary_rms": "bulk+ magnetising+ leakage- reflected- frequency0 resistance+ drain0 peak+",
        "secondary_rms_ringing": "bulk+ magnetising+ leakage0 reflected- frequency+ resistance+ drain0 peak+",
        "secondary_peak": "bulk+ magnetising0 leakage- reflected- frequency+ resistance+ drain0 peak+",
        "secondary_peak_ringing": "bulk+ magnetising0 leakage0 reflected- frequency+ resistance+ drain+ peak+",
        "delivered": "bulk+ magnetising+ leakage- reflected0 frequency0 resistance+ drain0 peak+",
    }
)
