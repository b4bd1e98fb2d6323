"""Parts of screens: they draw what they are given."""
