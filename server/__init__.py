"""Creelbook: yarn sourcing for denim mills and brands."""
