"""JSON Schemas of the outputs, from their models; tests hold real outputs to them."""

from __future__ import annotations

from derate.report.outputs import MODELS, output_schema

OUTPUTS = {kind: output_schema(kind) for kind in MODELS}
LINT, STRESS, FAULTS, KNOWN = (OUTPUTS[kind] for kind in ("lint", "stress", "faults", "known"))
