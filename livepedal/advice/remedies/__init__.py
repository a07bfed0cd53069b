"""What would mend a passage: each remedy is tried before it is told."""
