"""Two judgements of one piece side by side: did the revision help, what is new?"""
