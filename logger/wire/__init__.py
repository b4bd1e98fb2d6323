"""JSON contracts as pydantic models, mapped from domain values."""
