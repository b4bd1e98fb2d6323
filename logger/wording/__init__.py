"""The texts of refusals, findings and cautions, shared by all front ends."""
