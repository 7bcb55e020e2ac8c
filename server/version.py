"""The version of the program and of its engine."""

VERSION = "0.2.0"
