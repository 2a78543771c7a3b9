"""A planner's own list of farms taken in: headings, words, units, and what is to be asked"""
