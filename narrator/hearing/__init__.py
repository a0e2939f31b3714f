"""Sound to utterances."""
