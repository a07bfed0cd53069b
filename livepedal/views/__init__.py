"""What people and programs see: reports, lines, JSON, the page and the dashboard.

A view takes finished values (a `Report`, a `Snapshot`, a `Finding`) and turns them into text. It decides
nothing musical, reads no clock, and does not write anywhere: `livepedal.cli` and `livepedal.views.dashboard.terminal`
do the writing, the latter on a terminal that it takes as a whole and gives back whatever ends it (endings.py).
"""
