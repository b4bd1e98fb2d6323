"""Screens: one for each part of the operator's work."""
