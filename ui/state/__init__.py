"""Frozen values, no behaviour: the snapshot and its slices, commands, settings."""
