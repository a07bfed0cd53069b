"""What is made of a judgement: reports, remedies, spellings, parts for two harps, comparisons."""
