"""One function for each thing a person asks for: load, decide with the core, save."""
