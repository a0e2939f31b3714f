"""Listening for a whole day: sound to the tape, to text, to the record, as it is said."""
