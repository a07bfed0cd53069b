"""One part judged: verdicts, plan, what is worth knowing, and the report of it."""
