"""Showing: one module a format. Takes a finished review or ledger and decides nothing."""
