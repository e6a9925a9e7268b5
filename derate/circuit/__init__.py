"""The physics: pure functions of SI floats, each with its equation, source, range and error band."""
