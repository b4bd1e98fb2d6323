"""Data shipped with Beadwatch: procedures, simulator scenarios, example rig and joint files."""
