"""Sensors to raw samples: the only room that opens ports."""
