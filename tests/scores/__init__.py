"""Written scores, and small ones of our own made for the tests: *Osier Reach*, a radio play about a river ferry."""
