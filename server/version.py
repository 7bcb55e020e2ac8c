"""The version of the program and of its engine."""

VERSION = "0.4.0"
