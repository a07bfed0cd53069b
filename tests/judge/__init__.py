"""An independent judge of the feet: the rules stated afresh for a general solver; it shares no code with
livepedal.
"""
