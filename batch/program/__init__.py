"""The set of farms: choice, incentive, ranking, budget, lines, feeders and futures."""
