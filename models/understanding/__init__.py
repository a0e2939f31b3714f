"""Annotated narrations and the training of the act model."""
