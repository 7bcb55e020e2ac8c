"""Files as they arrive: told apart, opened in a child process with limits, given row by row."""
