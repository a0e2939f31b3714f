"""The documentation is held true by tests."""
