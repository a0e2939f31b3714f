"""Many records to what they teach about diagnostic reasoning."""
