"""The calculation: pure functions on numbers; no clock, file, log, database or framework."""
