"""The recorder's local HTTP interface."""
