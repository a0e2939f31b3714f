"""What the recognizers and the understanding load, and how our own models were trained."""
