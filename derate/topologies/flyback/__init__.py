"""The flyback converter."""
