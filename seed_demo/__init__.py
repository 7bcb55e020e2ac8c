"""Rinconada Azul Denim, an invented mill in Puebla, and everything it knows.

Sixteen invented suppliers, forty offers with test values, eight constructions, rates, process
assumptions and gate limits, as of Monday 2026-03-02; the buyer meeting is on 2026-03-12. Prices
are invented; exchange rates stand near public figures of February 2026. One CSV file a noun.
"""
