"""Tables, files and charts people take away: core values in, bytes out."""
