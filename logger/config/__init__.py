"""Files that people write, to domain values; located errors."""
