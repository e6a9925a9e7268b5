"""Callers of the one function: a review of one design, and what varies its facts."""
