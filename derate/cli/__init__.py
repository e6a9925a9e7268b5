"""The command line: commands by what somebody is doing, wiring only."""
