"""Procedure and joint to plan, or a named refusal; pure."""
