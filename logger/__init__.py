"""Beadwatch: the recorder of a hydraulic butt-fusion rig."""

__version__ = "0.1.0"
