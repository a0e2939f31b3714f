"""Facts and derived records in SQLite."""
