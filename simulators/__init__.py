"""A rig that exists only in software; imports nothing from the recorder it tests."""
