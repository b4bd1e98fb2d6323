"""The running recorder: clock, wiring, policies."""
