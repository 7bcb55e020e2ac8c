"""The only room with SQL: tables in, core values out."""
