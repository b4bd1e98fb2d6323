"""Values only: frozen, with the unit in each name; no I/O, no clock."""
