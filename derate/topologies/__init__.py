"""Converter topologies, one folder each: roles of the parts, bad ends, steps with their rows, faults."""
