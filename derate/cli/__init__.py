"""The command line: one module a command, wiring only."""
