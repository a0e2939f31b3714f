"""Annotated narrations: their sources, and what reads, builds and proofreads them."""
