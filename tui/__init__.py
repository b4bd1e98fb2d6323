"""The operator's monitor: draws what the recorder says; never reads the rig itself."""
