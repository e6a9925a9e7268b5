"""The bench: conditions of readings, readings held against the computation, load tests."""
