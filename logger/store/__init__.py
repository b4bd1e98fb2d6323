"""The record on disk: one writer, append-only evidence."""
