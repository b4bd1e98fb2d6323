"""Where the phases begin and end, from the samples alone; pure."""
