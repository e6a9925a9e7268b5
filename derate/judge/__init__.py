"""Judging: the ledger held to the rules; ends in a review, which decides nothing more."""
