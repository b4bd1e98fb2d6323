"""Phases and plan to findings and verdict; pure."""
