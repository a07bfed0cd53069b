"""The pedalling to print: the search for it, what it minimises, when each change is made."""
