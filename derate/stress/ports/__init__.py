"""Ports behind one stage: what they ask of it, what the converters between carry, what a port rises to in a fault."""
