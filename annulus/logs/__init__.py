"""Burn logs: what a fire really showed, compared fairly, and fitted to the model."""
