"""Fuzzing: commands of their own, not part of the test suite."""
