"""A record to pages that people read, print and sign."""
