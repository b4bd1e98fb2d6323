"""One pure function advances a joint."""
