"""What many narrated jobs teach about finding faults: measures, studies, search, replay, patterns."""
