"""A linter for the stress, fusing and insulation of small mains-powered supplies."""

__version__ = "0.1.0"
