"""Where music comes from: standard MIDI files, ports, replayed files, the journal of a session.

A source turns bytes into plain messages with a time, and knows nothing of bars, parts or harps. It is the
boundary where everything that can be wrong with the outside world becomes one `LivepedalError`.
"""
